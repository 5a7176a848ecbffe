"""Sound that is longer than any command: it is heard without an error, and comes to nothing."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from handsfree.hear import PhraseModel, read_sound

FIXTURES = Path(__file__).parents[2] / "audio_fixtures"


@pytest.mark.parametrize("seconds", [3, 9, 10, 20])
def test_sound_of_any_length_can_be_decoded(seconds: int) -> None:
    model = PhraseModel()
    clip = read_sound(FIXTURES / "kokoro-af_heart" / "00.ogg")
    samples = np.tile(clip, 20)[: seconds * 16_000]
    logp, state = model.begin(model.encode(samples))
    assert np.isclose(np.exp(logp.astype(float)).sum(), 1, atol=1e-3)
    best = int(logp.argmax())
    logp, _ = model.step(model.encode(samples), state, [0, 0], [best, best])
    assert logp.shape[0] == 2
    assert np.allclose(logp[0], logp[1], atol=1e-4)
