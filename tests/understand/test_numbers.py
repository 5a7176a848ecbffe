"""Spoken numbers to exact decimals: the shop's ways of speaking, the windows, and round trips."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.length import Length, Unit, length
from handsfree.understand.numbers import (
    Amount,
    Sized,
    Spoken,
    cardinal_words,
    digit_words,
    lengths,
    plausible,
    spoken_number,
)

pytestmark = pytest.mark.quick

GAP = ("4.5", "45")  # a plausible window of a ring gap, thou
CLEARANCE = ("0.5", "5")  # of a bearing clearance, thou
METRIC_GAP = ("0.15", "1.2")  # of a ring gap, mm


def said(meanings) -> list[str]:
    """Each meaning as its value and unit, with a question mark where it must be asked about."""
    return [f"{m.commands[0].value}{'' if m.sure else '?'}" for m in meanings]


# The table of speech forms. Where a row has several windows each is a row here. An outcome with one
# entry and no question mark is logged; every other is asked about.
ROWS = [
    ("eighteen thou", "thou", GAP, ["18 thou"]),
    ("eighteen thousandths", "thou", GAP, ["18 thou"]),
    ("eighteen thousandths of an inch", "mm", METRIC_GAP, ["18 thou"]),
    ("eighteen", "thou", GAP, ["18 thou"]),
    ("eighteen", "mm", METRIC_GAP, ["0.18 mm?"]),
    ("eighteen", "mm", ("15", "20"), ["18 mm"]),
    ("eighteen", "mm", None, ["18 mm", "0.18 mm?"]),
    ("one eight", "thou", GAP, ["18 thou"]),
    ("one eight", "thou", None, ["18 thou"]),
    ("point oh one eight", "thou", GAP, ["18 thou"]),
    ("zero point zero one eight", "thou", GAP, ["18 thou"]),
    ("oh one eight", "thou", GAP, ["18 thou"]),
    ("point oh one eight", "thou", None, ["18 thou", "0.018 thou"]),
    ("point oh one eight", "in", ("0.004", "0.045"), ["0.018 in"]),
    ("point oh one eight", "mm", METRIC_GAP, ["0.018 mm"]),
    ("eighteen and a half thou", "thou", GAP, ["18.5 thou"]),
    ("eighteen and a half", "thou", GAP, ["18.5 thou"]),
    ("eighteen point five", "thou", GAP, ["18.5 thou"]),
    ("one eight decimal five", "thou", GAP, ["18.5 thou"]),
    ("point oh one eight five", "thou", GAP, ["18.5 thou"]),
    ("eighteen five", "thou", GAP, ["18.5 thou?"]),
    ("eighteen five", "thou", None, ["18.5 thou?", "185 thou?"]),
    ("eighteen five", "thou", ("4", "200"), ["18.5 thou?", "185 thou?"]),
    ("one eight five", "thou", GAP, ["18.5 thou"]),
    ("one eight five", "thou", ("100", "200"), ["185 thou"]),
    ("one eight five", "thou", ("4", "200"), ["185 thou", "18.5 thou"]),
    ("one eight five", "thou", None, ["185 thou", "18.5 thou"]),
    ("seventeen and three quarters", "thou", GAP, ["17.75 thou"]),
    ("half a thou", "thou", CLEARANCE, ["0.5 thou"]),
    ("a tenth", "thou", CLEARANCE, ["0.1 thou"]),
    ("a tenth of a thou", "mm", None, ["0.1 thou"]),
    ("a tenth", "mm", None, ["0.1 mm?", "0.1 thou?"]),
    ("five tenths", "thou", CLEARANCE, ["0.5 thou"]),
    ("five tenths", "mm", METRIC_GAP, ["0.5 mm?"]),
    ("five tenths of a thou", "mm", METRIC_GAP, ["0.5 thou"]),
    ("two and five tenths", "thou", CLEARANCE, ["2.5 thou"]),
    ("two five", "thou", GAP, ["25 thou"]),
    ("two five", "thou", CLEARANCE, ["25 thou?", "2.5 thou?"]),
    ("point four five", "mm", METRIC_GAP, ["0.45 mm"]),
    ("point four five", "thou", GAP, ["450 thou?", "0.45 thou?"]),
    ("zero point four five millimetres", "thou", GAP, ["0.45 mm"]),
    ("forty five hundredths", "mm", METRIC_GAP, ["0.45 mm"]),
    ("forty five hundredths", "thou", GAP, ["0.45 mm"]),
    ("forty five hundredths", "thou", ("400", "500"), ["450 thou"]),
    ("forty five hundredths of a millimetre", "thou", None, ["0.45 mm"]),
    ("forty five", "thou", GAP, ["45 thou"]),
    ("forty five", "mm", METRIC_GAP, ["0.45 mm?"]),
    ("eighteen microns", "thou", None, ["18 um"]),
    ("point five inch", "thou", GAP, ["0.5 in"]),
]


@pytest.mark.parametrize(("words", "unit", "window", "outcome"), ROWS)
def test_a_way_of_speaking_means_this_here(take, words, unit, window, outcome):
    assert said(take(words, unit, window)) == outcome


@pytest.mark.parametrize("words", ["eighteen plus", "minus two", "below two", "negative"])
def test_what_is_no_number_gives_no_value(take, words):
    assert all(not hasattr(m.commands[0], "value") for m in take(words))


@pytest.mark.parametrize(
    ("radio", "plain"),
    [
        ("tree fower", "three four"),
        ("fife niner", "five nine"),
        ("niner decimal fife", "nine point five"),
        ("twenty tree", "twenty three"),
        ("one decimal oh", "one point zero"),
    ],
)
def test_digits_of_radiotelephony_mean_the_plain_ones(take, radio, plain):
    """Source: the spelling alphabet's numbers, ICAO Annex 10 volume II (from memory)."""
    assert take(radio) == take(plain)
    assert take(radio)


