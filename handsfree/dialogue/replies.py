"""The words that answer the open question: its candidates, in short or in full, and procedure words."""

from __future__ import annotations

from collections.abc import Iterator

from handsfree.dialogue.answer import place_of
from handsfree.dialogue.questions import (
    ABOUT_COMMAND,
    ABOUT_FINISH,
    ABOUT_READING,
    about,
    candidates,
    chosen_by,
)
from handsfree.session import Session
from handsfree.understand import (
    Context,
    Listening,
    Reading,
    Replies,
    meanings,
    phrases_of,
    said_number,
    said_place,
    ways_to_say,
)

Words = tuple[str, ...]


def replies_to(session: Session, listening: Listening) -> Replies | None:
    """Return the replies to the open question; None if none is open, or if any size would answer it.

    A phrase is included if by the check's grammar it selects exactly one candidate, or if it is a word
    that answers any question. Words that sound like those are excluded.
    """
    asked = session.asked
    if asked is None or about(session) not in (ABOUT_READING, ABOUT_FINISH, ABOUT_COMMAND):
        return None
    context = listening.at(session.position, session.plan.check(session.check))
    settling = {
        words for words in _ways_to_choose(session) if _points_at_one(session, listening, context, words)
    }
    return Replies(asked.id, frozenset(settling) | _answers(listening))


def _answers(listening: Listening) -> frozenset[Words]:
    rules = ("answer", "say_again", "disregard", "stand_by")
    return frozenset().union(*(phrases_of(listening.grammar.compile(rule)) for rule in rules))


def _ways_to_choose(session: Session) -> Iterator[Words]:
    """Yield phrases that people use to name a candidate; some may name none, or two."""
    for reading in candidates(session):
        labels = place_of(session, reading).labels
        position = tuple(said_place(labels).split())
        for size in ways_to_say(reading.value):
            yield size
            yield position + size
        yield position
        for axis, label in labels:
            yield tuple(said_place([(axis, label)]).split())
            yield said_number(label)


def _points_at_one(session: Session, listening: Listening, context: Context, words: Words) -> bool:
    if not words or not listening.automaton.accepts(words):
        return False
    found = meanings(words, listening.automaton, context)
    if len(found) != 1 or not found[0].sure or len(found[0].commands) != 1:
        return False
    chosen = chosen_by(session, found[0].commands[0])
    return len(chosen) == 1 and isinstance(chosen[0], Reading)
