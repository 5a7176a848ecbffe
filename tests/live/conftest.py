"""A live bench whose time, ears, mouth and decoder are the test's own; only the speech is spoken."""

import queue
from concurrent.futures import Future
from pathlib import Path

import numpy as np
import pytest

from handsfree.bench import Bench
from handsfree.devices import Frame, KeyPressed, MicrophoneFound, Played
from handsfree.devices.microphone import Resampler
from handsfree.ears import Ear
from handsfree.hear import Hearing, never
from handsfree.journal import Journal
from handsfree.live import LiveBench
from handsfree.live.events import Decoded, Spoken
from handsfree.planfile import load_plan
from handsfree.speak import EngineVoice, Reply, Wording
from handsfree.understand import listen_for

PLAN = load_plan(Path(__file__).parents[2] / "demo" / "plan.toml")
FRAME = 256


@pytest.fixture(scope="session")
def speech():
    with EngineVoice() as voice:
        sound = voice.render(Reply("cylinder three top eighteen"))
    return Resampler(sound.samplerate_hz)(sound.samples)


class Recogniser:
    """Hears what it was told to hear, whatever the sound."""

    name = "told"

    def __init__(self):
        self.words = ""
        self.fit = 0.0
        self.broken = False

    def hear(self, utterance, cancelled=never):  # noqa: ARG002 - it answers at once
        if self.broken:
            raise RuntimeError("out of memory")
        words = tuple(self.words.split())  # at every short pause in the speech, too
        return Hearing(words, utterance.start_s, utterance.end_s, self.name, fit=self.fit, margin=9.0)


class Ears:
    """The same ear for every check."""

    def __init__(self, recogniser):
        self._ear = Ear(listen_for(PLAN, PLAN.checks[0]), recogniser)

    def ear(self, _):
        return self._ear


class Mouth:
    """Collects answers; each is over when the test says so."""

    def __init__(self):
        self.said = []
        self.waiting = []
        self.ticks = self.wakes = self.hushes = 0

    def say(self, reply):
        self.said.append(reply.text)
        self.waiting.append(reply)

    def tick(self):
        self.ticks += 1

    def wake(self):
        self.wakes += 1

    def hush(self):
        self.hushes += 1


class Scene:
    """A bench and everything around it."""

    def __init__(self, speech, ears=None, recogniser=None, **options):
        self.clock = 100.0
        self.recogniser, self.mouth = recogniser or Recogniser(), Mouth()
        self.events = queue.SimpleQueue()
        self.journal = Journal.in_memory()
        ears = ears or Ears(self.recogniser)
        self.bench = Bench(PLAN, self.journal, ears)
        greeting = self.bench.open()
        self.states, self.exchanges, self.steps = [], [], []
        self.live = LiveBench(
            self.bench,
            self.events,
            self.mouth,
            Wording(),
            lambda: ears.ear(PLAN.checks[0].name).listening.automaton,
            watch=self._watch,
            timed=self.steps.append,
            clock=lambda: self.clock,
            **{"submit": self._submit} | options,
        )
        self._speech = speech
        self.live.greet(greeting)
        self.running = True
        self.over()
        self.live.handle(MicrophoneFound("cup", 48_000, again=False))

    def _watch(self, state, exchange):
        self.states.append(state)
        if exchange is not None:
            self.exchanges.append(exchange)

    def _submit(self, utterance):
        try:
            self.events.put(Decoded(utterance, self.bench.recognise(utterance)))
        except RuntimeError as fault:
            self.events.put(Decoded(utterance, None, str(fault)))
        return Future()

    def handle(self, event):
        self.running = self.live.handle(event) and self.running
        while not self.events.empty():
            self.running = self.live.handle(self.events.get()) and self.running

    def hear(self, samples):
        for start in range(0, len(samples), FRAME):
            piece = samples[start : start + FRAME]
            self.clock += len(piece) / 16_000
            self.handle(Frame(piece, self.clock))

    def quiet(self, seconds):
        self.hear(np.random.default_rng(1).integers(-3, 4, int(16_000 * seconds)).astype(np.int16))

    def say(self, words):
        """Somebody speaks; then it is quiet until the bench has answered or kept silent."""
        self.recogniser.words = words
        self.quiet(0.6)
        self.hear(self._speech)
        self.quiet(1.2)

    def key(self, entry):
        for key in entry:
            self.handle(KeyPressed(key))
        self.handle(KeyPressed("Enter"))

    def over(self, **faults):
        """The mouth is done with everything that it was given."""
        for reply in self.mouth.waiting:
            played = None if "sound_fault" in faults else Played(self.clock, self.clock, True)
            self.handle(Spoken(reply, played, **faults))
        self.mouth.waiting = []

    @property
    def logged(self):
        return [str(entry.value) for entry in self.bench.session.log()]

    @property
    def state(self):
        return self.live.state


@pytest.fixture
def scene(speech):
    return lambda **options: Scene(speech, **options)
