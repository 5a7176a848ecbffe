"""The board as text: its size, its words and signs, and pictures of it at 80 by 24."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.live.state import Ears
from handsfree.show.paint import paint
from handsfree.show.view import Mark
from tests.show.scenes import view_after

pytestmark = pytest.mark.quick

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
    assert heights[0] >= 10
    assert heights[-1] > heights[0]


if __name__ == "__main__":
    PICTURES.mkdir(exist_ok=True)
    for scene, (entered, changed) in SCENES.items():
        text = paint(view_after(*entered, **changed), 80, 24).plain
        (PICTURES / f"{scene}.txt").write_text(text + "\n", encoding="utf-8")
