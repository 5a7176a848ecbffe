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
import soundfile

from handsfree.hear import Utterance
from handsfree.hear.adapt import splits
from handsfree.hear.adapt.transcripts import in_numerals, in_words
from handsfree.hear.ears import phrase_recogniser
from handsfree.hear.phrase_model import ADAPTED, PhraseModel
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


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The packaged weights as arrays, and a bank: 24 clips of voices, one of a person, a noise and a room."""
    folder = tmp_path_factory.mktemp("adapt")
    voices, data = folder / "voices", folder / "data"
    voices.mkdir()
    rows = _rows()
    held_out = {**rows[0], "split": "held-out", "file": "never-read.ogg"}
    with (voices / "manifest.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows([{**row, "file": FIXTURES / row["file"]} for row in rows] + [held_out])
    run("handsfree.hear.adapt.weights", "out", data)
    speech = made_up_speech(folder)
    run("handsfree.hear.adapt.bank", data / "clips.npz", "--speech", speech, "--voices", voices)
    return data


def made_up_speech(folder: Path) -> Path:
    """A folder like that of people's recordings: of each split a speaker, of whom only train's has a file."""
    speech = folder / "speech"
    speech.mkdir()
    draw = np.random.default_rng(1)
    soundfile.write(speech / "noise.flac", 0.1 * draw.standard_normal(40_000), 16_000)
    soundfile.write(speech / "0001.flac", np.concatenate([[0.9], np.zeros(99), [0.4], np.zeros(99)]), 16_000)
    (speech / "said.flac").write_bytes(b"")
    sound = read_sound(FIXTURES / _rows()[0]["file"])
    soundfile.write(speech / "said.flac", sound, 16_000)
    one_of = {split: key for key, split in splits.listed().items() if not key[0].startswith(("noise", "imp"))}
    noise = next(
        key for key, split in splits.listed().items() if key[0].startswith("noise") and split == "train"
    )
    room = next(key for key, split in splits.listed().items() if key[0] == splits.ROOMS)
    (speech / f"{noise[1]}.flac").write_bytes((speech / "noise.flac").read_bytes())
    rows = [
        *((f"{split}.flac" if split != "train" else "said.flac", *one_of[split]) for split in splits.SPLITS),
        (f"{noise[1]}.flac", *noise),
        ("0001.flac", *room),
        ("stranger.flac", "an4", "nobody"),
    ]
    with (speech / "manifest.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(("file", "set", "speaker", "split", "text", "seconds"))
        writer.writerows((*row, "train", _rows()[0]["text"], "2") for row in rows)
    return speech


def _rows() -> list[dict[str, str]]:
    """Short ones, for which one width of arrays is compiled."""
    with (FIXTURES / "manifest.csv").open(encoding="utf-8", newline="") as file:
        chosen = [row for row in csv.DictReader(file) if row["split"] == "calibrate"]
    return [row for row in chosen if row["kind"] in ("bare", "word")][:24]


# In a process of its own: others of the tests fork, which JAX's threads don't stand.
HEAR_PADDED = """
import sys
from pathlib import Path

import jax.numpy as jnp
import numpy as np

from handsfree.hear.adapt.network import decode, encode, frames_of
from handsfree.hear.adapt.training import load_weights

data = Path(sys.argv[1])
encoder, decoder = load_weights(data / "enc.npz"), load_weights(data / "dec.npz")
draw = np.random.default_rng(0)
sound = 0.1 * draw.standard_normal((1, 20_000)).astype(np.float32)
longer = np.concatenate([sound, 0.3 * draw.standard_normal((1, 9_000)).astype(np.float32)], 1)
lengths, tokens = jnp.array([20_000]), jnp.array([[1, 400, 500]])
alone = encode(encoder, jnp.asarray(sound))[0]
within = encode(encoder, jnp.asarray(longer), lengths=lengths)[0]
unmarked = encode(encoder, jnp.asarray(longer))[0]
frames, count = frames_of(lengths), alone.shape[1]
print(int(frames[0]) == count < within.shape[1])
print(float(jnp.abs(within[:, :count] - alone).max()), float(jnp.abs(unmarked[:, :count] - alone).max()))
print(float(jnp.abs(decode(decoder, tokens, within, frames) - decode(decoder, tokens, alone)).max()))
"""


@needs_jax
def test_what_lies_after_a_clips_end_is_not_heard(data: Path) -> None:
    command = [sys.executable, "-c", HEAR_PADDED, str(data)]
    done = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True, timeout=900)
    same_length, marked, unmarked, decoded = done.stdout.split()
    assert same_length == "True"
    assert float(marked) < 1e-4 < 0.01 < float(unmarked)
    assert float(decoded) < 1e-3


# A clip of one pitch: what is heard of it at another speed has that pitch so many times, and ends sooner.
HEAR_FASTER = """
import sys

