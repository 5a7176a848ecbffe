"""Whatever is said in whatever order, no reading is lost, doubled or changed, and nothing is erased."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.export import to_csv
from handsfree.journal import Journal, Kind
from handsfree.judge import Bounds
from handsfree.judge.reading import judge_bounds, judge_reading
from handsfree.session import DOUBT, fold
from handsfree.understand import Bracket, Reading, Word
from tests.dialogue.talk import Clock, Talk, plan_of_three_checks

pytestmark = pytest.mark.quick

PLAN = plan_of_three_checks()
ENTRIES = (Kind.READING, Kind.CORRECTION, Kind.TICK)
LOGGED = (Kind.READING, Kind.CORRECTION)

PLAUSIBLE = ["fifteen", "eighteen", "nineteen and a half", "twenty one", "point oh one eight"]
ODD = ["ninety", "four", "two", "zero point four five millimetres", "point zero five"]
UNCLEAR = ["one eight five", "eighteen five"]
SIZES = st.sampled_from([*PLAUSIBLE, *ODD, *UNCLEAR])
PLACES = st.sampled_from(["", "cylinder one top", "cylinder two top", "cylinder two second"])
FEELS = st.sampled_from(["", "", "", "no go", "go", "drag"])
READINGS = st.builds(lambda place, feel, size: f"{place} {feel} {size}".strip(), PLACES, FEELS, SIZES)
CHAINS = st.sampled_from(
    [
        "cylinder one top fifteen cylinder two top sixteen",
        "cylinder one top ninety cylinder two top sixteen",
        "eighteen correction nineteen",
        "eighteen goes nineteen stops",
        "nineteen goes eighteen stops",
        "eighteen goes ninety stops",
    ]
)
PROCEDURE = [word.value for word in Word if word is not Word.STAND_BY]
MOVES = ["cylinder two", "second", "check ring gaps", "check washed", "check side clearance", "ten turns"]
WORDS = st.sampled_from([*PROCEDURE, *MOVES, "affirm", "affirm"])
CORRECTIONS = READINGS.map(lambda words: f"correction {words}")
PHRASES = st.one_of(READINGS, READINGS, CHAINS, WORDS, WORDS, CORRECTIONS, st.just("stand by"))
MARGINS = st.sampled_from([9.0, 9.0, 9.0, 0.5])
SAID = st.tuples(st.just("say"), PHRASES, MARGINS, st.lists(READINGS, max_size=2))
VALUE_KEYS = ["18", "2*1*15.5", "18-", "18+-", "/17", "18+19-", "90"]
KEYED = st.tuples(st.just("key"), st.sampled_from([*VALUE_KEYS, "+", "-", "/", "//", "*", "x", "3*", ""]))
OTHER = st.tuples(st.sampled_from(["mumble", "chatter"]))
STREAMS = st.lists(st.one_of(SAID, SAID, SAID, KEYED, OTHER), max_size=25)


def play(talk: Talk, step):
    match step:
        case ("say", words, margin, others):
            return talk.say(words, margin=margin, others=[(other, 0.5) for other in others])
        case ("key", keys):
            return talk.key(keys)
        case ("mumble",):
            return talk.mumble()
        case _:
            return talk.chatter()


@given(STREAMS)
@settings(max_examples=60)
def test_what_is_answered_as_logged_is_logged_once_and_nothing_else_is(stream):
    talk = Talk(PLAN, Journal.in_memory(clock=Clock()))
    answered = 0
    for step in stream:
        before = talk.session
        exchange = play(talk, step)
        taken = [event for event in exchange.events if event.kind in ENTRIES]
        sizes = [event for event in taken if event.kind in LOGGED]
        commands = [c for c in exchange.commands if isinstance(c, Reading | Bracket)]

        # a breath logs at most one entry for each size in it, or the one candidate that it chose
        assert len(sizes) <= max(1, len(commands))
        answered += len(taken)
        assert len(talk.session.log()) == answered

        # never more than was said: standing by, chatter and unclear talk log nothing
        if before.standing_by or step[0] in ("mumble", "chatter") or not exchange.commands:
            assert taken == []

        # the answer speaks of every entry by its place
        text = exchange.reply.text.lower()
        for event in taken:
            place = talk.bench._say.place(event.draft.position)
            assert place in text, (text, place)

        # nothing that was there is gone or changed in value
        old = [(e.event.id, e.value, e.check, e.position) for e in before.log()]
        new = [(e.event.id, e.value, e.check, e.position) for e in talk.session.log()]
        assert new[: len(old)] == old


@given(STREAMS)
@settings(max_examples=60)
def test_every_stored_value_was_said_and_its_verdict_is_the_judges(stream):
    talk = Talk(PLAN, Journal.in_memory(clock=Clock()))
    ever_said = set()
    for step in stream:
        exchange = play(talk, step)
        meant = exchange.decision.meanings if exchange.decision else ()
        for command in (*exchange.commands, *(c for meaning in meant for c in meaning.commands)):
            if isinstance(command, Reading):
                ever_said.add(command.value)
            elif isinstance(command, Bracket):
                ever_said.add(command.goes)
        for event in exchange.events:
            draft = event.draft
            if event.kind not in LOGGED:
                continue
            assert draft.value in ever_said
            check = PLAN.check(draft.check)
            assert draft.position in check.positions
            if DOUBT in draft.data:  # it doesn't go with what stood before: logged, and called uncertain
                assert (draft.verdict, draft.remaining) == ("uncertain", None)
            elif draft.bound is None:
                verdict = judge_reading(check.target(draft.position), draft.value, check.rule, check.unit)
                assert (draft.verdict, draft.remaining) == (verdict.state.value, verdict.remaining)
            elif event.kind is Kind.CORRECTION and draft.other is None:
                seen = Bounds.under(draft.value) if draft.bound == "under" else Bounds.over(draft.value)
                verdict = judge_bounds(check.target(draft.position), seen, check.rule, check.unit)
                assert draft.verdict == verdict.state.value


@given(STREAMS)
@settings(max_examples=60)
def test_a_doubtful_value_is_logged_only_after_a_question_about_it(stream):
    """An implausible or unsure reading never goes straight into the log."""
    talk = Talk(PLAN, Journal.in_memory(clock=Clock()))
    for step in stream:
        asked = talk.session.asked
        exchange = play(talk, step)
        for event in exchange.events:
            draft = event.draft
            if event.kind not in LOGGED or draft.other is not None:
                continue
            low, high = PLAN.check(draft.check).windows[draft.position]
            if not low.mm <= draft.value.mm <= high.mm:
                candidates = asked.draft.data["candidates"] if asked else []
                assert str(draft.value.value) in [form["value"] for form in candidates]


@given(STREAMS, st.integers(0, 25))
@settings(max_examples=40)
def test_stopping_and_opening_the_journal_again_gives_the_same_session(tmp_path_factory, stream, at):
    path = tmp_path_factory.mktemp("resume") / "bench.journal"
    clock = Clock()
    with Journal.open(path, clock=clock) as journal:
        talk = Talk(PLAN, journal)
        for step in stream[:at]:
            play(talk, step)
        before = talk.session
    with Journal.open(path, clock=clock) as journal:
        assert fold(PLAN, journal.events()) == before
        again = Talk(PLAN, journal)
        assert again.session.log() == before.log()
        assert (again.session.check, again.session.position) == (before.check, before.position)
        assert not again.session.standing_by
        assert again.session.asked is None
        for step in stream[at:]:
            play(again, step)
        end = again.session
        assert fold(PLAN, journal.events()) == end
        assert to_csv(end) == to_csv(fold(PLAN, journal.events()))


@given(STREAMS)
@settings(max_examples=60)
def test_the_session_in_hand_is_always_the_fold_of_the_journal(stream):
    journal = Journal.in_memory(clock=Clock())
    talk = Talk(PLAN, journal)
    for step in stream:
        play(talk, step)
    assert talk.session == fold(PLAN, journal.events())
    assert [event.seq for event in journal.events()] == list(range(1, len(journal.events()) + 1))


@given(STREAMS)
@settings(max_examples=60)
def test_every_answer_is_a_sentence_or_silence(stream):
    talk = Talk(PLAN, Journal.in_memory(clock=Clock()))
    for step in stream:
        reply = play(talk, step).reply
        assert "{" not in reply.text
        assert reply.aloud == "" or reply.aloud[-1] in ".?"
        assert (reply.text == "") == (reply.aloud == "")
