"""A rehearsal: few phrases that cover every number word and the commands, and the folder of their recordings.

The choice of phrases is pure. Recordings lie with a manifest in the user's own data folder.
"""

from __future__ import annotations

import csv
import io
import os
import random
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from handsfree.errors import ScoreError
from handsfree.files import make_private_folder, mend, write_whole
from handsfree.length import Unit, plain
from handsfree.plan import Check, Position, Rule
from handsfree.recordings import NAME, ManifestRow
from handsfree.understand import (
    ChangeCheck,
    Command,
    Control,
    Listening,
    Move,
    Reading,
    Word,
    cardinal_words,
    meanings,
    said_place,
)

_POOL = 3000  # readings to choose from
_BREVITIES = (0.3, 0.15, 0.1, 0.05, 0.0)  # short phrases are easier to read; long ones cover more words
_UNITS = {
    Unit.THOU: ("thou", "thousandths"),
    Unit.INCH: ("inches",),
    Unit.MM: ("millimetres",),
    Unit.MICRON: ("microns",),
}
_DIGITS = [*(cardinal_words(number)[0] for number in range(1, 10)), "zero", "oh"]
NUMBER_WORDS = frozenset(
    {word for number in range(1, 100) for word in cardinal_words(number)}
    | {"zero", "oh", "half", "quarter", "quarters", "point", "decimal", "hundred"}
)
_WHOLE = 20  # phrases that can cover every number word and still be short
_FEW_READINGS = 9  # readings among these; commands are the rest
_READINGS = 0.45  # share of readings among fewer phrases than that
# The costliest to miss first; commands not used at a check are left out below.
_CONTROLS = (
    Word.DISREGARD,
    Word.AFFIRM,
    Word.NEGATIVE,
    Word.STAND_BY,
    Word.GO_AHEAD,
    Word.SAY_AGAIN,
    Word.READ_BACK,
    Word.DONE,
    Word.NOT_DONE,
    Word.NEXT,
    Word.FINISH,
    Word.WHATS_LEFT,
    Word.DRESSED,
    Word.PREVIOUS,
    Word.CONFIRM,
    Word.ROGER,
)


@dataclass(frozen=True, slots=True)
class Prompt:
    """A phrase to read aloud, and its meaning.

    text: as it is shown. words: in the grammar's spelling.
    """

    text: str
    words: tuple[str, ...]
    command: Command

    def row(self, file: str, voice: str) -> ManifestRow:
        """Return the manifest's row for a recording of it."""
        command = self.command
        value = command.value if isinstance(command, Reading) else None
        position = command.position if isinstance(command, Reading | Move) else None
        labels = dict(position.labels) if position else {}
        kind = "word" if value is None else "reading" if position else "bare"
        return ManifestRow(
            file,
            voice,
            kind,
            self.text,
            labels.pop("cylinder", None),
            labels.pop("ring", None),
            value,
            command.feel if isinstance(command, Reading) else None,
            place=tuple(labels.items()),
        )


def phrases_to_read(listening: Listening, check: Check, count: int, seed: int) -> tuple[Prompt, ...]:
    """Return the phrases to read aloud at a check of a plan.

    Readings are chosen first, until they cover every word of a number, a place or a unit; commands fill the
    rest, in order of importance. Then all are shuffled, since nobody works in the order of a list.
    """
    rng = random.Random(seed)
    commands = list(_commands(listening, check))
    pool = _Pool(listening, check, _texts(check, rng) if check.rule is not Rule.TICK else ())
    most = max(count - len(commands), round(count * _READINGS) if count < _WHOLE else _FEW_READINGS)
    readings: list[Prompt] = []
    for brevity in _BREVITIES:
        readings = pool.covering(brevity)
        if len(readings) <= most:
            break
    readings = readings[: most if count < _WHOLE else count]
    chosen = [*readings, *commands[: count - len(readings)]]
    chosen += pool.others(chosen, count - len(chosen))
    rng.shuffle(chosen)
    return tuple(chosen)


def not_read(listening: Listening, check: Check, chosen: Sequence[Prompt]) -> list[str]:
    """Return the commands of the check that aren't among the chosen phrases."""
    said = {phrase.text for phrase in chosen}
    return [phrase.text for phrase in _commands(listening, check) if phrase.text not in said]


class _Pool:
    """Readings to choose from. A reading is interpreted only when chosen: that is slower than choosing."""

    def __init__(self, listening: Listening, check: Check, texts: Iterable[str]) -> None:
        self._listening = listening
        places = {word for position in check.positions for word in _words(said_place(position.labels))}
        units = {word for position in check.positions[:1] for word in _UNITS[check.unit_at(position)]}
        self._wanted = (NUMBER_WORDS | places | units) & set(listening.automaton.words)
        self._held = {text: self._wanted & set(_words(text)) for text in texts}

    def covering(self, brevity: float) -> list[Prompt]:
        """Return readings, each chosen for the words it adds, until no other adds any.

        brevity: penalty for each word of a phrase.
        """
        wanted = self._wanted
        chosen: list[Prompt] = []
        held = dict(self._held)
        while held and wanted:
            best = max(held, key=lambda text: len(held[text] & wanted) / (1 + brevity * text.count(" ")))
            words = held.pop(best)
            if not words & wanted:
                break
            phrase = self._reading(best)
            if phrase is not None:
                chosen.append(phrase)
                wanted -= words
        return chosen

    def others(self, chosen: Sequence[Prompt], count: int) -> list[Prompt]:
        """Return further readings that aren't among the chosen."""
        texts = {phrase.text for phrase in chosen}
        found: list[Prompt] = []
        for text in self._held:
            if len(found) >= count:
                break
            phrase = None if text in texts else self._reading(text)
            if phrase is not None:
                found.append(phrase)
        return found

    def _reading(self, text: str) -> Prompt | None:
        phrase = _phrase(self._listening, text)
        return phrase if phrase is not None and isinstance(phrase.command, Reading) else None


