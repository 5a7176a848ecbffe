"""Utterances are found whole and apart, in quiet, in noise and over other voices."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.hear import Endpointer, Samples, Utterance, read_sound, utterances
from handsfree.hear.endpoint import Cause, Ended, EndpointEvent, Pause, Resumed, SpeechStarted, Timing, listen
from handsfree.hear.speech_in_hand import SpeechInHand
from handsfree.hear.vad import CHUNK
from handsfree.recordings.noise import mix, noise, spoil, to_samples

pytestmark = pytest.mark.quick

FIXTURES = Path(__file__).parents[2] / "audio_fixtures"
VOICES = ("flite-slt", "flite-rms", "espeak-gb", "festival-ked")


def phrase(voice: str, number: int) -> Samples:
    """A fixture without the silence around it."""
    samples = read_sound(FIXTURES / voice / f"{number:02d}.ogg")
    loud = np.flatnonzero(np.abs(samples.astype(int)) > 0.01 * np.max(np.abs(samples.astype(int))))
    return samples[loud[0] : loud[-1] + 1]


def quiet(seconds: float) -> Samples:
    return np.zeros(round(seconds * 16000), np.int16)


def scene(*parts: Samples, gap_s: float = 1.2, edge_s: float = 1.0) -> tuple[Samples, list[slice]]:
    """Phrases with silence between and around them, and where each of them lies."""
    pieces, spans, at = [quiet(edge_s)], [], round(edge_s * 16000)
    for part in parts:
        spans.append(slice(at, at + len(part)))
        pieces += [part, quiet(gap_s)]
        at += len(part) + round(gap_s * 16000)
    return np.concatenate([*pieces, quiet(max(0.0, edge_s - gap_s))]), spans


def place(samples: Samples, utterance: Utterance) -> slice:
    """Where the sound of an utterance lies in its source."""
    length = len(utterance.samples)
    latest = round(utterance.start_s * 16000) // CHUNK * CHUNK
    for start in range(latest, -1, -CHUNK):
        if np.array_equal(samples[start : start + length], utterance.samples):
            return slice(start, start + length)
    raise AssertionError("the utterance's sound is not part of its source")


def share_kept(clean: Samples, span: slice, kept: slice) -> float:
    """How much of a phrase's energy lies within what was kept."""
    power = clean.astype(float) ** 2
    inside = slice(max(span.start, kept.start), min(span.stop, kept.stop))
    return float(power[inside].sum() / power[span].sum()) if inside.stop > inside.start else 0.0


def ended(events: list[EndpointEvent]) -> list[Ended]:
    return [event for event in events if isinstance(event, Ended)]


def run(samples: Samples, endpointer: Endpointer | None = None) -> list[EndpointEvent]:
    endpointer = endpointer or Endpointer()
    return endpointer.feed(samples) + endpointer.finish()


@pytest.mark.parametrize("voice", VOICES)
@pytest.mark.parametrize("number", [0, 7, 11, 23, 31])
def test_file_with_one_phrase_is_one_utterance_with_nothing_cut_off(voice: str, number: int) -> None:
    samples = read_sound(FIXTURES / voice / f"{number:02d}.ogg")
    (found,) = utterances(samples)
    kept = place(samples, found)
    whole = samples.astype(float) ** 2
    assert whole[kept].sum() / whole.sum() > 0.9999


@pytest.mark.parametrize("voice", VOICES)
def test_times_are_those_of_the_speech(voice: str) -> None:
    samples, (span,) = scene(phrase(voice, 5))
    (found,) = utterances(samples)
    assert found.start_s == pytest.approx(span.start / 16000, abs=0.12)
    assert found.end_s == pytest.approx(span.stop / 16000, abs=0.12)


@pytest.mark.parametrize("kind", ["pink", "compressor", "grinder"])
@pytest.mark.parametrize("snr_db", [15, 10, 5])
def test_phrases_in_noise_are_whole_and_apart(kind: str, snr_db: float) -> None:
    parts = [phrase(voice, number) for voice in VOICES for number in (3, 17)]
    clean, spans = scene(*parts)
    found = utterances(mix(clean, noise(kind, len(clean), np.random.default_rng(7)), snr_db))
    assert len(found) == len(parts)
    heard = mix(clean, noise(kind, len(clean), np.random.default_rng(7)), snr_db)
    for span, utterance in zip(spans, found, strict=True):
        assert share_kept(clean, span, place(heard, utterance)) > 0.995


