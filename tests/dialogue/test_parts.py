"""Clearances and lashes: parts read one by one, asked for while missing, judged together."""

from __future__ import annotations

import pytest

from handsfree.judge import judge_joint
from handsfree.record import Journal, figures, results
from tests.dialogue.rules import BEARINGS, HEAD, LASH, plan_of, said, talk, verdicts
from tests.dialogue.talk import Clock, Talk

pytestmark = pytest.mark.quick


# --- parts of a difference --------------------------------------------------------------------------


def test_parts_are_asked_for_one_by_one_and_judged_together_when_the_last_is_read():
    bench = talk(BEARINGS)
    answers = said(bench, "two point two two five", "sixty one point two", "two point one")
    assert answers == [
        "Main one housing, two point two two five. Next, main one shell.",
        "Main one shell, sixty one point two. Next, main one journal.",
        "Main one journal, two point one. That makes two point six thou. Good. Next, main two housing.",
    ]
    assert bench.log() == ["1 housing: 2.225 in", "1 shell: 61.2 thou", "1 journal: 2.1 in"]
    assert verdicts(bench) == [None, None, "good"]


@pytest.mark.parametrize(
    ("journal", "state", "answer"),
    [
        ("2.1036", "short", "makes minus one thou. Short by two thou; don't assemble it so."),
        (
            "2.1018",
            "short",
            "makes zero point eight thou. Short by zero point two thou; don't assemble it so.",
        ),
        ("2.1016", "good", "That makes one thou. Good."),
        ("2.0996", "good", "That makes three thou. Good."),
        ("2.0995", "over", "makes three point one thou. Over by zero point one thou. Don't assemble it so."),
    ],
)
def test_a_clearance_at_and_around_its_limits(journal, state, answer):
    bench = talk(BEARINGS)
    said(bench, "two point two two five", "sixty one point two")
    text = bench.key(journal).reply.text
    assert answer in text
    assert verdicts(bench)[-1] == state
    check = bench.plan.checks[0]
    joint = judge_joint(bench.plan, check, check.items[0], figures(bench.session, check.name))
    assert joint.verdict is not None
    assert joint.verdict.state.value == state
    assert bench.session.last_entry.event.draft.remaining == joint.verdict.remaining


def test_parts_come_in_any_order_and_of_one_breath_and_the_first_one_missing_is_next():
    bench = talk(BEARINGS)
    (answer,) = said(bench, "main two journal two point one housing two point two two five")
    assert answer == (
        "Main two journal, two point one. Next, main one housing. "
        "Main two housing, two point two two five. Next, main two shell."
    )
    assert bench.say("shell sixty one point two").reply.text.startswith(
        "Main two shell, sixty one point two."
    )
    assert verdicts(bench)[-1] == "good"


def test_a_part_said_after_another_of_the_same_breath_belongs_to_the_same_item():
    """The first may complete an item and move the work on; the second doesn't move with it."""
    bench = talk(BEARINGS)
    said(bench, "two point two two five", "sixty one point two", "two point one")
    said(bench, "main one journal")
    bench.say("housing two point two two five shell sixty one point two")
    assert bench.log()[-2:] == ["1 housing: 2.225 in", "1 shell: 61.2 thou"]


def test_a_corrected_part_is_judged_with_the_others_as_they_stand():
    bench = talk(BEARINGS)
    said(bench, "two point two two five", "sixty one point two", "two point one")
    answer = bench.say("correction two point oh nine nine").reply.text
    assert answer == (
        "Corrected. Main one journal, two point zero nine nine inches, was two point one inches. "
        "That makes three point six thou. Over by zero point six thou. Don't assemble it so."
    )
    assert bench.say("disregard").reply.text == (
        "Disregarded: main one journal, two point zero nine nine. Two point one stands."
    )
    assert "Main one" not in bench.say("what's left").reply.text


def test_a_withdrawn_part_is_missing_again():
    bench = talk(BEARINGS)
    said(bench, "two point two two five", "sixty one point two", "disregard")
    assert (
        bench.say("journal two point one").reply.text
        == "Main one journal, two point one. Next, main two housing."
    )
    assert bench.say("what's left").reply.text == "Four left: all of main two; main one shell."


