"""Large characters."""

from itertools import combinations

import pytest

from handsfree.show.letters import HEIGHT, _glyphs, height, large, scales, width

pytestmark = pytest.mark.quick


def test_every_character_is_five_rows_of_one_width():
    for sign, rows in _glyphs().items():
        assert len(rows) == HEIGHT, sign
        assert len({len(row) for row in rows}) == 1, sign
        assert set("".join(rows)) <= {"#", "."}, sign


def test_no_two_characters_look_the_same():
    alike = [(a, b) for a, b in combinations(_glyphs(), 2) if _glyphs()[a] == _glyphs()[b]]
    assert alike == [(".", ",")]


# Segments of the digits on a seven-segment display: top, upper left, upper right, middle, lower left,
# lower right, bottom. Source: the usual decoder's table (from memory, 6 and 9 with their tails). 1 and 7
# are drawn with more of a shape than segments allow, so they aren't compared.
SEGMENTS = {
    "0": "1110111",
    "2": "1011101",
    "3": "1011011",
    "4": "0111010",
    "5": "1101011",
    "6": "1101111",
    "8": "1111111",
    "9": "1111011",
}


def test_digits_are_those_of_a_seven_segment_display():
    for digit, lit in SEGMENTS.items():
        dots = _glyphs()[digit]
        found = [dots[0][1], dots[1][0], dots[1][2], dots[2][1], dots[3][0], dots[3][2], dots[4][1]]
        assert "".join("1" if dot == "#" else "0" for dot in found) == lit, digit


@pytest.mark.parametrize("scale", [1, 1.5, 2, 2.5, 3])
def test_drawn_text_has_the_size_that_was_promised(scale):
    rows = large("18.5", scale)
    assert len(rows) == height(scale)
    assert len(rows) - HEIGHT * scale in (0, 0.5)
    assert max(len(row) for row in rows) <= width("18.5", scale)


def test_only_blocks_have_halves():
    assert scales()[0] == 6
    assert 1.5 in scales()
    assert all(scale == int(scale) for scale in scales("#"))


def test_unknown_sign_is_a_question_mark():
    assert large("é") == large("?")
