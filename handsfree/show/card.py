"""The phrase card: phrases and keys for a plan, to print and hang up.

Made from the grammar itself, narrowed to the plan, so that it only shows phrases that are
understood: every example is checked against the word automaton when the card is made.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from decimal import Decimal

from handsfree.errors import GrammarError
from handsfree.length import Length, Unit, plain
from handsfree.plan import PART, Check, Plan, Position, Rule, cautions_for
from handsfree.speak import number_words
from handsfree.understand import (
    WIPE,
    WORD_KEYS,
    Listening,
    Pad,
    Word,
    listen_for,
    pad_for,
    said_number,
    said_place,
)

_WIDTH = 78
_SAYABLE = Decimal("0.0001")  # the most decimals that can be said
_UNIT_WORDS = {Unit.THOU: "thou", Unit.INCH: "inches", Unit.MM: "millimetres", Unit.MICRON: "microns"}

# The effect of each procedure word, in the bench's own words.
_USES = {
    Word.SAY_AGAIN: "hear the last answer again",
    Word.AFFIRM: "yes, to a question that was asked",
    Word.NEGATIVE: "no; also takes back the value just read back",
    Word.DISREGARD: "void the last entry; it stays in the log",
    Word.CORRECTION: "then the right value: it replaces the last one",
    Word.STAND_BY: "log nothing until go ahead",
    Word.GO_AHEAD: "go on",
    Word.READ_BACK: "hear the last entry, with its unit",
    Word.CONFIRM: "the same, when in doubt",
    Word.ROGER: "understood; does nothing",
    Word.NEXT: "to the next open position",
    Word.PREVIOUS: "to the position before",
    Word.WHATS_LEFT: "hear what is still open",
    Word.WHATS_NEXT: "hear which position comes next",
    Word.TARGET: "hear what is aimed at here",
    Word.HOW_MUCH: "hear how much is left to remove here",
    Word.WHERE: "hear which position is in hand",
    Word.HELP: "hear what can be said",
    Word.LOUDER: "answers get louder",
    Word.QUIETER: "answers get quieter",
    Word.FASTER: "answers are spoken faster",
    Word.SLOWER: "answers are spoken slower",
    Word.NEW_RING: "this ring begins anew; the log keeps all",
    Word.DRESSED: "the filing wheel was dressed or changed",
    Word.DONE: "tick this item off",
    Word.NOT_DONE: "take the tick away",
    Word.FINISH: "close the session, after yes",
}


def phrase_card(plan: Plan) -> str:
    """Return the card of a plan as text, 78 columns wide."""
    parts = [_title(plan)]
    parts += [_check_card(plan, check) for check in plan.checks]
    parts.append(_checks_card(plan))
    parts.append(_words_card())
    parts.append(_cautions(plan))
    return "\n\n".join(part for part in parts if part)


def _title(plan: Plan) -> str:
    return f"WHAT MAY BE SAID AND KEYED\n{plan.name}\n{'=' * _WIDTH}"


def _check_card(plan: Plan, check: Check) -> str:
    listening = listen_for(plan, check)
    pad = pad_for(plan, check, check.positions[0])
    place = check.positions[min(2, len(check.positions) - 1)]
    rows = [(_said(listening, say), key) for say, key in _examples(pad, check, place)]
    units = "" if check.rule is Rule.TICK else f" (values in {check.unit_at(place)})"
    lines = [f"CHECK {check.name}{units}", ""]
    lines += _table(("say", "key, then Enter"), rows)
    for axis in check.axes:
        numbers = [pad.number_of(axis.name, label) for label in axis.labels]
        named = ", ".join(f"{number} {label}" for number, label in zip(numbers, axis.labels, strict=True))
        keys = "its number" if numbers == list(axis.labels) else named
        lines += ["", *textwrap.wrap(f"Keys for {axis.name}: {keys}.", _WIDTH)]
    natural = [_said(listening, say) for say in _natural(check, place)]
    if natural:
        lines += ["", *textwrap.wrap(f"So can be said: {', '.join(natural)}.", _WIDTH)]
    if check.read_parts:
        part = check.read_parts[0].name
        text = f"A part may be said by itself ({part}); the rest is then as in hand."
        lines += ["", *textwrap.wrap(text, _WIDTH)]
    return "\n".join(lines)


def _examples(pad: Pad, check: Check, place: Position) -> list[tuple[str, str]]:
    """Return phrases with their keys, for the check's kind of value."""
    spoken = said_place(place.labels)
    keyed = "".join(f"{pad.number_of(axis, label)}*" for axis, label in place.labels)
    if check.rule is Rule.TICK:
        return [(spoken, keyed), ("done", "0+"), ("not done", "0-")]
    if check.rule is not Rule.FILE_TO_GAP or check.unit is not Unit.THOU:
        return _size_examples(check, place, spoken, keyed)
    return [
        (f"{spoken} eighteen thou", f"{keyed}18"),
        ("eighteen and a half", "18.5"),
        ("one eight", "18"),
        ("seventeen and three quarters", "17.75"),
        ("twenty two point seven five thousandths", "22.75"),
        ("point oh one eight", "18"),
        ("no go eighteen", "18-"),
        ("go eighteen", "18+"),
        ("eighteen drag", "18+-"),
        ("eighteen goes nineteen doesn't", "18+19-"),
        ("correction nineteen", "/19"),
        ("no nineteen", "/19"),
        ("ten turns", "10/"),
        (spoken, keyed),
        (f"what was {spoken}", f"{keyed}."),
    ]


