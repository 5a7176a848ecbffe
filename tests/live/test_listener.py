"""Endpointer and recogniser together, with a voice that is really spoken and a decoder that isn't real."""

from concurrent.futures import Future

import numpy as np
import pytest

from handsfree.devices.microphone import Resampler
from handsfree.hear import Hearing, Timing
from handsfree.live.events import Decoded
from handsfree.live.listener import Listener
from handsfree.speak import EngineVoice, Reply

FRAME = 256
TIMING = Timing(pause_ms=128, complete_ms=200, end_ms=550, incomplete_ms=1000)


@pytest.fixture(scope="module")
def speech():
    with EngineVoice() as voice:
        sound = voice.render(Reply("cylinder three top eighteen"))
    return Resampler(sound.samplerate_hz)(sound.samples)


def silence(seconds):
    return np.random.default_rng(1).integers(-3, 4, int(16_000 * seconds)).astype(np.int16)


class Decoder:
    """Collects what it is asked to decode, and answers when told to."""

    def __init__(self):
        self.asked = []
        self.futures = []

    def __call__(self, utterance):
        self.asked.append(utterance)
        self.futures.append(Future())
        return self.futures[-1]

    def result(self, n=-1, words=("eighteen",)):
        utterance = self.asked[n]
        return Decoded(utterance, Hearing(words, utterance.start_s, utterance.end_s, "fake"))


def play(listener, samples, at_each=None):
    """Feed frames; give what was done, with the stream time of each."""
    done, starts = [], 0
    for start in range(0, len(samples), FRAME):
        began, found = listener.frame(samples[start : start + FRAME])
        starts += began
        done += [(listener.endpointer.time_s, each) for each in found]
        if at_each is not None:
            done += [(listener.endpointer.time_s, each) for each in at_each()]
    return starts, done


def answering(listener, decoder, words=("eighteen",)):
    """Answer each request at the next frame, as a quick decoder would."""
    answered = []

    def at_each():
        if len(decoder.asked) > len(answered):
            answered.append(len(decoder.asked))
            return listener.decoded(decoder.result(words=words))
        return []

    return at_each


@pytest.mark.parametrize(("patience_ms", "latest_s"), [(200, 0.36), (550, 0.7), (1000, 1.15)])
def test_words_decide_how_long_the_silence_must_be(speech, patience_ms, latest_s):
    decoder = Decoder()
    listener = Listener(decoder, lambda _: patience_ms, TIMING)
    whole = np.concatenate([silence(1), speech, silence(2)])
    starts, done = play(listener, whole, answering(listener, decoder))
    assert starts == 1
    [(at_s, each)] = done
    assert each.hearing.words == ("eighteen",)
    waited = at_s - (1 + len(speech) / 16_000)
    assert patience_ms / 1000 - 0.25 < waited < latest_s


def test_decoding_is_thrown_away_when_speech_goes_on(speech):
    decoder = Decoder()
    listener = Listener(decoder, lambda _: 1000, TIMING)
    whole = np.concatenate([silence(1), speech, silence(0.4), speech, silence(2)])
    _, done = play(listener, whole, answering(listener, decoder))
    assert len(decoder.asked) >= 2
    [(_, each)] = done
    assert each.utterance is decoder.asked[-1]
    assert each.utterance.end_s - each.utterance.start_s > 1.5 * len(speech) / 16_000


def test_words_that_come_after_their_silence_end_the_utterance_without_another_frame(speech):
    decoder = Decoder()
    listener = Listener(decoder, lambda _: 200, TIMING)
    play(listener, np.concatenate([silence(1), speech]))
    for start in range(0, 16_000, FRAME):
        if listener.endpointer.time_s - (decoder.asked[-1].end_s if decoder.asked else np.inf) > 0.25:
            break
        listener.frame(silence(1)[start : start + FRAME])
    assert listener.speaking
    [done] = listener.decoded(decoder.result())
    assert done.utterance is decoder.asked[-1]
    assert not listener.speaking


def test_late_result_of_speech_that_went_on_changes_nothing(speech):
    decoder = Decoder()
    listener = Listener(decoder, lambda _: 200, TIMING)
    play(listener, np.concatenate([silence(1), speech, silence(0.3), speech[:8_000]]))
    assert len(decoder.asked) == 1
    assert listener.decoded(decoder.result(0)) == []
    assert listener.speaking


def test_slow_decoder_is_waited_for_and_order_is_kept(speech):
    decoder = Decoder()
    listener = Listener(decoder, lambda _: 200, TIMING)
    _, done = play(listener, np.concatenate([silence(1), speech, silence(1.5), speech, silence(1.5)]))
    assert done == []
    assert listener.thinking
    assert len(decoder.asked) == 2
    assert listener.decoded(decoder.result(1, ("second",))) == []
    both = listener.decoded(decoder.result(0, ("first",)))
    assert [each.hearing.words for each in both] == [("first",), ("second",)]
    assert not listener.thinking


def test_sound_lost_in_mid_word_marks_that_utterance_and_no_other(speech):
    decoder = Decoder()
    listener = Listener(decoder, lambda _: 200, TIMING)
    play(listener, np.concatenate([silence(1), speech[:12_000]]))
    assert listener.tear()
    rest = np.concatenate([speech[12_000:], silence(1.5), speech, silence(1.5)])
    _, done = play(listener, rest, answering(listener, decoder))
    assert [each.torn for _, each in done] == [True, False]


def test_sound_lost_while_nobody_speaks_tears_nothing():
    assert not Listener(Decoder(), lambda _: 200, TIMING).tear()


def test_skipped_sound_is_never_heard_and_an_utterance_in_hand_is_forgotten(speech):
    decoder = Decoder()
    listener = Listener(decoder, lambda _: 200, TIMING)
    play(listener, np.concatenate([silence(1), speech[:12_000]]))
    listener.skip(16_000)
    assert not listener.speaking
    _, done = play(listener, silence(2))
    assert done == []


def test_restart_forgets_the_utterance_in_hand(speech):
    decoder = Decoder()
    listener = Listener(decoder, lambda _: 200, TIMING)
    play(listener, np.concatenate([silence(1), speech, silence(0.2)]))
    listener.restart()
    assert not listener.speaking
    assert not listener.thinking
    assert all(future.cancelled() for future in decoder.futures)
