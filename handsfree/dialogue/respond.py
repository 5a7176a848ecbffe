"""From a session and a command to events and an answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from handsfree.dialogue.advice import first_cautions, heat, offer_for
from handsfree.dialogue.answer import (
    Answer,
    entry_amount,
    just_told,
    last_measured,
    left_standing,
    place_of,
    said_value,
    whole,
    words_at,
)
from handsfree.dialogue.measured import ask_first, asks_first, log_bracket, log_size
from handsfree.dialogue.places import (
    coming,
    help_with,
    hint,
    how_much,
    next_check,
    next_open,
    open_places,
    recall,
    still_open,
    where,
)
from handsfree.dialogue.questions import (
    ABOUT_COMMAND,
    ABOUT_CORRECTION,
    ABOUT_FINISH,
    ABOUT_READING,
    about,
    answering,
    ask_anew,
    ask_between,
    candidates,
    chosen_by,
    command_asked,
    said_command,
)
from handsfree.journal import Draft, Heard, Kind
from handsfree.plan import Position, Rule
from handsfree.session import Session, target_at, with_draft
from handsfree.speak import SILENCE, Reply, Tone, Wording, ask_command, new_ring, vague_words, voice_words
from handsfree.understand import (
    Bracket,
    ChangeCheck,
    Command,
    Control,
    Decision,
    Feel,
    Move,
    Outcome,
    Reading,
    Recall,
    Sweep,
    Turns,
    Vague,
    Word,
)


def respond_to_decision(
    say: Wording, session: Session, decision: Decision, heard: Heard, repeats: int = 1
) -> Answer:
    """Answer an utterance that can't be acted on: ask about it, or keep silent.

    repeats: number of questions in a row, including this one.
    """
    if decision.outcome is Outcome.IGNORE or session.standing_by:
        return Answer((), SILENCE)
    if decision.near is not None and decision.near.missing is None and _can_answer(session):
        return Answer((), _asked(say, session))
    if decision.near is not None:
        return Answer((), hint(say, session, decision.near))
    return ask_between(say, session, decision.meanings, heard, repeats)


def respond(
    say: Wording, session: Session, command: Command, heard: Heard, last: Reply | None = None
) -> Answer:
    """Carry out one command.

    Args:
        say: the wording of the answer.
        session: the state of the work.
        command: the command.
        heard: its source, kept with every event.
        last: the last answer, for "say again".
    """
    if session.standing_by and command != Control(Word.GO_AHEAD):
        logs = isinstance(command, Reading | Bracket)
        return Answer((), say.still_standing_by() if logs else SILENCE)
    if command == Control(Word.AFFIRM) and not _was_asked_last(session, last):
        return Answer((), _asked(say, session))
    meant = command_asked(session)
    if command == Control(Word.AFFIRM) and meant is not None:
        return _as_asked(session, respond(say, session, meant, heard, last), heard)
    chosen = chosen_by(session, command)
    if len(chosen) == 1:
        return _log_reading(say, session, chosen[0], heard)
    taken = answering(session, command)
    if len(chosen) > 1 or taken is None:  # "yes" to an either-or question, or a size without a clear place
        return Answer((), _asked(say, session))
    match taken:
        case Reading():
            if asks_first(session, taken):
                return ask_first(say, session, taken, heard)
            return _log_reading(say, session, taken, heard)
        case Bracket():
            corrects = last_measured(session) if about(session) == ABOUT_CORRECTION else None
            return log_bracket(say, session, taken, heard, corrects)
        case Vague():
            return Answer((), vague_words(say.phrasing))
        case Recall(position):
            return recall(say, session, whole(position, session.position))
        case Sweep(position, leaving):
            return _sweep(say, session, position, heard, leaving=leaving)
        case Move(position):
            return _move(say, session, whole(position, session.position), heard)
        case ChangeCheck(name):
            return _change_check(say, session, name, heard)
        case Turns(count):
            draft = _draft(session, Kind.TURNS, heard)
            return Answer((replace(draft, data={"count": str(count)}),), say.turns(count, session.position))
        case Control(word):
            return _control(say, session, word, heard, last)


def together(session: Session, commands: Sequence[Command]) -> tuple[Command, ...]:
    """Return the commands of one utterance with complete places, by the position in hand before it.

    The first command may move the work on, but "shim two sixty, lash point one two" is about one valve.
    """
    if len(commands) < 2:
        return tuple(commands)
    return tuple(
        replace(command, position=command.position.within(session.position))
        if isinstance(command, Reading | Bracket) and command.position is not None
        else command
        for command in commands
    )


def _can_answer(session: Session) -> bool:
    """Return whether an open question can be answered with one word."""
    return about(session) in (ABOUT_READING, ABOUT_FINISH, ABOUT_COMMAND)


def _was_asked_last(session: Session, last: Reply | None) -> bool:
    """Return whether "affirm" can only be about the open question: nothing else was said since."""
    if not _can_answer(session) or last is None:
        return True
    return bool(last.expects) or last.tone is Tone.AGAIN


def _asked(say: Wording, session: Session) -> Reply:
    """Return the open question in its words."""
    meant = command_asked(session)
    if meant is not None:
        return ask_command(say.phrasing, said_command(say, session, meant) or "")
    return _finish_question(say, session) if about(session) == ABOUT_FINISH else ask_anew(say, session)


def _as_asked(session: Session, answer: Answer, heard: Heard) -> Answer:
    """Close the question that a command answered, unless the command's own events do."""
    if answer.drafts:
        return answer
    return _drop_question(session, heard, answer.reply)


