"""From the tags of one utterance to commands.

Slots of the grammar's tags: the number slots of `numbers`; unit; feel (no-go, go, drag); leaf
(goes, stops) closes a value of a bracket; take (back, no, said, not, but) replaces the last value by a
new one, and take-instead names the value that the one before it replaces; at says that the place comes
after its value; turns; word; check; sweep (to, off); ask (was); vague; and any other slot is an axis of
the plan with its label.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from handsfree.length import Length, Unit
from handsfree.plan import Position
from handsfree.understand.automaton import Automaton, Tags
from handsfree.understand.command import (
    Bracket,
    ChangeCheck,
    Command,
    Control,
    Feel,
    Move,
    Reading,
    Recall,
    Sweep,
    Turns,
    Vague,
    Word,
)
from handsfree.understand.grammar import label_tag
from handsfree.understand.numbers import NUMBER_SLOTS, Sized, lengths, plausible, spoken_number

Window = tuple[Length, Length]
FEELS = {"no-go": Feel.NO_GO, "go": Feel.GO, "drag": Feel.DRAG, "tight": Feel.DRAG}
_INSTEAD = ("take", "instead")
_DOUBTFUL_FEEL = ("feel", "tight")  # a leaf that drags hard, or one that hardly went in
_WORDS = {word.value.replace("'", "").replace(" ", "-"): word for word in Word}
RESERVED = NUMBER_SLOTS | {
    *("unit", "feel", "leaf", "take", "turns", "word", "check", "at", "vague", "ask", "sweep"),
}


@dataclass(frozen=True)
class Context:
    """The state of the work that the meaning of words depends on.

    unit: the unit of the check in hand. axes: axis names with their labels. checks: the plan's
    check names in order. window: returns the inclusive plausible range at a position (None: the
    position in hand; partial: completed by the position in hand), used only to choose between the
    meanings of an ambiguous form. unit_at: returns the unit of a bare number at a position, if a
    check reads parts of different sizes; without it that is `unit`. possible: returns whether words
    with a meaning can be meant at this moment; without it all can.
    """

    unit: Unit
    axes: Mapping[str, Sequence[str]]
    checks: Sequence[str] = ()
    window: Callable[[Position | None], Window | None] = lambda _: None
    unit_at: Callable[[Position | None], Unit] | None = None
    possible: Callable[[Sequence[str], Meaning], bool] | None = None

    def bare_unit(self, position: Position | None) -> Unit:
        """Return the unit of a bare number."""
        return self.unit if self.unit_at is None else self.unit_at(position)


@dataclass(frozen=True, slots=True)
class Meaning:
    """One interpretation of an utterance: its commands in order, and whether to act without asking."""

    commands: tuple[Command, ...]
    sure: bool = True


def meanings(words: Sequence[str], automaton: Automaton, context: Context) -> tuple[Meaning, ...]:
    """Return every distinct meaning of `words`; none when they aren't in the grammar.

    Exactly one sure meaning may be acted on; anything else needs a question.
    """
    found: dict[tuple[Command, ...], bool] = {}
    for tags in sorted(automaton.parses(words)):
        for meaning in _take(tags, context):
            found[meaning.commands] = found.get(meaning.commands, False) or meaning.sure
    return tuple(Meaning(commands, sure) for commands, sure in found.items())


def _take(tags: Tags, context: Context) -> Iterable[Meaning]:
    pairs = [_split(tag) for tag in tags]
    slots = {slot for slot, _ in pairs}
    values = dict(pairs)
    if "word" in slots:
        place = _position(pairs, context)
        moved = (Move(place),) if place.labels else ()
        return [Meaning((*moved, Control(_WORDS[values["word"]])))]
    if "vague" in slots:
        return [Meaning((Vague(),))]
    if "ask" in slots:
        return [Meaning((Recall(_position(pairs, context)),))]
    if "sweep" in slots:
        return [Meaning((Sweep(_position(pairs, context), values["sweep"] == "off"),))]
    if ("check", "next") in pairs:
        index = next(int(value) for slot, value in pairs if slot == "check" and value.isdigit())
        return [Meaning((ChangeCheck(context.checks[index]),))]
    if "turns" in slots:
        spoken = spoken_number([pair for pair in pairs if pair[0] in NUMBER_SLOTS])
        return [Meaning((Turns(spoken.amounts[0].value),))]
    if "leaf" in slots:
        return _brackets(pairs, context)
    if not slots & NUMBER_SLOTS:
        return [Meaning((Move(_position(pairs, context)),))]
    return _chains(pairs, context)


def _split(tag: str) -> tuple[str, str]:
    slot, _, value = tag.partition("-")
    return slot, value


def _position(pairs: Sequence[tuple[str, str]], context: Context) -> Position:
    tags = {f"{slot}-{value}" for slot, value in pairs}
    labels = {
        axis: label
        for axis, axis_labels in context.axes.items()
        for label in axis_labels
        if label_tag(axis, label) in tags
    }
    return Position.of(labels)


def _sized(
    pairs: Sequence[tuple[str, str]], position: Position | None, context: Context
) -> tuple[Sized, ...]:
    spoken = spoken_number([pair for pair in pairs if pair[0] in NUMBER_SLOTS])
    unit = next((Unit(value) for slot, value in pairs if slot == "unit"), None)
    candidates = lengths(spoken, unit, context.bare_unit(position))
    return plausible(candidates, context.window(position)) or tuple(
        replace(candidate, sure=False) for candidate in candidates
    )


def _segments(pairs: Sequence[tuple[str, str]]) -> list[list[tuple[str, str]]]:
    """Split a chain where a new place or a retraction begins after a number."""
    segments: list[list[tuple[str, str]]] = [[]]
    for pair in pairs:
        slots = {slot for slot, _ in segments[-1]}
        begun = bool(slots & NUMBER_SLOTS) and "at" not in slots
        if pair[0] == "take" or (begun and pair[0] not in RESERVED):
            segments.append([])
        segments[-1].append(pair)
    return [segment for segment in segments if segment]


def _after(before: Position | None, named: Position, context: Context) -> Position:
    """Complete a place by the previous one of the same utterance."""
    if before is None:
        return named
    labels = dict(before.labels) | dict(named.labels)
    return Position.of({axis: labels[axis] for axis in context.axes if axis in labels})


def _chains(pairs: Sequence[tuple[str, str]], context: Context) -> Iterable[Meaning]:
    options: list[list[tuple[Reading, bool]]] = []
    position: Position | None = None
    segments = _segments(pairs)
    for segment in segments:
        named = _position(segment, context)
        takes = {value for slot, value in segment if slot == "take"}
        corrects = bool(takes)
        # "main two housing 50.02 journal 50.00": the second place implies main two
        position = _after(position, named, context) if named.labels else (position if corrects else None)
        felt = dict.fromkeys(FEELS[value] for slot, value in segment if slot == "feel")
        feels: list[Feel | None] = [*felt] or [
            None
        ]  # two that differ ("no go eighteen goes") are asked about
        options.append(
            [
                (
                    Reading(s.length, position, feel, corrects, repeats="said" in takes),
                    s.sure and len(feels) == 1 and _DOUBTFUL_FEEL not in segment,
                )
                for s in _sized(segment, position, context)
                for feel in feels
            ]
        )
    for chosen in product(*options):
        readings: list[Reading] = []
        for (reading, _), segment in zip(chosen, segments, strict=True):
            if _INSTEAD in segment:  # "fifteen, not fourteen"
                readings.append(replace(readings.pop(), corrects=True, withdrawn=reading.value))
            elif reading.corrects and readings:
                last = readings.pop()  # the place and the feel stay unless said again
                readings.append(
                    replace(
                        reading,
                        position=last.position,
                        feel=reading.feel or last.feel,
                        corrects=last.corrects,
                        withdrawn=last.value,
                    )
                )
            elif not readings or reading != readings[-1]:  # a value said twice is one reading
                readings.append(reading)
        yield Meaning(tuple(readings), all(sure for _, sure in chosen))


def _brackets(pairs: Sequence[tuple[str, str]], context: Context) -> Iterable[Meaning]:
    cut = pairs.index(("leaf", "goes"))
    named = _position(pairs[:cut], context)
    position = named if named.labels else None
    for goes, stops in product(
        _sized(pairs[:cut], position, context), _sized(pairs[cut + 1 :], position, context)
    ):
        yield Meaning((Bracket(goes.length, stops.length, position),), goes.sure and stops.sure)
