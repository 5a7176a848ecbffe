"""The live loop: speech, keys, half duplex, stand by and every kind of trouble."""

import threading
import time

import numpy as np
import pytest

from handsfree.bench import Exchange
from handsfree.devices import (
    PIPE,
    KeypadFound,
    KeypadLost,
    KeyPressed,
    MicrophoneFound,
    MicrophoneLost,
    Overflow,
    Played,
)
from handsfree.hear import DecodingCancelledError, Hearing, never
from handsfree.live import Ears, Quit
from handsfree.live.events import Spoken
from handsfree.speak import Reply
from handsfree.understand import Outcome


def test_spoken_reading_is_logged_and_answered(scene):
    bench = scene()
    bench.say("cylinder three top eighteen thou")
    assert bench.logged == ["18 thou"]
    assert bench.mouth.said[-1] == "Three top, eighteen. Good. Next, four top."
    assert bench.mouth.wakes == 1
    assert bench.state.heard == "cylinder three top eighteen thou"


def test_decoding_is_given_up_when_speech_goes_on_and_the_thread_is_free_at_once(scene, speech):
    """In the loop's own thread: a decoder that would go on for ever is told that nobody waits."""
    begun, given_up, patience_s = threading.Event(), [], 20.0

    class Slow:
        name = "slow"

        def hear(self, utterance, cancelled=never):
            begun.set()
            if utterance.end_s - utterance.start_s > 1.5 * len(speech) / 16_000:
                words = ("cylinder", "three", "top", "eighteen", "thou")
                return Hearing(words, utterance.start_s, utterance.end_s, self.name, fit=0.0, margin=9.0)
            until = time.monotonic() + patience_s
            while not cancelled() and time.monotonic() < until:
                time.sleep(0.001)
            given_up.append(time.monotonic() < until)
            raise DecodingCancelledError

    bench = scene(recogniser=Slow(), submit=None)
    bench.quiet(0.6)
    bench.hear(speech)
    bench.quiet(0.15)
    assert begun.wait(patience_s)
    bench.hear(speech)
    until = time.monotonic() + patience_s
    while not bench.logged and time.monotonic() < until:
        bench.quiet(0.032)
        time.sleep(0.01)
    assert bench.logged == ["18 thou"]
    assert given_up
    assert all(given_up)


def test_keyed_entry_is_answered_like_speech_and_each_key_ticks(scene):
    bench = scene()
    bench.key("3*1*18")
    assert bench.logged == ["18 thou"]
    assert bench.mouth.said[-1] == "Three top, eighteen. Good. Next, four top."
    assert bench.mouth.ticks == 6
    assert bench.state.begun == ""


def test_backspace_takes_back_one_key(scene):
    bench = scene()
    bench.key(["4", "*", "1", "*", "1", "9", "Backspace", "8"])
    assert bench.exchanges[-1].words == "4*1*18"
    assert bench.logged == ["18 thou"]
    bench.key(["Backspace", "1", "Backspace", "Backspace", "1", "9"])
    assert bench.exchanges[-1].words == "19"


def test_each_source_of_keys_has_an_entry_of_its_own(scene):
    bench = scene()
    begun = []
    for key, source in [
        *[("3", "pad"), ("1", "display 1"), ("*", "pad"), ("9", "display 2"), ("1", "pad")],
        *[("8", "display 1"), ("Num Lock", "display 2"), ("*", "pad"), ("Backspace", "display 1")],
    ]:
        bench.handle(KeyPressed(key, source))
        begun.append(bench.state.begun)
    assert begun == ["3", "1", "3*", "9", "3*1", "18", "", "3*1*", "1"]
    for key in ("1", "8", "Enter"):
        bench.handle(KeyPressed(key, "pad"))
    assert bench.exchanges[-1].words == "3*1*18"
    assert bench.state.begun == ""
    for key in ("9", "Enter"):
        bench.handle(KeyPressed(key, "display 1"))
    assert bench.exchanges[-1].words == "19"
    bench.handle(KeyPressed("Enter", "display 2"))
    assert bench.exchanges[-1].words == ""


def test_keys_begun_are_shown_and_wiped(scene):
    bench = scene()
    for key in "12":
        bench.handle(KeyPressed(key))
    assert bench.state.begun == "12"
    bench.handle(KeyPressed("Num Lock"))
    assert bench.state.begun == ""
    bench.key("")
    assert bench.logged == []  # Enter alone is "say again"


