"""The place of a fault in a plan: builds the sentence with file, line, key and remedy."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from handsfree.errors import PlanError, did_you_mean
from handsfree.length import Length, Unit
from handsfree.planfile.written import WrittenError, written_length, written_unit
from handsfree.textfile import lines_of as text_lines
from handsfree.visible import sentence as one_sentence

if TYPE_CHECKING:
    from pydantic import ValidationError


KeyPath = tuple[str | int, ...]

_HEADER = re.compile(r"\s*(\[\[?)\s*(.+?)\s*\]\]?\s*(?:#.*)?")
_KEY = re.compile(
    r"""\s*((?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+)(?:\s*\.\s*(?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+))*)\s*="""
)
_PIECE = re.compile(r""""([^"]*)"|'([^']*)'|([A-Za-z0-9_-]+)""")


def _pieces(dotted: str) -> list[str]:
    return [next(part for part in found if part) for found in _PIECE.findall(dotted) if any(found)]


def lines_of(text: str) -> dict[KeyPath, int]:
    r"""Return the line (from 1) of every key and table header of `text`, by its path.

    >>> lines_of('[[check]]\nname = "a"\n')[("check", 0, "name")]
    2
    """
    lines: dict[KeyPath, int] = {}
    counts: dict[KeyPath, int] = {}
    table: KeyPath = ()
    for number, line in enumerate(text_lines(text), start=1):
        header = _HEADER.fullmatch(line)
        if header:
            table = ()
            pieces = _pieces(header[2])
            for piece in pieces[:-1]:
                table += (piece,)
                if table in counts:
                    table += (counts[table],)
            table += tuple(pieces[-1:])
            if header[1] == "[[":
                counts[table] = counts.get(table, -1) + 1
                table += (counts[table],)
            elif table in counts:
                table += (counts[table],)
            lines.setdefault(table, number)
            continue
        key = _KEY.match(line)
        if key:
            lines.setdefault(table + tuple(_pieces(key[1])), number)
    return lines


def line_of(text: str, path: KeyPath) -> int | None:
    """Return the line of `path` or of the nearest table around it, or None if neither is found."""
    lines = lines_of(text)
    while path:
        if path in lines:
            return lines[path]
        path = path[:-1]
    return None


def dotted(path: KeyPath) -> str:
    """Return a path, counted from 1: the second target of the first check is ``check[1].target[2]``.

    >>> dotted(("check", 0, "target", 1, "aim"))
    'check[1].target[2].aim'
    """
    text = ""
    for piece in path:
        text += f"[{piece + 1}]" if isinstance(piece, int) else f".{piece}"
    return text.removeprefix(".")


@dataclass(frozen=True, slots=True)
class Source:
    """A plan's text and the name of its file, for errors."""

    text: str
    where: str

    def error(self, path: KeyPath, sentence: str) -> PlanError:
        """Return the error for `path`: ``plan.toml, line 12, check[1].name: ...``."""
        line = line_of(self.text, path)
        parts = [self.where]
        if line is not None:
            parts.append(f"line {line}")
        if path:
            parts.append(dotted(path))
        return PlanError(one_sentence(f"{', '.join(parts)}: {sentence}"))

    def length(self, path: KeyPath, figure: str | int | Decimal, unit: Unit | None) -> Length:
        """Return a length; an error names its place.

        Raises:
            PlanError: as `written_length`, with the place.
        """
        try:
            return written_length(figure, unit)
        except WrittenError as error:
            raise self.error(path, str(error)) from None

    def unit(self, path: KeyPath, text: str) -> Unit:
        """Return a unit; an error names its place.

        Raises:
            PlanError: there is no such unit.
        """
        try:
            return written_unit(text)
        except WrittenError as error:
            raise self.error(path, str(error)) from None

    def one_of(self, path: KeyPath, word: str, words: Iterable[str], what: str) -> str:
        """Return `word` if it is one of `words`.

        Raises:
            PlanError: it isn't; the sentence names the nearest.
        """
        known = list(words)
        if word in known:
            return word
        raise self.error(path, f'"{word}" is no {what}; {did_you_mean(word, known)}')

    def from_validation(self, error: ValidationError, known: dict[str, list[str]]) -> PlanError:
        """Return the first error of pydantic as one sentence.

        known: the allowed keys of each kind of table (last name in its path, "" for the top).
        """
        # An unknown key explains a missing one ("nmae" for "name"), so it is reported first.
        findings = sorted(error.errors(), key=lambda found: found["type"] != "extra_forbidden")
        found = findings[0]
        path = tuple(piece for piece in found["loc"] if not _is_type(piece))
        names = [piece for piece in path[:-1] if isinstance(piece, str)]
        keys = known.get(names[-1] if names else "", [])
        key = path[-1]
        match found["type"]:
            case "extra_forbidden":
                return self.error(path, f'there is no key "{key}" here; {did_you_mean(str(key), keys)}')
            case "missing":
                return self.error(path, f'"{key}" is missing; add it')
            case "too_short" | "string_too_short":
                return self.error(path, "it is empty; fill it in or take it out")
            case "string_too_long":
                return self.error(path, "it is too long; write at most 80 characters")
            case _:
                return self.error(path, f"{_said(found['input'])} won't do here; {_wanted(found)}")


def _is_type(piece: str | int) -> bool:
    # pydantic adds the name of the union's type to the path
    return isinstance(piece, str) and (
        piece in {"str", "int", "decimal", "float", "bool"} or piece.startswith(("list[", "dict["))
    )


def _said(value: object) -> str:
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return "a list"
    return f'"{value}"'


def _wanted(found: Any) -> str:
    wanted = {
        "string_type": "write text in quotation marks",
        "int_type": "write a whole number",
        "int_from_float": "write a whole number",
        "decimal_type": 'write a figure such as "18 thou"',
        "list_type": "write a list in square brackets",
        "dict_type": "write a table",
        "model_type": "write a table",
        "bool_type": "write true or false",
    }
    return wanted.get(found["type"], str(found["msg"]).lower())