# --- round trips --------------------------------------------------------------------------------

WHOLE = st.integers(1, 99)
QUARTERS = {"": Decimal(0), "and a quarter": Decimal("0.25"), "and a half": Decimal("0.5")} | {
    "and three quarters": Decimal("0.75")
}


@given(
    whole=WHOLE, quarter=st.sampled_from(sorted(QUARTERS)), unit=st.sampled_from(["", "thou", "thousandths"])
)
def test_whole_numbers_with_quarters_come_back_exactly(take, whole, quarter, unit):
    words = " ".join([*cardinal_words(whole), quarter, unit])
    assert said(take(words)) == [f"{Length(whole + QUARTERS[quarter], Unit.THOU)}"]


@given(whole=WHOLE, tenths=st.integers(1, 9))
def test_tenths_come_back_exactly(take, whole, tenths):
    words = " ".join([*cardinal_words(whole), "and", *cardinal_words(tenths), "tenths"])
    assert said(take(words)) == [f"{whole}.{tenths} thou"]


@given(
    whole=WHOLE,
    decimals=st.text("0123456789", min_size=1, max_size=4),
    point=st.sampled_from(["point", "decimal"]),
    by_digits=st.booleans(),
)
def test_decimals_come_back_exactly_digit_by_digit(take, whole, decimals, point, by_digits):
    head = digit_words(str(whole)) if by_digits else cardinal_words(whole)
    words = " ".join([*head, point, *digit_words(decimals)])
    assert said(take(words, window=("0", "100"))) == [f"{length(f'{whole}.{decimals}')}"]


@given(whole=WHOLE, pair=st.integers(10, 99))
def test_two_decimals_said_as_one_number_are_hundredths_of_the_unit(take, whole, pair):
    words = " ".join([*cardinal_words(whole), "point", *cardinal_words(pair)])
    assert said(take(words)) == [f"{length(f'{whole}.{pair}')}"]


@given(digits=st.from_regex(r"[1-9][0-9]{1,2}", fullmatch=True))
def test_digits_one_by_one_are_the_number_where_only_that_can_be_true(take, digits):
    window = (digits, digits)
    assert said(take(" ".join(digit_words(digits)), window=window)) == [f"{length(digits)}"]


@given(digits=st.from_regex(r"[0-9]{2}", fullmatch=True))
def test_three_digits_with_a_leading_zero_are_thousandths_of_an_inch(take, digits):
    words = " ".join(digit_words(f"0{digits}"))
    asked = "?" if digits == "00" else ""  # cries are heard as "oh oh oh"
    assert said(take(words, "in", ("0", "1"))) == [f"{length(Decimal(f'0.0{digits}'), 'in')}{asked}"]


@pytest.mark.parametrize("words", ["oh oh oh", "zero zero zero", "point zero", "point oh oh oh"])
def test_nought_is_never_taken_without_asking(take, words):
    assert all(meaning.endswith("?") for meaning in said(take(words, "thou", ("0", "40"))))