import jax
import jax.numpy as jnp
import numpy as np

from handsfree.hear.adapt.clips import FASTEST, SLOWEST, Bank, clean_and_noisy

tone = np.sin(2 * np.pi * 440 * np.arange(24_000) / 16_000) * 10_000
end = np.full((1, 2, 3), 2)
one = np.ones(1)
np.savez(
    sys.argv[1], sound=tone.astype(np.int16), start=[0], length=[24_000], tokens=end, distil=one, write=one
)
batch = Bank(sys.argv[1], 64).batch(np.random.default_rng(3))
clean, noisy = clean_and_noisy(batch, jax.random.key(0))
batch = {k: np.asarray(v) for k, v in batch.items()}
speeds = batch["speeds"]
print(SLOWEST <= speeds.min() < 0.95, 1.05 < speeds.max() <= FASTEST, 0.2 < (speeds == 1).mean() < 0.6)
for sound, speed, lead, length in zip(*map(np.asarray, (clean, speeds, batch["leads"], batch["lengths"]))):
    said = round(24_000 / speed)
    spectrum = np.abs(np.fft.rfft(sound[lead : lead + said] * np.hanning(said)))
    pitch = np.argmax(spectrum) * 16_000 / said
    whole = 0.49 < np.abs(sound[lead : lead + said]).max() < 0.51
    silent = not sound[:lead].any() and not sound[lead + said + 2 :].any() and length >= lead + said - 2
    print(abs(pitch - 440 * speed) < 1, whole, silent, np.isfinite(noisy).all())
"""


@needs_jax
def test_clips_are_heard_faster_and_slower_whole_and_with_silence_round_them(tmp_path: Path) -> None:
    command = [sys.executable, "-c", HEAR_FASTER, str(tmp_path / "clips.npz")]
    done = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True, timeout=900)
    lines = done.stdout.splitlines()
    assert len(lines) == 65
    assert {word for line in lines for word in line.split()} == {"True"}


@needs_jax
def test_an_adapted_encoders_weights_can_be_gone_on_from(tmp_path: Path) -> None:
    for source, out in ((ADAPTED, "first"), (tmp_path / "first.onnx", "second")):
        run("handsfree.hear.adapt.weights", "from", source, tmp_path / f"{out}.npz")
        run("handsfree.hear.adapt.weights", "back", tmp_path / f"{out}.npz", tmp_path / f"{out}.onnx")
    first, second = (np.load(tmp_path / f"{name}.npz") for name in ("first", "second"))
    for name in first.files:
        step = 2 / 255 * float(np.abs(first[name]).max())  # of the eight bits in which matrices are stored
        np.testing.assert_allclose(second[name].astype(float), first[name].astype(float), atol=step)
    samples = read_sound(FIXTURES / _rows()[0]["file"])
    shipped, again = (PhraseModel(encoder=path).encode(samples) for path in (None, tmp_path / "first.onnx"))
    assert np.corrcoef(shipped.ravel(), again.ravel())[0, 1] > 0.999


@needs_jax
def test_toy_training_gives_an_encoder_that_the_recogniser_loads(data: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
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
    samples = read_sound(FIXTURES / _rows()[0]["file"])
    hearing = recogniser.hear(Utterance(samples, 0, len(samples) / 16_000))
    assert recogniser.name == "phrase/toy"
    assert hearing.words


@needs_jax
def test_toy_training_gives_additions_that_the_decoder_takes(data: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    small = ("--steps", 2, "--batch", 2, "--parts", "kv", "--rank", 2, "--rate", 1)
    run("handsfree.hear.adapt.train_decoder", data, out, *small)
    samples = read_sound(FIXTURES / _rows()[0]["file"])
    first = []
    for share in (0, 1):
        path = tmp_path / f"matrices{share}.npz"
        run("handsfree.hear.adapt.weights", "decoder", path, out / "decoder.npz", share)
        model = PhraseModel(decoder=path)
        first.append(model.begin(model.encode(samples))[0])
    packaged = PhraseModel()
    np.testing.assert_array_equal(first[0], packaged.begin(packaged.encode(samples))[0])
    assert np.abs(first[1] - first[0]).max() > 0.01
