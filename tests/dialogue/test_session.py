"""Readings in doubt, cautions, several checks, and the end of the session."""

from __future__ import annotations

import pytest

from handsfree.journal import Journal, Kind
from handsfree.plan import Position
from tests.dialogue.rules import BEARINGS, GAPS, HEAD, LASH, plan_of, said, talk, verdicts
from tests.dialogue.talk import Clock, Talk

pytestmark = pytest.mark.quick


# --- doubt ------------------------------------------------------------------------------------------


def test_a_gap_that_seems_to_shrink_is_measured_again_and_believed_when_it_repeats():
    bench = talk(GAPS)
    answers = said(bench, "sixteen", "fourteen", "fourteen")
    assert answers[1] == "One top, fourteen. Sixteen before, and a gap only grows. Measure again."
    assert answers[2] == "One top, fourteen. File four."
    assert verdicts(bench) == ["short", "uncertain", "short"]
    assert bench.session.log()[1].event.draft.data == {"doubt": "16 thou"}


def test_within_what_the_leaves_can_tell_a_smaller_gap_is_no_contradiction():
    assert (
        said(talk(GAPS), "sixteen", "fifteen point six")[-1]
        == "One top, fifteen point six. File two point four."
    )


def test_a_good_reading_in_doubt_does_not_go_on():
    bench = talk(GAPS)
    said(bench, "twenty one", "cylinder one top nineteen")  # another ring: the one that was over is out
    assert verdicts(bench) == ["over", "good"]
    said(bench, "cylinder two top nineteen", "cylinder two top eighteen")
    assert verdicts(bench)[-1] == "uncertain"
    assert bench.session.position == Position.of({"cylinder": "2", "ring": "top"})
    assert "two top to measure again" in bench.say("what's left").reply.text


def test_a_correction_is_not_doubted_for_differing_from_what_it_corrects():
    bench = talk(GAPS)
    answers = said(bench, "sixteen", "correction fourteen")
    assert answers[1] == "Corrected. One top, fourteen, was sixteen. File four."


def test_a_correction_is_doubted_as_the_reading_itself_would_be():
    bench = talk(GAPS)
    answers = said(bench, "sixteen", "seventeen", "correction fifteen")
    assert answers[2] == (
        "Corrected. One top, fifteen, was seventeen. Sixteen before, and a gap only grows. Measure again."
    )


def test_a_part_that_was_measured_twice_should_agree():
    bench = talk(BEARINGS)
    said(bench, "two point two two five", "housing two point two two five two")
    answer = bench.say("housing two point two two six").reply.text
    assert (
        answer
        == "Main one housing, two point two two six. It was two point two two five before. Measure again."
    )
    # until it is settled there is no clearance
    said(bench, "shell sixty one point two")
    assert bench.say("journal two point one").reply.text.endswith("Next, main two housing.")
    assert "main one to measure again" in bench.say("what's left").reply.text
    assert bench.say("main one housing two point two two six").reply.text.endswith("Don't assemble it so.")


def test_after_a_clearance_outside_its_limits_the_parts_may_differ():
    """Other shells were put in, or the journal ground."""
    bench = talk(BEARINGS)
    said(bench, "two point two two five", "sixty one point two", "two point oh nine eight")
    assert verdicts(bench)[-1] == "over"
    answer = bench.say("shell sixty two").reply.text
    assert answer == "Main one shell, sixty two. That makes three. Good. Next, main two housing."


# --- the sheet --------------------------------------------------------------------------------------


def test_cautions_are_spoken_at_the_start_of_each_check_each_once_to_a_sheet():
    bench = talk(GAPS, LASH, BEARINGS)
    first = bench.bench._last.text
    assert first.count("Measure dry, clean and at room temperature.") == 1
    lash = bench.say("check valve lash").reply.text
    assert lash == ("Valve lash. In millimetres. Hands clear of the crank. Cylinder one shim.")
    assert bench.say("check main bearings").reply.text == "Main bearings. In inches. Main one housing."
    assert bench.say("check valve lash").reply.text == "Valve lash. In millimetres. Cylinder one shim."


def test_cautions_become_a_short_reminder_when_the_sheet_is_opened_again(tmp_path):
    plan, clock = plan_of(HEAD + GAPS), Clock()
    with Journal.open(tmp_path / "a.journal", clock=clock) as journal:
        Talk(plan, journal).say("fifteen")
    with Journal.open(tmp_path / "a.journal", clock=clock) as journal:
        again = Talk(plan, journal)
        assert again.bench._last.text == "Resumed. None of eight done. Next, one top. Eye protection on."


def test_finish_counts_every_check_and_names_those_with_something_open():
    bench = talk(GAPS, LASH)
    bench.say("eighteen")
    assert bench.say("finish").reply.text == (
        "Seven still open: two to four, both; one second, and more in valve lash. "
        "Finish all the same? Yes or no."
    )
    exchange = bench.say("affirm")
    assert exchange.reply.text == "Finished. One logged, eleven left open."
    assert [event.kind for event in exchange.events] == [Kind.FINISHED]


def test_the_end_of_a_check_names_the_one_to_go_on_with_by_words_that_are_understood():
    bench = talk(LASH, BEARINGS)
    said(bench, "two point six", "point one two", "two point six")
    answer = bench.say("point one two").reply.text
    assert answer.endswith("All measured. Say check main bearings.")
    assert bench.say("check main bearings").events[0].kind is Kind.CHECK
