"""The adaptation to one person's voice, and its file.

The file is readable TOML in the user's own data folder. The adaptation is stored only there and never sent
anywhere; removing the file undoes it.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from handsfree.adapt.spellings import OwnSpellings, with_spellings
from handsfree.errors import AdaptationError
from handsfree.files import make_private_folder, mend, write_whole
from handsfree.textfile import parse_toml, read_text
from handsfree.understand import Spellings, Thresholds
from handsfree.visible import shown

FORMAT = 1
NAME = "adaptation.toml"
MOST_PACE = 0.3
"""Largest adaptation of the pace, as a logarithm: about a third."""

_END = "# end"
_DEFAULTS = Thresholds()
_FITS, _MARGINS = (-2.0, 0.0), (0.0, 9.0)  # thresholds beyond would accept always, or never
_INSTEAD = 'take it away with "handsfree adapt --undo", or go without it by --no-adapt'
_REMEDY = f"mend it, {_INSTEAD}"


@dataclass(frozen=True)
class Adaptation:
    """Adaptation to one speaker.

    forms: for words of the grammar, the texts that free decoding writes for this person. pace: logarithm of
    the duration of their speech relative to the usual one. sure_fit, sure_margin: the thresholds for acting
    without asking. speech_db: their level, dB below full scale, for information; every utterance is scaled
    anyway. recordings, made, recogniser: the recordings, date and recogniser of the learning. before,
    after: counts of results on held-out recordings, without and with the adaptation.
    """

    forms: OwnSpellings = field(default_factory=dict)
    pace: float = 0.0
    sure_fit: float = _DEFAULTS.sure_fit
    sure_margin: float = _DEFAULTS.sure_margin
    speech_db: float | None = None
    recordings: int = 0
    made: str = ""
    recogniser: str = ""
    before: Mapping[str, int] = field(default_factory=dict)
    after: Mapping[str, int] = field(default_factory=dict)

    @property
    def changes_nothing(self) -> bool:
        """Whether it has no effect."""
        return not self.forms and self.pace == 0 and self.thresholds == _DEFAULTS

    @property
    def thresholds(self) -> Thresholds:
        """The decision thresholds."""
        return Thresholds(sure_fit=self.sure_fit, sure_margin=self.sure_margin)

    def spellings(self, spellings: Spellings, words: tuple[str, ...]) -> Spellings:
        """Return the general spellings plus the forms, without forms that could mean something else.

        words: all words of the grammar in use; a form that is spelt like a plan's label is left out.
        """
        return with_spellings(spellings, self.forms, words)


def adaptation_path() -> Path:
    """Return the path of the file, which may not exist."""
    import platformdirs

    return Path(platformdirs.user_data_path("handsfree", appauthor=False)) / NAME


def load_adaptation(path: Path | None = None) -> Adaptation | None:
    """Return the user's adaptation; None if there is none.

    Raises:
        AdaptationError: it can't be read, is damaged, or was written by a newer handsfree.
    """
    path = path or adaptation_path()
    mend(path)
    if not path.exists():
        return None
    try:
        text = read_text(path, "record of your voice", AdaptationError)
        table = parse_toml(text, shown(path), AdaptationError, decimals=float)
    except AdaptationError as error:
        raise AdaptationError(f"{error}, {_INSTEAD}") from None
    number = table.get("format")
    if isinstance(number, int) and number > FORMAT:
        raise AdaptationError(
            f"{path} has format {number}, and this program reads up to format {FORMAT}; use a newer "
            'handsfree, or learn it anew with "handsfree adapt"'
        )
    if number != FORMAT or isinstance(number, bool):
        raise AdaptationError(f"{path}: wanted format = {FORMAT}, found {number!r}; {_REMEDY}")
    if not text.rstrip().endswith(_END):  # cut off between two lines it would still be TOML
        raise AdaptationError(f'{path} is torn: its last line, "{_END}", is missing; {_REMEDY}')
    try:
        return _from(table)
    except ValueError as error:
        raise AdaptationError(f"{path}: {error}; {_REMEDY}") from error


def save_adaptation(adaptation: Adaptation, path: Path | None = None) -> Path:
    """Write it, whole or not at all, and return its path.

    Raises:
        AdaptationError: it can't be written.
    """
    path = path or adaptation_path()
    try:
        if not path.parent.is_dir():
            make_private_folder(path.parent)
        write_whole(path, text_of(adaptation).encode(), private=True)
    except OSError as error:
        raise AdaptationError(
            f"{path}: what was learned can't be written: {error.strerror or error}; "
            "free some space or mend the folder, and run it again"
        ) from error
    return path


def remove_adaptation(path: Path | None = None) -> bool:
    """Remove the file, whatever its content; return whether there was one.

    Raises:
        AdaptationError: it can't be removed.
    """
    path = path or adaptation_path()
    try:
        path.unlink()
    except FileNotFoundError:
        return False
    except OSError as error:
        raise AdaptationError(
            f"{path} can't be removed: {error.strerror or error}; remove it by hand"
        ) from error
    return True


def text_of(adaptation: Adaptation) -> str:
    """Return it as TOML, with comments."""
    lines = [
        "# What handsfree learned of one person's voice from their own recordings. It stays on this",
        '# machine. "handsfree adapt --undo" takes it away; --no-adapt leaves it out once.',
        f"format = {FORMAT}",
        f"made = {_quoted(adaptation.made)}",
        f"recordings = {adaptation.recordings}",
        f"recogniser = {_quoted(adaptation.recogniser)}",
        "",
        "# How words are written down when this person says them, beside the usual spellings.",
        "[forms]",
        *(
            f"{_quoted(' '.join(words))} = [{', '.join(map(_quoted, written))}]"
            for words, written in adaptation.forms.items()
        ),
        "",
        "# Logarithm of how much longer than usual this person takes to say a phrase.",
        "[pace]",
        f"shift = {adaptation.pace!r}",
        "",
        "# Both must be reached to act without asking; "
        f"usually {_DEFAULTS.sure_fit!r} and {_DEFAULTS.sure_margin!r}.",
        "[thresholds]",
        f"sure_fit = {adaptation.sure_fit!r}",
        f"sure_margin = {adaptation.sure_margin!r}",
    ]
    if adaptation.speech_db is not None:
        lines += ["", "# Of the recordings, dB below full scale; for information.", "[level]"]
        lines += [f"speech_db = {adaptation.speech_db!r}"]
    for name, counts in (("before", adaptation.before), ("after", adaptation.after)):
        if counts:
            lines += ["", "# On recordings held back while learning.", f"[score.{name}]"]
            lines += [f"{result} = {count}" for result, count in counts.items()]
    return "\n".join([*lines, "", _END]) + "\n"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)  # a JSON string is a TOML basic string


def _from(table: Mapping[str, Any]) -> Adaptation:
    forms: dict[tuple[str, ...], tuple[str, ...]] = {}
    for words, written in _table(table, "forms").items():
        if (
            not isinstance(written, list)
            or not words.split()
            or not all(isinstance(form, str) and form.strip() for form in written)
        ):
            raise ValueError(f"[forms] {words}: wanted a list of texts")
        forms[tuple(words.split())] = tuple(form.lower() for form in written)
    limits, score = _table(table, "thresholds"), _table(table, "score")
    level = _table(table, "level")
    return Adaptation(
        forms,
        _number(_table(table, "pace"), "shift", 0.0, (-MOST_PACE, MOST_PACE)),
        _number(limits, "sure_fit", _DEFAULTS.sure_fit, _FITS),
        _number(limits, "sure_margin", _DEFAULTS.sure_margin, _MARGINS),
        _number(level, "speech_db", 0.0, (-120.0, 0.0)) if "speech_db" in level else None,
        _whole(table, "recordings"),
        str(table.get("made", "")),
        str(table.get("recogniser", "")),
        {name: _whole(_table(score, "before"), name) for name in _table(score, "before")},
        {name: _whole(_table(score, "after"), name) for name in _table(score, "after")},
    )


def _table(table: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    found = table.get(name, {})
    if not isinstance(found, dict):
        raise ValueError(f"wanted a table [{name}], found {found!r}")  # noqa: TRY004 - about a file
    return found


def _number(table: Mapping[str, Any], name: str, default: float, between: tuple[float, float]) -> float:
    found = table.get(name, default)
    low, high = between
    wrong = isinstance(found, bool) or not isinstance(found, int | float) or not math.isfinite(found)
    if wrong or not low <= found <= high:
        raise ValueError(f"{name} = {found!r} is no number from {low:g} to {high:g}")
    return float(found)


def _whole(table: Mapping[str, Any], name: str) -> int:
    found = table.get(name, 0)
    if isinstance(found, bool) or not isinstance(found, int) or found < 0:
        raise ValueError(f"{name} = {found!r} is no count")
    return found
