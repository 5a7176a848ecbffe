"""The training programme at toy size: data, two steps, weights put back, the recogniser loads them."""

from __future__ import annotations

import csv
import importlib.util
import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from handsfree.hear import Utterance
from handsfree.hear.adapt.transcripts import in_numerals, in_words
from handsfree.hear.ears import phrase_recogniser
from handsfree.hear.phrase_model import PhraseModel
from handsfree.hear.sound import read_sound
from handsfree.plan import load_plan
from handsfree.understand import listen_for

ROOT = Path(__file__).parents[2]
FIXTURES = ROOT / "audio_fixtures"
needs_jax = pytest.mark.skipif(
    any(importlib.util.find_spec(name) is None for name in ("jax", "onnx")),
    reason="the extra adapt (jax, onnx) isn't installed",
)


def run(*arguments: object) -> str:
    command = [sys.executable, "-m", *map(str, arguments)]
    done = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True, timeout=900)
    return done.stdout


@pytest.mark.quick
@pytest.mark.parametrize(
    ("said", "words", "numerals"),
    [
        ("cylinder four top, eighteen thou", "Cylinder four top, eighteen thou.", "Cylinder 4 top, 18 thou."),
        ("forty five point two five", "Forty five point two five.", "45.25."),
        ("twenty-two and a half thou", "Twenty-two and a half thou.", "22 and a half thou."),
        ("say again", "Say again.", "Say again."),
    ],
)
def test_transcript_is_written_in_words_and_in_numerals(said: str, words: str, numerals: str) -> None:
    assert (in_words(said), in_numerals(said)) == (words, numerals)


@needs_jax
def test_toy_training_gives_an_encoder_that_the_recogniser_loads(tmp_path: Path) -> None:
    with (FIXTURES / "manifest.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["split"] == "calibrate"][:24]
    source = tmp_path / "clips"
    source.mkdir()
    with (source / "clips.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, ["file", "text", "kind"])
        writer.writeheader()
        for row in rows:
            writer.writerow({"file": FIXTURES / row["file"], "text": row["text"], "kind": row["kind"]})
    data, out = tmp_path / "data", tmp_path / "out"
    run("handsfree.hear.adapt.weights", "out", data)
    run("handsfree.hear.adapt.transcripts", tmp_path / "tokens.json", source / "clips.csv")
    run("handsfree.hear.adapt.bank", data / "clips.npz", tmp_path / "tokens.json", source)
    said = run("handsfree.hear.adapt.train", data, out, "--steps", 2, "--batch", 2)
    assert "agreement with the packaged network" in said
    assert json.loads((out / "log.json").read_text())["steps"] == 2
    before, after = np.load(data / "enc.npz"), np.load(out / "encoder.npz")
    assert set(before.files) == set(after.files)
    assert any(not np.array_equal(before[name], after[name]) for name in before.files)
    encoder = tmp_path / "encoder_toy.onnx"
    run("handsfree.hear.adapt.weights", "blend", encoder, out / "encoder.npz", 0.5)
    plan = load_plan(ROOT / "demo" / "plan.toml")
    recogniser = phrase_recogniser(listen_for(plan, plan.checks[0]), PhraseModel(encoder=encoder))
    samples = read_sound(FIXTURES / rows[0]["file"])
    hearing = recogniser.hear(Utterance(samples, 0, len(samples) / 16_000))
    assert recogniser.name == "phrase/toy"
    assert hearing.words
