"""What the items of a plan came to, and how long each took."""

from datetime import timedelta

import pytest

from handsfree.journal import Draft, Event, Kind, LeafSide
from handsfree.length import length
from handsfree.plan import Position
from handsfree.planfile import parse_plan
from handsfree.session import fold, results
from handsfree.session.results import work_times

pytestmark = pytest.mark.quick

CLEARANCE = """
format = 1
name = "Bearings"

[engine]
name = "Bench single"

[[check]]
name = "main clearance"
rule = "difference"
unit = "thou"
formula = "housing - journal"

[check.axes]
main = 2

[[check.part]]
name = "housing"
nominal = "2.225 in"

[[check.part]]
name = "journal"
nominal = "2.2224 in"

[[check.target]]
aim = "2.6 thou"
lower = "2 thou"
upper = "3 thou"
"""


def test_a_result_has_its_target_reading_verdict_and_tries(plan, reading, happen):
    events = [happen(reading("16", verdict="short")), happen(reading("18.50", verdict="good"))]
    first, second, *_ = results(fold(plan, events))
    assert first.item.key == "cylinder 1, ring top"
    assert (first.limits, first.text, first.verdict, first.tries) == (
        "18 to 19.5 thou",
        "18.50 thou",
        "good",
        2,
    )
    assert first.figure == length("18.50")
    assert first.complete
    assert (second.text, second.verdict, second.tries, second.figure) == ("", None, 0, None)
    assert not second.complete


def test_a_voided_reading_is_no_try_and_the_verdict_before_it_counts_again(plan, reading, happen):
    good, over = happen(reading("18", verdict="good")), happen(reading("30", verdict="over"))
    first = results(fold(plan, [good, over, happen(Draft(Kind.VOID, refers_to=over.id))]))[0]
    assert (first.text, first.verdict, first.tries) == ("18 thou", "good", 1)


@pytest.mark.parametrize(
    ("more", "text"),
    [
        ({"bound": LeafSide.UNDER}, "under 18 thou"),
        ({"bound": LeafSide.OVER}, "over 18 thou"),
        ({"bound": LeafSide.OVER, "other": length("18.5")}, "18 to 18.5 thou"),
        ({"bound": LeafSide.OVER, "other": length("0.5", "mm")}, "18 thou to 0.5 mm"),
    ],
)
def test_a_bound_is_told_as_one_and_is_no_figure(plan, reading, happen, more, text):
    first = results(fold(plan, [happen(reading("18", **more))]))[0]
    assert (first.text, first.figure) == (text, None)


def test_a_tick_says_done_or_not_done(plan, happen):
    events = [
        happen(Draft(Kind.TICK, "washed", Position.of({"cylinder": str(n)}), data={"done": n == 1}))
        for n in (1, 2)
    ]
    assert [result.text for result in results(fold(plan, events))[-2:]] == ["done", "not done"]


def test_a_difference_is_one_item_with_its_exact_sum(happen):
    plan = parse_plan(CLEARANCE)
    (check,) = plan.checks

    def read(part, value, verdict=None):
        position = check.at_part(check.items[0], part)
        return happen(Draft(Kind.READING, check.name, position, length(value, "in"), verdict=verdict))

    half = results(fold(plan, [read("housing", "2.2250")]))[0]
    assert (half.complete, half.figure, half.verdict) == (False, None, None)
    whole, other = results(fold(plan, [read("housing", "2.2250"), read("journal", "2.2224", "good")]))
    assert whole.figure == length("2.6")
    assert whole.text == "2.6 thou; housing 2.2250 in; journal 2.2224 in"
    assert whole.verdict == "good"
    assert other.text == ""


SHIMS = """
format = 1
name = "Lash"

[engine]
name = "Bench single"

[[check]]
name = "valve lash"
rule = "shim"
unit = "mm"
shims = { least = "2.00 mm", most = "3.00 mm", step = "0.05 mm" }

[check.axes]
valve = ["intake"]

[[check.part]]
name = "shim"
nominal = "2.60 mm"

[[check.part]]
name = "lash"
nominal = "0.15 mm"

[[check.target]]
lower = "0.16 mm"
upper = "0.24 mm"
"""


@pytest.mark.parametrize(
    ("lash", "text"),
    [
        ("0.15", "shim 2.60 mm; lash 0.15 mm; fit 2.55 mm for 0.2 mm"),
        ("0.20", "shim 2.60 mm; lash 0.20 mm; keep the shim"),
        ("2.90", "shim 2.60 mm; lash 2.90 mm; no shim that can be had fits"),
    ],
)
def test_a_shim_check_says_which_shim_to_fit(happen, lash, text):
    plan = parse_plan(SHIMS)
    (check,) = plan.checks
    events = [
        happen(Draft(Kind.READING, check.name, check.at_part(check.items[0], part), length(value, "mm")))
        for part, value in (("shim", "2.60"), ("lash", lash))
    ]
    (result,) = results(fold(plan, events))
    assert result.text == text
    assert result.figure is None


def timed(plan, *happenings):
    """Events at given seconds."""
    from datetime import UTC, datetime

    start = datetime(2026, 11, 25, 8, tzinfo=UTC)
    return [
        Event(f"id{number}", number + 1, start + timedelta(seconds=second), 0, "0.1.0", draft)
        for number, (second, draft) in enumerate(happenings)
    ]


def test_work_is_the_time_that_led_up_to_each_reading_without_breaks(plan, reading, at):
    events = timed(
        plan,
        (0, Draft(Kind.OPENED)),
        (60, reading("16")),
        (70, Draft(Kind.TURNS, data={"count": "5"})),
        (100, reading("17")),
        (110, Draft(Kind.STAND_BY)),
        (1000, Draft(Kind.GO_AHEAD)),
        (1005, reading("18")),
        (1010, reading("18", 2)),
        (9000, Draft(Kind.RESUMED)),
        (9030, reading("18.5", 2)),
    )
    spent = work_times(fold(plan, events), events)
    assert spent["ring gaps", at(1)] == timedelta(seconds=60 + 40 + 10 + 5)
    assert spent["ring gaps", at(2)] == timedelta(seconds=5 + 30)
    assert results(fold(plan, events), events)[0].work == timedelta(seconds=115)
    assert results(fold(plan, events))[0].work is None


def test_a_clock_that_is_set_back_counts_nothing(plan, reading, at):
    events = timed(
        plan, (0, Draft(Kind.OPENED)), (60, reading("16")), (-3600, reading("17")), (-3590, reading("18"))
    )
    assert work_times(fold(plan, events), events)["ring gaps", at(1)] == timedelta(seconds=70)
