"""Questions: ask about the part in doubt, and interpret the next words as the answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from handsfree.dialogue.answer import Answer, just_told, place_of, whole, words_at
from handsfree.dialogue.measured import is_plausible
from handsfree.journal import Draft, Heard, Kind
from handsfree.length import plain
from handsfree.plan import Position
from handsfree.session import Session
from handsfree.speak import Reply, Wording, ask_command, heard_again
from handsfree.understand import (
    Bracket,
    ChangeCheck,
    Command,
    Control,
    Meaning,
    Move,
    Reading,
    Recall,
    Sweep,
    Turns,
    Word,
    command_from,
    command_json,
)

ABOUT_READING, ABOUT_FINISH, ABOUT_AGAIN = "reading", "finish", "again"
ABOUT_CORRECTION, ABOUT_COMMAND = "correction", "command"
# Words that can't be confirmed with "yes": they are answers, or need a value.
_ANSWERS = frozenset({Word.AFFIRM, Word.NEGATIVE, Word.CORRECTION, Word.CONFIRM, Word.ROGER, Word.SAY_AGAIN})
_MOST_CANDIDATES = 3  # more can't be remembered while listening


def about(session: Session) -> str | None:
    """Return the subject of the open question, or None."""
    return str(session.asked.draft.data.get("about")) if session.asked is not None else None


def candidates(session: Session) -> tuple[Reading, ...]:
    """Return the readings that the open question is about."""
    if session.asked is None:
        return ()
    candidates = session.asked.draft.data.get("candidates", [])
    found = [command_from(form) for form in candidates] if isinstance(candidates, list) else []
    return tuple(command for command in found if isinstance(command, Reading))


def command_asked(session: Session) -> Command | None:
    """Return the command that the open question is about, if any."""
    if session.asked is None or about(session) != ABOUT_COMMAND:
        return None
    candidates = session.asked.draft.data.get("candidates", [])
    return command_from(candidates[0]) if isinstance(candidates, list) and candidates else None


def ask_between(
    say: Wording, session: Session, meanings: Sequence[Meaning], heard: Heard, repeats: int
) -> Answer:
    """Ask which of a few meanings was meant; ask for a repetition if the question would be too long.

    Only plausible meanings are offered. One valid but unsure command is a yes-or-no question.

    repeats: number of questions in a row.
    """
    if len(meanings) == 1 and len(meanings[0].commands) == 1:
        command = meanings[0].commands[0]
        what = said_command(say, session, command)
        if what is not None:
            asked = Draft(
                Kind.ASKED,
                check=session.check,
                heard=heard,
                data={"about": ABOUT_COMMAND, "candidates": [command_json(command)]},
            )
            return Answer((asked,), ask_command(say.phrasing, what))
    single = [meaning.commands[0] for meaning in meanings if len(meaning.commands) == 1]
    heard_ones = [command for command in single if isinstance(command, Reading)]
    taken = dict.fromkeys(answering(session, reading) for reading in heard_ones)
    readings = [
        reading for reading in taken if isinstance(reading, Reading) and _can_be_true(session, reading)
    ]
    question = _question(say, session, readings) if len(heard_ones) == len(meanings) else None
    if question is None:
        # an open question about a reading stays open: noise may have masked the answer
        keep = about(session) in (ABOUT_READING, ABOUT_FINISH, ABOUT_COMMAND)
        asked = Draft(Kind.ASKED, check=session.check, heard=heard, data={"about": ABOUT_AGAIN})
        return Answer(() if keep else (asked,), again(say, heard, repeats))
    candidates = [command_json(reading) for reading in readings]
    asked = Draft(
        Kind.ASKED, check=session.check, heard=heard, data={"about": ABOUT_READING, "candidates": candidates}
    )
    return Answer((asked,), question)


def again(say: Wording, heard: Heard, repeats: int) -> Reply:
    """Ask for a repetition, never twice in a row alike: then quote what was heard, then offer the keys."""
    if repeats == 2 and heard.words:
        return heard_again(say.phrasing, heard.words)
    return say.say_again(repeats)


def _can_be_true(session: Session, reading: Reading) -> bool:
    check, position = session.plan.check(session.check), place_of(session, reading)
    return position in check.positions and is_plausible(check, position, [reading.value])


def said_command(say: Wording, session: Session, command: Command) -> str | None:
    """Return a command in words for a question; None if yes or no wouldn't answer it."""
    match command:
        case Move(position) | Recall(position):
            place = whole(position, session.position)
            known = place in session.plan.check(session.check).positions
            return say.place(place) if known else None
        case ChangeCheck(check):
            return check
        case Turns(count):
            return f"{count} turns"
        case Sweep(position):
            return f"On to the {say.place(position)}s"
        case Control(word) if word not in _ANSWERS:
            return word.value
        case _:
            return None


