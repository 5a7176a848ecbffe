"""The phrase card: the demo plan's whole card, and that all on it is understood and keyed alike."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

from handsfree.errors import GrammarError, KeypadError
from handsfree.plan import Plan
from handsfree.planfile import load_plan, parse_plan
from handsfree.show import phrase_card
from handsfree.understand import WORD_KEYS, Pad, Word, listen_for, meanings

pytestmark = pytest.mark.quick

ROOT = Path(__file__).parents[2]
SNAPSHOT = Path(__file__).with_name("card_of_the_demo.txt")


@pytest.fixture(scope="module")
def demo() -> Plan:
    return load_plan(ROOT / "demo" / "plan.toml")


def pad_of(plan: Plan, check) -> Pad:
    axes = tuple((axis.name, axis.labels) for axis in check.axes)
    return Pad(check.unit, axes, tuple(other.name for other in plan.checks))


def tables(card: str) -> list[list[list[str]]]:
    """Every table on a card as rows of cells: what stands under a line of dashes."""
    found, lines = [], card.splitlines()
    for number, line in enumerate(lines):
        if not re.fullmatch(r"-+(  -+)+", line):
            continue
        starts = [match.start() for match in re.finditer(r"-+", line)]
        ends = [*starts[1:], None]
        rows = []
        for row in lines[number + 1 :]:
            if not row.strip():
                break
            rows.append([row[start:end].strip() for start, end in zip(starts, ends, strict=True)])
        found.append(rows)
    return found


def test_the_card_of_the_demo_is_as_it_was(demo):
    """Run this file as a script to write it anew; read the difference."""
    assert phrase_card(demo) + "\n" == SNAPSHOT.read_text("utf-8")


def test_no_line_is_wider_than_78_columns_or_ends_in_blanks(demo):
    for line in phrase_card(demo).splitlines():
        assert len(line) <= 78, line
        assert line == line.rstrip()


def test_every_phrase_on_the_card_is_understood_and_its_keys_give_the_same_command(demo):
    check = demo.checks[0]
    listening = listen_for(demo, check)
    pad = pad_of(demo, check)
    phrases, words = tables(phrase_card(demo))
    assert len(phrases) > 10
    for said, keys in phrases:
        (meaning,) = meanings(said.split(), listening.automaton, listening.context)
        assert meaning.sure, said
        assert pad.command(keys) == meaning.commands[0], said
    for said, keys, use in words:
        (meaning,) = meanings(said.split(), listening.automaton, listening.context)
        assert pad.command("" if keys == "(Enter alone)" else keys) == meaning.commands[0], said
        assert use


def test_every_procedure_word_stands_on_the_card_once(demo):
    said = [row[0] for row in tables(phrase_card(demo))[-1]]
    assert sorted(said) == sorted(Word)
    assert len(WORD_KEYS) == len(said)


def test_the_cautions_stand_on_the_card(demo):
    card = phrase_card(demo)
    assert "CAUTIONS" in card
    assert "Wear eye protection" in card


PLAN = """
format = 1
name = "All sorts"
[engine]
name = "Odd twin"

[[check]]
name = "side clearance 2"
rule = "limits"
unit = "mm"
[check.axes]
main = [1, 2, 3]
end = ["front", "rear"]
[[check.target]]
aim = "0.05 mm"
plus = "0.02 mm"
minus = "0.02 mm"

[[check]]
name = "bores"
rule = "limits"
unit = "in"
[check.axes]
cylinder = 20
[[check.target]]
aim = "4.030 in"
plus = "0.001 in"
minus = "0.001 in"

[[check]]
name = "gaps"
rule = "file to gap"
unit = "thou"
[check.axes]
cylinder = 2
ring = [1, 2]
[[check.target]]
aim = "18 thou"
plus = "1 thou"

[[check]]
name = "washed"
rule = "tick"
[check.axes]
cylinder = 2
"""


def test_every_sort_of_check_has_a_card_whose_phrases_and_keys_agree():
    plan = parse_plan(PLAN)
    *parts, words = tables(phrase_card(plan))
    assert len(parts) == len(plan.checks)
    assert len(words) == len(Word)
    for check, rows in zip(plan.checks, parts, strict=True):
        listening, pad = listen_for(plan, check), pad_of(plan, check)
        context = listening.at(check.positions[0], check)
        assert rows
        for said, keys in rows:
            found = meanings(said.split(), listening.automaton, context)
            assert pad.command(keys) in [meaning.commands[0] for meaning in found], (check.name, said)


def test_the_numbers_by_which_labels_are_keyed_stand_on_the_card():
    card = phrase_card(parse_plan(PLAN))
    assert "Keys for end: 1 front, 2 rear." in card
    assert "Keys for main: its number." in card


def test_a_plan_of_many_long_labels_still_fits_the_width():
    labels = ", ".join(f'"journal number {word}"' for word in "abcdefghijklmnop")
    text = PLAN.replace('["front", "rear"]', f"[{labels}]")
    assert text != PLAN
    assert max(map(len, phrase_card(parse_plan(text)).splitlines())) <= 78


def test_a_phrase_that_the_grammar_does_not_hold_is_never_printed(demo, monkeypatch):
    from handsfree.show import card

    monkeypatch.setattr(card, "_examples", lambda *_: [("open the door", "1")])
    with pytest.raises(GrammarError, match='would show "open the door", which the grammar'):
        phrase_card(demo)


def test_num_lock_is_named_and_is_no_part_of_an_entry(demo):
    card = " ".join(phrase_card(demo).split())
    assert "Num Lock wipes what was begun; a keyboard's Backspace takes back one key." in card
    with pytest.raises(KeypadError):
        pad_of(demo, demo.checks[0]).command("Num Lock")


if __name__ == "__main__":
    SNAPSHOT.write_text(phrase_card(load_plan(ROOT / "demo" / "plan.toml")) + "\n", "utf-8")
    sys.stdout.write(f"{SNAPSHOT}\n")
