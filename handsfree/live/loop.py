"""The live loop: microphone, keypad and mouth around a bench.

All events come through one queue and are handled one by one, so only the loop touches the
session. Decoding and speaking have threads of their own.
"""

from __future__ import annotations

import math
import queue
import re
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Protocol

from handsfree.bench import Bench, Exchange
from handsfree.devices import (
    OTHER,
    PIPE,
    Frame,
    KeypadFound,
    KeypadLost,
    KeyPressed,
    MicrophoneFound,
    MicrophoneLost,
    Overflow,
)
from handsfree.hear import DecodingCancelledError, Hearing, Samples, Timing, Utterance
from handsfree.live.events import Decoded, Ears, Incident, LiveEvent, LiveState, Quit, Reached, Spoken, Steps
from handsfree.live.listener import LIVE_TIMING, Decoding, Done, Listener, Patience, Submit
from handsfree.live.mouth import Echo
from handsfree.speak import SILENCE, Reply, Wording
from handsfree.understand import ENTER, Automaton, Bracket, Decision, Entry, Outcome, Reading, Turns

ROOM_TAIL_S = 0.20
"""Reverberation after an answer, during which the ears stay shut (common practice, no source)."""

_COMES_BACK_S = 3.0  # after the end of an answer
_WORDS = re.compile(r"[a-z']+")
_CUT_S = 0.064  # sound so soon after the ears opened began before: two chunks
_PIECE_PAUSE_S = 0.15  # beyond the room's tail, between two pieces of an answer: a chance to interrupt
_LOUD_PAUSE_S, _LOUD_DB = 0.5, 12.0  # the voice detector needs a while
_LEVEL_EVERY_S = 0.12  # the meter on the display needs no more
_CALM_LEVEL_EVERY_S = 0.5  # without speech: in a compressor's throb each look would be a new picture


def _sizes(decision: Decision) -> bool:
    """Return whether it could put a size into the log."""
    commands = (command for meaning in decision.meanings for command in meaning.commands)
    return any(isinstance(command, Reading | Bracket | Turns) for command in commands)


class Speaks(Protocol):
    """The part of a mouth that the loop needs."""

    def say(self, reply: Reply) -> None:
        """Say an answer; a `Spoken` follows in the queue."""

    def tick(self) -> None:
        """Tick for a key press."""

    def wake(self) -> None:
        """Warm up for an answer."""

    def hush(self) -> None:
        """Stop in mid-sentence."""


@dataclass(frozen=True, slots=True)
class _Submitted:
    """A decoding in the loop's own thread; it may have started."""

    given_up: threading.Event
    future: Future[None]

    def cancel(self) -> None:
        self.given_up.set()
        self.future.cancel()


