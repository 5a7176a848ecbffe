"""The demo counts honestly: what is missed, asked for or wrong never counts as right."""

from __future__ import annotations

import csv
import sys
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from handsfree.planfile import load_plan
from tests.support.program import PLAN, RECORDINGS, ROOT

sys.path.insert(0, str(ROOT / "demo"))
from story import KEYPAD, STORY
from tally import VALUES, Outcome, tally

pytestmark = pytest.mark.quick

ROW = {
    "file": "a.ogg",
    "voice": "somebody",
    "text": "sixteen thou",
    "expect": "reading",
    "noise": "",
    "cylinder": "1",
    "ring": "top",
    "value": "16",
    "bound": "",
    "verdict": "short",
    "left": "2",
}
EVENT: dict[str, Any] = {
    "kind": "reading",
    "origin": "a.ogg",
    "value": "16",
    "unit": "thou",
    "position": "cylinder 1, ring top",
    "labels": [["cylinder", "1"], ["ring", "top"]],
    "verdict": "short",
    "remaining": "2",
}


def rows() -> list[dict[str, str]]:
    with (RECORDINGS / "manifest.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_a_reading_logged_as_it_was_said_is_right() -> None:
    counts = tally([ROW], {"events": [EVENT]})
    assert [found for _, found in counts.values] == [Outcome.RIGHT]
    assert (counts.wrong, counts.faults) == (0, [])


@pytest.mark.parametrize(
    "change",
    [
        {"value": "60"},
        {"value": "16.0001"},
        {"unit": "mm"},
        {"labels": [["cylinder", "2"], ["ring", "top"]]},
        {"labels": [["cylinder", "1"], ["ring", "second"]]},
        {"kind": "correction"},
        {"bound": "under"},
        {"verdict": "good"},
        {"remaining": "3"},
    ],
)
def test_whatever_differs_makes_a_reading_wrong(change: dict[str, Any]) -> None:
    counts = tally([ROW], {"events": [{**EVENT, **change}]})
    assert [found for _, found in counts.values] == [Outcome.WRONG]
    assert counts.wrong == len(counts.faults) == 1


def test_the_same_value_written_longer_is_right() -> None:
    assert tally([ROW], {"events": [{**EVENT, "value": "16.0"}]}).wrong == 0


def test_a_reading_that_was_asked_for_is_neither_right_nor_wrong() -> None:
    counts = tally([ROW], {"events": [{"kind": "asked", "origin": "a.ogg"}]})
    assert [found for _, found in counts.values] == [Outcome.ASKED]
    assert counts.wrong == 0
    assert "Readings right: 0 of 1" in counts.lines()[0]


def test_a_reading_that_left_no_trace_was_missed() -> None:
    assert [found for _, found in tally([ROW], {"events": []}).values] == [Outcome.MISSED]


def test_a_reading_logged_twice_is_wrong_once() -> None:
    counts = tally([ROW], {"events": [EVENT, EVENT]})
    assert [found for _, found in counts.values] == [Outcome.RIGHT]
    assert counts.wrong == 1


@pytest.mark.parametrize("expect", ["ask", "ignore", "hold"])
def test_a_value_logged_from_what_must_stay_out_is_wrong(expect: str) -> None:
    assert tally([{**ROW, "expect": expect}], {"events": [EVENT]}).wrong == 1
    assert tally([{**ROW, "expect": expect}], {"events": []}).wrong == 0


def test_what_was_drowned_may_be_logged_only_as_it_was_said() -> None:
    row = {**ROW, "expect": "drowned"}
    assert tally([row], {"events": [EVENT]}).wrong == 0
    assert tally([row], {"events": [{**EVENT, "value": "60"}]}).wrong == 1
    assert tally([row], {"events": [EVENT, EVENT]}).wrong == 1
    assert tally([row], {"events": []}).wrong == 0


def test_key_entries_of_one_file_are_taken_in_order() -> None:
    both = [ROW, {**ROW, "value": "18", "verdict": "good", "left": ""}]
    events = [EVENT, {**EVENT, "value": "18", "verdict": "good", "remaining": None}]
    assert tally(both, {"events": events}).wrong == 0
    assert tally(both, {"events": events[::-1]}).wrong == 2


def test_the_manifest_is_the_story() -> None:
    assert [(row["voice"], row["text"], row["expect"], row["value"]) for row in rows()] == [
        (line.voice, line.text, line.expect, line.value) for line in STORY
    ]
    listed = (RECORDINGS / "session.txt").read_text("utf-8").split()
    assert listed == list(dict.fromkeys(row["file"] for row in rows()))
    assert all((RECORDINGS / name).is_file() for name in listed)


def test_the_story_is_told_in_full() -> None:
    spoken = [line for line in STORY if line.voice != KEYPAD and line.expect in VALUES]
    assert len(spoken) >= 14
    assert len({line.voice for line in spoken}) >= 3
    assert sum(bool(line.noise) for line in spoken) >= 5
    assert {"ask", "drowned", "ignore", "hold", "correction"} <= {line.expect for line in STORY}
    assert {"short", "good", "over"} <= {line.verdict for line in STORY}
    assert any(line.voice == KEYPAD for line in STORY)


def test_verdicts_of_the_story_agree_with_the_plan() -> None:
    """By the targets as they stand in the plan, not by the rules that the program judges with."""
    check = load_plan(PLAN).checks[0]
    for line in STORY:
        if not line.verdict or line.bound:
            continue
        place = next(
            p for p in check.positions if (p.get("cylinder"), p.get("ring")) == (line.cylinder, line.ring)
        )
        target, value = check.target(place), Decimal(line.value)
        low, high = target.lower.value, target.upper.value
        assert line.verdict == ("short" if value < low else "over" if value > high else "good"), line
        if line.verdict == "short":
            assert Decimal(line.left) == target.aim.value - value, line


def test_recordings_are_small() -> None:
    assert sum(path.stat().st_size for path in Path(RECORDINGS).iterdir()) < 3_000_000
