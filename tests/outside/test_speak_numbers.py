"""The words of numbers against two libraries that were made elsewhere.

num2words 0.5 (LGPL) and ICU's rule-based spell-out, rule set %spellout-cardinal-verbose, which is
the one that says "and". Neither joins words as we do, so hyphens and commas are set aside.
"""

from decimal import Decimal

import pytest
from num2words import num2words

from handsfree.speak import cardinal, number_words

pytestmark = pytest.mark.quick


def plain(words: str) -> str:
    return " ".join(words.replace("-", " ").replace(",", " ").replace("\u00ad", "").split())


@pytest.fixture(scope="module")
def spell_out():
    icu = pytest.importorskip("icu")  # compiled from source, so that it may be missing
    rules = icu.RuleBasedNumberFormat(icu.URBNFRuleSetTag.SPELLOUT, icu.Locale("en"))
    return lambda number: rules.format(number, "%spellout-cardinal-verbose")


def test_every_whole_number_to_9999_agrees_with_num2words():
    wrong = {n: cardinal(n) for n in range(10_000) if cardinal(n) != plain(num2words(n))}
    assert wrong == {}


def test_every_whole_number_to_9999_agrees_with_icu(spell_out):
    wrong = {
        n: (cardinal(n), plain(spell_out(n))) for n in range(10_000) if cardinal(n) != plain(spell_out(n))
    }
    assert wrong == {}


LARGE = [10_000, 45_006, 99_999, 100_000, 118_018, 900_900, 999_999]


@pytest.mark.parametrize("number", LARGE)
def test_large_numbers_agree_with_num2words(number):
    assert cardinal(number) == plain(num2words(number))


@pytest.mark.parametrize("number", LARGE)
def test_large_numbers_agree_with_icu(number, spell_out):
    assert cardinal(number) == plain(spell_out(number))


def test_every_hundredth_to_99_99_agrees_with_num2words():
    values = [Decimal(n).scaleb(-2) for n in range(10_000)]
    # num2words keeps a trailing zero of a Decimal with more places, so it gets the lowest form
    wrong = {
        str(v): number_words(v, fractions=False)
        for v in values
        if number_words(v, fractions=False) != plain(num2words(Decimal(format(v.normalize(), "f"))))
    }
    assert wrong == {}


def test_every_tenth_to_99_9_agrees_with_icu(spell_out):
    values = [Decimal(n).scaleb(-1) for n in range(1_000)]
    wrong = {
        str(v): number_words(v, fractions=False)
        for v in values
        if number_words(v, fractions=False) != plain(spell_out(float(v)))
    }
    assert wrong == {}


@pytest.mark.parametrize(
    ("value", "parts"),
    [("0.5", "half"), ("18.5", "half"), ("18.25", "quarter"), ("18.75", "quarters")],
)
def test_named_fractions_mean_what_num2words_says_by_digits(value, parts):
    """Halves and quarters are named; by digits the same value is what num2words says."""
    assert number_words(Decimal(value)).split()[-1] == parts
    assert number_words(Decimal(value), fractions=False) == plain(num2words(Decimal(value)))
