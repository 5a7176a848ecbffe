"""Plans that no person would write: mutations of plans that are right."""

from __future__ import annotations

import json
import random
import re
import tomllib
from functools import cache
from typing import Any

from handsfree.planfile import templates
from handsfree.planfile.template import Sort
from handsfree.show import new_plan, new_plan_questions
from tests.support.program import PLAN

LONG = "9" * 5000
WORDS = (
    "",
    " ",
    "x" * 5000,
    "top" * 40,
    "second\u2028ring",
    "\u202egnir",
    "zero\u200bwidth",
    "e\u0301" * 50,
    "\U0001f527",
    "\x1b[2J",
    "a\nb",
    "\u0000",
    "\uff11\uff18 thou",
    "²",
    "٣",
    "18 thou 18 thou",
    "18 furlong",
    "18 thou\n",
    "1/0",
    "housing - " * 500,
    f"{LONG} housing - journal",
    f"{LONG} thou",
    "0." + "0" * 3000 + "1 thou",
    "1e9 thou",
    "nan",
    "inf",
    "-0",
    "95 %",
    "1000 %",
    "1e-999999999",
    "1e999999999",
    "nan %",
    "sNaN",
    "cylinder",
    "part",
    "aim",
    "second",
    "shim",
    "difference",
    "limits",
    "done",
    "file to gap",
    "mm",
    "{0}",
    "%s",
    "=cmd|' /C calc'!A0",
)
RAW = (
    *("0", "-1", "1", "2", "99", "100", "1_000_000", "-0", "0x7fffffffffffffff", "0o777", "0b1"),
    *("1" + "0" * 30, LONG, "0x" + "f" * 6000, "1e6", "1e-400", "1e400", "-1.5"),
    *("1e99999999999999999999", "nan", "-nan", "inf", "-inf", "0.1" + "1" * 500, "true", "false"),
    *("[]", "{}", "[[]]", "[1, 'a', {}]", "1979-05-27", "07:32:00", "1979-05-27T07:32:00Z"),
    *("[" * 300 + "]" * 300, "[" * 3000, "{a={a={a={a={a={a={a=1}}}}}}}", "''", "'''a\nb'''"),
    *('"\\u0000"', '"\\ud800"', '"\\U0010ffff"', "[1, 1]", "['top', 'top']", "[" + "1," * 500 + "]"),
    *("['1', 1]", "['a', 'A']", "[-1]", "[nan]"),
)
FIGURES = ("0", "1", "7", "40", "99", "100", "0.000001", "999999", "18.123456789", "-1", "1000000", "00")
KEYS = (
    "",
    "x",
    "x" * 5000,
    "aim",
    "cylinder",
    "format",
    "a.b",
    "\u202e",
    "engine",
    "part",
    "check",
    "name",
    "9" * 50,
)


@cache
def right_plans() -> tuple[str, ...]:
    """Return plans that are right: the demo's, and one of each template of the trade."""
    plans = [PLAN.read_text("utf-8")]
    for name in templates():
        names = ["ring gaps", name] if name == "tops tried" else [name]
        given = {"plan_name": "Job", "engine_name": "Twin", "cylinders": "2", "bore": "4.030 in"}
        sizes = {"bore_least": "4.029 in", "bore_most": "4.031 in", "shim_least": "80", "shim_most": "120"}
        sizes |= {"main_journal": "2.1 in", "rod_journal": "2 in", "shim_step": "2", "shim_usual": "100"}
        for number, question in enumerate(new_plan_questions(names)):
            if question.key == "duty":
                given["duty"] = "road"
            if question.key in given or question.default("thou") or question.optional:
                continue
            count = question.sort is Sort.COUNT
            given[question.key] = sizes.get(question.key, "5" if count else f"{10 + number} thou")
        plans.append(new_plan(names, given))
    return tuple(plans)


def odd_plan(random_: random.Random) -> bytes:
    """Return a plan with one or a few things wrong with it."""
    text = random_.choice(right_plans())
    kinds = [_tree, _tree, _tree, _tree, _figures, _figures, _lines, _values, _words]
    for _ in range(random_.choice([1, 1, 1, 2, 3])):
        text = random_.choice(kinds)(random_, text)
    data = text.encode("utf-8", "surrogatepass")
    return _bytes(random_, data) if random_.random() < 0.15 else data