def _question(say: Wording, session: Session, readings: Sequence[Reading]) -> Reply | None:
    if not 1 <= len(readings) <= _MOST_CANDIDATES:
        return None
    values = list(dict.fromkeys(reading.value for reading in readings))
    places = list(dict.fromkeys(place_of(session, reading) for reading in readings))
    if len({(reading.feel, reading.corrects) for reading in readings}) > 1:
        return None
    check = session.plan.check(session.check)
    if len({check.unit_at(position) for position in places if position in check.positions}) == 1:
        say = words_at(say, check, places[0])
    if len(readings) == 1:
        return say.confirm_value(values[0], places[0])
    if len(places) == 1:
        return say.between_values(values, readings[0].position)
    axis = _differing_axis(places)
    if len(values) == 1 and axis is not None:
        return say.between_places(axis, [position.get(axis) or "" for position in places])
    return None


def _differing_axis(places: Sequence[Position]) -> str | None:
    """Return the one axis in which places differ, or None where there are more."""
    first = places[0]
    axes = [axis for axis, label in first.labels if any(position.get(axis) != label for position in places)]
    return axes[0] if len(axes) == 1 else None


def ask_anew(say: Wording, session: Session) -> Reply:
    """Ask the open question about a reading once more."""
    return _question(say, session, candidates(session)) or say.say_again()


def chosen_by(session: Session, command: Command) -> tuple[Reading, ...]:
    """Return the candidates that a command selects: one answers the question, none means it is no answer.

    Affirm selects all of them. A bare value, a place, the label of a place or the whole reading
    selects those that match.
    """
    open_ones = candidates(session)
    match command:
        case Control(Word.AFFIRM):
            return open_ones
        case Reading(value, position, None, _, None):
            place = place_of(session, command) if position is not None else None
            chosen = [r for r in open_ones if r.value == value and place in (None, place_of(session, r))]
            if position is None and len(chosen) != 1:
                chosen = [r for r in open_ones if _has_label(session, r, plain(value.value))] or chosen
            return tuple(chosen)
        case Move(position) if len(open_ones) > 1:  # with a single candidate, a place selects nothing
            return tuple(
                r
                for r in open_ones
                if all(place_of(session, r).get(axis) == label for axis, label in position.labels)
            )
        case _:
            return ()


def answering(session: Session, command: Command) -> Command | None:
    """Interpret a bare size as the answer, if the question asked for one.

    After "correction" it corrects. If the open question named a place and the size is none of the
    candidates, it belongs to that place; None when the place itself is in doubt.
    """
    if not isinstance(command, Reading | Bracket):
        return command
    if isinstance(command, Reading) and about(session) == ABOUT_CORRECTION:
        return replace(command, corrects=True, repeats=False)
    open_ones = candidates(session)
    if isinstance(command, Reading) and command.corrects:
        command = _as_corrected(session, command, open_ones)
    if command.position is not None or not open_ones:
        return command
    places = {place_of(session, reading) for reading in open_ones}
    if len(places) > 1:
        return None
    if isinstance(command, Reading) and all(reading.corrects for reading in open_ones):
        command = replace(command, corrects=True)
    return replace(command, position=places.pop())


def _as_corrected(session: Session, reading: Reading, open_ones: Sequence[Reading]) -> Reading:
    """Complete a correction by the reading that it corrects: the one just asked about, or the last value.

    "I said eighteen" without an open question, long after the last answer, is a reading.
    """
    if open_ones and not any(each.corrects for each in open_ones):
        return replace(reading, corrects=False, repeats=False, withdrawn=None)
    if reading.repeats and not just_told(session):
        return replace(reading, corrects=False, repeats=False)
    return reading


def _has_label(session: Session, reading: Reading, label: str) -> bool:
    """Return whether a candidate has this label on the axis in doubt ("cylinder five, or nine?" "nine")."""
    axis = _differing_axis([place_of(session, r) for r in candidates(session)])
    return axis is not None and place_of(session, reading).get(axis) == label
