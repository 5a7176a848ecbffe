"""What the Vosk adapter makes of answers that the real engine rarely gives; a stand-in gives them."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from handsfree.errors import ModelError
from handsfree.hear.vosk_recogniser import VoskModel, VoskStream

pytestmark = pytest.mark.quick

PIECE = np.zeros(1600, np.int16)


def words(*found: str) -> str:
    return json.dumps({"result": [{"word": word, "conf": 0.9} for word in found], "text": " ".join(found)})


class Engine:
    """Answers piece by piece from a list: a partial text, or the words with which an utterance ends."""

    def __init__(self, answers: list[str | tuple[str, ...]], final: str) -> None:
        self.answers = answers
        self.final = final

    def AcceptWaveform(self, data: bytes) -> int:  # noqa: ARG002, N802 - as the engine has it
        self.now = self.answers.pop(0) if self.answers else ""
        return int(isinstance(self.now, tuple))

    def Result(self) -> str:  # noqa: N802
        return words(*self.now)

    def PartialResult(self) -> str:  # noqa: N802
        return json.dumps({"partial": self.now})

    def FinalResult(self) -> str:  # noqa: N802
        return self.final


def test_empty_final_falls_back_on_the_last_partial_without_confidence() -> None:
    stream = VoskStream(Engine(["", "three", "three top", ""], json.dumps({"text": ""})))
    assert [stream.feed(PIECE) for _ in range(4)] == [(), ("three",), ("three", "top"), ()]
    assert stream.finish() == (("three", "top"), (0.0, 0.0))
    assert stream.from_partial


def test_results_in_mid_utterance_are_kept_in_front_of_the_final_one() -> None:
    stream = VoskStream(Engine(["three", ("three", "top"), "eight"], words("eighteen")))
    heard = [stream.feed(PIECE) for _ in range(3)]
    assert heard == [("three",), ("three", "top"), ("three", "top", "eight")]
    assert stream.finish() == (("three", "top", "eighteen"), (0.9, 0.9, 0.9))
    assert not stream.from_partial


def test_result_that_comes_with_the_silence_at_the_end_is_kept() -> None:
    stream = VoskStream(Engine(["three", ("three",)], json.dumps({"text": ""})))
    stream.feed(PIECE)
    assert stream.finish() == (("three",), (0.9,))


def test_final_wins_over_a_longer_partial() -> None:
    stream = VoskStream(Engine(["eighty one", "eighty one"], words("eighteen")))
    stream.feed(PIECE)
    assert stream.finish() == (("eighteen",), (0.9,))


def test_nothing_heard_is_no_words() -> None:
    stream = VoskStream(Engine([], json.dumps({"text": ""})))
    stream.feed(PIECE)
    assert stream.finish() == ((), ())
    assert not stream.from_partial


def test_folder_that_is_not_there_needs_no_engine_to_be_refused(tmp_path: Path) -> None:
    with pytest.raises(ModelError, match="found nothing"):
        VoskModel(tmp_path / "none")
