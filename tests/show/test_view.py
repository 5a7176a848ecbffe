"""What the display shows, without a screen."""

from pathlib import Path

import pytest

from handsfree.plan import Position, load_plan, parse_plan, templates
from handsfree.plan.commands import new_plan
from handsfree.show.view import METER_STEPS, Mark, meter_steps, short_place
from tests.plan.some_answers import some_answers
from tests.show.scenes import view_after

pytestmark = pytest.mark.quick


@pytest.mark.parametrize(
    ("entries", "shown"),
    [
        ((), ("1 top", "", Mark.OPEN, "18", "aim")),
        (("16",), ("1 top", "16", Mark.SHORT, "2", "file")),
        (("18.5",), ("1 top", "18.5", Mark.GOOD, "GOOD", "good")),
        (("21",), ("1 top", "21", Mark.OVER, "1.5", "over by")),
        (("15-",), ("1 top", "15-", Mark.SHORT, ">3", "file")),
        (("17+",), ("1 top", "17+", Mark.UNSURE, "AGAIN", "unsure")),
        (("18-",), ("1 top", "18-", Mark.SHORT, "FILE", "file")),  # by how much, nobody knows
        (("15+16-",), ("1 top", "15+16-", Mark.SHORT, "2", "file")),
        (("16", "/17"), ("1 top", "17", Mark.SHORT, "1", "file")),
        (("16", "/"), ("1 top", "", Mark.OPEN, "18", "aim")),
        (("16", "3*1*"), ("3 top", "", Mark.OPEN, "18", "aim")),
    ],
)
def test_large_figures_are_about_the_last_reading_until_somebody_moves(entries, shown):
    view = view_after(*entries)
    assert (view.of, view.reading, view.mark, view.amount, view.caption) == shown


def test_after_a_good_reading_the_next_place_is_in_hand_and_the_result_stays():
    view = view_after("18.5")
    assert (view.place, view.of, view.target) == ("2 top", "1 top", "18 to 19.5 thou")


def test_grid_has_the_longest_axis_across_and_marks_what_is_done_and_in_hand():
    grid = view_after("18.5", "15").grid
    assert grid.across == tuple("12345678")
    assert grid.down == ("top", "second")
    top = grid.cells[0]
    assert [(cell.mark, cell.value, cell.in_hand) for cell in top[:3]] == [
        (Mark.GOOD, "18.5", False),
        (Mark.SHORT, "15", True),
        (Mark.OPEN, "", False),
    ]


def test_progress_counts_only_what_is_good():
    view = view_after("18.5", "15", "3*1*18")
    assert (view.done, view.total) == (2, 16)


@pytest.mark.parametrize(
    ("level", "steps"), [(-120, 0), (-70, 0), (-38, 6), (-6, METER_STEPS), (0, METER_STEPS)]
)
def test_meter_stays_on_its_scale(level, steps):
    assert meter_steps(level) == steps


@pytest.mark.parametrize(
    ("labels", "words"),
    [({"cylinder": "3", "ring": "top"}, "3 top"), ({"main": "2"}, "main 2"), ({"ring": "top"}, "top")],
)
def test_place_is_named_as_short_as_can_be(labels, words):
    assert short_place(Position.of(labels)) == words


def all_checks_shown(plan):
    for number, check in enumerate(plan.checks):
        view = view_after(f".*{number + 1}", plan=plan)
        assert view.total == len(check.positions)
        assert view.check == check.name
    return len(plan.checks)


@pytest.mark.parametrize(
    "path", sorted((Path(__file__).parents[2] / "demo").glob("*.toml")), ids=lambda p: p.name
)
def test_every_check_of_the_demo_s_plans_can_be_shown(path):
    assert all_checks_shown(load_plan(path)) > 0


@pytest.mark.parametrize("name", sorted(templates()))
def test_every_check_of_a_plan_that_a_template_makes_can_be_shown(name):
    names = [name, "ring gaps"] if name == "tops tried" else [name]  # which are for their gaps
    more = {"duty": "road"} if "ring gaps" in names else {}
    assert all_checks_shown(parse_plan(new_plan(names, some_answers(names, **more)))) == len(names)
