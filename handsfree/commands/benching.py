"""`handsfree bench`: a live session with microphone, keypad, voice and display."""

from __future__ import annotations

import contextlib
import json
import os
import queue
import select
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from handsfree.bench import Bench, Exchange
from handsfree.errors import GONE, SoundError
from handsfree.hear.ears import Choice, warm_up
from handsfree.hear.ears import Ears as Recognisers
from handsfree.hear.keypad import KeyPressed, NumberPad, TerminalKeys
from handsfree.hear.microphone import Microphone
from handsfree.live import LiveBench, LiveEvent, LiveState, Mouth, Quit, Steps
from handsfree.live.places import phrases_folder
from handsfree.plan import Plan, cautions_for
from handsfree.preferences import load_preferences, save_preferences
from handsfree.record import ChangedPlan, Journal, Session, Sounds
from handsfree.show.plain import change_lines, exchange_lines
from handsfree.show.view import BenchView, bench_view
from handsfree.speak import (
    CachedVoice,
    EngineVoice,
    NullPlayer,
    Player,
    Reply,
    SoundPlayer,
    Verbosity,
    Voice,
    VoiceSettings,
    Wording,
    render_answer,
)

if TYPE_CHECKING:
    from handsfree.commands.webbing import Web
    from handsfree.hear.keypad import KeypadEvent
    from handsfree.own import Adaptation


_LOOK_EVERY_S = 0.5  # whether the terminal is still there


@dataclass(frozen=True)
class BenchOptions:
    """What can be chosen for a live session.

    device, output: microphone and loudspeaker, by number or part of the name. headset: the ears
    stay open while the voice speaks. silent: no sound at all. deaf: no microphone, keys alone.
    adaptation: what was learned of the user's voice.
    timings: a file that gets a JSON line for each answer, saying where the time went.
    cautions: tell those of a check at its start. cautioned: they were told today.
    sounds: where the sound of what was logged is kept; None keeps none.
    facts: what the journal is opened with, such as who measures.
    changed_plan: how to go on where the plan was edited since; None refuses that.
    """

    recogniser: Choice = Choice.AUTO
    model: Path | None = None
    encoder: Path | None = None
    adaptation: Adaptation | None = None
    device: str | None = None
    output: str | None = None
    headset: bool = False
    silent: bool = False
    deaf: bool = False
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
    """A bench with everything around it, wired up; close it at the end.

    Args:
        plan: what is measured.
        journal: where it is kept.
        options: what was chosen.
        told: takes each exchange, for those who print it.
        events: where keys that were typed before already wait.
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
        # A signal's handler puts into it as well, perhaps while this very thread is taking from it:
        # SimpleQueue bears that, Queue would wait for itself for ever.
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
            self._player = SoundPlayer(options.output, volume=options.volume)
            self._player.start()
        self._microphone = None if options.deaf else Microphone(self.events.put, options.device)
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
            deaf=options.deaf,
            headset=options.headset,
            watch=self._watch,
            timed=_timings(options.timings),
            relax=self._microphone.relax if self._microphone else lambda _: None,
        )
        self._keys = self._open_keypad()
        self.loop.greet(greeting, self._cautions() if greeting.reply.pieces else ())
        # the model takes a second or two to load and to warm up: while the greeting is spoken
        warm_up(self._ears.ear(self.bench.session.check).recogniser)

    def press(self, key: str, source: str = "display") -> None:
        """Take a key from a display."""
        self.events.put(KeyPressed(key, source))

    def leave(self) -> None:
        """Stop the loop."""
        self.events.put(Quit())

    def latest(self) -> BenchView | None:
        """Give the newest view, made anew only when something has changed."""
        session, state, now = self.bench.session, self._state, datetime.now().astimezone()
        minute = now.hour * 60 + now.minute
        if self._view is None or self._view[:3] != (session, state, minute):
            self._view = (session, state, minute, bench_view(session, state, now))
        return self._view[3]

    def close(self) -> None:
        """Let go of devices and processes, and keep how the voice was set."""
        self._keep_voice()
        if self._microphone is not None:
            self._microphone.stop()
        if self._keys is not None:
            self._keys.stop()
        self._mouth.close()

    def _cautions(self) -> tuple[str, ...]:
        """The cautions of the check in hand, in full, to be read."""
        return tuple(
            caution.whole for caution in cautions_for(self.bench.plan.check(self.bench.session.check))
        )

    def _keep_voice(self) -> None:
        """Keep for the next sessions what was changed of rate and volume in this one."""
        if self._engine is None or not isinstance(self._player, SoundPlayer):
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
    """Say one sentence where there is no session; without a voice or loudspeaker the tone or nothing."""
    if options.silent:
        return
    player = SoundPlayer(options.output, volume=options.volume)
    try:
        with EngineVoice(options.voice) as voice, contextlib.suppress(SoundError):
            player.play(render_answer(reply, voice).sound)
    finally:
        player.close()


def _timings(path: Path | None) -> Callable[[Steps], None] | None:
    """Write each answer's steps as a JSON line, milliseconds."""
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