class LiveBench:
    """A session with a microphone, a keypad and a voice.

    Args:
        bench: the session; open.
        events: the queue of all events.
        mouth: says the answers.
        wording: the wording of faults.
        automaton: returns the current grammar, which determines the possible next words.
        deaf: there is no microphone, by choice.
        headset: the ears stay open while the voice speaks, and speech interrupts it.
        watch: called after each change with the state, and with the exchange that caused it, if any.
        relax: called with every chunk of sound; True if there is no speech and the next may be longer.
        timed: takes the latency of each spoken answer to speech, by steps.
        submit: starts decoding; None uses a thread of the loop's own.
        clock: monotonic seconds.
    """

    def __init__(
        self,
        bench: Bench,
        events: queue.SimpleQueue[LiveEvent],
        mouth: Speaks,
        wording: Wording,
        automaton: Callable[[], Automaton],
        *,
        deaf: bool = False,
        headset: bool = False,
        timing: Timing = LIVE_TIMING,
        tail_s: float = ROOM_TAIL_S,
        watch: Callable[[LiveState, Exchange | None], object] | None = None,
        timed: Callable[[Steps], object] | None = None,
        relax: Callable[[bool], object] = lambda _: None,
        submit: Submit | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.bench = bench
        self.state = LiveState(ears=Ears.OFF if deaf else Ears.STARTING)
        self._events = events
        self._mouth = mouth
        self._say = wording
        self._automaton = automaton
        self._headset = headset
        self._tail_s = tail_s
        self._watch = watch
        self._timed = timed
        self._relax = relax
        self._timing: tuple[Reply, float, float, float, float] | None = None
        self._now_in_stream = (0.0, 0.0)  # stream time, and the time of its capture
        self._clock = clock
        self._pool = ThreadPoolExecutor(1, "decode") if submit is None else None
        self._patience = Patience(timing)
        self._listener = Listener(submit or self._submit, self._wait_for, timing)
        self._speaking = 0  # answers passed to the mouth and not yet finished
        self._shut_until = -math.inf
        self._echo = Echo()
        self._said: tuple[tuple[str, ...], float] = ((), -math.inf)  # words and end of the last answer
        self._opened_s = -math.inf  # stream time at which the ears opened
        self._asked_again = False  # about an utterance that began before that
        self._found_once = False
        self._level_due = 0.0
        self._wrong: dict[Incident, str] = {}  # faults of now, and the sentence that is shown for each
        self._entries: dict[str, Entry] = {}  # the unfinished entry of each source of keys
        self._finishing = False
        self._leaving = False
        self._pieces: list[Reply] = []  # remaining pieces of an answer
        self._skippable = False  # an answer in pieces is being spoken

    def greet(self, greeting: Exchange, notice: tuple[str, ...] = ()) -> None:
        """Say the greeting; `notice` is shown until the user speaks or presses a key."""
        self._show(notice=notice)
        self._answer(greeting)

    def run(self) -> None:
        """Handle events until `Quit`, or until the session is finished and its last answer was spoken."""
        try:
            while self.handle(self._events.get()):
                pass
        finally:
            if self._pool is not None:
                self._pool.shutdown(wait=False, cancel_futures=True)

    def handle(self, event: LiveEvent) -> bool:
        """Handle one event; False when the bench is to stop."""
        match event:
            case Frame(samples, at_s):
                self._frame(samples, at_s)
            case Decoded():
                self._act(self._listener.decoded(event))
            case Spoken():
                return self._spoken(event)
            case KeyPressed(key, source):
                self._key(key, source)
            case Overflow():
                self._overflow()
            case MicrophoneLost(why):
                self._lost(why)
            case MicrophoneFound(device, _, again):
                self._found(device, again)
            case KeypadLost(why):
                self._show(keypad="")
                self._say_trouble(Incident.KEYPAD_LOST, why)
            case KeypadFound(name, again):
                self._show(keypad=name)
                if again:
                    self._clear(Incident.KEYPAD_LOST)
                    self._say_trouble(Incident.KEYPAD_BACK, stays=False)
            case Reached(told):
                told()
            case Quit(hush):
                self._leaving = True
                if hush or not self._speaking:
                    self._mouth.hush()
                    return False
        return True

    # ---- ears

    def _frame(self, samples: Samples, at_s: float) -> None:
        if not self._headset and (self._speaking or at_s <= self._shut_until):
            self._relax(False)  # a long chunk could hold the end of the answer and the speech after it
            self._echo.hear(samples, at_s)
            self._listener.skip(len(samples))
            self._opened_s = self._listener.endpointer.time_s
            return
        began, done = self._listener.frame(samples)
        self._relax(self._listener.endpointer.calm and not self._speaking)
        self._now_in_stream = (self._listener.endpointer.time_s, at_s)
        if began:
            self._skip()
            self._mouth.wake()
            if self._headset and self._speaking:
                self._mouth.hush()
        elif self._pieces and not self._speaking and at_s > self._shut_until + self._pause_s():
            self._next_piece()
        self._act(done)
        self._meter(began or bool(done))

    def _act(self, done: list[Done]) -> None:
        for each in done:
            if each.torn:
                self._say_trouble(Incident.OVERFLOW, stays=False)
            elif each.hearing is None:
                self._say_trouble(Incident.RECOGNISER_FAILED, each.fault, stays=False)
            else:
                decided_at = self._clock()
                decision = self.bench.weigh(each.hearing)
                if self._is_own_voice(each, each.hearing) or self._is_cut(each, decision):
                    continue
                exchange = self.bench.heard(each.hearing, decision, utterance=each.utterance)
                stream_s, captured_at = self._now_in_stream
                spoken_until = captured_at - (stream_s - each.utterance.end_s)
                certain_at = captured_at - (stream_s - each.endpoint_s)
                self._timing = (exchange.reply, spoken_until, certain_at, decided_at, self._clock())
                self._answer(exchange)
        self._meter(bool(done))

    def _is_own_voice(self, done: Done, hearing: Hearing) -> bool:
        """Return whether an utterance is an echo of the last answer, later than the learned delay.

        Users don't reply to "say again" with "say again"; a bench that obeys it never stops.
        """
        stream_s, captured_at = self._now_in_stream
        began_at = captured_at - (stream_s - done.utterance.start_s)
        words, ended_at = self._said
        return not self._headset and hearing.words == words and began_at < ended_at + _COMES_BACK_S

    def _is_cut(self, done: Done, decision: Decision) -> bool:
        """Return whether an utterance began while an answer was playing, so that it may not be logged.

        Its first words may be missing, or it is the bench's own voice. It is asked about only once: a bench
        that hears its own question would ask forever.
        """
        if self._headset or not 0 <= done.utterance.start_s - self._opened_s <= _CUT_S:
            self._asked_again = False
            return False
        if decision.outcome is Outcome.IGNORE or not (decision.outcome is Outcome.ASK or _sizes(decision)):
            return False
        if not self._asked_again:
            self._asked_again = True
            self._say_trouble(Incident.OVERFLOW, stays=False)
        return True

    def _submit(self, utterance: Utterance) -> Decoding:
        assert self._pool is not None  # noqa: S101 - made above when nothing else was given
        given_up = threading.Event()
        return _Submitted(given_up, self._pool.submit(self._decode, utterance, given_up))

    def _decode(self, utterance: Utterance, given_up: threading.Event) -> None:
        try:
            result = Decoded(utterance, self.bench.recognise(utterance, given_up.is_set))
        except DecodingCancelledError:
            return  # cancelled: the thread is free for newer speech
        except Exception as fault:  # no exception of a model may end the session
            result = Decoded(utterance, None, f"{type(fault).__name__}: {fault}")
        self._events.put(result)

    def _wait_for(self, hearing: Hearing) -> float:
        decision = self.bench.weigh(hearing)
        return self._patience.after(hearing.words, decision, self._automaton())

    def _overflow(self) -> None:
        self._listener.tear()
        self._show(overflows=self.state.overflows + 1)

    def _lost(self, why: str) -> None:
        self._listener.restart()
        self._opened_s = -math.inf
        self._show(ears=Ears.DEAF, device="", level_db=-100.0)
        self._say_trouble(Incident.MICROPHONE_LOST if self._found_once else Incident.NO_MICROPHONE, why)

    def _found(self, device: str, again: bool) -> None:
        self._found_once = True
        self._show(device=device)  # the ears may be shut while the greeting is spoken
        if again:
            self._clear(Incident.MICROPHONE_LOST, Incident.NO_MICROPHONE)
            self._say_trouble(Incident.MICROPHONE_BACK, stays=False)

    # ---- keys

    def _key(self, key: str, source: str) -> None:
        if self._speaking:
            self._mouth.hush()
        skipped = self._skip() and source != PIPE  # nobody pressed a piped key to skip anything
        if key == OTHER:
            return
        before = self._entries.pop(source, Entry())
        only_skips = skipped and not before.keys
        entry = before.press(key, self._clock(), ends=only_skips)
        if only_skips and not entry.keys:
            return
        if key != ENTER and entry.keys:
            self._entries[source] = entry
        # with several sources of keys, the entry of the last key
        self._show(begun=self._entries.get(source, Entry()).keys)
        if key != ENTER:
            self._mouth.tick()
        elif entry.unsure:
            self._say_trouble(Incident.KEY_AGAIN, stays=False)
        else:
            self._asked_again = False
            self._answer(self.bench.key(entry.keys))

    # ---- mouth

    def _answer(self, exchange: Exchange) -> None:
        reply = exchange.reply
        ignored = exchange.decision is not None and exchange.decision.outcome is Outcome.IGNORE
        heard = self.state.heard if ignored else exchange.words
        self._show(exchange, heard=heard, answer=reply.text or self.state.answer, tone=reply.tone)
        self._utter(reply)
        self._finishing = self.bench.session.finished

    def _utter(self, reply: Reply) -> None:
        if reply is SILENCE or not (reply.text or reply.tone):
            return
        if reply.pieces and not self._headset:
            first, *rest = reply.pieces
            self._pieces = [Reply(piece) for piece in rest]
            self._skippable = True
            reply = Reply(first, tone=reply.tone)
        self._speaking += 1
        self._mouth.say(reply)
        self._show()

    def _next_piece(self) -> None:
        """Say the next piece of an answer; the last piece can't be skipped."""
        reply = self._pieces.pop(0)
        self._skippable = bool(self._pieces)
        self._utter(reply)

    def _pause_s(self) -> float:
        """Return the time to wait for an interruption: longer if it is loud, since that may be a voice."""
        ends = self._listener.endpointer
        return _LOUD_PAUSE_S if ends.level_db > ends.floor_db + _LOUD_DB else _PIECE_PAUSE_S

    def _skip(self) -> bool:
        """End an answer in pieces; return whether one was being spoken."""
        skipped, self._skippable = self._skippable, False
        self._pieces = []
        if self.state.notice:
            self._show(notice=())
        return skipped

    def _spoken(self, spoken: Spoken) -> bool:
        self._speaking = max(0, self._speaking - 1)
        self._time(spoken)
        ended_at = self._clock()
        if spoken.played:
            ended_at = spoken.played.ended_at
            self._echo.played(spoken.played.began_at)
        self._said = (tuple(_WORDS.findall(spoken.reply.aloud.lower())), ended_at)
        self._shut_until = max(self._shut_until, ended_at + self._echo.late_s + self._tail_s)
        if self._pieces and not self._speaking and not self.state.device:
            self._next_piece()  # without frames nothing else triggers the next piece
        for what, fault, went in (
            (Incident.SOUND_LOST, spoken.sound_fault, spoken.played is not None),
            (Incident.VOICE_LOST, spoken.voice_fault, spoken.reply.aloud),
        ):
            if fault:
                self._add(what, fault)
            elif went:
                self._clear(what)
        self._show()
        return not ((self._finishing or self._leaving) and self._speaking == 0)

    def _time(self, spoken: Spoken) -> None:
        if self._timing is None or self._timed is None or spoken.played is None:
            return
        reply, spoken_until, certain_at, decided_at, logged_at = self._timing
        if reply is spoken.reply:
            self._timed(
                Steps(
                    endpoint_s=certain_at - spoken_until,
                    decode_s=decided_at - certain_at,
                    journal_s=logged_at - decided_at,
                    speech_s=spoken.render_s,
                    device_s=spoken.played.began_at - logged_at - spoken.render_s,
                    said=reply.aloud,
                )
            )
            self._timing = None

    # ---- trouble and the display

    def _say_trouble(self, what: Incident, detail: str | None = None, *, stays: bool = True) -> None:
        """State a fault; it stays on the display until it is cleared."""
        reply = self._say.trouble(what, detail)
        if stays:
            self._add(what, detail)
        self._show(answer=reply.text, tone=reply.tone)
        self._utter(reply)

    def _add(self, what: Incident, detail: str | None) -> None:
        sentence = self._say.trouble(what, detail).text
        if self._wrong.get(what) != sentence:
            self._wrong.pop(what, None)  # the newest stands last
            self._wrong[what] = sentence
            self._show(trouble=tuple(self._wrong.values()))

    def _clear(self, *over: Incident) -> None:
        if [what for what in over if self._wrong.pop(what, None)]:
            self._show(trouble=tuple(self._wrong.values()))

    def _meter(self, now: bool) -> None:
        if now or self._clock() >= self._level_due:
            ends = self._listener.endpointer
            self._level_due = self._clock() + (_CALM_LEVEL_EVERY_S if ends.calm else _LEVEL_EVERY_S)
            self._show(level_db=ends.level_db, floor_db=ends.floor_db)

    def _ears(self) -> Ears:
        if not self.state.device and self.state.ears in {Ears.DEAF, Ears.STARTING, Ears.OFF}:
            return self.state.ears
        if self._speaking and not self._headset:
            return Ears.SHUT
        if self._listener.speaking:
            return Ears.HEARING
        if self._listener.thinking:
            return Ears.THINKING
        return Ears.ASLEEP if self.bench.session.standing_by else Ears.LISTENING

    def _show(self, exchange: Exchange | None = None, **changes: object) -> None:
        self.state = replace(self.state, **changes)  # type: ignore[arg-type]
        if "ears" not in changes:
            self.state = replace(self.state, ears=self._ears())
        if self._watch is not None:
            self._watch(self.state, exchange)
