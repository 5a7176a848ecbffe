"""Answers to requests other than readings: help, hints, the amount to go, the voice itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from handsfree.plan import Position
from handsfree.speak.amount import Amount
from handsfree.speak.phrasing import Phrasing, label_words
from handsfree.speak.reply import Reply, VoiceChange

_VOICE: Mapping[VoiceChange, str] = {
    VoiceChange.LOUDER: "talk.louder",
    VoiceChange.QUIETER: "talk.quieter",
    VoiceChange.FASTER: "talk.faster",
    VoiceChange.SLOWER: "talk.slower",
}


def help_words(say: Phrasing, example: str) -> Reply:
    """Name the few phrases that are enough for all work."""
    return say.reply("talk.help", example=example)


def hint_words(say: Phrasing, example: str) -> Reply:
    """Return one phrase that would have been understood."""
    return say.reply("talk.hint", example=example)


def heard_again(say: Phrasing, heard: str) -> Reply:
    """Ask for a repetition and quote the words that were heard."""
    return say.reply("talk.say_again_heard", heard=heard)


def no_such_label(say: Phrasing, axis: str, label: str) -> Reply:
    """Say that the plan has no such cylinder, main or valve.

    >>> no_such_label(Phrasing(), "cylinder", "9").text
    'There is no cylinder nine.'
    """
    return say.reply("talk.no_such_label", label=f"{axis} {label_words(label)}")


def ask_command(say: Phrasing, what: str) -> Reply:
    """Ask for confirmation of a command that is only uncertain."""
    return say.reply("talk.confirm", what=what, expects=("yes", "no"))


def vague_words(say: Phrasing) -> Reply:
    """Refuse a vague size."""
    return say.reply("talk.vague")


def to_go_words(say: Phrasing, position: Position, amount: Amount) -> Reply:
    """Tell how much is left to remove."""
    return say.reply("talk.to_go", place=say.place(position), amount=say.computed(amount))


def nothing_to_go(say: Phrasing, position: Position, *, over: bool = False) -> Reply:
    """Say that a place is good, or over."""
    return say.reply("talk.over_already" if over else "talk.none_to_go", place=say.place(position))


def whats_next(say: Phrasing, position: Position) -> Reply:
    """Name the place that comes next; nothing moves."""
    return say.reply("next", place=say.place(position))


def new_ring(say: Phrasing, position: Position, set_aside: int) -> Reply:
    """Say that a place starts again, and that its readings no longer count."""
    name = "talk.new_ring_again" if set_aside else "talk.new_ring"
    return say.reply(name, place=say.place(position))


def voice_words(say: Phrasing, change: str) -> Reply:
    """Answer "louder" and similar words; the new voice itself shows the change."""
    wanted = VoiceChange(change)
    return replace(say.reply(_VOICE[wanted]), change=wanted)