def test_a_leaf_is_no_figure_of_a_part():
    bench = talk(BEARINGS)
    answer = bench.say("no go two point two two five").reply.text
    assert answer == "Main one housing, under two point two two five. Not settled. Try the next leaf."
    assert verdicts(bench) == ["open"]
    said(bench, "shell sixty one point two")
    assert bench.say("journal two point one").reply.text.endswith("Next, main two housing.")
    assert bench.say("what's left").reply.text.startswith(
        "Four left: all of main two; main one to measure again"
    )


def test_part_by_part_goes_by_the_order_of_the_plan():
    bench = talk(BEARINGS.replace('unit = "thou"\n', 'unit = "thou"\norder = "part by part"\n'))
    assert bench.say("two point two two five").reply.text.endswith("Next, main two housing.")


def test_guarded_acceptance_calls_a_clearance_near_its_limit_uncertain():
    """Near means 0.40 thou: 1.645 u(c), u(c) = sqrt(0.1^2 + (2 * 0.1)^2 + 0.1^2) = 0.245 thou.

    2.8 thou lies within that of the limit of 3.
    """
    bench = talk(BEARINGS, engine="")
    guarded = Talk(
        plan_of(HEAD.replace('name = "Rules"', 'name = "Rules"\nacceptance = "guarded"') + BEARINGS),
        Journal.in_memory(clock=Clock()),
    )
    for one in (bench, guarded):
        said(one, "two point two two five", "sixty one point two", "two point oh nine nine eight")
    assert verdicts(bench)[-1] == "good"
    assert verdicts(guarded)[-1] == "uncertain"
    text = guarded.say("say again").reply.text
    assert text.endswith("That makes two point eight thou. Close to the limit. Measure again.")


# --- shims ------------------------------------------------------------------------------------------


def test_a_lash_that_is_good_keeps_its_shim():
    bench = talk(LASH)
    answers = said(bench, "two point six", "point one two")
    assert (
        answers[1] == "Cylinder one lash, zero point one two. Good. Keep the shim. Next, cylinder two shim."
    )


def test_guarded_lash_on_its_limit_is_measured_again_with_the_same_shim():
    """Of a feeler good to 0.01 mm: 0.16 is the limit itself, 0.14 clears it by twice that."""
    feeler = '[[instrument]]\nname = "feeler"\nstandard = "0.01 mm"\n'
    plan = plan_of(
        HEAD.replace('name = "Rules"', 'name = "Rules"\nacceptance = "guarded"')
        + feeler
        + LASH.replace('unit = "mm"\n', 'unit = "mm"\ninstrument = "feeler"\n')
    )
    bench = Talk(plan, Journal.in_memory(clock=Clock()))
    answers = said(bench, "two point six", "point one six")
    assert answers[1] == ("Cylinder one lash, zero point one six. Close to the limit. Measure again.")
    assert verdicts(bench)[-1] == "uncertain"
    assert next(result.text for result in results(bench.session)).endswith("; measure the lash again")
    # the shim is still the one that was measured: the lash alone is read anew
    answers = said(bench, "lash point one four")
    assert answers == [
        "Cylinder one lash, zero point one four. Good. Keep the shim. Next, cylinder two shim."
    ]


def test_a_lash_outside_gets_a_shim_and_what_it_should_give_then_both_are_measured_again():
    """2.60 + 0.08 - 0.13 = 2.55, which gives 0.13."""
    bench = talk(LASH)
    answers = said(bench, "two point six", "point zero eight")
    assert answers[1] == (
        "Cylinder one lash, zero point zero eight. Lash zero point zero eight is too small. "
        "Fit two point five five for zero point one three, then measure both again."
    )
    assert verdicts(bench)[-1] == "short"
    # the old lash is not reckoned with the new shim
    answers = said(bench, "shim two point five five")
    assert answers == ["Cylinder one shim, two point five five. Next, cylinder one lash."]
    assert bench.say("what's left").reply.text == "Three left: all of cylinder two; cylinder one lash."
    assert bench.say("point one three").reply.text.endswith("Good. Keep the shim. Next, cylinder two shim.")


