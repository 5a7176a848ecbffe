"""Reading and checking the file of phrases."""

from __future__ import annotations

import string
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from handsfree.errors import VoiceError
from handsfree.speak.reply import Tone, Verbosity
from handsfree.textfile import parse_toml, read_text
from handsfree.visible import shown

PHRASES_FILE = Path(__file__).with_name("wording.toml")


@dataclass(frozen=True, slots=True)
class Phrase:
    """One phrase in its three lengths, with its tone."""

    name: str
    texts: Mapping[Verbosity, str]
    tone: Tone

    def fill(self, verbosity: Verbosity, fields: Mapping[str, str]) -> str:
        """Put the fields into the sentence for that verbosity."""
        return self.texts[verbosity].format_map(fields)


Phrasebook = Mapping[str, Phrase]


def fields_of(text: str) -> frozenset[str]:
    """Return the names of the {fields} in a sentence.

    Raises:
        ValueError: an open brace, or a field without a name or with a format.

    >>> sorted(fields_of("{place}, {value}."))
    ['place', 'value']
    """
    found = set()
    for _, name, spec, conversion in string.Formatter().parse(text):
        if name is None:
            continue
        if not name.isidentifier() or spec or conversion:
            raise ValueError(f"{{{name}}} is not a plain field")
        found.add(name)
    return frozenset(found)


def read_phrasebook(path: Path = PHRASES_FILE) -> Phrasebook:
    """Read a phrase file and check it against the packaged phrases.

    Raises:
        VoiceError: unreadable, not TOML, a phrase missing, unknown or invalid, an unknown tone,
            or a {field} that the phrase doesn't have.
    """
    own = _shipped() if path != PHRASES_FILE else None
    book = _parse(path)
    if own is None:
        return book
    for name, phrase in own.items():
        if name not in book:
            raise VoiceError(f'"{path}": the phrase [{name}] is missing; copy it from the shipped file')
        known = frozenset().union(*(fields_of(text) for text in phrase.texts.values()))
        for text in book[name].texts.values():
            for field in sorted(fields_of(text) - known):
                allowed = ", ".join(f"{{{each}}}" for each in sorted(known)) or "none"
                raise VoiceError(f'"{path}", [{name}]: no field {{{field}}} here; it may use {allowed}')
    for name in sorted(set(book) - set(own)):
        raise VoiceError(f'"{path}": the phrase [{name}] is never used; check its spelling, or remove it')
    return book


@cache
def _shipped() -> Phrasebook:
    return _parse(PHRASES_FILE)


def shipped_phrasebook() -> Phrasebook:
    """Return the packaged phrases, read once."""
    return _shipped()


def _parse(path: Path) -> Phrasebook:
    table = parse_toml(read_text(path, "file of phrases", VoiceError), shown(path), VoiceError)
    book: dict[str, Phrase] = {}
    _walk(path, "", table, book)
    return book


def _walk(path: Path, prefix: str, table: Mapping[str, object], book: dict[str, Phrase]) -> None:
    """Collect phrases: a table with strings of its own is a phrase, or a list of named short ones."""
    for key, value in table.items():
        name = f"{prefix}.{key}" if prefix else key
        if isinstance(value, str):
            book[name] = _phrase(path, name, {"text": value})
        elif isinstance(value, Mapping) and value.keys() & {"text", "terse", "normal", "full"}:
            book[name] = _phrase(path, name, value)
        elif isinstance(value, Mapping):
            _walk(path, name, value, book)
        else:
            raise VoiceError(f'"{path}", [{name}]: wanted a sentence, found {value!r}; put it in quotes')


def _phrase(path: Path, name: str, entry: Mapping[str, object]) -> Phrase:
    where = f'"{path}", [{name}]'
    for key, value in entry.items():
        if key not in {"text", "tone", *Verbosity}:
            raise VoiceError(f'{where}: unknown key "{key}"; wanted text, or terse, normal and full')
        if not isinstance(value, str):
            raise VoiceError(f"{where}: {key} is not a sentence; put it in quotes")
    lengths = {key: entry.get("text", entry.get(key)) for key in Verbosity}
    texts: dict[Verbosity, str] = {}
    for verbosity, text in lengths.items():
        if not isinstance(text, str):
            raise VoiceError(f"{where}: no {verbosity} sentence; add one")
        try:
            fields_of(text)
        except ValueError as fault:
            raise VoiceError(f"{where}: {fault} in {text!r}; write fields as {{name}}") from fault
        texts[verbosity] = text
    tone = entry.get("tone", Tone.NONE)
    if tone not in set(Tone):
        raise VoiceError(f'{where}: no tone "{tone}"; wanted one of {", ".join(Tone)}')
    return Phrase(name, texts, Tone(str(tone)))
