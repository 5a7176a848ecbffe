"""The board as text: its size, its words and signs, and pictures of it at 80 by 24."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.live.state import Ears
from handsfree.plan import cautions_for, parse_plan
from handsfree.show.letters import large, scales
from handsfree.show.paint import paint
from handsfree.show.view import Mark
from tests.show.scenes import PLAN, view_after

pytestmark = pytest.mark.quick

BEARINGS = """
format = 1
name = "mains"
[engine]
name = "invented"
[[check]]
name = "main bearings"
rule = "difference"
unit = "thou"
formula = "shells - journal"
[check.axes]
main = 3
[[check.part]]
name = "shells"
nominal = "2.1 in"
[[check.part]]
name = "journal"
nominal = "2.1 in"
[[check.target]]
lower = "1.5 thou"
upper = "3 thou"
"""
PICTURES = Path(__file__).parent / "pictures"
LOST = "Microphone lost. Key your readings until it is back."
SCENES = {
    "short": (("16.5",), {}),
    "good": (("18.5",), {}),
    "over": (("3*1*21",), {}),
    "no-go": (("15-",), {"ears": Ears.SHUT}),
    "start": ((), {"ears": Ears.STARTING}),
    "deaf": (
        ("18",),
        {"ears": Ears.DEAF, "trouble": (LOST,)},
    ),
    "standing-by": (("18", "--"), {"ears": Ears.ASLEEP, "begun": "3*1*"}),
}


@pytest.mark.parametrize("name", SCENES)
def test_board_looks_as_in_its_picture(name):
    """Run this file with `python -m tests.show.test_paint` to take the pictures anew; read the diff."""
    entries, state = SCENES[name]
    drawn = paint(view_after(*entries, **state), 80, 24).plain
    assert drawn + "\n" == (PICTURES / f"{name}.txt").read_text(encoding="utf-8")


@settings(deadline=None, max_examples=60)
@given(st.integers(40, 240), st.integers(14, 80), st.sampled_from(sorted(SCENES)))
def test_board_fits_every_screen(columns, rows, name):
    entries, state = SCENES[name]
    lines = paint(view_after(*entries, **state), columns, rows).plain.split("\n")
    assert len(lines) == rows
    assert max(map(len, lines)) <= columns


@pytest.mark.parametrize("name", SCENES)
def test_state_is_told_by_word_and_sign_without_colour(name):
    entries, state = SCENES[name]
    view = view_after(*entries, **state)
    drawn = paint(view, 80, 24).plain
    assert view.ears.value.upper() in drawn
    assert f"{view.of} {view.mark.name} {view.mark.value}" in drawn


def drawn_at(text, drawn):
    """The scales at which a text stands in large letters among drawn lines."""
    found = []
    for scale in scales():
        rows = large(text, scale)
        wanted = [row.rstrip() for row in rows]
        for top in range(len(drawn) - len(rows) + 1):
            columns = {line.find(row) for line, row in zip(drawn[top:], wanted, strict=False) if row}
            if len(columns) == 1 and columns != {-1}:
                found.append(scale)
    return found


@settings(deadline=None, max_examples=40)
@given(
    st.integers(60, 200),
    st.integers(20, 60),
    st.sampled_from([("16.5", "1.5", "FILE"), ("15.25", "2.75", "FILE"), ("3*1*21", "1.5", "OVER")]),
)
def test_word_is_as_large_as_the_figure(columns, rows, case):
    """Without colour nothing else tells filing from over at three metres."""
    entry, amount, word = case
    view = view_after(entry)
    drawn = paint(view, columns, rows).plain.split("\n")[1:]
    assert max(drawn_at(word, drawn), default=0) == max(drawn_at(amount, drawn), default=0)


@pytest.mark.parametrize("columns", [80, 120])
def test_open_question_fills_the_display(columns):
    view = view_after("1*1*90")  # nobody fits a ring with ninety: it is asked about
    assert view.question == ("1 top", "90?")
    drawn = paint(view, columns, 24).plain.split("\n")
    assert max(drawn_at("90?", drawn)) >= 1.5
    assert "top    " not in "\n".join(drawn)


def test_notice_is_shown_in_full_until_it_is_gone():
    notice = tuple(caution.whole for caution in cautions_for(PLAN.checks[0]))
    lines = paint(view_after(notice=notice), 80, 24).plain.split("\n")
    shown = " ".join(line[2:].strip() for line in lines[1:-3])
    assert all(sentence in shown for sentence in notice)


def test_part_that_is_to_be_measured_is_shown_and_not_the_clearance():
    plan = parse_plan(BEARINGS, "the test's plan")
    view = view_after(plan=plan)
    assert (view.amount, view.caption, view.target) == ("shells", "measure", "about 2.1 in")
    view = view_after("2.1025", plan=plan)
    assert (view.place, view.amount, view.caption) == ("1 journal", "journal", "measure")


def test_signs_of_all_states_differ():
    assert len({mark.value for mark in Mark}) == len(Mark)


def test_ink_can_be_plain_ascii():
    drawn = paint(view_after("16.5"), 80, 24, ink="#").plain
    assert drawn.isascii()
    assert "##" in drawn


def test_trouble_is_shown_under_the_head():
    lines = paint(view_after("18", trouble=(LOST,)), 80, 24).plain.split("\n")
    assert lines[1] == f"! {LOST}"


def test_question_is_shown_to_its_last_words():
    """They say how to answer it."""
    question = "Fifteen still open: all of cylinder two, four, five and three more, one top to file."
    lines = paint(view_after(answer=f"{question} Yes or no."), 80, 24).plain.split("\n")
    shown = " ".join(line[7:].strip() for line in lines[-4:-1])
    assert shown.endswith(f"{question} Yes or no.")


def test_amount_is_larger_on_a_larger_screen():
    heights = []
    for columns, rows in [(80, 24), (120, 40), (200, 60)]:
        lines = paint(view_after("21"), columns, rows, ink="#").plain.split("\n")
        caption = next(n for n, line in enumerate(lines) if "OVER BY" in line and "#" not in line)
        below = [line for line in lines[caption + 1 :] if "##" in line]
        heights.append(len(below))
    assert heights == sorted(heights)
    assert heights[0] >= 5
    assert heights[-1] > heights[0]


if __name__ == "__main__":
    PICTURES.mkdir(exist_ok=True)
    for scene, (entered, changed) in SCENES.items():
        text = paint(view_after(*entered, **changed), 80, 24).plain
        (PICTURES / f"{scene}.txt").write_text(text + "\n", encoding="utf-8")