def test_a_new_lash_alone_is_not_reckoned_with_the_shim_that_was_taken_out():
    bench = talk(LASH)
    said(bench, "two point six", "point zero eight")
    assert bench.say("lash point two five").reply.text == (
        "Cylinder one lash, zero point two five. Next, cylinder two shim."
    )
    assert bench.say("what's left").reply.text == "Three left: all of cylinder two; cylinder one shim."


def test_the_lash_may_be_read_before_its_shim_is_taken_out_and_measured():
    bench = talk(LASH)
    answers = said(bench, "lash point zero eight", "cylinder one shim two point six")
    assert answers[1].startswith(
        "Cylinder one shim, two point six. Lash zero point zero eight is too small. Fit two"
    )


def test_a_corrected_shim_stays_with_the_lash_that_was_read_with_it():
    bench = talk(LASH)
    said(bench, "two point six", "point zero eight", "cylinder one shim")
    said(bench, "disregard", "point zero nine")
    answer = bench.say("correction point one").reply.text
    assert answer.endswith("Good. Keep the shim. Next, cylinder two shim.")


def test_no_shim_that_can_be_had_is_said_with_the_one_that_would_do():
    bench = talk(LASH)
    answers = said(bench, "three point one", "point eight")
    assert answers[1].endswith(
        "Lash zero point eight is too large, and no shim that can be had puts it right. "
        "Wanted three point seven seven."
    )


# --- shims that are used again ----------------------------------------------------------------------

REUSE = LASH.replace("cylinder = 2", "cylinder = 4").replace(
    'step = "0.05 mm"', 'step = "0.05 mm"\nreuse = true'
)


def test_a_shim_that_comes_out_is_offered_where_it_serves_better_than_those_that_can_be_had():
    """Two: 2.65 + 0.06 - 0.13 wants 2.58, and one gives up its 2.58; 2.60 would only give 0.11."""
    bench = talk(REUSE)
    said(bench, "two point five eight", "point zero five", "cylinder two shim two point six five")
    answer = bench.say("point zero six").reply.text
    assert answer.endswith(
        "Fit two point five eight, out of cylinder one, for zero point one three, then measure both again."
    )


def test_without_reuse_only_those_that_can_be_had_are_offered():
    bench = talk(REUSE.replace("\nreuse = true", ""))
    said(bench, "two point five eight", "point zero five", "cylinder two shim two point six five")
    assert "Fit two point six for zero point one one, then" in bench.say("point zero six").reply.text


def test_a_shim_is_promised_to_one_place_only_and_goes_to_the_first_that_wants_it():
    bench = talk(REUSE)
    said(bench, "two point five eight", "point zero five", "cylinder two shim two point six five")
    bench.say("point zero six")
    said(bench, "cylinder three shim two point six five")
    assert "out of cylinder one" not in bench.say("point zero six").reply.text


def test_a_shim_that_was_fitted_elsewhere_is_gone_and_one_whose_lash_is_good_stays():
    bench = talk(REUSE)
    said(bench, "two point five eight", "point zero five", "cylinder two shim two point six five")
    said(bench, "point zero six", "shim two point five eight", "lash point one three")
    said(bench, "cylinder three shim two point six five")
    assert "out of" not in bench.say("point zero six").reply.text


def test_a_shim_comes_back_when_its_claim_is_withdrawn():
    bench = talk(REUSE)
    said(bench, "two point five eight", "point zero five", "cylinder two shim two point six five")
    bench.say("point zero six")
    said(bench, "disregard", "cylinder three shim two point six five")
    assert "two point five eight, out of cylinder one," in bench.say("point zero six").reply.text


def test_the_sheet_names_where_the_shim_comes_from():
    from handsfree.record import results

    bench = talk(REUSE)
    said(bench, "two point five eight", "point zero five", "cylinder two shim two point six five")
    bench.say("point zero six")
    told = [result.text for result in results(bench.bench.session)]
    assert told[1] == "shim 2.65 mm; lash 0.06 mm; fit 2.58 mm out of cylinder 1 for 0.13 mm"