def _natural(check: Check, place: Position) -> list[str]:
    """Return some other ways to say the same at a check of rings, in everyday words."""
    if check.rule is not Rule.FILE_TO_GAP or check.unit is not Unit.THOU or len(place.labels) != 2:
        return []
    (_, number), (_, word) = place.labels
    if not number.isdecimal() or word[:1].isdigit():
        return []
    bare = f"{' '.join(said_number(number))} {word}"
    return [
        *(f"{bare} is at sixteen", f"sixteen on {bare}", "it's sixteen", "sixteen no seventeen"),
        *("make that nineteen", "eighteen is snug", f"back to {bare}", f"what was {bare}"),
        *("undo", "yes", "no", "hold on", "carry on", "skip this one", "how much to go", "we're done"),
    ]


def _size_examples(check: Check, place: Position, spoken: str, keyed: str) -> list[tuple[str, str]]:
    """Return phrases with their keys for a realistic size at this place."""
    size = _usual(check, place)
    words, keys = number_words(size.value, fractions=False), plain(size.value)
    rows = [
        (f"{spoken} {words} {_UNIT_WORDS[size.unit]}", f"{keyed}{keys}"),
        (words, keys),
        (f"correction {words}", f"/{keys}"),
    ]
    if len(rows[0][0]) + len(rows[0][1]) > _WIDTH - 2:
        rows[0] = (f"{spoken} {words}", rows[0][1])
    return [*rows, (spoken, keyed)]


def _usual(check: Check, place: Position) -> Length:
    """Return the nominal size of a part, or the aim, short enough to be said and keyed."""
    part = place.get(PART)
    nominal = check.part(part).nominal if part is not None and check.parts else None
    size = nominal or check.target(place).aim
    return Length(size.value.quantize(_SAYABLE) if size.value % _SAYABLE else size.value, size.unit)


def _checks_card(plan: Plan) -> str:
    if len(plan.checks) == 1:
        return ""
    names = ", ".join(f"{number} {check.name}" for number, check in enumerate(plan.checks, start=1))
    text = f"To another check: say check and its name, or key .* and its number, then Enter: {names}."
    return "\n".join(textwrap.wrap(text, _WIDTH))


def _said(listening: Listening, phrase: str) -> str:
    """Return the phrase after checking that the automaton accepts it."""
    if not listening.automaton.accepts(phrase.split()):
        raise GrammarError(f'the phrase card would show "{phrase}", which the grammar doesn\'t hold')
    return phrase


def _words_card() -> str:
    keys = {word: entry for entry, word in WORD_KEYS.items()}
    rows = [(word.value, keys[word] or "(Enter alone)", use) for word, use in _USES.items()]
    lines = ["PROCEDURE WORDS", "", *_table(("say", "key, then Enter", "what it does"), rows)]
    wiping = (
        f"{WIPE} wipes what was begun; a keyboard's Backspace takes back one key. "
        "Holding a key does nothing more than pressing it."
    )
    lines += ["", *textwrap.wrap(wiping, _WIDTH)]
    return "\n".join(lines)


def _cautions(plan: Plan) -> str:
    lines = ["CAUTIONS", ""]
    for caution in cautions_for(plan):
        lines += textwrap.wrap(caution.whole, _WIDTH, initial_indent="- ", subsequent_indent="  ")
    return "\n".join(lines)


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Format rows as aligned columns under their headings."""
    widths = [max(len(row[column]) for row in (heads, *rows)) for column in range(len(heads))]
    lines = [
        "  ".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True))
        for row in (heads, *rows)
    ]
    lines.insert(1, "  ".join("-" * width for width in widths))
    return [line.rstrip() for line in lines]
