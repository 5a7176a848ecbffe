"""What the fixtures' script says for a number, against num2words, and its seeds."""

from __future__ import annotations

import importlib.util
import sys
from decimal import Decimal
from random import Random
from types import ModuleType

import pytest
from num2words import num2words

from tests.measure.accuracy import ROOT

pytestmark = pytest.mark.quick


def load(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, ROOT / "audio_fixtures" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module  # dataclasses look their module up there
    spec.loader.exec_module(module)
    return module


phrases = load("phrases")


@pytest.mark.parametrize("number", range(100))
def test_whole_numbers_are_said_as_num2words_says_them(number: int) -> None:
    assert phrases.spoken(Decimal(number), "words") == num2words(number).replace("-", " ")


@pytest.mark.parametrize("value", ["5.5", "18.25", "22.75", "60.1", "41.9", "10.3"])
def test_decimals_are_said_as_num2words_says_them(value: str) -> None:
    assert phrases.spoken(Decimal(value), "point") == num2words(Decimal(value)).replace("-", " ")


@pytest.mark.parametrize(
    ("value", "form", "said"),
    [
        ("18.50", "fraction", "eighteen and a half"),
        ("7.25", "fraction", "seven and a quarter"),
        ("17.75", "fraction", "seventeen and three quarters"),
        ("18.5", "digits", "one eight point five"),
        ("18.5", "decimal", "eighteen decimal five"),
        ("18", "inch", "point zero one eight"),
        ("18.5", "inch", "point zero one eight five"),
    ],
)
def test_each_form_is_said_as_the_trade_says_it(value: str, form: str, said: str) -> None:
    assert phrases.spoken(Decimal(value), form) == said


def test_the_same_seed_draws_the_same_phrases() -> None:
    first, again, other = (phrases.fixture_set(Random(seed)) for seed in (1, 1, 2))
    assert first == again
    assert first != other
    assert len(first) == 36


def test_the_corpus_holds_every_kind_of_command() -> None:
    rng = Random(3)
    drawn = [phrases.corpus_phrase(rng) for _ in range(1500)]
    assert {phrase.kind for phrase in drawn} == {"reading", "bare", "word"}
    assert {phrase.feel for phrase in drawn} == {"", "no go", "go", "drag"}
    assert set(phrases.WORDS) <= {phrase.text for phrase in drawn}


def test_there_is_chatter_with_and_without_numbers_in_it() -> None:
    lines = phrases.chatter_lines()
    assert len(lines) == len(set(lines))
    with_numbers = [line for line in lines if set(line.lower().split()) & {*phrases.ONES, *phrases.TENS[2:]}]
    assert 30 < len(with_numbers) < len(lines) - 30
    assert not [line for line in lines if line.startswith("#")]


def test_talk_can_be_made_up_without_end_and_from_a_seed() -> None:
    first = [phrases.made_up_talk(Random(seed)) for seed in range(300)]
    assert first == [phrases.made_up_talk(Random(seed)) for seed in range(300)]
    assert len(set(first)) > 280
    assert not [said for said in first if "{" in said or not said[0].isupper()]
