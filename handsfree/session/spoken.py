"""What was said by voice in a session, what became of it, and how often. Pure.

The size of an utterance is known only if somebody let it stand: the entry made of it, or the answer to the
question about it. Of a reading that was corrected it is known if the correction followed at once; long
after, the part may have been measured anew. That an entry stands is no proof that it is right.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from handsfree.journal import Draft, Event, Kind
from handsfree.plan import Position
from handsfree.session.fold import Recorded, start, step
from handsfree.session.session import Entry, Fate

UNLOGGED = "unlogged"
"""Key in an event's data: utterances since the event before that have no event of their own."""
PASSED_OVER, ASKED_AGAIN = "ignored", "asked"
"""In it: the number that was taken for talk, and the number that was asked about again."""

_ASKED_ABOUT = frozenset({"reading", "again", "command"})  # other questions aren't about what was heard
_ENTRIES = frozenset({Kind.READING, Kind.CORRECTION})
_MOST_UNLOGGED = 1_000_000


class Became(StrEnum):
    """What became of an utterance.

    ANSWERED, LEFT: it was asked about, and the entry that answered the question stands, or there is none.
    """

    STOOD = "stood"
    CORRECTED = "corrected"
    REMOVED = "removed"
    ANSWERED = "answered"
    LEFT = "left"
    IGNORED = "ignored"


@dataclass(frozen=True, slots=True)
class Spoken:
    """An utterance, or several (`times`) that have no events of their own.

    event: its own, or the next one. who: the person, "" if nobody was named. check, position: those in
    hand when it was said. meant: the entry that tells its size, None if nothing does. sound: the name of
    its kept sound.
    """

    event: Event
    who: str
    check: str
    position: Position
    became: Became
    meant: Draft | None = None
    sound: str | None = None
    times: int = 1


def spoken(recorded: Recorded) -> tuple[Spoken, ...]:
    """Return what was said by voice in a journal, in order."""
    return tuple(_spoken(recorded))


def _spoken(recorded: Recorded) -> Iterator[Spoken]:
    events = recorded.events
    entries = {entry.event.id: entry for entry in recorded.session.log()}
    numbers = {event.id: number for number, event in enumerate(events)}
    session, who = start(recorded.session.plan), ""
    for number, event in enumerate(events):
        who = str(event.draft.data.get("who") or who)
        here = Spoken(event, who, event.draft.check or session.check, session.position, Became.IGNORED)
        for became, name in ((Became.IGNORED, PASSED_OVER), (Became.LEFT, ASKED_AGAIN)):
            times = _unlogged(event.draft.data, name)
            if times:
                yield replace(here, became=became, times=times)
        heard = event.draft.heard
        if heard is not None and heard.source == "voice":
            own = replace(here, sound=heard.sound)
            entry = entries.get(event.id)
            if event.kind in _ENTRIES and entry is not None and entry.value is not None:
                corrected = entries.get(event.draft.refers_to or "")
                if corrected is not None and _judged_anew(corrected, entry):
                    session = step(session, event)
                    continue  # nothing was said
                yield _entered(own, entry, entries, events, numbers)
            elif event.kind is Kind.ASKED and event.draft.data.get("about") in _ASKED_ABOUT:
                yield _asked(own, events[number + 1 : number + 2], entries)
        session = step(session, event)


def _entered(
    own: Spoken,
    entry: Entry,
    entries: Mapping[str, Entry],
    events: Sequence[Event],
    numbers: Mapping[str, int],
) -> Spoken:
    if _stood(entry, entries):
        return replace(own, became=Became.STOOD, meant=entry.event.draft)
    if entry.state is Fate.VOIDED:
        return replace(own, became=Became.REMOVED)
    by = entries.get(entry.by or "")
    meant = None
    if by is not None and _stood(by, entries):
        between = events[numbers[own.event.id] + 1 : numbers[by.event.id]]
        meant = by.event.draft if all(map(_of_the_talk, between)) else None
    return replace(own, became=Became.CORRECTED, meant=meant)


def _asked(own: Spoken, later: Sequence[Event], entries: Mapping[str, Entry]) -> Spoken:
    """Return a question with the entry that answered it: the next event, if it is one and stands."""
    answer = later[0] if later and own.event.draft.data.get("about") == "reading" else None
    entry = None if answer is None else entries.get(answer.id)
    if entry is None or entry.value is None or not _stood(entry, entries):
        return replace(own, became=Became.LEFT)
    return replace(own, became=Became.ANSWERED, meant=entry.event.draft)


def _stood(entry: Entry, entries: Mapping[str, Entry]) -> bool:
    """Return whether an entry stands, or was only judged anew under a changed plan."""
    seen = entry
    while seen.state is Fate.CORRECTED:
        by = entries.get(seen.by or "")
        if by is None or not _judged_anew(seen, by):
            return False
        seen = by
    return seen.stands


def _judged_anew(entry: Entry, by: Entry) -> bool:
    """Return whether a correction leaves a reading as it was said: only its verdict is another one."""
    was, now = entry.event.draft, by.event.draft
    same = (was.value, was.bound, was.other, was.feel) == (now.value, now.bound, now.other, now.feel)
    told = now.heard is None or now.heard.sound is None
    return same and told and now.note is not None and (entry.check, entry.position) == (by.check, by.position)


def _of_the_talk(event: Event) -> bool:
    """Return whether an event belongs to the talk about the last reading: a question, the program's move."""
    return event.kind is Kind.ASKED or (event.kind is Kind.MOVE and event.draft.heard is None)


def _unlogged(data: Mapping[str, object], name: str) -> int:
    held = data.get(UNLOGGED)
    times = held.get(name) if isinstance(held, dict) else None
    usable = isinstance(times, int) and not isinstance(times, bool) and 0 < times <= _MOST_UNLOGGED
    return times if usable and isinstance(times, int) else 0


@dataclass(frozen=True, slots=True)
class Account:
    """Counts of utterances, by what became of them."""

    stood: int = 0
    corrected: int = 0
    removed: int = 0
    asked: int = 0
    ignored: int = 0

    @property
    def readings(self) -> int:
        """Number of readings that were logged unasked or as an answer."""
        return self.stood + self.corrected + self.removed


def account(said: Iterable[Spoken], by: Callable[[Spoken], str] = lambda _: "") -> dict[str, Account]:
    """Count utterances in groups, named by `by`, in the order of their first one."""
    found: dict[str, Account] = {}
    for one in said:
        name = "asked" if one.became in (Became.ANSWERED, Became.LEFT) else one.became.value
        counts = found.setdefault(by(one), Account())
        found[by(one)] = replace(counts, **{name: getattr(counts, name) + one.times})
    return found