def _draft(session: Session, kind: Kind, heard: Heard) -> Draft:
    return Draft(kind, check=session.check, position=session.position, heard=heard)


def _log_reading(say: Wording, session: Session, reading: Reading, heard: Heard) -> Answer:
    corrects = last_measured(session) if reading.corrects else None
    feel = reading.feel
    if (
        feel is None
        and corrects is not None
        and corrects.event.draft.other is None
        and corrects.event.draft.feel
    ):
        feel = Feel(corrects.event.draft.feel)  # a correction keeps the feel of the leaf
    said = said_value(reading.value, feel)
    withdrawn = str(reading.withdrawn) if reading.withdrawn else None
    return log_size(say, session, reading.position, said, heard, corrects=corrects, withdrawn=withdrawn)


def _move(say: Wording, session: Session, position: Position, heard: Heard) -> Answer:
    check = session.plan.check(session.check)
    if position not in check.positions:
        return Answer((), say.no_such_place(position))
    draft = replace(_draft(session, Kind.MOVE, heard), position=position)
    say = words_at(say, check, position)
    current = session.current(check.name, position)
    last = entry_amount(current) if current is not None else None
    if check.rule is Rule.TICK or check.parts:
        return Answer((draft,), say.moved(position, None, last))
    target = target_at(session, check, position)
    if check.rule is not Rule.FILE_TO_GAP:
        return Answer((draft,), say.moved(position, None, last, limits=(target.lower, target.upper)))
    warm = heat(say, session, check, position, target.aim) if last is None else None
    return Answer((draft,), say.moved(position, target.aim, last, advice=warm))


def _change_check(say: Wording, session: Session, name: str, heard: Heard) -> Answer:
    here, check = session.plan.check(session.check), session.plan.check(name)
    position = session.hands.get(name) or check.positions[0]
    cautions = () if name in session.hands else first_cautions(session, check)
    before = tuple(caution.aloud for caution in cautions if caution.aloud)
    unit = check.unit_at(position)
    before = (*before, *offer_for(say, session, check))
    if check.rule is not Rule.TICK and unit is not here.unit_at(session.position):
        before = (say.work.in_unit(unit), *before)
    return Answer((Draft(Kind.CHECK, check=name, heard=heard),), say.check_changed(name, position, *before))


def greeting(say: Wording, session: Session, *, tell: bool = True, told: bool = False) -> Reply:
    """Return the first answer of a new session: its cautions, and the first position.

    tell: whether the work has cautions. told: the cautions were said recently.
    """
    check = session.plan.check(session.check)
    if not tell or told:
        return say.opened(session.position, remind=tell and check.rule is Rule.FILE_TO_GAP)
    return say.opened(session.position, first_cautions(session, check))


