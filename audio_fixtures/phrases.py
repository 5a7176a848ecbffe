"""What the fixtures say: readings in the forms of the trade, control words, and talk that is neither.

All values are exact decimals in thou. Everything is drawn from a seeded generator, so that the same
seed always gives the same phrases.
"""

from __future__ import annotations

import functools
import re
import tomllib
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from random import Random

ONES = [
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven"),
    *("twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
]
TENS = ["", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
RINGS = ("top", "second")
CYLINDERS = range(1, 9)

# Pairs that are heard as each other; each set of readings holds some of them on purpose.
SOUND_ALIKE = [13, 30, 14, 40, 15, 50, 16, 60, 17, 18, 19, 5, 9, 25, 29, 35, 39, 45, 49, 55, 59]

WORDS = [
    "say again",
    "affirm",
    "negative",
    "disregard",
    "stand by",
    "go ahead",
    "read back",
    "confirm",
    "roger",
    "next",
    "previous",
    "what's left",
    "wheel dressed",
    "done",
    "not done",
    "finish",
    "correction",
]


@dataclass(frozen=True)
class Phrase:
    """A line of the manifest without its voice: what is said, and what a listener should make of it."""

    kind: str
    text: str
    cylinder: str = ""
    ring: str = ""
    value: str = ""
    unit: str = ""
    feel: str = ""


def words_of(number: int) -> str:
    """Write 0 to 99 in words.

    >>> words_of(42)
    'forty two'
    """
    if number < 20:
        return ONES[number]
    tens, ones = divmod(number, 10)
    return TENS[tens] + (f" {ONES[ones]}" if ones else "")


def digits_of(number: int) -> str:
    """Write a number digit by digit: 18 is "one eight"."""
    return " ".join(ONES[int(digit)] for digit in str(number))


def plain(value: Decimal) -> str:
    """Write a decimal in lowest form: 18.50 is "18.5"."""
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def spoken(value: Decimal, form: str) -> str:
    """Say `value` in one of the forms "words", "fraction", "point", "decimal", "digits" or "inch".

    >>> spoken(Decimal("18.75"), "fraction"), spoken(Decimal("18.5"), "digits")
    ('eighteen and three quarters', 'one eight point five')
    """
    whole, _, fraction = plain(value).partition(".")
    tail = " ".join(ONES[int(digit)] for digit in fraction)
    if form == "inch":
        return "point " + " ".join(ONES[int(digit)] for digit in f"{int(whole):03d}" + fraction)
    head = digits_of(int(whole)) if form == "digits" else words_of(int(whole))
    if not fraction:
        return head
    if form == "fraction":
        return f"{head} and " + {"5": "a half", "25": "a quarter", "75": "three quarters"}[fraction]
    return f"{head} {'decimal' if form == 'decimal' else 'point'} {tail}"


def _value(rng: Random, form: str) -> Decimal:
    whole = rng.choice(SOUND_ALIKE) if rng.random() < 0.4 else rng.randint(5, 60)
    if form == "words":
        return Decimal(whole)
    if form == "fraction":
        return Decimal(whole) + Decimal(rng.choice(["0.5", "0.5", "0.25", "0.75"]))
    if form == "digits":
        # "five two" may be 5.2 as well as 52: only numbers that can't be taken so are said in digits
        whole = max(whole, 11) if whole <= 44 else 11 + whole % 34
        return Decimal(whole) + Decimal(rng.choice(["0", "0", "0.5"]))
    if form == "inch":
        return Decimal(whole)
    return Decimal(whole) + Decimal(
        rng.choice(["0.5", "0.25", "0.75", "0.1", "0.3", "0.4", "0.6", "0.8", "0.2", "0.9"])
    )


def reading(rng: Random, form: str, *, placed: bool, unit: str | None = None) -> Phrase:
    """Draw a reading in `form`; `placed` puts its cylinder and ring in front."""
    value = _value(rng, form)
    if unit is None:
        unit = "" if form == "inch" else rng.choice(["thou", "thou", "thou", "thousandths", ""])
    said = f"{spoken(value, form)} {unit}".strip()
    if not placed:
        return Phrase("bare", said, value=plain(value), unit="thou")
    cylinder, ring = rng.choice(CYLINDERS), rng.choice(RINGS)
    return Phrase(
        "reading", f"cylinder {ONES[cylinder]} {ring}, {said}", str(cylinder), ring, plain(value), "thou"
    )


def feel(rng: Random) -> Phrase:
    """Draw what a leaf felt like: no go, drag or go."""
    value = Decimal(rng.randint(8, 40)) + Decimal(rng.choice(["0", "0", "0.5"]))
    said = spoken(value, "fraction")
    kind = rng.choice(["no go", "go", "drag"])
    return Phrase(
        "bare", f"{said} drag" if kind == "drag" else f"{kind} {said}", "", "", plain(value), "thou", kind
    )


def corrected(rng: Random) -> Phrase:
    """Draw a correction with its new value."""
    value = _value(rng, rng.choice(["words", "fraction"]))
    return Phrase("bare", f"correction, {spoken(value, 'fraction')} thou", "", "", plain(value), "thou")


def moved(rng: Random) -> Phrase:
    """Draw a move to a position, with no value."""
    cylinder, ring = rng.choice(CYLINDERS), rng.choice(RINGS)
    return Phrase("word", f"cylinder {ONES[cylinder]} {ring}", str(cylinder), ring)


def chatter_lines() -> list[str]:
    """Give the sentences of ``chatter.txt``, which were written for this project."""
    text = (Path(__file__).parent / "chatter.txt").read_text("utf-8")
    return [line.strip() for line in text.splitlines() if line.strip() and not line.startswith("#")]


@functools.cache
def _talk() -> dict[str, list[str]]:
    with (Path(__file__).parent / "talk.toml").open("rb") as file:
        return tomllib.load(file)


def made_up_talk(rng: Random) -> str:
    """Put a sentence together from the patterns of ``talk.toml``."""

    def fill(match: re.Match[str]) -> str:
        if match[1] in ("number", "small"):
            return words_of(rng.randint(2, 12 if match[1] == "small" else 99))
        return rng.choice(_talk()[match[1]])

    said = re.sub(r"\{(\w+)\}", fill, rng.choice(_talk()["pattern"]))
    return said[0].upper() + said[1:]


def fixture_set(rng: Random) -> list[Phrase]:
    """Draw one speaker's share of the committed set: 36 phrases, every form and kind among them."""
    forms = ["words"] * 7 + ["fraction"] * 4 + ["point"] * 3 + ["decimal", "digits", "digits"]
    placed = [reading(rng, form, placed=True) for form in forms]
    bare = [reading(rng, form, placed=False) for form in ("words", "words", "fraction", "point", "digits")]
    bare += [feel(rng), corrected(rng)]
    words = [Phrase("word", word) for word in rng.sample(WORDS, 7)] + [moved(rng)]
    chatter = [Phrase("chatter", line) for line in rng.sample(chatter_lines(), 4)]
    return placed + bare + words + chatter


def corpus_phrase(rng: Random) -> Phrase:
    """Draw one phrase of the large corpus: readings most often, and many numbers with nothing round them."""
    forms = ["words"] * 6 + ["fraction"] * 4 + ["point"] * 4 + ["decimal"] * 2 + ["digits"] * 3 + ["inch"]
    draw = rng.random()
    if draw < 0.45:
        return reading(rng, rng.choice(forms), placed=True)
    if draw < 0.58:
        return reading(rng, rng.choice(forms), placed=False)
    if draw < 0.72:
        return reading(rng, rng.choice(forms), placed=False, unit="")
    if draw < 0.77:
        return feel(rng)
    if draw < 0.80:
        return corrected(rng)
    if draw < 0.83:
        return moved(rng)
    return Phrase("word", rng.choice(WORDS))
