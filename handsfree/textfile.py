"""Reads the user's text files: plans, templates, key files, lists, manifests, wording.

Every such file is read here, so that a device, an endless pipe, a huge file or another encoding produces one
sentence, and a byte order mark, which some editors write, is removed.
"""

from __future__ import annotations

import json
import math
import os
import stat
import tomllib
from collections.abc import Callable
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any, NoReturn

from handsfree.errors import HandsfreeError
from handsfree.visible import sentence, shown

MOST_BYTES = 1_000_000
"""A plan of 1,000 positions has some 50,000 bytes; a longer file is another kind of file, or endless."""

MOST_DIGITS = 40
"""Most digits of a number in TOML, and size of its exponent: far beyond every figure of a bench."""

_DEEPEST = 32  # lists within lists, in JSON

Refusal = type[HandsfreeError]


def read_text(path: Path | str, what: str, refusal: Refusal, *, most_bytes: int = MOST_BYTES) -> str:
    """Return the text of a file in UTF-8, without its byte order mark.

    Line ends are kept. The file is opened without waiting, so that a pipe can't block the program.

    Args:
        path: the file.
        what: the kind of file, for the sentence: "plan file".
        refusal: the class of error to raise.
        most_bytes: a longer file is refused.

    Raises:
        HandsfreeError: of the class `refusal`: the file is missing, not a regular file, too long, not
            UTF-8, or contains a NUL byte; one sentence.
    """
    where = shown(path)
    try:
        data = _read_bytes(path, most_bytes + 1)
    except FileNotFoundError:
        raise refusal(f"{where}: there is no such {what}; check its name") from None
    except _NoFileError as error:
        raise refusal(f"{where}: {error}, so it can't be read as a {what}; name a file") from None
    except OSError as error:
        raise refusal(f"{where}: the {what} can't be read ({error.strerror or error}); check it") from None
    except ValueError:  # a NUL in the name
        raise refusal(f"{where}: no file can have this name; check it") from None
    if len(data) > most_bytes:
        raise refusal(f"{where}: this is longer than {most_bytes:,} bytes, so no {what}; check its name")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise refusal(f"{where}: this is no text in UTF-8, so no {what}; save it as UTF-8") from None
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        raise refusal(f"{where}, line {line}: a NUL byte stands there, so this is no {what}; save it as text")
    return text


def lines_of(text: str) -> list[str]:
    r"""Return the lines of a text, without line ends of any system.

    `str.splitlines` also splits at characters that no editor treats as a line end.

    >>> lines_of("a\r\nb\n")
    ['a', 'b']
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return lines if lines[-1] else lines[:-1]


def parse_toml(
    text: str, where: str, refusal: Refusal, *, decimals: Callable[[str], Any] = Decimal
) -> dict[str, Any]:
    """Return the table of a TOML text.

    Args:
        text: the text.
        where: its name in errors.
        refusal: the class of error to raise.
        decimals: converts the text of a number with a point or an exponent.

    Raises:
        HandsfreeError: of the class `refusal`: the text isn't TOML, is nested too deep, or contains a number
            with far too many digits; one sentence.
    """
    try:
        table = tomllib.loads(text, parse_float=decimals)
    except tomllib.TOMLDecodeError as error:
        raise refusal(sentence(f"{where}: this is no whole TOML file: {error}; mend that place")) from None
    except RecursionError:
        raise refusal(f"{where}: the lists in this file are nested too deep; mend it") from None
    except (ValueError, InvalidOperation):  # thousands of digits, of a number or its exponent
        raise refusal(_too_long(where)) from None
    if _holds_too_long(table):
        raise refusal(_too_long(where))
    return table


def parse_json(text: str) -> object:
    """Read JSON with limited nesting and only finite numbers.

    Raises:
        ValueError: it is none, is nested too deep, or holds a number that isn't finite.

    >>> parse_json('{"done": true}')
    {'done': True}
    """
    try:
        found: object = json.loads(text, parse_constant=_not_finite)
    except RecursionError:
        raise ValueError("nested too deep") from None
    layer, depth = [found], 0
    while layer:
        if depth > _DEEPEST:
            raise ValueError("nested too deep")
        for value in layer:
            if isinstance(value, float) and not math.isfinite(value):
                _not_finite(str(value))
        layer, depth = [inner for one in layer for inner in _held(one)], depth + 1
    return found


def _not_finite(number: str) -> NoReturn:
    raise ValueError(f"{number} is no finite number")


def _held(value: object) -> list[object]:
    if isinstance(value, dict):
        return list(value.values())
    return value if isinstance(value, list) else []


class _NoFileError(Exception):
    """The path isn't a regular file."""


def _read_bytes(path: Path | str, most: int) -> bytes:
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    try:
        mode = os.fstat(handle).st_mode
        if stat.S_ISDIR(mode):
            raise _NoFileError("this is a folder")
        if not stat.S_ISREG(mode):
            raise _NoFileError("this is a device or a pipe")
        with open(handle, "rb", closefd=False) as file:
            return file.read(most)
    finally:
        os.close(handle)


def _too_long(where: str) -> str:
    return f"{where}: a number in this file has more than {MOST_DIGITS} digits; mend it"


def _holds_too_long(table: dict[str, Any]) -> bool:
    """Return whether a number is so long that printing it or computing with it would take too long."""
    left: list[Any] = [table]
    while left:
        value = left.pop()
        if isinstance(value, dict):
            left.extend(value.values())
        elif isinstance(value, list):
            left.extend(value)
        elif _is_too_long(value):
            return True
    return False


def _is_too_long(value: object) -> bool:
    if isinstance(value, int):
        return value.bit_length() > 3 * MOST_DIGITS
    if isinstance(value, Decimal) and value.is_finite():
        return len(value.as_tuple().digits) > MOST_DIGITS or abs(value.adjusted()) > MOST_DIGITS
    return False