def _commands(listening: Listening, check: Check) -> Iterator[Prompt]:
    left_out = {Word.DONE, Word.NOT_DONE} if check.rule is not Rule.TICK else set()
    if check.rule is not Rule.FILE_TO_GAP:
        left_out |= {Word.DRESSED}
    texts = [word.value for word in _CONTROLS if word not in left_out]
    place = said_place(check.positions[-1].labels)
    texts.insert(texts.index(Word.CONFIRM), place)
    texts += [f"check {name}" for name in listening.context.checks if name != check.name]
    for text in texts:
        phrase = _phrase(listening, text)
        if phrase is not None:
            yield phrase


def _texts(check: Check, rng: random.Random) -> Iterator[str]:
    return (_reading(check, rng.choice(check.positions), rng) for _ in range(_POOL))


def _reading(check: Check, position: Position, rng: random.Random) -> str:
    amount, unit = _amount(rng), rng.choice((*_UNITS[check.unit_at(position)], ""))
    placed = said_place(position.labels)
    style = rng.randrange(8)
    if style < 4:
        return f"{placed}, {amount} {unit}".strip()
    if style == 4:
        return f"no go {amount}"
    if style in (5, 6):
        return f"{amount}, correction, {_amount(rng)} {unit}".strip()
    return f"{amount} {unit}".strip()


def _amount(rng: random.Random) -> str:
    whole = " ".join(cardinal_words(rng.choice((rng.randint(1, 99), rng.randint(10, 19)))))
    digits = [rng.choice(_DIGITS[:9]) for _ in range(3)]
    pair = " ".join(cardinal_words(rng.randint(20, 99)))
    point = rng.choice(("point", "point", "decimal"))
    return rng.choice(
        (
            whole,
            f"{whole} and a half",
            f"{whole} and a quarter",
            f"{whole} and three quarters",
            f"{whole} {point} {digits[0]}",
            f"{whole} {point} {digits[0]} {digits[1]}",
            f"{whole} {point} {pair}",
            f"{whole} {point} {pair}",
            f"{whole} {point} {rng.choice(('zero', 'oh'))} {digits[0]}",
            f"{rng.choice(('zero', 'oh'))} {point} {digits[0]} {digits[1]}",
            f"{digits[0]} {digits[1]}",
            f"{digits[0]} {digits[1]} {point} {digits[2]}",
            f"{point} {rng.choice(('zero', 'oh'))} {digits[0]} {digits[1]}",
        )
    )


def _phrase(listening: Listening, text: str) -> Prompt | None:
    """Return a phrase, if it is unambiguous and may be acted on without asking."""
    words = _words(text)
    if not listening.automaton.accepts(words):
        return None
    found = meanings(words, listening.automaton, listening.context)
    if len(found) != 1 or not found[0].sure or len(found[0].commands) != 1:
        return None
    command = found[0].commands[0]
    return (
        Prompt(text, words, command) if isinstance(command, Reading | Move | Control | ChangeCheck) else None
    )


def _words(text: str) -> tuple[str, ...]:
    return tuple(text.replace(",", " ").split())


COLUMNS = ("file", "voice", "kind", "text", "cylinder", "ring", "value", "unit", "feel", "place")


def shelf() -> Path:
    """Return the folder of all rehearsals, which may not exist."""
    import platformdirs

    return Path(platformdirs.user_data_path("handsfree", appauthor=False)) / "rehearsals"


def rehearsals() -> list[Path]:
    """Return the folders of all rehearsals in the user's data, oldest first."""
    root = shelf()
    mend(root)
    return sorted(path for path in root.iterdir() if (path / NAME).is_file()) if root.is_dir() else []


def rehearsal_folder(now: datetime, folder: Path | None = None) -> Path:
    """Create the folder of a new rehearsal; by default in the user's data, named after its time.

    Raises:
        ScoreError: it already holds recordings, or can't be created.
    """
    name = now.strftime("%Y-%m-%d-%H%M%S")
    path = folder or shelf() / name
    number = 1
    while folder is None and path.exists():  # two rehearsals in one second
        number += 1
        path = shelf() / f"{name}-{number}"
    if (path / NAME).exists():
        raise ScoreError(f"{path} holds recordings already; name another folder")
    try:
        mend(shelf())
        if not path.is_dir():  # an existing folder may have other uses too
            make_private_folder(path)
        write_whole(path / NAME, _line(COLUMNS), private=True, fresh=True)
    except OSError as error:
        raise ScoreError(
            f"{path} can't be made to keep recordings in: {error.strerror or error}; name another with --to"
        ) from error
    return path


def write_row(folder: Path, row: ManifestRow) -> None:
    """Add a recording to the folder's manifest; it is on disk before this returns.

    Raises:
        ScoreError: it can't be written.
    """
    place = "; ".join(f"{axis}={label}" for axis, label in row.place)
    cells = {
        "file": row.file,
        "voice": row.voice,
        "kind": row.kind,
        "text": row.text,
        "cylinder": row.cylinder or "",
        "ring": row.ring or "",
        "value": plain(row.value.value) if row.value else "",
        "unit": row.value.unit.value if row.value else "",
        "feel": row.feel or "",
        "place": place,
    }
    try:
        with (folder / NAME).open("ab") as file:
            file.write(_line([cells[column] for column in COLUMNS]))
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise ScoreError(f"{folder / NAME} can't be written: {error.strerror or error}") from error


def _line(cells: Sequence[str]) -> bytes:
    text = io.StringIO(newline="")
    csv.writer(text).writerow(cells)
    return text.getvalue().encode()