def _control(say: Wording, session: Session, word: Word, heard: Heard, last: Reply | None) -> Answer:
    check = session.plan.check(session.check)
    match word:
        case Word.SAY_AGAIN:
            return Answer((), last or say.nothing_to_repeat())
        case Word.READ_BACK | Word.CONFIRM:
            return _read_back(say, session)
        case Word.ROGER:
            return Answer((), SILENCE)
        case Word.STAND_BY:
            return Answer((_draft(session, Kind.STAND_BY, heard),), say.standing_by())
        case Word.GO_AHEAD:
            return Answer((_draft(session, Kind.GO_AHEAD, heard),), say.go_ahead(session.position))
        case Word.DISREGARD:
            return _disregard(say, session, heard)
        case Word.NEGATIVE:
            return _negative(say, session, heard, last)
        case Word.AFFIRM:
            return _affirm(say, session, heard)
        case Word.CORRECTION:
            return _correction(say, session, heard)
        case Word.NEXT | Word.PREVIOUS:
            return _step(say, session, heard, forward=word is Word.NEXT)
        case Word.WHATS_LEFT:
            return Answer((), say.work.whats_left(open_places(session, check)))
        case Word.WHATS_NEXT:
            return coming(say, session)
        case Word.WHERE | Word.TARGET:
            return where(say, session, told=word is Word.WHERE)
        case Word.HOW_MUCH:
            return how_much(say, session)
        case Word.HELP:
            return help_with(say, session)
        case Word.LOUDER | Word.QUIETER | Word.FASTER | Word.SLOWER:
            return Answer((), voice_words(say.phrasing, word.value))
        case Word.NEW_RING:
            return _begin_anew(say, session, heard)
        case Word.DRESSED:
            return Answer((_draft(session, Kind.DRESSED, heard),), say.dressed())
        case Word.DONE | Word.NOT_DONE:
            return _tick(say, session, heard, done=word is Word.DONE)
        case Word.FINISH:
            return _ask_finish(say, session, heard)


def _read_back(say: Wording, session: Session) -> Answer:
    entry = session.last_entry
    amount = entry_amount(entry) if entry is not None else None
    if entry is None or amount is None:
        return Answer((), say.no_reading(session.position))
    return Answer((), say.read_back(entry.position, amount))


def _disregard(say: Wording, session: Session, heard: Heard) -> Answer:
    """Cancel an open question, else withdraw the last entry; nothing is erased."""
    if about(session) in (ABOUT_READING, ABOUT_FINISH, ABOUT_CORRECTION, ABOUT_COMMAND):
        return _drop_question(session, heard, say.kept())
    return _withdraw(say, session, heard) or Answer((), say.nothing_to_disregard())


def _withdraw(say: Wording, session: Session, heard: Heard, reply: Reply | None = None) -> Answer | None:
    entry = session.last_entry
    if entry is None:
        return None
    void = replace(
        _draft(session, Kind.VOID, heard),
        check=entry.check,
        position=entry.position,
        refers_to=entry.event.id,
        note=f"said: {heard.words}",
    )
    back = Draft(Kind.MOVE, check=entry.check, position=entry.position)
    amount = entry_amount(entry)
    if reply is None and amount is None:
        reply = say.disregarded_note(say.place(entry.position))
    elif reply is None and amount is not None:
        stands = left_standing(session, entry)
        words = words_at(say, session.plan.check(entry.check), entry.position)
        reply = words.disregarded(entry.position, amount, entry_amount(stands) if stands else None)
    return Answer((void, back), reply or SILENCE)


def _drop_question(session: Session, heard: Heard, reply: Reply) -> Answer:
    asked = session.asked
    draft = replace(_draft(session, Kind.VOID, heard), refers_to=asked.id if asked else None, note="question")
    return Answer((draft,), reply)


def _negative(say: Wording, session: Session, heard: Heard, last: Reply | None) -> Answer:
    """Reject the question, or the value just read back: it is withdrawn and asked for again."""
    kind = about(session)
    if kind in (ABOUT_FINISH, ABOUT_CORRECTION):
        return _drop_question(session, heard, say.kept())
    if kind == ABOUT_COMMAND:
        return _drop_question(session, heard, say.negative())
    if kind == ABOUT_READING:
        dropped = _drop_question(session, heard, say.negative())
        places = {place_of(session, reading) for reading in candidates(session)}
        if len(places) != 1 or places <= {session.position}:
            return dropped
        # the next words without a place are about the same place
        back = Draft(Kind.MOVE, check=session.check, position=places.pop())
        return Answer((*dropped.drafts, back), dropped.reply)
    if just_told(session) or (last is not None and last == _read_back(say, session).reply):
        return _withdraw(say, session, heard, say.negative()) or Answer((), say.nothing_asked())
    return Answer((), say.nothing_asked())


