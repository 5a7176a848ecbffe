"""`handsfree journal play`: listen to the sound of a logged entry."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console

from handsfree.commands.outputs import write_output
from handsfree.commands.printing import say_line
from handsfree.devices import Player
from handsfree.errors import JournalError
from handsfree.journal import SAMPLERATE_HZ, Event, Sounds
from handsfree.session import Recorded, length_text, read
from handsfree.speak import Sound


def play(
    path: Path, number: int, console: Console, player: Player | None, *, out: Path | None = None
) -> None:
    """Play the sound of event `number`, and print the words heard and the entry.

    If the entry was the answer to a question, the utterance in question is played first: it has the
    size.

    Args:
        path: the journal.
        number: the event's number, as shown by `show --log`.
        console: the output.
        player: plays the sound; None if it is only saved.
        out: also save the last of these sounds to this file (FLAC).

    Raises:
        JournalError: there is no such event, or no sound of it.
        SoundError: it can't be played.
    """
    recorded = read(path)
    event = next((event for event in recorded.events if event.seq == number), None)
    if event is None:
        raise JournalError(f"The journal {path} has no event {number}; its last is {len(recorded.events)}.")
    spoken = [(one, _sound(one)) for one in _belonging(recorded, event)]
    kept = [(one, name) for one, name in spoken if name is not None]
    if not kept:
        raise JournalError(
            f"No sound was kept of event {number}; only sizes said by voice have one, if it is kept."
        )
    sounds = Sounds.beside(path.resolve())
    loaded = [(one, sounds.load(name)) for one, name in kept]
    for one, samples in loaded:
        words = one.draft.heard.words if one.draft.heard else ""
        say_line(console, f"{one.local:%Y-%m-%d %H:%M:%S}, {one.kind.value}, heard: {words}")
        if player is not None:
            player.play(Sound(samples, SAMPLERATE_HZ), words)
    if event.draft.value is not None:
        where = f"{event.draft.position.key}: " if event.draft.position else ""
        say_line(console, f"logged: {where}{length_text(event.draft)}")
    if out is not None:
        sound = sounds.path(kept[-1][1])
        write_output(out, sound.read_bytes(), [path, sound])


def _belonging(recorded: Recorded, event: Event) -> list[Event]:
    """Return the question that an event answered, if any, and the event."""
    question = recorded.question_before(event) if event.draft.value is not None else None
    return [event] if question is None else [question, event]


def _sound(event: Event) -> str | None:
    return event.draft.heard.sound if event.draft.heard else None