def _tree(random_: random.Random, text: str) -> str:
    """Change the table itself, so that what comes of it is TOML all the same."""
    try:
        table = tomllib.loads(text)
    except (ValueError, RecursionError):
        return text
    for _ in range(random_.choice([1, 1, 2])):
        if not table:
            break
        holder, key = _place(random_, table)
        match random_.randrange(6):
            case 0:
                del holder[key]
            case 1:
                holder[key] = random_.choice(WORDS)
            case 2:
                holder[key] = _odd(random_)
            case 3 if isinstance(holder, dict):
                holder[random_.choice(KEYS)] = holder[key] if random_.random() < 0.5 else _odd(random_)
            case 4 if isinstance(holder, list):
                holder.extend(holder[:50])
            case _:
                other, at = _place(random_, table)
                if not _within(other[at], holder):
                    holder[key] = json.loads(json.dumps(other[at], default=str))
    return "".join(f"{_key(key)} = {_toml(value)}\n" for key, value in table.items())


def _place(random_: random.Random, table: dict[str, Any]) -> tuple[Any, Any]:
    holder: Any = table
    while True:
        key = random_.choice(list(holder) if isinstance(holder, dict) else range(len(holder)))
        inner = holder[key]
        if not isinstance(inner, dict | list) or not inner or random_.random() < 0.15:
            return holder, key
        holder = inner


def _within(inner: Any, outer: Any) -> bool:
    return inner is outer or (
        isinstance(inner, dict | list)
        and any(_within(each, outer) for each in (inner.values() if isinstance(inner, dict) else inner))
    )


def _odd(random_: random.Random) -> Any:
    numbers = [0, -1, 1, 2, 99, 100, 2**63, -(2**80), 1.5, -0.0, 1e300, 1e-300, float("nan"), float("inf")]
    others = [True, [], {}, [[]], [1, "a"], {"a": {"a": 1}}, ["top", "top"], [0], [-1, 2], {"": 1}]
    lengths = ["18 thou", "0.45 mm", "4 in", "0.001 um", "9999999 in", "0.000000001 um", "-18 thou"]
    return random_.choice([*numbers, *others, list(range(1, 60)), *lengths])


def _key(key: str) -> str:
    return key if re.fullmatch("[A-Za-z0-9_-]+", key) else _text(key)


def _text(text: str) -> str:
    return '"' + "".join(c if c.isprintable() and c not in '"\\' else f"\\U{ord(c):08x}" for c in text) + '"'


def _toml(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_key(key)} = {_toml(inner)}" for key, inner in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    if isinstance(value, str):
        return _text(value)
    return str(value).lower() if isinstance(value, bool) else str(value)


def _figures(random_: random.Random, text: str) -> str:
    """Put another figure, of the same form, in the place of one that is right: many such plans are taken."""
    found = list(re.finditer(r"(?<![\w.])\d+(?:\.\d+)?(?![\w.])", text))
    if not found:
        return text
    one = random_.choice(found)
    figure = random_.choice(FIGURES)
    if random_.random() < 0.4:
        figure = f"{random_.uniform(0, 50):.{random_.randint(0, 12)}f}"
    return text[: one.start()] + figure + text[one.end() :]


def _lines(random_: random.Random, text: str) -> str:
    lines = text.splitlines()
    for _ in range(random_.randint(1, 3)):
        at = random_.randrange(len(lines) or 1)
        match random_.randrange(5):
            case 0:
                del lines[at : at + 1]
            case 1:
                lines[at:at] = lines[at : at + 1]
            case 2:
                random_.shuffle(lines)
            case 3:
                lines = lines[:at]
            case _:
                lines.insert(
                    at, random_.choice(["[check]", "[[check]]", "[[check.target]]", "[", "=", "a.b.c = 1"])
                )
    return random_.choice(["\n", "\r\n", "\n\n"]).join(lines) + "\n"


def _values(random_: random.Random, text: str) -> str:
    lines = text.splitlines()
    at = [number for number, line in enumerate(lines) if "=" in line]
    if at:
        number = random_.choice(at)
        lines[number] = lines[number].partition("=")[0] + "= " + random_.choice(RAW)
    return "\n".join(lines) + "\n"


def _words(random_: random.Random, text: str) -> str:
    texts = list(re.finditer(r'"([^"\n]*)"', text))
    if not texts:
        return text
    found = random_.choice(texts)
    word = random_.choice(WORDS) if random_.random() < 0.7 else found[1] + random_.choice(WORDS)
    return text[: found.start()] + _text(word) + text[found.end() :]


def _bytes(random_: random.Random, data: bytes) -> bytes:
    changed = bytearray(data)
    for _ in range(random_.randint(1, 8)):
        at = random_.randrange(len(changed) or 1)
        match random_.randrange(4):
            case 0 if changed:
                changed[at] ^= 1 << random_.randrange(8)
            case 1:
                changed[at:at] = random_.choice(
                    [b"\0", b"\xff", b"\xef\xbb\xbf", b"\xed\xa0\x80", b"\r", b"\x1b"]
                )
            case 2:
                del changed[at : at + random_.randrange(40)]
            case _:
                changed[at:at] = changed[at : at + random_.randrange(200)]
    return bytes(changed)