def _affirm(say: Wording, session: Session, heard: Heard) -> Answer:
    kind = about(session)
    check = session.plan.check(session.check)
    if kind == ABOUT_FINISH:
        checks = session.plan.checks
        logged = sum(len(session.results(each.name)) for each in checks)
        left = sum(len(still_open(session, each)) for each in checks)
        return Answer((_draft(session, Kind.FINISHED, heard),), say.finished(logged, left))
    if check.rule is Rule.TICK and kind is None:  # but not after another question
        return _tick(say, session, heard, done=True)
    return Answer((), say.nothing_asked())


def _correction(say: Wording, session: Session, heard: Heard) -> Answer:
    entry = last_measured(session)
    if entry is None:
        return Answer((), say.nothing_to_correct())
    draft = replace(_draft(session, Kind.ASKED, heard), data={"about": ABOUT_CORRECTION})
    return Answer((draft,), say.reading_wanted(entry.position))


def _step(say: Wording, session: Session, heard: Heard, *, forward: bool) -> Answer:
    check = session.plan.check(session.check)
    order = check.positions
    at = order.index(session.position) if session.position in order else 0
    if forward:
        position = next_open(session, check, session.position) if session.position in order else order[0]
        if position is None:
            return Answer((), say.end_of_plan(session.position, next_check(session)))
    elif at == 0:
        return Answer((), say.start_of_plan(session.position))
    else:
        position = order[at - 1]
    return _move(say, session, position, heard)


def _sweep(say: Wording, session: Session, labels: Position, heard: Heard, *, leaving: bool) -> Answer:
    """Continue with the first open place that has these labels, or (`leaving`) lacks them."""
    check = session.plan.check(session.check)

    def has(position: Position) -> bool:
        return all(position.get(axis) == label for axis, label in labels.labels)

    fitting = [position for position in check.positions if has(position) is not leaving]
    left = set(still_open(session, check))
    position = next((position for position in fitting if position in left), fitting[0] if fitting else None)
    if position is None:
        return Answer((), say.end_of_plan(session.position, next_check(session)))
    return _move(say, session, position, heard)


def _begin_anew(say: Wording, session: Session, heard: Heard) -> Answer:
    """Set aside the readings of a ring that is replaced; they stay in the log with the remark."""
    position = session.position
    remark = f"new ring; said: {heard.words}"
    old = session.standing(session.check, position)
    drafts = [
        replace(_draft(session, Kind.VOID, heard), refers_to=entry.event.id, note=remark) for entry in old
    ]
    stay = replace(_draft(session, Kind.MOVE, heard), note=remark)
    return Answer((*drafts, stay), new_ring(say.phrasing, position, len(old)))


def _tick(say: Wording, session: Session, heard: Heard, *, done: bool) -> Answer:
    check = session.plan.check(session.check)
    if check.rule is not Rule.TICK:
        return Answer((), say.nothing_asked())
    draft = replace(_draft(session, Kind.TICK, heard), data={"done": done})
    what = say.place(session.position)
    if not done:
        return Answer((draft,), say.unticked(what))
    after = with_draft(session, draft)
    then = next_open(after, check, session.position)
    if then is None:
        return Answer((draft,), say.ticked(what, last=True, next_check=next_check(after)))
    return Answer((draft, Draft(Kind.MOVE, check=check.name, position=then)), say.ticked(what, then))


def _ask_finish(say: Wording, session: Session, heard: Heard) -> Answer:
    draft = replace(_draft(session, Kind.ASKED, heard), data={"about": ABOUT_FINISH})
    return Answer((draft,), _finish_question(say, session))


def _finish_question(say: Wording, session: Session) -> Reply:
    left = open_places(session, session.plan.check(session.check))
    return say.work.finish_open(left) if left.count or left.elsewhere else say.confirm("Finish")