def test_ears_are_shut_while_the_voice_speaks_and_for_the_tail_of_the_room(scene):
    bench = scene(tail_s=0.2)
    bench.say("cylinder three top eighteen thou")
    assert bench.state.ears is Ears.SHUT
    bench.say("twenty thou")  # the bench's own voice, or somebody beside it
    assert bench.logged == ["18 thou"]
    bench.over()
    assert bench.state.ears is Ears.LISTENING
    bench.hear(bench._speech[: int(16_000 * 0.15)])  # the room still rings
    assert not bench.live._listener.speaking
    bench.say("cylinder four top nineteen thou")
    assert bench.logged == ["18 thou", "19 thou"]


def test_what_is_said_in_the_tail_of_an_answer_is_not_heard_and_what_follows_it_is(scene):
    """The tail begins when the answer was over, so that half a second of it holds all of this."""
    bench = scene(tail_s=0.5)
    bench.say("cylinder three top eighteen thou")
    bench.over()
    bench.hear(bench._speech[: int(16_000 * 0.48)])
    assert not bench.live._listener.speaking
    bench.hear(bench._speech[: int(16_000 * 0.8)])
    assert bench.live._listener.speaking


def test_own_voice_that_comes_back_late_is_not_heard(scene):
    """Its first sample reaches the microphone 0.4 s after it was played, and so does its last."""
    bench = scene(tail_s=0.2)
    bench.say("cylinder three top eighteen thou")
    began = bench.clock
    ended = began + len(bench._speech) / 16_000
    bench.quiet(0.4)
    late = round(0.35 * 16_000)
    bench.recogniser.words = "twenty thou"
    bench.hear(bench._speech[:-late])
    bench.mouth.waiting.clear()
    bench.handle(Spoken(bench.exchanges[-1].reply, Played(began, ended, True)))
    bench.hear(bench._speech[-late:])
    bench.quiet(1.2)
    assert bench.logged == ["18 thou"]
    assert len(bench.mouth.said) == 4  # the greeting in three pieces, and one answer
    bench.say("cylinder four top nineteen thou")
    assert bench.logged == ["18 thou", "19 thou"]


def test_what_began_while_an_answer_was_playing_is_asked_about_once_and_never_logged(scene):
    bench = scene(tail_s=0.0)
    bench.say("cylinder three top eighteen thou")

    def over_it(words):
        """Somebody, or the bench itself, speaks from before the end of the answer to after it."""
        bench.recogniser.words = words
        bench.quiet(0.6)
        bench.hear(bench._speech[:8_000])
        bench.over()
        bench.hear(bench._speech[8_000:])
        bench.quiet(1.2)

    over_it("twenty thou")
    assert bench.mouth.said[-1] == "Some sound was lost. Say the last one again."
    for _ in range(3):
        over_it("twenty thou")
        assert bench.mouth.waiting == []
        bench.handle(KeypadLost("gone"))  # something else is said, and spoken over
    assert bench.logged == ["18 thou"]
    bench.over()
    bench.say("cylinder four top nineteen thou")  # after a silence it is taken again
    assert bench.logged == ["18 thou", "19 thou"]


def test_question_that_comes_back_word_for_word_is_not_answered(scene):
    """As on a busy machine, whose sound server held it back for longer than it took to say it."""
    bench = scene()
    bench.handle(Spoken(Reply("Say again?"), Played(bench.clock, bench.clock, True)))
    count = len(bench.mouth.said)
    bench.say("say again")
    assert len(bench.mouth.said) == count
    bench.quiet(4)
    bench.say("say again")  # by now it is somebody who says so
    assert len(bench.mouth.said) == count + 1


def test_procedure_word_said_into_the_end_of_a_question_is_taken(scene):
    bench = scene(tail_s=0.0)
    bench.key("90")
    assert bench.bench.session.asked is not None
    bench.recogniser.words = "negative"
    bench.hear(bench._speech[:8_000])
    bench.over()
    bench.hear(bench._speech[8_000:])
    bench.quiet(1.2)
    assert bench.bench.session.asked is None
    assert bench.logged == []


