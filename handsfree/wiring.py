"""Wiring of a live bench: microphone, number pad, voice, ears and loop."""

from __future__ import annotations

import contextlib
import json
import queue
import sys
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from handsfree.bench import Bench, Exchange
from handsfree.devices import KeyPressed, Microphone, NullPlayer, NumberPad, Player, SoundPlayer
from handsfree.ears import Choice, warm_up
from handsfree.ears import Recognisers as Recognisers
from handsfree.errors import SoundError
from handsfree.journal import Journal, Sounds
from handsfree.live import LiveBench, LiveEvent, LiveState, Mouth, Quit, Reached, Steps
from handsfree.page import Desk, PageSound
from handsfree.plan import Plan, cautions_for
from handsfree.preferences import load_preferences, save_preferences
from handsfree.session import ChangedPlan, Session
from handsfree.show import BenchView, bench_view, grid_keys
from handsfree.speak import (
    CachedVoice,
    EngineVoice,
    Reply,
    Verbosity,
    Voice,
    VoiceSettings,
    Wording,
    phrases_folder,
    render_answer,
)

if TYPE_CHECKING:
    from handsfree.adapt import Adaptation, People
    from handsfree.devices import KeypadEvent, MicrophoneEvent


@dataclass(frozen=True)
class BenchOptions:
    """Options of a live session.

    device, output: microphone and loudspeaker, by number or part of the name. headset: the ears
    stay open while the voice speaks. silent: no sound at all. deaf: no microphone, only keys.
    web: there is a page, whose microphone and loudspeaker may take the place of this machine's.
    page_sound: only the page has any; this machine needs no sound card.
    adaptation: speaker adaptation to the user. people: whose voices are known; None treats all alike.
    timings: a file that gets a JSON line with the latency of each answer.
    cautions: say a check's cautions at its start. cautioned: they were said today.
    sounds: folder for the sound of logged entries; None keeps none.
    facts: facts of the session in the journal, such as the person who measures.
    changed_plan: how to continue if the plan was edited since; None refuses.
    """

    recogniser: Choice = Choice.AUTO
    model: Path | None = None
    encoder: Path | None = None
    adaptation: Adaptation | None = None
    people: People | None = None
    device: str | None = None
    output: str | None = None
    headset: bool = False
    silent: bool = False
    deaf: bool = False
    web: bool = False
    page_sound: bool = False
    verbosity: Verbosity = Verbosity.NORMAL
    voice: VoiceSettings = field(default_factory=VoiceSettings)
    volume: float = 0.8
    timings: Path | None = None
    cautions: bool = True
    cautioned: bool = False
    sounds: Sounds | None = None
    facts: dict[str, str] = field(default_factory=dict)
    changed_plan: ChangedPlan | None = None


