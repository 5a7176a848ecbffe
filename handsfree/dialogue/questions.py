"""Questions: asking about the part in doubt, and taking the next words as the answer.

Which words would settle the open question: its candidates, said short or long, and procedure words.

What can be meant at this moment: no "yes" without a question, no "carry on" where nothing stands still.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from handsfree.dialogue.answer import Answer, just_told, last_measured, place_of, whole, words_at
from handsfree.dialogue.measured import is_plausible
from handsfree.journal import Draft, Heard, Kind
from handsfree.length import plain
from handsfree.plan import Position, Rule
from handsfree.session import Session
from handsfree.speak import Reply, Wording, ask_command, heard_again
from handsfree.understand import (
    Bracket,
    ChangeCheck,
    Command,
    Context,
    Control,
    Listening,
    Meaning,
    Move,
    Reading,
    Recall,
    Replies,
    Sweep,
    Turns,
    Word,
    command_from,
    command_json,
    meanings,
    phrases_of,
    said_number,
    said_place,
    ways_to_say,
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


# Common in talk between people; the words of radiotelephony are said only to the bench.
_COMMON = frozenset({"yes", "yeah", "yep", "okay", "no", "nope", "that's", "carry", "go", "sorry"})


def can_be_meant(session: Session, words: Sequence[str], meaning: Meaning) -> bool:
    """Return whether words with this meaning can be meant now.

    Ordinary words are possible only as an answer. Of two words that sound alike, the one that can't
    answer an open question is excluded while it is open.
    """
    if session.standing_by:
        return _wakes(session, meaning)
    asked = about(session) is not None
    common = bool(words) and words[0] in _COMMON
    match meaning.commands:
        case (Control(Word.AFFIRM),) if common:
            return asked or session.plan.check(session.check).rule is Rule.TICK
        case (Control(Word.NEGATIVE),) if common:
            return asked or just_told(session)
        case (Control(Word.GO_AHEAD),) if common and tuple(words) != ("go", "ahead"):
            return False
        case (Control(Word.CONFIRM | Word.ROGER),):
            return not asked
        case (Reading(corrects=True),) if common:
            return asked or last_measured(session) is not None
        case _:
            return True


def _wakes(session: Session, meaning: Meaning) -> bool:
    """Return whether a meaning is answered while standing by: "go ahead", and a size, which isn't logged."""
    match meaning.commands:
        case (Control(word),):
            return word is Word.GO_AHEAD
        case (Reading(value, position), *_):
            place = whole(position, session.position)
            return is_plausible(session.plan.check(session.check), place, [value])
        case _:
            return True