@pytest.mark.parametrize("kind", ["compressor", "grinder"])
def test_a_room_s_strokes_before_a_phrase_are_not_its_beginning(kind: str) -> None:
    parts = [phrase(voice, number) for voice in VOICES for number in (3, 17)]
    clean, spans = scene(*parts, gap_s=2.5, edge_s=4.0)
    heard = mix(clean, noise(kind, len(clean), np.random.default_rng(7)), 10)
    early = [
        span.start / 16000 - utterance.start_s
        for span, utterance in zip(spans, utterances(heard), strict=True)
    ]
    assert max(early) < 0.15


@pytest.mark.parametrize("snr_db", [15, 10])
def test_phrases_over_talk_that_goes_on_are_whole_and_apart(snr_db: float) -> None:
    parts = [phrase(voice, number) for voice in VOICES for number in (3, 17)]
    clean, spans = scene(*parts, gap_s=2.5, edge_s=6.0)
    talk = [read_sound(path) for path in sorted(FIXTURES.glob("kokoro-b*/*.ogg"))[::9]]
    heard = mix(clean, noise("babble", len(clean), np.random.default_rng(7), talk), snr_db)
    found = [each for each in utterances(heard) if each.end_s > spans[0].start / 16000]
    assert len(found) == len(parts)
    for span, utterance in zip(spans, found, strict=True):
        # a peak of the talk may pass for a part of the phrase
        assert span.start / 16000 - 0.6 < utterance.start_s < span.start / 16000 + 0.25
        assert span.stop / 16000 - 0.4 < utterance.end_s < span.stop / 16000 + 0.9
        assert share_kept(clean, span, place(heard, utterance)) > 0.99


@pytest.mark.parametrize("level_db", [-20, -40, -60])
def test_near_and_far_microphones_are_heard(level_db: float) -> None:
    part = phrase("flite-slt", 5).astype(float)
    gain = 32768 * 10 ** (level_db / 20) / np.sqrt(np.mean(part**2))
    samples, (span,) = scene(np.clip(part * gain, -32768, 32767).astype(np.int16))
    (found,) = utterances(samples)
    assert share_kept(samples, span, place(samples, found)) > 0.995


@pytest.mark.parametrize("kind", ["pink", "compressor", "grinder", "fan", "air"])
@pytest.mark.parametrize("level", [0.001, 0.02, 0.2])
def test_noise_alone_is_no_utterance(kind: str, level: float) -> None:
    sound = noise(kind, 10 * 16000, np.random.default_rng(3))
    assert utterances(to_samples(sound * level)) == []


@pytest.mark.parametrize(
    "samples",
    [
        quiet(0),
        quiet(0.001),
        quiet(20),
        np.full(16000, 12000, np.int16),
        np.tile(np.repeat(np.array([32767, -32768], np.int16), 80), 200),
    ],
    ids=["empty", "one sample", "silence", "constant", "square wave"],
)
def test_sound_without_speech_yields_nothing(samples: Samples) -> None:
    assert run(samples) == []


def test_clicks_are_no_utterance() -> None:
    samples = quiet(10)
    samples[8000::16000] = 32767
    samples[8001::16000] = -32768
    assert utterances(samples) == []


def test_machine_that_starts_is_no_utterance_and_speech_is_heard_over_it() -> None:
    part = phrase("flite-rms", 8)
    clean = np.concatenate([quiet(6), part, quiet(1.5)])
    loud = mix(clean, noise("compressor", len(clean), np.random.default_rng(1)), 8)
    loud[: 3 * 16000] = 0  # the machine starts at 3 s
    (found,) = utterances(loud)
    assert share_kept(clean, slice(96000, 96000 + len(part)), place(loud, found)) > 0.995