def test_meter_moves_less_often_while_nobody_speaks(scene):
    """In a compressor's throb the level differs at every look, and each is a picture to draw."""
    bench = scene()
    count = 16_000 * 4
    throb = 300 * (1 + 0.8 * np.sin(2 * np.pi * 2.1 * np.arange(count) / 16_000))
    noise = (throb * np.random.default_rng(2).standard_normal(count)).astype(np.int16)

    def levels(sound):
        before = len(bench.states)
        bench.hear(sound)
        return len({state.level_db for state in bench.states[before:]})

    bench.quiet(1.5)
    assert levels(noise) <= 2 * 4 + 1
    bench.hear(bench._speech)
    assert levels(noise[: 16_000 // 2]) >= 4


def test_pieces_may_be_longer_only_while_nobody_speaks(scene):
    told = []
    bench = scene(relax=told.append)
    bench.quiet(2)
    assert told[-1]
    bench.recogniser.words = "cylinder three top eighteen thou"
    told.clear()
    bench.hear(bench._speech)
    assert not told[-1]
    assert told.index(False) < len(told) / 2  # well before the end of the speech
    bench.quiet(0.8)
    assert not told[-1]  # it is answered, and the ears are shut
    bench.over()
    bench.quiet(3)
    assert told[-1]


def test_with_a_headset_the_ears_stay_open_and_speech_stops_the_voice(scene):
    bench = scene(headset=True)
    bench.say("cylinder three top eighteen thou")
    assert bench.mouth.hushes == 0
    bench.say("cylinder four top nineteen thou")
    assert bench.logged == ["18 thou", "19 thou"]
    assert bench.mouth.hushes == 1


def test_a_key_stops_the_voice(scene):
    bench = scene()
    bench.say("cylinder three top eighteen thou")
    bench.handle(KeyPressed("1"))
    assert bench.mouth.hushes == 1


def test_stand_by_logs_nothing_until_go_ahead(scene):
    bench = scene()
    bench.say("stand by")
    bench.over()
    assert bench.state.ears is Ears.ASLEEP
    bench.say("cylinder three top eighteen thou")
    bench.over()
    assert bench.logged == []
    bench.say("go ahead")
    bench.over()
    assert bench.state.ears is Ears.LISTENING
    bench.say("cylinder three top eighteen thou")
    assert bench.logged == ["18 thou"]


def test_chatter_is_answered_with_nothing_and_stays_off_the_display(scene):
    bench = scene()
    bench.say("cylinder three top eighteen thou")
    bench.over()
    before = (len(bench.mouth.said), bench.state.heard)
    assert before[1] == "cylinder three top eighteen thou"
    bench.recogniser.fit = -3.0  # words of the grammar that talk happens to fit badly
    bench.say("cylinder five top nineteen thou")
    assert bench.exchanges[-1].decision.outcome is Outcome.IGNORE
    assert (len(bench.mouth.said), bench.state.heard) == before
    bench.say("")
    assert (len(bench.mouth.said), bench.state.heard) == before
    assert bench.state.ears is Ears.LISTENING


def test_finish_ends_the_loop_only_after_it_was_said(scene):
    bench = scene()
    bench.key("0*")
    bench.over()
    assert bench.running
    bench.key("+")
    assert bench.bench.session.finished
    assert bench.running
    bench.over()
    assert not bench.running


def test_quit_ends_the_loop_and_hushes(scene):
    bench = scene()
    bench.handle(Quit())
    assert not bench.running
    assert bench.mouth.hushes == 1


def test_leaving_at_the_end_of_what_was_typed_lets_the_last_answer_be_heard(scene):
    bench = scene()
    bench.key("18")
    bench.handle(Quit(hush=False))
    assert bench.running
    assert bench.mouth.hushes == 0
    bench.over()
    assert not bench.running


def test_leaving_at_the_end_of_what_was_typed_is_at_once_when_all_was_said(scene):
    bench = scene()
    bench.handle(Quit(hush=False))
    assert not bench.running


# ---- trouble


def test_lost_microphone_is_said_once_shown_as_long_as_it_lasts_and_the_keypad_goes_on(scene):
    bench = scene()
    bench.handle(MicrophoneLost("device 4 is gone"))
    assert bench.mouth.said[-1].startswith("Microphone lost. Key your readings until it is back.")
    assert bench.state.ears is Ears.DEAF
    assert "device 4 is gone" in bench.state.trouble[0]
    bench.over()
    bench.key("3*1*18")
    bench.over()
    assert bench.logged == ["18 thou"]
    assert bench.state.ears is Ears.DEAF
    bench.handle(MicrophoneFound("cup", 44_100, again=True))
    assert bench.mouth.said[-1] == "Microphone is back. What you said meanwhile wasn't heard."
    assert bench.state.trouble == ()
    bench.over()
    bench.say("cylinder four top nineteen thou")
    assert bench.logged == ["18 thou", "19 thou"]


def test_microphone_unplugged_in_mid_word_logs_nothing_of_it(scene):
    bench = scene()
    bench.recogniser.words = "cylinder three top eighteen thou"
    bench.quiet(0.6)
    bench.hear(bench._speech[:16_000])
    bench.handle(MicrophoneLost("gone"))
    bench.over()
    bench.handle(MicrophoneFound("cup", 44_100, again=True))
    bench.over()
    bench.quiet(2)
    assert bench.logged == []


def test_sound_lost_in_mid_word_is_asked_for_again_and_never_logged(scene):
    bench = scene()
    bench.recogniser.words = "cylinder three top eighteen thou"
    bench.quiet(0.6)
    bench.hear(bench._speech[:16_000])
    bench.handle(Overflow())
    bench.hear(bench._speech[16_000:])
    bench.quiet(1.2)
    assert bench.logged == []
    assert bench.mouth.said[-1] == "Some sound was lost. Say the last one again."
    assert bench.state.overflows == 1


def test_sound_lost_in_silence_is_counted_and_shown(scene):
    bench = scene()
    bench.quiet(1)
    before = len(bench.mouth.said)
    bench.handle(Overflow())
    assert bench.state.overflows == 1
    assert len(bench.mouth.said) == before


def test_recogniser_that_breaks_asks_again_and_the_session_goes_on(scene):
    bench = scene()
    bench.recogniser.broken = True
    bench.say("cylinder three top eighteen thou")
    assert bench.mouth.said[-1].startswith("Didn't catch that. Say it again.")
    bench.recogniser.broken = False
    bench.over()
    bench.say("cylinder three top eighteen thou")
    assert bench.logged == ["18 thou"]


def test_blocked_loudspeaker_is_shown_and_the_ears_open_again(scene):
    bench = scene()
    bench.say("cylinder three top eighteen thou")
    bench.over(sound_fault="it takes no sound")
    assert "it takes no sound" in bench.state.trouble[0]
    assert bench.state.ears is Ears.LISTENING
    bench.say("cylinder four top nineteen thou")
    bench.over()
    assert bench.logged == ["18 thou", "19 thou"]
    assert bench.state.trouble == ()


def test_failed_voice_is_shown_until_it_speaks_again(scene):
    bench = scene()
    bench.key("3*1*18")
    bench.over(voice_fault="it took too long")
    assert "it took too long" in bench.state.trouble[0]
    bench.key("")
    bench.over()
    assert bench.state.trouble == ()


def test_keypad_that_goes_and_comes_back_is_told(scene):
    bench = scene()
    bench.handle(KeypadFound("pad", again=False))
    assert bench.state.keypad == "pad"
    bench.handle(KeypadLost("No such device"))
    assert bench.mouth.said[-1].startswith("Keypad lost.")
    bench.handle(KeypadFound("pad", again=True))
    assert bench.mouth.said[-1] == "Keypad is back."
    assert bench.state.trouble == ()


def test_trouble_that_is_over_takes_no_other_with_it_that_begins_with_the_same_words(scene, monkeypatch):
    bench = scene()
    told = {"microphone_lost": "Not connected: microphone.", "keypad_lost": "Not connected"}
    monkeypatch.setattr(bench.live._say, "trouble", lambda name, *_: Reply(told.get(name, "Back.")))
    bench.handle(MicrophoneFound("cup", 44_100, again=False))
    bench.handle(MicrophoneLost("gone"))
    bench.handle(KeypadLost("gone"))
    assert bench.state.trouble == ("Not connected: microphone.", "Not connected")
    bench.handle(KeypadFound("pad", again=True))
    assert bench.state.trouble == ("Not connected: microphone.",)


def test_where_the_time_went_is_told_for_each_spoken_answer(scene):
    bench = scene()
    bench.say("cylinder three top eighteen thou")
    bench.over()
    [steps] = bench.steps
    assert 0.1 < steps.endpoint_s < 0.45
    assert steps.total_s == pytest.approx(
        steps.endpoint_s + steps.decode_s + steps.journal_s + steps.speech_s + steps.device_s
    )
    bench.key("18")
    bench.over()
    assert len(bench.steps) == 1  # a keyed entry has no last speech sample


def test_microphone_found_while_the_greeting_is_spoken_is_shown_as_shut(scene):
    bench = scene()
    bench.live.greet(bench.exchanges[0])
    bench.handle(MicrophoneFound("cup", 48_000, again=False))
    assert bench.state.ears is Ears.SHUT
    bench.over()
    assert bench.state.ears is Ears.LISTENING


def test_any_key_skips_the_cautions(scene):
    bench = scene()
    bench.live.greet(bench.exchanges[0])
    bench.handle(KeyPressed("3"))
    assert bench.mouth.hushes == 1


def greeted(scene, **options):
    """A bench whose cautions are being told, and one that counts its answers from there."""
    bench = scene(**options)
    bench.mouth.said.clear()
    bench.live.greet(Exchange("start", "", (), (), bench.bench._last), ("Wear eye protection.",))
    return bench


def test_key_from_a_pipe_ends_the_cautions_and_is_taken(scene):
    """Nobody pressed it to skip anything: it is the first of an entry that was written before."""
    bench = greeted(scene)
    bench.handle(KeyPressed("3", PIPE))
    assert bench.mouth.hushes == 1
    assert bench.state.begun == "3"


@pytest.mark.parametrize("key", ["Enter", "Num Lock", "Backspace", "other"])
def test_key_without_a_sign_ends_the_cautions_and_does_nothing_else(scene, key):
    bench = greeted(scene)
    bench.handle(KeyPressed(key))
    bench.over()
    bench.quiet(2.0)
    assert bench.mouth.hushes == 1
    assert bench.mouth.said == ["Ready. Eye protection. Nothing loose near the stone."]
    assert (bench.state.begun, bench.state.notice, bench.logged) == ("", (), [])
    bench.handle(KeyPressed("4"))
    assert bench.state.begun == "4"


def test_entry_that_is_typed_while_the_cautions_are_told_is_taken_whole(scene):
    """Without its first key it would be another number: 18 would be logged as 8."""
    bench = greeted(scene)
    bench.key(["1", "8"])
    assert bench.state.notice == ()
    assert bench.logged == ["18 thou"]


@pytest.mark.parametrize("keys", ["18", "8.5", ""])
def test_entry_some_time_after_a_key_that_skipped_the_cautions_is_asked_for_again(scene, keys):
    """The first key may be a part of it or not: with it, 8.5 would be logged as 18.5; without it, 18 as 8."""
    bench = greeted(scene)
    bench.handle(KeyPressed("1"))
    bench.over()
    bench.quiet(1.5)
    bench.key([*keys])
    assert bench.mouth.said[-1] == "Not logged. The first key may not be a part of it. Key it again."
    assert (bench.state.begun, bench.logged) == ("", [])
    bench.over()
    bench.key(["1", "8"])
    assert bench.logged == ["18 thou"]


def test_key_that_skipped_the_cautions_can_be_wiped(scene):
    bench = greeted(scene)
    bench.handle(KeyPressed("1"))
    bench.over()
    bench.quiet(1.5)
    bench.key(["Num Lock", "1", "8"])
    assert bench.logged == ["18 thou"]


def test_key_of_a_begun_entry_is_kept_when_it_ends_an_answer(scene):
    bench = scene()
    bench.handle(KeyPressed("1"))
    bench.live.greet(Exchange("start", "", (), (), bench.bench._last), ("Wear eye protection.",))
    bench.quiet(1.5)
    bench.key(["8"])
    assert bench.logged == ["18 thou"]


def test_cautions_are_told_in_pieces_with_a_pause_to_break_in(scene):
    bench = greeted(scene)
    assert bench.state.notice == ("Wear eye protection.",)
    bench.quiet(1.0)  # still speaking the first
    assert len(bench.mouth.said) == 1
    for count in (2, 3):
        bench.over()
        bench.quiet(1.0)
        assert len(bench.mouth.said) == count
    bench.over()
    bench.quiet(1.0)
    assert bench.mouth.said[1:] == ["Spread rings little. Measure clean and cold.", "First, one top."]


def test_speech_between_two_cautions_ends_them_and_is_asked_for_as_its_beginning_may_be_lost(scene):
    bench = greeted(scene)
    bench.over()
    bench.recogniser.words = "cylinder three top eighteen thou"
    bench.quiet(0.25)  # the ears open after the room's tail of 0.2 s
    bench.hear(bench._speech)
    bench.quiet(1.2)
    assert bench.mouth.said[1:] == ["Some sound was lost. Say the last one again."]
    assert (bench.state.notice, bench.logged) == ((), [])
    bench.over()
    bench.say("cylinder three top eighteen thou")
    assert bench.logged == ["18 thou"]


def test_speech_that_began_during_a_caution_ends_the_cautions_after_it(scene):
    bench = greeted(scene)
    half = len(bench._speech) // 4
    bench.hear(bench._speech[:half])
    bench.over()
    bench.hear(bench._speech[half:])
    bench.quiet(2.0)
    assert "Spread rings little. Measure clean and cold." not in bench.mouth.said


def test_cautions_go_on_without_a_microphone(scene):
    bench = greeted(scene)
    bench.handle(MicrophoneLost("unplugged"))  # no more frames come that could tell when to go on
    bench.over()
    assert bench.mouth.said[1].startswith("Microphone lost.")
    assert bench.mouth.said[-1] == "First, one top."