@given(number=WHOLE)
def test_cardinals_are_told_apart(number):
    """No two numbers share their words, and none is the beginning of its neighbour's digits."""
    everything = {tuple(cardinal_words(n)): n for n in range(1, 100)}
    assert len(everything) == 99
    assert everything[tuple(cardinal_words(number))] == number


@pytest.mark.parametrize("number", [0, 100, -1])
def test_numbers_without_words_in_the_grammar_are_refused(number):
    with pytest.raises(ValueError, match="outside 1 to 99"):
        cardinal_words(number)


# --- exactness ----------------------------------------------------------------------------------


@given(whole=WHOLE, decimals=st.text("0123456789", min_size=1, max_size=4))
def test_no_float_is_ever_near_a_value(take, whole, decimals):
    (meaning,) = take(" ".join([*cardinal_words(whole), "point", *digit_words(decimals)]))
    value = meaning.commands[0].value.value
    assert isinstance(value, Decimal)
    assert Fraction(value) == whole + Fraction(int(decimals), 10 ** len(decimals))
    assert "E" not in str(value)


def test_values_are_in_lowest_form():
    (amount,) = spoken_number([("n", "20"), ("p", "point"), ("d", "5"), ("d", "0")]).amounts
    assert str(amount.value) == "20.5"
    (amount,) = spoken_number([("n", "20"), ("p", "point"), ("d", "0")]).amounts
    assert str(amount.value) == "20"


# --- the window chooses, and never repairs ------------------------------------------------------

SIZES = st.decimals("0", "1000", places=3).map(lambda value: Length(value, Unit.THOU))
SIZED = st.builds(Sized, SIZES, st.booleans(), st.booleans())


@given(st.lists(SIZED, min_size=1, max_size=4), st.tuples(SIZES, SIZES))
def test_a_window_only_ever_gives_back_what_it_was_given(candidates, ends):
    low, high = sorted(ends, key=lambda end: end.mm)
    kept = plausible(candidates, (low, high))
    assert {c.length for c in kept} <= {c.length for c in candidates}


@given(SIZED.map(lambda c: Sized(c.length, c.sure)), st.tuples(SIZES, SIZES))
def test_what_was_plainly_said_is_never_rejected_by_a_window(candidate, ends):
    low, high = sorted(ends, key=lambda end: end.mm)
    assert plausible([candidate], (low, high)) == (candidate,)


@given(st.lists(SIZED, min_size=1, max_size=4), st.tuples(SIZES, SIZES))
def test_a_window_never_makes_an_unsure_one_sure(candidates, ends):
    low, high = sorted(ends, key=lambda end: end.mm)
    unsure = {c.length for c in candidates if not c.sure} - {c.length for c in candidates if c.sure}
    assert not any(c.sure for c in plausible(candidates, (low, high)) if c.length in unsure)


def sized(*values: str) -> list[Sized]:
    return [Sized(length(value), sure=True) for value in values]


@pytest.mark.parametrize(
    ("window", "kept"),
    [
        (("18.5", "18.5"), ["18.5"]),  # both ends belong to it
        (("18.5", "184.999"), ["18.5"]),
        (("18.501", "185"), ["185"]),
        (("18.5", "185"), ["185", "18.5"]),
        (("18.501", "184.999"), []),  # neither: the caller asks about both
    ],
)
def test_a_window_holds_its_ends(window, kept):
    found = plausible(sized("185", "18.5"), (length(window[0]), length(window[1])))
    assert [str(c.length.value) for c in found] == kept


def test_a_window_in_another_unit_is_compared_exactly():
    at_the_edge = (length("0.4699", "mm"), length("0.4699", "mm"))  # 18.5 thou to the last digit
    assert [str(c.length) for c in plausible(sized("185", "18.5"), at_the_edge)] == ["18.5 thou"]


def test_a_stand_in_is_not_taken_where_the_plain_way_is_possible():
    plain, other = Sized(length("25"), sure=True), Sized(length("2.5"), sure=False, instead=True)
    assert plausible([plain, other], (length("1"), length("50"))) == (plain,)
    assert plausible([plain, other], None) == (plain,)
    assert plausible([plain, other], (length("1"), length("5"))) == (
        Sized(length("25"), sure=False),
        Sized(length("2.5"), sure=False),
    )
    assert plausible([plain, other], (length("100"), length("200"))) == (plain,)


def test_a_unit_that_was_said_settles_it_in_any_check():
    spoken = Spoken((Amount(Decimal("0.018")),), pointed=True)
    for default in Unit:
        assert lengths(spoken, Unit.INCH, default) == (Sized(length("0.018", "in"), sure=True),)
