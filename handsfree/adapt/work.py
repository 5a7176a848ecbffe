"""What was said at work, to learn from: kept sounds of journals, and the words they stand for."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial
from pathlib import Path

from handsfree.adapt.learning import known_phrase
from handsfree.errors import AdaptationError, JournalError
from handsfree.hear import SAMPLERATE_HZ, Utterance
from handsfree.journal import Sounds, verify
from handsfree.plan import Plan
from handsfree.recordings import active_level_db, to_sound
from handsfree.session import Recorded, Spoken, read, spoken
from handsfree.understand import Command, Context, Listening, listen_for

NEWEST = 400
"""Most utterances of one person's journals that are learned from. Each is heard several times."""


@dataclass(frozen=True)
class Recording:
    """One recording, split into utterances, and what was said in it.

    text: as it was written down. said: in the grammar's words; empty for talk. expected: the command.
    """

    text: str
    said: tuple[str, ...]
    expected: Command | None
    utterances: tuple[Utterance, ...] = field(repr=False)
    listening: Listening = field(repr=False)
    context: Context = field(repr=False)
    level_db: float


@dataclass(frozen=True)
class Offer:
    """A recording that may be learned from; `load` returns None if nothing can be learned from it."""

    key: str
    voice: str
    load: Callable[[], Recording | None] = field(repr=False)


def offered_by_journals(paths: Iterable[Path]) -> list[Offer]:
    """Return each person's newest utterances in journals of which a sound was kept.

    Raises:
        AdaptationError: a journal isn't as it was logged.
    """
    found: dict[str, tuple[datetime, Offer]] = {}
    listenings: dict[tuple[str, str], Listening | None] = {}  # journals of one plan share them
    for path in paths:
        if not verify(path, sounds=False).holds:
            raise AdaptationError(
                f"{path} is not as it was logged, so nothing is learned from it; "
                f'"handsfree journal verify {path}" says what was altered'
            )
        recorded = read(path)
        hear_as = partial(_listening, listenings, recorded.session.plan)
        sounds = Sounds.beside(path.resolve())
        for one in spoken(recorded):
            if one.sound is not None and one.sound not in found:  # a copy of a journal counts once
                load = partial(_of_work, one, recorded, sounds, hear_as)
                found[one.sound] = one.event.at, Offer(f"{path}, no. {one.event.seq}", one.who, load)
    in_order = [offer for _, offer in sorted(found.values(), key=lambda pair: pair[0])]
    people = dict.fromkeys(offer.voice for offer in in_order)
    return [offer for who in people for offer in [each for each in in_order if each.voice == who][-NEWEST:]]


def _listening(made: dict[tuple[str, str], Listening | None], plan: Plan, check: str) -> Listening | None:
    """Return what can be said in a check; None if the plan no longer has it."""
    key = plan.digest, check
    if key not in made:
        named = [each for each in plan.checks if each.name == check]
        made[key] = listen_for(plan, named[0]) if named else None
    return made[key]


def _of_work(
    one: Spoken, recorded: Recorded, sounds: Sounds, hear_as: Callable[[str], Listening | None]
) -> Recording | None:
    listening = hear_as(one.check)
    if listening is None:
        return None
    check = recorded.session.plan.check(one.check)
    known = known_phrase(one, listening, check)
    if known is None:
        return None
    try:
        samples = sounds.load(one.sound or "")
    except JournalError:
        return None  # a sound may be deleted at any time; an altered one is trusted no more
    words, command = known
    cut = Utterance(samples, 0.0, len(samples) / SAMPLERATE_HZ)
    context = listening.at(one.position, check)
    return Recording(
        " ".join(words), words, command, (cut,), listening, context, active_level_db(to_sound(samples))
    )
