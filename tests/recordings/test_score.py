"""Scoring: right, wrong, asked, ignored, and what is made of them."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from handsfree.errors import ScoreError, SoundError
from handsfree.hear import Hearing, Samples
from handsfree.length import length
from handsfree.plan import Position
from handsfree.recordings import (
    Condition,
    ManifestRow,
    Recognised,
    Scored,
    check_condition,
    judge_row,
    report,
    rows_of,
    score_rows,
    wilson,
)
from handsfree.recordings.score import Hear, Tally, by, peak_memory_mb, tally, timing
from handsfree.understand import Command, Control, Decision, Meaning, Outcome, Reading, Word

pytestmark = pytest.mark.quick

THREE_TOP = Position.of({"cylinder": "3", "ring": "top"})
READING, OTHER = Reading(length(18), THREE_TOP), Reading(length(80), THREE_TOP)
NEXT, ROGER = Control(Word.NEXT), Control(Word.ROGER)
ROW = ManifestRow("a.wav", "me", "reading", "cylinder three top, eighteen thou", "3", "top", length(18))
CHATTER = ManifestRow("c.wav", "me", "chatter", "put the kettle on")
TONE = (3000 * np.sin(np.arange(16_000) / 5)).astype(np.int16)


def taken(outcome: Outcome, *commands: Command) -> Decision:
    return Decision(outcome, (Meaning(commands),) if commands else ())


def accepted(*commands: Command) -> Decision:
    return taken(Outcome.ACCEPT, *commands)


def asked(*commands: Command) -> Decision:
    return taken(Outcome.ASK, *commands)


NOTHING = Decision(Outcome.IGNORE)


@pytest.mark.parametrize(
    ("row", "decisions", "result", "first_right"),
    [
        (ROW, [accepted(READING)], "right", True),
        (ROW, [accepted(OTHER)], "wrong", False),
        (ROW, [accepted(ROGER)], "wrong", False),
        (ROW, [accepted()], "wrong", False),
        (ROW, [asked(READING)], "asked", True),
        (ROW, [asked(OTHER)], "asked", False),
        (ROW, [NOTHING], "ignored", False),
        (ROW, [asked(READING), NOTHING], "asked", True),
        (ROW, [], "ignored", False),
        (ROW, [accepted(READING), accepted(OTHER)], "wrong", False),
        (ROW, [accepted(READING), accepted(READING)], "wrong", False),
        (ROW, [accepted(READING), NOTHING], "right", True),
        (ROW, [accepted(READING, OTHER)], "wrong", False),
        (ROW, [NOTHING, asked()], "asked", False),
        (CHATTER, [NOTHING], "ignored", True),
        (CHATTER, [], "ignored", True),
        (CHATTER, [asked(READING)], "asked", True),
        (CHATTER, [accepted(READING)], "wrong", False),
        (CHATTER, [accepted(NEXT)], "wrong", False),
    ],
)
def test_a_recording_is_judged_by_what_was_accepted(
    row: ManifestRow, decisions: Sequence[Decision], result: str, first_right: bool
) -> None:
    assert judge_row(row, decisions) == (result, first_right)


def result_of(result: str, voice: str = "me", kind: str = "reading", decode_ms: float = 10) -> Scored:
    row = ManifestRow("a.wav", voice, kind, "x")
    return Scored(row, Condition(), result, result == "right", decode_ms, 2.0, ())


def test_tallies_count_each_result_and_each_group() -> None:
    all_of_it = [result_of("right"), result_of("right", "you"), result_of("wrong", "you"), result_of("asked")]
    assert tally(all_of_it) == Tally(right=2, wrong=1, asked=1, ignored=0, first_right=2)
    groups = by(all_of_it, lambda one: one.row.voice)
    assert list(groups) == ["me", "you"]
    assert groups["you"] == Tally(right=1, wrong=1, first_right=1)


def test_an_empty_tally_claims_nothing() -> None:
    form = Tally().as_json()
    assert form["right_share"] is None
    assert form["right_interval"] == [0.0, 1.0]


def test_an_interval_always_holds_its_share() -> None:
    for total in (1, 2, 7, 100):
        for count in range(total + 1):
            low, high = wilson(count, total)
            assert 0 <= low <= count / total <= high <= 1


def test_times_are_taken_over_recordings_and_sound() -> None:
    times = timing([result_of("right", decode_ms=ms) for ms in (10, 20, 30)])
    assert times["decode_ms_p50"] == 20
    assert times["real_time_factor"] == pytest.approx(0.06 / 6)
    assert timing([])["decode_ms_p95"] is None


def test_the_report_keeps_chatter_apart_and_is_json() -> None:
    form = report([result_of("right"), result_of("asked"), result_of("ignored", kind="chatter")])
    assert form["commands"]["total"] == 2
    assert form["chatter"]["total"] == 1
    assert set(form["by_kind"]) == {"reading", "chatter"}
    assert json.loads(json.dumps(form)) == form


def test_memory_is_counted_in_megabytes() -> None:
    memory = peak_memory_mb()
    assert memory is None or 20 < memory < 100_000


def listener(log: list[Samples]) -> Hear:
    def hear(samples: Samples) -> list[Recognised]:
        log.append(samples)
        return [(Hearing((), 0, 1, "told", decode_ms=10.0), accepted(READING))]

    return hear


def test_the_same_file_gets_the_same_noise_and_another_seed_another() -> None:
    condition = Condition("pink", 10)
    logs: list[list[Samples]] = [[], [], []]
    for log, seed in zip(logs, (1, 1, 2), strict=True):
        list(score_rows([ROW], lambda _: TONE, listener(log), condition, seed))
    assert np.array_equal(logs[0][0], logs[1][0])
    assert not np.array_equal(logs[0][0], logs[2][0])
    assert not np.array_equal(logs[0][0], TONE)


def test_without_noise_the_sound_is_passed_on_untouched() -> None:
    log: list[Samples] = []
    results = list(score_rows([ROW], lambda _: TONE, listener(log)))
    assert np.array_equal(log[0], TONE)
    assert results[0].result == "right"
    assert (results[0].seconds, results[0].decode_ms) == (1.0, 10.0)


def test_babble_is_made_of_the_other_voices() -> None:
    rows = [ManifestRow("a.wav", "me", "word", "next"), ManifestRow("b.wav", "you", "word", "done")]
    asked_for: list[str] = []

    def read(row: ManifestRow) -> Samples:
        asked_for.append(row.file)
        return TONE

    list(score_rows(rows, read, listener([]), Condition("babble", 10)))
    assert asked_for == ["a.wav", "b.wav", "b.wav", "a.wav"]


def folder_with_one(tmp_path: Path) -> Path:
    (tmp_path / "manifest.csv").write_text(
        "file,voice,kind,text,cylinder,ring,value,unit\na.wav,me,word,next,,,,\n", "utf-8"
    )
    return tmp_path


def test_the_rows_of_a_folder_come_from_its_manifest(tmp_path: Path) -> None:
    (folder_with_one(tmp_path) / "a.wav").write_bytes(b"")
    assert [row.expected() for row in rows_of(tmp_path)] == [NEXT]


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(SoundError, match=r"a\.wav is named in the manifest but isn't there"):
        rows_of(folder_with_one(tmp_path))


@pytest.mark.parametrize(
    ("condition", "said"),
    [
        (Condition("thunder", 10), "noise 'thunder' is none of none, pink, compressor"),
        (Condition("pink"), "needs a signal-to-noise ratio"),
    ],
)
def test_an_unknown_or_unfinished_noise_is_refused(condition: Condition, said: str) -> None:
    with pytest.raises(ScoreError, match=said):
        check_condition(condition)


def test_nothing_to_score_is_said(tmp_path: Path) -> None:
    with pytest.raises(ScoreError, match="no rows to score"):
        rows_of(folder_with_one(tmp_path), lambda _: False)
