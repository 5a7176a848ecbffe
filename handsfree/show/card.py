"""The phrase card: what may be said and keyed with a plan, to print and hang up.

Made from the grammar itself, narrowed to the plan, so that it can't say more than is understood:
every example on it is checked against the word automaton when the card is made.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from handsfree.errors import GrammarError
from handsfree.plan import Check, Plan, Position, Rule
from handsfree.show.cautions import cautions
from handsfree.understand import WIPE, WORD_KEYS, Listening, Pad, Word, listen_for, pad_for, said_place

_WIDTH = 78

# What each procedure word does, in the bench's own words.
_USES = {
    Word.SAY_AGAIN: "hear the last answer again",
    Word.AFFIRM: "yes, to a question that was asked",
    Word.NEGATIVE: "no; also takes back the value just read back",
    Word.DISREGARD: "void the last entry; it stays in the log as voided",
    Word.CORRECTION: "then the right value: it replaces the last one",
    Word.STAND_BY: "log nothing until go ahead",
    Word.GO_AHEAD: "go on",
    Word.READ_BACK: "hear the last entry, with its unit",
    Word.CONFIRM: "the same, when in doubt",
    Word.ROGER: "understood; does nothing",
    Word.NEXT: "to the next open position",
    Word.PREVIOUS: "to the position before",
    Word.WHATS_LEFT: "hear what is still open",
    Word.DRESSED: "the filing wheel was dressed or changed",
    Word.DONE: "tick this item off",
    Word.NOT_DONE: "take the tick away",
    Word.FINISH: "close the sheet, after affirm",
}


def phrase_card(plan: Plan) -> str:
    """Give the card of a plan as text, 78 columns wide."""
    parts = [_title(plan)]
    parts += [_check_card(plan, check) for check in plan.checks]
    parts.append(_words_card())
    parts.append(_cautions())
    return "\n\n".join(parts)


def _title(plan: Plan) -> str:
    return f"WHAT MAY BE SAID AND KEYED\n{plan.name}\n{'=' * _WIDTH}"


def _check_card(plan: Plan, check: Check) -> str:
    listening = listen_for(plan, check)
    pad = pad_for(plan, check, check.positions[0])
    place = check.positions[min(2, len(check.positions) - 1)]
    rows = [(_said(listening, say), key) for say, key in _examples(pad, check, place)]
    lines = [f"CHECK {check.name} (values in {check.unit})", ""]
    lines += _table(("say", "key, then Enter"), rows)
    for axis in check.axes:
        numbers = ", ".join(f"{pad.number_of(axis.name, label)} {label}" for label in axis.labels)
        lines += ["", *textwrap.wrap(f"Keys for {axis.name}: {numbers}.", _WIDTH)]
    return "\n".join(lines)


def _examples(pad: Pad, check: Check, place: Position) -> list[tuple[str, str]]:
    """Phrases with their keys, for the kind of value that the check has."""
    spoken = said_place(place.labels)
    keyed = "".join(f"{pad.number_of(axis, label)}*" for axis, label in place.labels)
    if check.rule is Rule.TICK:
        return [(spoken, keyed), ("done", "0+"), ("not done", "0-")]
    if check.unit.value != "thou":
        return [
            (f"{spoken} zero point four five millimetres", f"{keyed}0.45"),
            ("zero point four five", "0.45"),
            ("correction zero point five", "/0.5"),
            (spoken, keyed),
        ]
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
        ("ten turns", "10/"),
        (spoken, keyed),
    ]


def _said(listening: Listening, phrase: str) -> str:
    """The phrase, once the automaton has agreed that it can be said."""
    if not listening.automaton.accepts(phrase.split()):
        raise GrammarError(f'the phrase card would show "{phrase}", which the grammar doesn\'t hold')
    return phrase


def _words_card() -> str:
    keys = {word: entry for entry, word in WORD_KEYS.items()}
    rows = [(word.value, keys[word] or "(Enter alone)", use) for word, use in _USES.items()]
    lines = ["PROCEDURE WORDS", "", *_table(("say", "key, then Enter", "what it does"), rows)]
    lines += ["", f"{WIPE} wipes what was begun. Holding a key does nothing more than pressing it."]
    return "\n".join(lines)


def _cautions() -> str:
    lines = ["CAUTIONS", ""]
    for caution in cautions():
        lines += textwrap.wrap(caution, _WIDTH, initial_indent="- ", subsequent_indent="  ")
    return "\n".join(lines)


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Rows as aligned columns under their heads."""
    widths = [max(len(row[column]) for row in (heads, *rows)) for column in range(len(heads))]
    lines = [
        "  ".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True))
        for row in (heads, *rows)
    ]
    lines.insert(1, "  ".join("-" * width for width in widths))
    return [line.rstrip() for line in lines]