@contextlib.contextmanager
def _ended_by_signals(leave: Callable[[], object]) -> Iterator[list[int]]:
    """Stop in good order at Ctrl-C, when the terminal is closed, or when the program is asked to end.

    The event in hand is finished first. A second Ctrl-C doesn't wait for it: `KeyboardInterrupt`.
    Gives the numbers of the signals that came.
    """
    came: list[int] = []

    def end(number: int, _: object) -> None:
        if number == signal.SIGINT and number in came:
            raise KeyboardInterrupt
        came.append(number)
        leave()

    numbers = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {number: signal.signal(number, end) for number in numbers}
    try:
        yield came
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _terminal_gone(*files: int) -> bool:
    """Tell whether the terminal was closed: no signal says so when it isn't the controlling one.

    files: what to look at; standard input unless others are named.
    """
    if not hasattr(select, "poll"):
        return False  # no such terminals here
    terminal = select.poll()
    for file in files or (0,):
        terminal.register(file, 0)
    return any(event & (select.POLLHUP | select.POLLERR) for _, event in terminal.poll(0))


class _Around:
    """What a bench with lines of text has around it: keys from standard input, and somebody who reads.

    Args:
        events: the bench's.
        out: takes a line; one that fails means that nobody reads any more.
        alone: nothing can come but what is typed: the bench ends where that ends.
    """

    def __init__(
        self, events: queue.SimpleQueue[LiveEvent], out: Callable[[str], object], *, alone: bool
    ) -> None:
        self._events = events
        self._out = out
        self._alone = alone
        self._over = threading.Event()
        # a pipe's end is the end of what is typed; a terminal's, or that of a pipe to read from, ends it all
        self._watched = [file for file in (0, 1) if _is_open(file) and (file == 1 or os.isatty(file))]
        self.keys: TerminalKeys | None = None

    def __enter__(self) -> _Around:
        with contextlib.suppress(OSError, ValueError, ImportError):  # no input: microphone and pad alone
            keys = TerminalKeys(self._events.put, ended=self._typed_all, waiting=self._events.qsize)
            keys.start()
            self.keys = keys
        threading.Thread(target=self._watch, name="terminal", daemon=True).start()
        return self

    def __exit__(self, *exc: object) -> None:
        self._over.set()
        if self.keys is not None:
            self.keys.stop()

    def line(self, text: str) -> None:
        """Print a line."""
        try:
            self._out(text)
        except OSError as fault:
            if fault.errno in GONE:
                self._events.put(Quit())
            # a full disk, or the like, is no reason to leave the person who works by ear

    def _typed_all(self) -> None:
        if self.keys is not None and self.keys.is_terminal:
            self._events.put(Quit())
        elif self._alone:
            self._events.put(Quit(hush=False))

    def _watch(self) -> None:
        while self._watched and not self._over.wait(_LOOK_EVERY_S):
            if _terminal_gone(*self._watched):
                self._events.put(Quit())
                return


def _is_open(file: int) -> bool:
    """Tell whether a standard stream is there: Python has none for one that was closed from the start."""
    return (sys.stdin, sys.stdout)[file] is not None


def _stopped(journal: Journal) -> str:
    """Say at the end where everything is that was answered."""
    if not journal.retry():
        return f"stopped; not all that was answered is in the journal: {journal.trouble}"
    return "stopped" if journal.path is None else "stopped; everything answered is in the journal"


def run_plain(
    plan: Plan,
    journal: Journal,
    options: BenchOptions,
    out: Callable[[str], object],
    web: Web | None = None,
    kind: type[Bench] = Bench,
) -> Session:
    """Work with lines of plain text; keys come from the terminal, or from a pipe.

    web: where a browser gets the display as well. kind: the class of the session.
    """
    events: queue.SimpleQueue[LiveEvent] = queue.SimpleQueue()
    around = _Around(events, out, alone=options.deaf and web is None)

    def told(before: LiveState, after: LiveState, exchange: Exchange | None) -> None:
        for line in [*(exchange_lines(exchange) if exchange else []), *change_lines(before, after)]:
            around.line(line)

    with contextlib.ExitStack() as ending:
        came = ending.enter_context(_ended_by_signals(lambda: events.put(Quit())))
        ending.enter_context(around)  # first: what is typed from now on is taken
        live = Live(plan, journal, options, told, events, kind)
        ending.callback(live.close)
        try:
            if web is not None:
                ending.enter_context(web.display(live.latest, live.press, around.line))
            live.loop.run()
            if signal.SIGINT in came:
                around.line(_stopped(journal))
        except KeyboardInterrupt:
            around.line(_stopped(journal))
    return live.bench.session


def run_display(plan: Plan, journal: Journal, options: BenchOptions, kind: type[Bench] = Bench) -> Session:
    """Work with the display; kind: what sort of session it is."""
    from handsfree.show.display import Board

    boards: list[Board] = []

    def told(before: LiveState, after: LiveState, exchange: Exchange | None) -> None:
        if after != before or exchange is not None:
            for board in boards:
                board.nudge()

    live = Live(plan, journal, options, told, kind=kind)
    board = Board(live.latest, live.press, live.leave, over=_terminal_gone, nudged=True)
    boards.append(board)

    def work() -> None:
        try:
            live.loop.run()
        finally:
            with contextlib.suppress(RuntimeError):  # the display may have gone first
                board.call_from_thread(board.exit)

    thread = threading.Thread(target=work, name="bench", daemon=True)
    try:
        with _ended_by_signals(live.leave):
            thread.start()
            board.run()
    finally:
        live.leave()
        thread.join(timeout=3)
        live.close()
    return live.bench.session