class Live:
    """A bench with all its devices; close it at the end.

    Args:
        plan: the plan.
        journal: the journal.
        options: the options.
        told: takes each exchange, for printing.
        events: the queue, with keys that were typed before.
        kind: the class of the session.
    """

    def __init__(
        self,
        plan: Plan,
        journal: Journal,
        options: BenchOptions,
        told: Callable[[LiveState, LiveState, Exchange | None], object] | None = None,
        events: queue.SimpleQueue[LiveEvent] | None = None,
        kind: type[Bench] = Bench,
    ) -> None:
        # A signal handler puts into it too, perhaps while this same thread is taking from it:
        # SimpleQueue is re-entrant, Queue would deadlock.
        self.events: queue.SimpleQueue[LiveEvent] = queue.SimpleQueue() if events is None else events
        self._told = told
        self._state = LiveState()
        self._view: tuple[Session, LiveState, int, BenchView] | None = None
        self._player: Player = NullPlayer()
        self._voice: Voice | None = None
        self._engine: EngineVoice | None = None
        self._began = options.voice.words_per_minute, options.volume
        if not options.silent:
            self._engine = EngineVoice(options.voice)
            self._engine.start()
            self._voice = CachedVoice(self._engine, phrases_folder())
        if not options.silent and not options.page_sound:
            here = SoundPlayer(options.output, volume=options.volume)
            here.start()
            self._player = here
        self.page: PageSound | None = None
        sink: Callable[[MicrophoneEvent], object] = self.events.put
        if options.web and not options.silent and not options.deaf:
            self._player = self.page = PageSound(self.events.put, self._player, options.volume)
            sink = self.page.from_here
        deaf = options.deaf or options.page_sound
        self._microphone = None if deaf else Microphone(sink, options.device)
        if self._microphone is not None:
            self._microphone.start()
        wording = Wording(options.verbosity, plan.checks[0].unit)
        self._ears = Recognisers(
            plan, options.recogniser, options.model, options.encoder, adaptation=options.adaptation
        )
        self.bench = kind(
            plan,
            journal,
            self._ears,
            wording,
            cautions=options.cautions,
            cautioned=options.cautioned,
            sounds=options.sounds,
            people=options.people,
        )
        greeting = self.bench.open(options.changed_plan, **options.facts)
        cue = not (options.headset or options.deaf)
        self._mouth = Mouth(self._voice, self._player, self.events.put, cue=cue)
        self.loop = LiveBench(
            self.bench,
            self.events,
            self._mouth,
            wording,
            lambda: self._ears.ear(self.bench.session.check).listening.automaton,
            deaf=deaf,
            headset=options.headset,
            watch=self._watch,
            timed=_timings(options.timings),
            relax=self._microphone.relax if self._microphone else lambda _: None,
        )
        self._keys = self._open_keypad()
        self.loop.greet(greeting, self._cautions() if greeting.reply.pieces else ())
        # the model takes a second or two to load and warm up, while the greeting is spoken
        warm_up(self._ears.ear(self.bench.session.check).recogniser)
        if options.people is not None:
            options.people.warm_up()

    def press(self, key: str, source: str = "display") -> None:
        """Take a key from a display."""
        self.events.put(KeyPressed(key, source))

    def press_all(self, keys: Sequence[str], source: str, handled: Callable[[], object]) -> None:
        """Take keys from a page, and call `handled` when they have been."""
        for key in keys:
            self.events.put(KeyPressed(key, source))
        self.events.put(Reached(handled))

    def leave(self) -> None:
        """Stop the loop."""
        self.events.put(Quit())

    def latest(self) -> BenchView | None:
        """Return the newest view; it is only recomputed after a change."""
        session, state, now = self.bench.session, self._state, datetime.now().astimezone()
        minute = now.hour * 60 + now.minute
        if self._view is None or self._view[:3] != (session, state, minute):
            self._view = (session, state, minute, bench_view(session, state, now))
        return self._view[3]

    def close(self) -> None:
        """Release devices and processes, and save the settings of the voice."""
        self._keep_voice()
        if self._microphone is not None:
            self._microphone.stop()
        if self._keys is not None:
            self._keys.stop()
        self._mouth.close()

    def desk(self) -> Desk:
        """Return what a page needs of this bench."""
        return Desk(self.latest, self.press_all, lambda: grid_keys(self.bench.session), self.page)

    def _cautions(self) -> tuple[str, ...]:
        """Return the cautions of the check in hand, in full, for reading."""
        return tuple(
            caution.whole for caution in cautions_for(self.bench.plan.check(self.bench.session.check))
        )

    def _keep_voice(self) -> None:
        """Save this session's changes of rate and volume for the next."""
        if self._engine is None or not isinstance(self._player, SoundPlayer | PageSound):
            return
        ended = self._engine.settings.words_per_minute, self._player.volume
        kept = load_preferences()
        if (now := kept.with_voice(self._began, ended)) != kept:
            save_preferences(now)

    def _watch(self, state: LiveState, exchange: Exchange | None) -> None:
        before, self._state = self._state, state
        if self._told is not None:
            self._told(before, state, exchange)

    def _open_keypad(self) -> NumberPad | None:
        sink: Callable[[KeypadEvent], object] = self.events.put
        if not sys.platform.startswith("linux"):
            return None
        try:
            pad = NumberPad(sink)
        except ImportError:
            return None  # "handsfree check" names the remedy; keys come from the terminal
        pad.start()
        return pad


def say_once(reply: Reply, options: BenchOptions) -> None:
    """Say one sentence without a session; without a voice or loudspeaker only the tone, or nothing."""
    if options.silent:
        return
    player = SoundPlayer(options.output, volume=options.volume)
    try:
        with EngineVoice(options.voice) as voice, contextlib.suppress(SoundError):
            player.play(render_answer(reply, voice).sound)
    finally:
        player.close()


def _timings(path: Path | None) -> Callable[[Steps], None] | None:
    """Write each answer's latency by steps as a JSON line, in milliseconds."""
    if path is None:
        return None

    def write(steps: Steps) -> None:
        form = {
            name: value if isinstance(value, str) else round(1000 * value, 1)
            for name, value in asdict(steps).items()
        }
        with path.open("a", encoding="utf-8") as file:
            file.write(json.dumps(form) + "\n")

    return write