@given(st.lists(st.integers(1, 5000), min_size=1, max_size=30), st.sampled_from([0, 2, 9]))
@settings(max_examples=15, deadline=None)
def test_pieces_of_any_size_give_the_same(sizes: list[int], number: int) -> None:
    samples, _ = scene(phrase("espeak-gb", number), phrase("flite-slt", number), edge_s=0.5)
    pieces, at = [], 0
    while at < len(samples):
        size = sizes[len(pieces) % len(sizes)]
        pieces.append(samples[at : at + size])
        at += size
    once, split = utterances(samples), list(listen(pieces))
    assert [(u.start_s, u.end_s) for u in split] == [(u.start_s, u.end_s) for u in once]
    assert all(np.array_equal(a.samples, b.samples) for a, b in zip(split, once, strict=True))


def test_events_come_in_order_and_the_pause_is_the_utterance() -> None:
    samples, _ = scene(phrase("flite-slt", 5), phrase("flite-slt", 8), gap_s=0.42)
    events = run(samples)
    kinds = [type(event) for event in events]
    assert kinds == [SpeechStarted, Pause, Resumed, Pause, Ended]
    started, first, resumed, second, end = events
    assert isinstance(started, SpeechStarted)
    assert isinstance(first, Pause)
    assert isinstance(resumed, Resumed)
    assert isinstance(second, Pause)
    assert isinstance(end, Ended)
    assert end.utterance is second.utterance
    assert end.cause is Cause.SILENCE
    assert started.at_s == first.utterance.start_s == second.utterance.start_s
    assert first.utterance.end_s < resumed.at_s < second.utterance.end_s
    assert np.array_equal(first.utterance.samples, second.utterance.samples[: len(first.utterance.samples)])


def chunks_until_end(complete: bool | None, part: Samples) -> float:
    """Seconds of silence between the end of speech and the moment at which the utterance is over."""
    endpointer = Endpointer(complete=lambda _: complete)
    samples = np.concatenate([quiet(0.5), part, quiet(2)])
    for start in range(0, len(samples), CHUNK):
        over = ended(endpointer.feed(samples[start : start + CHUNK]))
        if over:
            return endpointer.time_s - over[0].utterance.end_s
    raise AssertionError("it never ended")


def test_complete_command_ends_soon_and_an_incomplete_one_is_waited_for() -> None:
    part = phrase("flite-slt", 5)
    assert chunks_until_end(True, part) == pytest.approx(Timing().complete_ms / 1000, abs=0.033)
    assert chunks_until_end(None, part) == pytest.approx(0.55, abs=0.033)
    assert chunks_until_end(False, part) == pytest.approx(1.0, abs=0.033)


def test_pause_in_an_incomplete_command_does_not_end_it() -> None:
    samples, spans = scene(phrase("flite-slt", 5), phrase("flite-slt", 8), gap_s=0.8)
    assert len(ended(run(samples, Endpointer(complete=lambda _: None)))) == 2
    asked: list[Utterance] = []

    def incomplete(so_far: Utterance) -> bool:
        asked.append(so_far)
        return False

    (end,) = ended(run(samples, Endpointer(complete=incomplete)))
    assert len(asked) == 2
    kept = place(samples, end.utterance)
    assert kept.start < spans[0].start
    assert kept.stop > spans[1].stop


def test_hold_sets_the_silence_of_the_pause_in_hand() -> None:
    samples = np.concatenate([quiet(0.5), phrase("flite-slt", 5), quiet(3)])
    endpointer = Endpointer()
    assert endpointer.hold(100) is None
    over: list[float] = []
    for start in range(0, len(samples), CHUNK):
        for event in endpointer.feed(samples[start : start + CHUNK]):
            if isinstance(event, Pause):
                assert endpointer.hold(1500) is None
            if isinstance(event, Ended):
                over.append(endpointer.time_s - event.utterance.end_s)
    assert over == [pytest.approx(1.5, abs=0.033)]


def test_hold_ends_an_utterance_at_once_that_has_been_quiet_for_long_enough() -> None:
    samples = np.concatenate([quiet(0.5), phrase("flite-slt", 5), quiet(3)])
    endpointer = Endpointer(Timing(pause_ms=32))
    pause: Pause | None = None
    for start in range(0, len(samples), CHUNK):
        for event in endpointer.feed(samples[start : start + CHUNK]):
            pause = event if isinstance(event, Pause) else None if isinstance(event, Resumed) else pause
        if pause is not None and endpointer.time_s - pause.utterance.end_s > 0.25:
            break
    assert pause is not None
    assert endpointer.hold(400) is None  # it hasn't been quiet for so long
    over = endpointer.hold(200)
    assert over is not None
    assert over.utterance is pause.utterance
    assert over.cause is Cause.SILENCE
    assert not endpointer.speaking
    assert endpointer.hold(200) is None


