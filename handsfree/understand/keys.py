"""The keypad's grammar: from the 17 keys of a USB number pad to the same commands as speech.

Made for one gloved thumb: every entry ends with Enter, Num Lock clears an unfinished entry, and no
key has to be held. A keyboard's Backspace, which number pads lack, deletes one key. Key
names are those of the HID Usage Tables (usage page 7), without the word Keypad: Num Lock / * - + Enter 1
... 9 0 . Source of the names: HID Usage Tables 1.12, keyboard page, usages 0x53 to 0x63.

What a keyed number means: by the same rules as the same number said aloud.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cache

from handsfree.errors import KeypadError
from handsfree.length import Length, Unit, plain
from handsfree.plan import Position
from handsfree.textfile import lines_of
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
from handsfree.understand.meaning import Meaning, Window
from handsfree.understand.numbers import Amount, SpokenNumber, lengths, plausible

ENTER = "Enter"
WIPE = "Num Lock"
BACK = "Backspace"
KEYS = frozenset({*"0123456789./*-+", ENTER, WIPE})
LONGEST_ENTRY = 100
"""Keys of the longest entry that is kept; every command has fewer than half as many."""
TYPED_ON_S = 1.0
"""Longest time between two keys of an entry that is typed without a break (common practice, no source)."""

_NAMES = {"enter": ENTER, "numlock": WIPE, "backspace": BACK}  # as a key file may write them

# Entries that are procedure words. Their only digit is 0.
WORD_KEYS = {
    "": Word.SAY_AGAIN,
    "+": Word.AFFIRM,
    "-": Word.NEGATIVE,
    "/": Word.DISREGARD,
    "//": Word.CORRECTION,
    ".": Word.READ_BACK,
    "..": Word.WHATS_LEFT,
    "...": Word.CONFIRM,
    "+++": Word.ROGER,
    "*": Word.NEXT,
    "**": Word.PREVIOUS,
    "--": Word.STAND_BY,
    "++": Word.GO_AHEAD,
    ".+": Word.HOW_MUCH,
    ".-": Word.TARGET,
    "./": Word.WHERE,
    ".*": Word.WHATS_NEXT,
    "0.": Word.HELP,
    "0++": Word.LOUDER,
    "0--": Word.QUIETER,
    "0**": Word.FASTER,
    "0//": Word.SLOWER,
    "0..": Word.NEW_RING,
    "0+": Word.DONE,
    "0-": Word.NOT_DONE,
    "0/": Word.DRESSED,
    "0*": Word.FINISH,
}
_KEYS_OF_WORD = {word: keys for keys, word in WORD_KEYS.items()}

_NUMBER = r"\d{1,4}(?:\.\d{1,5})?|\.\d{1,5}"
_VALUE = re.compile(rf"(?P<minus>-?)(?P<value>{_NUMBER})(?P<feel>\+-|\+|-|)")
_BRACKET = re.compile(rf"(?P<goes>{_NUMBER})\+(?P<stops>{_NUMBER})-")
_TURNS = re.compile(rf"(?P<count>{_NUMBER})/")
_CHECK = re.compile(r"\.\*(?P<number>\d{1,2})")
_KEYABLE = re.compile(
    rf"/?(?:\d+\*)*(?:-?(?:{_NUMBER})(?:\+-|\+|-|/|)|(?:{_NUMBER})\+(?:{_NUMBER})-)|(?:\d+\*)+\.?|\.\*\d{{1,2}}"
)
_FEELS = {"": None, "-": Feel.NO_GO, "+": Feel.GO, "+-": Feel.DRAG}
_FEEL_KEYS = {feel: key for key, feel in _FEELS.items()}


@dataclass(frozen=True)
class Pad:
    """A keypad at a check of a plan.

    axes: axis names with their labels, in the plan's order; a label is keyed by its number: its
    final digits if it has any, else its place in the list (top 1, second 2).
    unit: unit of keyed values. checks: names of the plan's checks. unit_at: the unit at a position
    (None: the one in hand) if the check reads parts of different sizes; else it is `unit`.
    signed: whether a value may be below zero; it is keyed with - before its digits.
    """

    unit: Unit
    axes: tuple[tuple[str, tuple[str, ...]], ...]
    checks: tuple[str, ...] = ()
    unit_at: Callable[[Position | None], Unit] | None = None
    signed: bool = False

    def command(self, keys: str) -> Command:
        """Return the command of one entry, the keys before Enter.

        Raises:
            KeypadError: for invalid keys, with the possible entries.
        """
        if keys in WORD_KEYS:
            return Control(WORD_KEYS[keys])
        check = _CHECK.fullmatch(keys)
        if check:
            return self._check(int(check["number"]), keys)
        corrects = keys.startswith("/")
        position, rest = self._place(keys[1:] if corrects else keys, keys)
        if not rest and position is not None and not corrects:
            return Move(position)
        if rest == "." and position is not None and not corrects:
            return Recall(position)
        turns = _TURNS.fullmatch(rest)
        if turns and position is None and not corrects and _decimal(turns["count"]):
            return Turns(_decimal(turns["count"]))
        bracket = _BRACKET.fullmatch(rest)
        if bracket and not corrects:
            unit = self._unit(position)
            return Bracket(_length(bracket["goes"], unit), _length(bracket["stops"], unit), position)
        value = _VALUE.fullmatch(rest)
        if not value or (value["minus"] and not self.signed):
            raise KeypadError(
                f'keys "{keys}" mean nothing here; key a value such as 18.5 and Enter, or Num Lock to wipe'
            )
        size = _length(value["value"], self._unit(position))
        if value["minus"]:
            size = Length(-size.value, size.unit)
        return Reading(size, position, _FEELS[value["feel"]], corrects)

    def keys(self, command: Command) -> str | None:
        """Return the keys of a command, or None if it can't be keyed.

        These can't be keyed: a vague size, a sweep, a repeated value, a value in another unit, with more
        digits than the pad takes or negative where the check has no sign, a leaf or turns of zero (their
        keys are words), a place that names an axis but not the one before it, or an unknown check.
        """
        keys = self._keys(command)
        if keys is None or isinstance(command, Control):
            return keys
        return keys if _KEYABLE.fullmatch(keys) and keys not in WORD_KEYS else None

    def _keys(self, command: Command) -> str | None:
        match command:
            case Control(word):
                return _KEYS_OF_WORD[word]
            case ChangeCheck(name):
                return f".*{self.checks.index(name) + 1}" if name in self.checks else None
            case Turns(count):
                return f"{plain(count)}/" if count >= 0 else None
            case Move(position):
                return self._place_keys(position)
            case Recall(position):
                place = self._place_keys(position)
                return f"{place}." if place else None
            case Vague() | Sweep():
                return None
            case Bracket(goes, stops, position):
                place = self._place_keys(position)
                if place is None or {goes.unit, stops.unit} != {self._unit(position)}:
                    return None
                return f"{place}{plain(goes.value)}+{plain(stops.value)}-"
            case Reading(repeats=True):
                return None
            case Reading(value, position, feel, corrects):
                place = self._place_keys(position)
                if place is None or value.unit is not self._unit(position):
                    return None
                if value.value < 0 and not self.signed:
                    return None
                slash = "/" if corrects else ""
                return f"{slash}{place}{plain(value.value)}{_FEEL_KEYS[feel]}"

    def number_of(self, axis: str, label: str) -> str:
        """Return the keypad number of a label."""
        labels = dict(self.axes)[axis]
        return _numbers(labels)[labels.index(label)]

    def _place(self, keys: str, entry: str) -> tuple[Position | None, str]:
        """Split off a leading place: a number and * for each axis in turn."""
        labels: dict[str, str] = {}
        rest = keys
        for axis, axis_labels in self.axes:
            head = re.match(r"(\d+)\*", rest)
            if not head:
                break
            found = [label for label in axis_labels if self.number_of(axis, label) == head[1]]
            if not found:
                raise KeypadError(f'keys "{entry}": there is no {axis} {head[1]} in this plan')
            labels[axis] = found[0]
            rest = rest[head.end() :]
        if labels and len(labels) < len(self.axes) and rest not in ("", "."):
            missing = self.axes[len(labels)][0]
            raise KeypadError(f'keys "{entry}" name no {missing}; key its number and * before the value')
        return (Position.of(labels), rest) if labels else (None, keys)

    def _place_keys(self, position: Position | None) -> str | None:
        """Return the keys of a place; None unless it names the first axes of the plan, in order."""
        labels = position.labels if position else ()
        for (axis, label), (known, known_labels) in zip(labels, self.axes, strict=False):
            if axis != known or label not in known_labels:
                return None
        if len(labels) > len(self.axes):
            return None
        return "".join(f"{self.number_of(axis, label)}*" for axis, label in labels)

    def _check(self, number: int, keys: str) -> Command:
        if not 1 <= number <= len(self.checks):
            raise KeypadError(
                f'keys "{keys}": the plan has {len(self.checks)} checks; key .* and one of them'
            )
        return ChangeCheck(self.checks[number - 1])

    def _unit(self, position: Position | None) -> Unit:
        return self.unit if self.unit_at is None else self.unit_at(position)


@cache
def _numbers(labels: tuple[str, ...]) -> tuple[str, ...]:
    """Return the numbers of labels: their final digits, if all have some and they differ."""
    ends = [re.search(r"\d+$", label) for label in labels]
    digits = [end[0] for end in ends if end]
    if len(set(digits)) == len(labels):
        return tuple(digits)
    return tuple(str(number) for number in range(1, len(labels) + 1))


def _length(digits: str, unit: Unit) -> Length:
    return Length(_decimal(digits), unit)


def _decimal(digits: str) -> Decimal:
    return Decimal(f"0{digits}" if digits.startswith(".") else digits)


def pressed(begun: str, key: str) -> str:
    """Return an unfinished entry after one more key other than Enter.

    >>> pressed("18", "5"), pressed("18", "Backspace"), pressed("18", "Num Lock")
    ('185', '1', '')
    """
    if key == WIPE:
        return ""
    if key == BACK:
        return begun[:-1]
    return (begun + key)[:LONGEST_ENTRY]


@dataclass(frozen=True, slots=True)
class Entry:
    """An unfinished entry of one keyboard.

    A key that ends what is being said may be pressed for that alone, or be the first of an entry. It belongs
    to the entry where the next key follows as quickly as in typing. Else nobody can tell: with it, or without
    it, the entry could be another number than the one that was measured.

    keys: the keys so far. ended_at_s: when its first key ended an answer; None if none did.
    unsure: that key may not belong to it, so it must be keyed again.
    """

    keys: str = ""
    ended_at_s: float | None = None
    unsure: bool = False

    def press(self, key: str, at_s: float, *, ends: bool = False) -> Entry:
        """Return the entry after one more key; `ends`: its first key, which ended an answer.

        >>> begun = Entry().press("1", 5.0, ends=True)
        >>> begun.press("8", 5.4), begun.press("8", 8.0)
        (Entry(keys='18', ended_at_s=None, unsure=False), Entry(keys='18', ended_at_s=None, unsure=True))
        """
        after = self.keys if key == ENTER else pressed(self.keys, key)
        if ends:
            return Entry(after, at_s)
        if not after:
            return Entry()
        late = self.ended_at_s is not None and at_s - self.ended_at_s > TYPED_ON_S
        return Entry(after, None, self.unsure or late)


def entries(keys: Sequence[str]) -> list[str]:
    """Split a stream of key presses into entries: the keys before each Enter, cleared by Num Lock.

    >>> entries(["1", "7", "Num Lock", "1", "9", "Backspace", "8", "Enter"])
    ['18']
    """
    found: list[str] = []
    begun = ""
    for key in keys:
        if key == ENTER:
            found.append(begun)
            begun = ""
        else:
            begun = pressed(begun, key)
    return found


def not_entered(keys: Sequence[str]) -> str:
    """Return the keys after the last Enter that are still an unfinished entry.

    >>> not_entered(["1", "7", "Enter", "1", "9"]), not_entered(["1", "7", "Num Lock"])
    ('19', '')
    """
    begun = ""
    for key in keys:
        begun = "" if key == ENTER else pressed(begun, key)
    return begun


def key_names(text: str) -> list[str]:
    """Split text into keys, with or without blanks between them; other signs are left as they are.

    >>> key_names("18 enter numlock x")
    ['1', '8', 'Enter', 'Num Lock', 'x']
    """
    found = re.findall(r"Num ?Lock|Enter|Backspace|\S", text, flags=re.IGNORECASE)
    return [_NAMES.get(key.lower().replace(" ", ""), key) for key in found]


def read_keys(text: str, where: str) -> list[str]:
    """Read a key file: one or more entries a line, keys with or without blanks, # for comments.

    >>> read_keys("3*1* 18 Enter  # three top", "demo.keys")
    ['3', '*', '1', '*', '1', '8', 'Enter']

    Raises:
        KeypadError: for anything but a key, with its line.
    """
    found: list[str] = []
    for number, line in enumerate(lines_of(text), start=1):
        rest = line.partition("#")[0]
        for name in key_names(rest):
            if name not in KEYS | {BACK}:
                raise KeypadError(
                    f'key file "{where}", line {number}: "{name}" is no key of a number pad; '
                    "use the digits, . / * - + Enter and Num Lock"
                )
            found.append(name)
    return found


def as_said(reading: Reading, window: Window | None) -> Meaning:
    """Interpret a keyed reading as the same number when spoken.

    ".018" is eighteen thou in a check in thou, and "35" may be 0.35 mm in a check in millimetres: the
    window of its place chooses, and a number outside the window stays as it was keyed.

    >>> from handsfree.length import length
    >>> meant = as_said(Reading(length("0.018")), (length("4.5"), length("45")))
    >>> str(meant.commands[0].value), meant.sure
    ('18 thou', True)
    """
    value, unit = reading.value.value, reading.value.unit
    spoken = SpokenNumber((Amount(value),), pointed=0 < value < 1, whole=value == int(value))
    fitting = plausible(lengths(spoken, None, unit), window)
    if len(fitting) != 1:
        return Meaning((reading,))
    return Meaning((replace(reading, value=fitting[0].length),), fitting[0].sure)
