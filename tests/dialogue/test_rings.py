"""Rings that went over, leaves of the drawer, heat, and bores as they were measured."""

from __future__ import annotations

import pytest

from handsfree.length import length
from handsfree.record import target_at
from tests.dialogue.rules import GAPS, said, talk

pytestmark = pytest.mark.quick


# --- a ring that went over --------------------------------------------------------------------------

BORES = (
    'bore = "4.0300 in"\n[engine.bores]\n1 = "4.0300 in"\n2 = "4.0304 in"\n3 = "4.0290 in"\n4 = "4.0301 in"'
)


def test_a_ring_that_is_over_is_offered_the_bore_where_it_leaves_least_to_file():
    """20 thou in 4.0300 in is 20 - 3.14 = 16.86 in 4.0290 in: bore three."""
    answer = talk(GAPS, engine=BORES).say("cylinder one top twenty").reply.text
    assert answer == "One top, twenty. Over by half a thou. Don't file; try it in three top."


def test_a_bore_that_has_its_ring_is_not_offered():
    bench = talk(GAPS, engine=BORES)
    said(bench, "cylinder three top eighteen")
    answer = bench.say("cylinder one top twenty").reply.text
    assert answer.endswith("Don't file; no other bore here would take it, so replace it.")


def test_where_only_one_figure_is_known_for_all_bores_nothing_is_promised():
    answer = talk(GAPS, engine='bore = "4.0300 in"').say("cylinder one top twenty").reply.text
    assert answer.endswith("Don't file; try it in another bore, or replace.")


def test_a_leaf_that_is_over_names_no_bore():
    answer = talk(GAPS, engine=BORES).say("cylinder one top go twenty").reply.text
    assert answer.endswith("Don't file; try it in another bore, or replace.")


# --- leaves -----------------------------------------------------------------------------------------

DRAWER = """
[feelers]
unit = "thou"
leaves = [1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25]
"""


def test_the_next_leaf_or_stack_of_the_drawer_is_named():
    bench = talk(DRAWER, GAPS)
    assert said(bench, "go sixteen", "go eighteen", "no go nineteen and a half") == [
        "One top, sixteen or more. Not settled. Try ten and eight together.",
        "One top, eighteen or more. Not settled. Try twelve, five and two and a half together.",
        "One top, eighteen to nineteen and a half. Good. Next, two top.",
    ]


def test_where_no_leaf_can_tell_more_that_is_said():
    bench = talk(
        '[feelers]\nunit = "thou"\nleaves = [10, 17, 20]\n',
        GAPS.replace("1.5 thou", "1 thou"),
    )
    answers = said(bench, "go seventeen", "no go twenty")
    assert (
        answers[-1] == "One top, seventeen to twenty. Not settled, and no leaf in the drawer can tell more."
    )


# --- heat -------------------------------------------------------------------------------------------

HOT = """
[hot]
ring = "ductile iron"
bore = "grey iron"
ring_rise = [200, 240]
bore_rise = 90
margin = "2 thou"
"""
REMARK = "an estimate from assumed temperatures; the maker's figure decides."


def test_a_gap_that_may_butt_when_hot_is_cautioned_once_in_full_and_then_shortly():
    """18 thou in 4.030 in: 16.459 thou close at 200 K and 22.029 at 240 K."""
    bench = talk(HOT, GAPS, engine='bore = "4.030 in"')
    answers = said(bench, "eighteen", "eighteen and a half")
    assert answers[0] == f"One top, eighteen. Good. Hot, its ends may meet, {REMARK} Next, two top."
    assert (
        answers[1] == "Two top, eighteen and a half. Good. Close when hot, as an estimate. Next, three top."
    )
    assert bench.say("four top".replace("four", "cylinder four")).reply.text == (
        "Now four top. Close when hot, as an estimate."
    )


def test_a_move_to_a_tight_target_is_cautioned():
    bench = talk(HOT, GAPS, engine='bore = "4.030 in"')
    assert bench.say("next").reply.text == f"Now two top. Hot, its ends may meet, {REMARK}"


def test_the_amount_that_is_left_when_hot_is_said_where_it_does_not_meet():
    """18 - 16.459 = 1.541 thou, rounded down so that less is promised."""
    bench = talk(HOT.replace("[200, 240]", "200"), GAPS, engine='bore = "4.030 in"')
    assert "Hot, it may leave only about one point five four, an estimate" in bench.say("eighteen").reply.text


def test_nothing_is_said_of_heat_where_there_is_room_or_no_assumption():
    for parts in ((GAPS,), (HOT.replace("2 thou", "0.1 thou").replace("[200, 240]", "200"), GAPS)):
        assert "ot," not in talk(*parts, engine='bore = "4.030 in"').say("eighteen").reply.text


# --- bores that were measured -----------------------------------------------------------------------

MEASURED = """
[[check]]
name = "bores"
rule = "limits"
unit = "in"
[check.axes]
cylinder = 2
depth = ["upper", "lower"]
[[check.target]]
lower = "4.0290 in"
upper = "4.0310 in"

[[check]]
name = "ring gaps"
rule = "file to gap"
unit = "thou"
order = "ring by ring"
bores_from = "bores"
gap_at = "upper"
[check.axes]
cylinder = 2
ring = ["top", "second"]
[[check.target]]
maker = "18 thou"
plus = "1.5 thou"
"""


def test_targets_follow_the_bores_as_measured():
    """0.5 thou wider where the gap is taken: 18 and pi times that are 19.571, up to the next half."""
    bench = talk(MEASURED, engine='bore = "4.030 in"')
    said(bench, "four point oh three oh five", "four point oh three")
    check = bench.plan.check("ring gaps")
    target = target_at(bench.session, check, check.positions[0])
    bench.say("check ring gaps")
    assert target.aim == length("20")
    assert bench.say("cylinder one top").reply.text == "Now one top."
    assert bench.say("nineteen").events[0].draft.verdict == "short"
    assert bench.say("cylinder two top nineteen").events[0].draft.verdict == "good"  # its bore isn't measured


def test_a_bore_measured_after_its_gap_says_where_the_gap_no_longer_holds():
    bench = talk(MEASURED, engine='bore = "4.030 in"')
    said(bench, "check ring gaps", "cylinder one top eighteen", "check bores")
    answers = said(bench, "four point oh three oh five", "four point oh three")
    assert answers[1] == (
        "One lower, four point zero three. Good. By that bore ring gaps no longer hold at one top. "
        "Next, two upper."
    )
    bench.say("check ring gaps")
    assert "one top to file" in bench.say("what's left").reply.text