def test_a_quiet_room_is_known_to_be_quiet_before_the_voice_detector_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Speech as loud as the room changes nothing: there the detector alone can tell."""
    samples = np.concatenate([quiet(1), phrase("flite-slt", 5), quiet(1)])
    loud = spoil(samples, "pink", 12.0, np.random.default_rng(3), ())
    (early,), noisy = ended(run(samples)), ended(run(loud))
    monkeypatch.setattr(SpeechInHand, "hushed", lambda *_: False)
    (late,), as_noisy = ended(run(samples)), ended(run(loud))
    last = np.flatnonzero(np.abs(samples.astype(int)) > 300)[-1] / 16_000
    assert last - 0.02 < early.utterance.end_s < late.utterance.end_s
    assert [end.utterance.end_s for end in noisy] == [end.utterance.end_s for end in as_noisy]


def test_commands_close_together_are_apart_and_whole() -> None:
    parts = [phrase("flite-slt", number) for number in (5, 8, 12)]
    samples, spans = scene(*parts, gap_s=0.4)
    found = [end.utterance for end in ended(run(samples, Endpointer(complete=lambda _: True)))]
    assert len(found) >= len(parts)  # a phrase may hold a pause of its own
    for span in spans:
        assert sum(share_kept(samples, span, place(samples, u)) for u in found) > 0.995


def test_utterances_share_no_speech() -> None:
    samples, _ = scene(*(phrase("espeak-gb", number) for number in (5, 8, 12)), gap_s=0.4)
    found = [end.utterance for end in ended(run(samples, Endpointer(complete=lambda _: True)))]
    for before, after in itertools.pairwise(found):
        assert place(samples, after).start >= round(before.end_s * 16000)


def test_endless_talk_is_split_without_losing_or_doubling_a_sample() -> None:
    talk = np.concatenate([phrase(voice, number) for voice in VOICES for number in range(3, 9)])
    samples = np.concatenate([quiet(1), talk, quiet(1)])
    assert len(talk) > 40 * 16000
    over = ended(run(samples, Endpointer(Timing(end_ms=1500))))
    assert len(over) >= 3
    assert {end.cause for end in over[:-1]} == {Cause.LENGTH}
    places = [place(samples, end.utterance) for end in over]
    assert all(one.stop == two.start for one, two in itertools.pairwise(places))
    assert all(len(end.utterance.samples) <= 15.1 * 16000 for end in over)
    assert (
        share_kept(samples, slice(16000, 16000 + len(talk)), slice(places[0].start, places[-1].stop)) > 0.999
    )


def test_speech_at_the_end_of_the_source_is_given_whole() -> None:
    samples = np.concatenate([quiet(0.7), phrase("flite-slt", 5)])[:-7]
    (end,) = ended(run(samples))
    assert end.cause is Cause.SOURCE
    assert place(samples, end.utterance).stop == len(samples)
    assert end.utterance.end_s <= len(samples) / 16000


def test_speech_from_the_first_sample_is_given_whole() -> None:
    samples = np.concatenate([phrase("flite-slt", 5), quiet(1)])
    (found,) = utterances(samples)
    assert place(samples, found).start == 0


def test_command_over_talk_in_the_background_is_an_utterance_of_its_own() -> None:
    talk = np.concatenate([phrase("flite-rms", number) for number in range(30)]).astype(float)
    clean, spans = scene(phrase("flite-slt", 5), phrase("flite-slt", 8), edge_s=4, gap_s=2)
    heard = mix(clean, talk[: len(clean)], 20)
    found = [place(heard, utterance) for utterance in utterances(heard)]
    for span in spans:
        whole = [kept for kept in found if share_kept(clean, span, kept) > 0.99]
        assert len(whole) == 1
        length = whole[0].stop - whole[0].start
        assert length < (span.stop - span.start) + 2 * 16000


@pytest.mark.parametrize("kind", ["babble", "impacts", "radio", "several", "room"])
def test_phrase_in_any_noise_is_in_an_utterance(kind: str) -> None:
    talk = [phrase("festival-ked", number) for number in range(10, 16)]
    clean, (span,) = scene(phrase("flite-slt", 5), edge_s=0.4)
    heard = spoil(clean, kind, 10, np.random.default_rng(2), talk)
    assert any(share_kept(clean, span, place(heard, u)) > 0.99 for u in utterances(heard))


def test_what_is_skipped_is_not_heard_and_times_go_on() -> None:
    part = phrase("flite-slt", 5)
    samples = np.concatenate([quiet(1), part, quiet(1)])
    endpointer = Endpointer()
    endpointer.feed(samples[: 16000 + len(part) // 2])
    assert endpointer.speaking
    heard_s = endpointer.time_s
    endpointer.skip(10 * 16000)
    assert not endpointer.speaking
    before = endpointer.time_s
    assert before == pytest.approx(heard_s + 10, abs=0.04)
    (end,) = ended(run(samples, endpointer))
    assert end.utterance.start_s == pytest.approx(before + 1, abs=0.15)


@pytest.mark.parametrize("size", [1, 100, 256, 511, 513, 800])
def test_what_is_skipped_in_small_pieces_takes_as_long_as_it_does(size: int) -> None:
    """A sound card gives pieces of its own size, and after each there may be less than a chunk left."""
    endpointer = Endpointer()
    endpointer.feed(quiet(2)[:16_100])  # of which less than a chunk waits
    for _ in range(32_000 // size):
        endpointer.skip(size)
    assert endpointer.time_s == pytest.approx((16_100 + 32_000 // size * size) / 16_000, abs=CHUNK / 16_000)


def test_no_sound_is_given_to_two_utterances_however_soon_the_next_begins() -> None:
    """The second begins before there was silence enough for all that is kept before a beginning."""
    timing = Timing(pause_ms=96, end_ms=128)
    samples, _ = scene(phrase("flite-slt", 3), phrase("flite-rms", 17), gap_s=0.25)
    # silence is never the same twice, so that the sound of an utterance lies in one place only
    samples = samples + np.random.default_rng(4).integers(-3, 4, len(samples)).astype(np.int16)
    places = [place(samples, found) for found in utterances(samples, timing)]
    assert len(places) >= 2
    assert all(one.stop <= other.start + CHUNK * 3 for one, other in itertools.pairwise(places))


def test_level_and_floor_follow_the_room() -> None:
    endpointer = Endpointer()
    endpointer.feed(to_samples(0.01 * noise("pink", 10 * 16000, np.random.default_rng(5))))
    assert endpointer.floor_db == pytest.approx(-43, abs=3)
    endpointer.feed(to_samples(0.1 * noise("pink", 10 * 16000, np.random.default_rng(5))))
    assert endpointer.floor_db == pytest.approx(-23, abs=3)
    assert endpointer.level_db == pytest.approx(-22, abs=4)


def test_waiting_keeps_no_more_than_a_second_of_sound() -> None:
    endpointer = Endpointer()
    endpointer.feed(to_samples(0.01 * noise("pink", 60 * 16000, np.random.default_rng(5))))
    assert sum(len(heard.samples) for heard in endpointer._kept) <= 1.1 * 16000


def test_other_sound_than_int16_mono_is_a_programming_error() -> None:
    with pytest.raises(ValueError, match="float64"):
        Endpointer().feed(np.zeros(100))  # type: ignore[arg-type]
    with pytest.raises(ValueError, match=r"\(100, 2\)"):
        Endpointer().feed(np.zeros((100, 2), np.int16))


def test_a_buffer_that_its_owner_uses_again_does_no_harm() -> None:
    samples, _ = scene(phrase("flite-slt", 5))
    buffer = np.zeros(800, np.int16)
    endpointer, events = Endpointer(), []
    for start in range(0, len(samples) - len(buffer), len(buffer)):
        buffer[:] = samples[start : start + len(buffer)]
        events += endpointer.feed(buffer)
    (end,) = ended(events)
    assert place(samples, end.utterance).stop <= len(samples)
