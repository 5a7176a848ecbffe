"""Numbers as words."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.speak import cardinal, number_words
from handsfree.speak.amount import digits, sounds_like_another

pytestmark = pytest.mark.quick


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("0", "zero"),
        ("2", "two"),
        ("18", "eighteen"),
        ("18.50", "eighteen and a half"),
        ("20.25", "twenty and a quarter"),
        ("17.75", "seventeen and three quarters"),
        ("18.22", "eighteen point two two"),
        ("18.05", "eighteen point zero five"),
        ("0.5", "a half"),
        ("0.018", "zero point zero one eight"),
        ("-1.5", "minus one and a half"),
        ("1E+2", "one hundred"),
        ("100.125", "one hundred point one two five"),
    ],
)
def test_number_is_said_as_the_bench_says_it(value, words):
    assert number_words(Decimal(value)) == words


def test_without_fractions_a_half_is_read_by_digits():
    assert number_words(Decimal("0.5"), fractions=False) == "zero point five"


@given(st.decimals(min_value=0, max_value=99_999, places=4))
def test_two_numbers_share_words_only_if_they_are_equal(value):
    """Words -> number by the rules of the words: every number comes back exactly."""
    assert _parse(number_words(value, fractions=False)) == value
    assert _parse(number_words(value)) == value


@pytest.mark.parametrize("value", ["NaN", "Infinity"])
def test_no_number_has_no_words(value):
    with pytest.raises(ValueError, match="wanted a number"):
        number_words(Decimal(value))


@pytest.mark.parametrize("number", [-1, 1_000_000])
def test_number_out_of_reach_is_refused(number):
    with pytest.raises(ValueError, match="from 0 to 999999"):
        cardinal(number)


def test_digits_are_read_one_by_one():
    assert digits("10.05") == "one zero point zero five"


def test_teens_and_tens_have_twins_and_no_other_number_below_a_hundred_has():
    twins = [each for each in range(100) if sounds_like_another(Decimal(each))]
    assert twins == [13, 14, 15, 16, 17, 18, 19, 30, 40, 50, 60, 70, 80, 90]


_VALUES = {
    word: place
    for place, word in enumerate(
        [
            "zero",
            "one",
            "two",
            "three",
            "four",
            "five",
            "six",
            "seven",
            "eight",
            "nine",
            "ten",
            "eleven",
            "twelve",
            "thirteen",
            "fourteen",
            "fifteen",
            "sixteen",
            "seventeen",
            "eighteen",
            "nineteen",
        ]
    )
} | {
    word: 10 * place
    for place, word in enumerate(
        ["_", "_", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
    )
}
_PARTS = {"a half": "0.5", "a quarter": "0.25", "three quarters": "0.75"}


def _parse(words: str) -> Decimal:
    for part, size in _PARTS.items():
        if words == part:
            return Decimal(size)
        if words.endswith(f" and {part}"):
            return _parse(words.removesuffix(f" and {part}")) + Decimal(size)
    if " point " in words:
        whole, after = words.split(" point ")
        return _parse(whole) + Decimal("0." + "".join(str(_VALUES[word]) for word in after.split()))
    total = group = 0
    for word in words.split():
        if word == "thousand":
            total, group = group * 1000, 0
        elif word == "hundred":
            group *= 100
        elif word != "and":
            group += _VALUES[word]
    return Decimal(total + group)
