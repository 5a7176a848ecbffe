"""Talk in the background is told from the person at the bench by its level, and steady noise is none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.hear.background import BackgroundTalk, Restlessness

CHUNKS_A_SECOND = 31.25


def talk_for(seconds: float, level_db: float, seed: int = 3, spread_db: float = 4.0) -> list[float]:
    """Levels of several people talking at once: they jump about from one chunk to the next."""
    rng = np.random.default_rng(seed)
    return list(rng.normal(level_db, spread_db, round(seconds * CHUNKS_A_SECOND)))


def heard(talk: BackgroundTalk, levels_db: list[float], voiced: bool = True) -> float:
    """Share of the chunks that are covered."""
    return float(np.mean([talk.covers(level, voiced) for level in levels_db]))


@pytest.mark.parametrize("level_db", [-60, -40, -20])
def test_talk_that_goes_on_is_covered_and_a_louder_voice_is_not(level_db: float) -> None:
    talk = BackgroundTalk()
    heard(talk, talk_for(8, level_db))
    assert heard(talk, talk_for(4, level_db, seed=5)) > 0.95
    assert heard(talk, [level_db + 12.0] * 40) < 0.1


def test_nothing_is_covered_before_four_seconds() -> None:
    assert heard(BackgroundTalk(), talk_for(3.9, -40)) == 0.0


def test_talk_that_has_stopped_covers_nothing_soon_after() -> None:
    talk = BackgroundTalk()
    heard(talk, talk_for(8, -40))
    heard(talk, talk_for(8, -75, spread_db=1.0), voiced=False)
    assert heard(talk, talk_for(1, -42)) == 0.0


@given(
    level_db=st.floats(-90, -5),
    spread_db=st.floats(0, 12),
    seed=st.integers(0, 2**32 - 1),
)
def test_what_the_detector_takes_for_noise_never_covers(level_db: float, spread_db: float, seed: int) -> None:
    levels = talk_for(10, level_db, seed, spread_db)
    assert heard(BackgroundTalk(), levels, voiced=False) == 0.0


def test_speech_with_its_pauses_in_a_quiet_room_is_not_covered() -> None:
    talk = BackgroundTalk()
    covered = 0
    for _ in range(10):  # two words, a breath
        for level_db, voiced in [*[(-25.0, True)] * 18, *[(-65.0, False)] * 7]:
            covered += talk.covers(level_db, voiced) and voiced
    assert covered == 0


def test_a_restless_room_is_known_by_its_strokes_and_a_steady_one_by_little() -> None:
    steady, restless = Restlessness(), Restlessness()
    rng = np.random.default_rng(3)
    for number in range(200):
        steady.follow(abs(float(rng.normal(0, 1.5))))
        restless.follow(12.0 if number % 6 < 2 else 1.0)
    assert steady.excess_db < 4
    assert restless.excess_db == 12.0


def test_a_room_is_not_called_restless_before_a_second() -> None:
    room = Restlessness()
    for _ in range(30):
        room.follow(15.0)
    assert room.excess_db == 0.0
