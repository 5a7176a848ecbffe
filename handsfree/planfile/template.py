"""Templates: questions whose answers make a plan, in files that a machinist can read and extend."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from importlib.resources import files
from pathlib import Path
from typing import Any

from handsfree.errors import PlanError, did_you_mean, nearest
from handsfree.length import Length, Unit
from handsfree.planfile.source import Source
from handsfree.planfile.written import WrittenError, written_length
from handsfree.textfile import parse_toml, read_text
from handsfree.visible import shown, visible

TEMPLATE_FORMAT = 1
HEAD = "engine"
_ASK_KEYS = {
    *("key", "ask", "kind", "choices", "default", "optional", "needs_unit"),
    *("also", "at_least", "where_empty", "unasked"),
}
_FIELD = re.compile(r"\{([a-z_]+)\}")


class Sort(StrEnum):
    """The type of a question's answer."""

    WORDS = "words"
    COUNT = "count"
    LENGTH = "length"
    CHOICE = "choice"
    LABELS = "labels"


@dataclass(frozen=True, slots=True)
class Question:
    """One question of a template.

    defaults: the default answer by unit of the plan; "" is for any unit.
    optional: whether an empty answer is valid. needs_unit: whether the answer must name a unit.
    also: other words for a choice. at_least: the key of a length that is the minimum of this one.
    where_empty: keys of answers; the question is asked only if one of them is empty.
    unasked: never asked; a given answer is accepted.
    """

    key: str
    ask: str
    sort: Sort
    choices: tuple[str, ...] = ()
    defaults: Mapping[str, str] | None = None
    optional: bool = False
    needs_unit: bool = False
    also: Mapping[str, str] | None = None
    at_least: str | None = None
    where_empty: tuple[str, ...] = ()
    unasked: bool = False

    def is_asked(self, answers: Mapping[str, str]) -> bool:
        """Return whether it needs an answer, given the answers so far."""
        if self.unasked:
            return False
        return not self.where_empty or any(not answers.get(key, "").strip() for key in self.where_empty)

    def default(self, unit: str = "") -> str | None:
        """Return the default answer, or None if there is none."""
        known = self.defaults or {}
        return known.get(unit, known.get(""))


@dataclass(frozen=True, slots=True)
class Template:
    """One check of the trade, or the head of a plan, with its questions."""

    name: str
    about: str
    text: str
    questions: tuple[Question, ...]


def templates() -> dict[str, Template]:
    """Return the packaged templates by name, without the head."""
    found = {}
    for entry in sorted((files("handsfree.planfile") / "templates").iterdir(), key=lambda entry: entry.name):
        if entry.name.endswith(".toml"):
            template = parse_template(entry.read_text("utf-8"), entry.name)
            found[template.name] = template
    del found[HEAD]
    return found


def head() -> Template:
    """Return the template of the head, which every plan begins with."""
    entry = files("handsfree.planfile") / "templates" / f"{HEAD}.toml"
    return parse_template(entry.read_text("utf-8"), entry.name)


def load_template(path: Path | str) -> Template:
    """Read a template of the user's own.

    Raises:
        PlanError: it is missing, invalid, or of a newer format; one sentence.
    """
    return parse_template(read_text(path, "template", PlanError), shown(path))


def parse_template(text: str, where: str) -> Template:
    """Read a template from its text; `where` names it in errors.

    Raises:
        PlanError: as `load_template`.
    """
    source = Source(text, where)
    table = parse_toml(text, where, PlanError)
    number = table.get("format")
    if not isinstance(number, int) or isinstance(number, bool) or number < 1:
        raise source.error(("format",), f"a template begins with format = {TEMPLATE_FORMAT}; write that")
    if number > TEMPLATE_FORMAT:
        raise source.error(
            ("format",),
            f"this template has format {number}, and this program reads up to format {TEMPLATE_FORMAT}; "
            "use a newer handsfree",
        )
    _only(source, (), table, {"format", "name", "about", "text", "ask"})
    words = {key: _text(source, (key,), table.get(key)) for key in ("name", "about", "text")}
    asks = table.get("ask", [])
    if not isinstance(asks, list):
        raise source.error(("ask",), "questions are written as [[ask]]; mend the brackets")
    questions = tuple(_question(source, ("ask", number), ask) for number, ask in enumerate(asks))
    return Template(words["name"], words["about"], words["text"].lstrip("\n"), questions)


def _question(source: Source, path: tuple[str | int, ...], ask: Any) -> Question:
    if not isinstance(ask, dict):
        raise source.error(path, "a question is a table with key, ask and kind; mend it")
    _only(source, path, ask, _ASK_KEYS)
    key = _text(source, (*path, "key"), ask.get("key"))
    sort = _text(source, (*path, "kind"), ask.get("kind"))
    source.one_of((*path, "kind"), sort, [known.value for known in Sort], "kind of answer")
    given = ask.get("default")
    defaults = given if isinstance(given, dict) else None if given is None else {"": given}
    return Question(
        key=key,
        ask=_text(source, (*path, "ask"), ask.get("ask")),
        sort=Sort(sort),
        choices=tuple(str(choice) for choice in ask.get("choices", ())),
        defaults=None if defaults is None else {unit: str(answer) for unit, answer in defaults.items()},
        optional=bool(ask.get("optional", False)),
        needs_unit=bool(ask.get("needs_unit", False)),
        also={str(word): str(choice) for word, choice in dict(ask.get("also", {})).items()},
        at_least=ask.get("at_least"),
        where_empty=tuple(str(each) for each in ask.get("where_empty", ())),
        unasked=bool(ask.get("unasked", False)),
    )


def _only(source: Source, path: tuple[str | int, ...], table: Mapping[str, Any], keys: set[str]) -> None:
    for key in table:
        if key not in keys:
            raise source.error(
                (*path, key), f'there is no key "{key}" here; {did_you_mean(key, sorted(keys))}'
            )


def _text(source: Source, path: tuple[str | int, ...], value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        raise source.error(path, f'"{path[-1]}" is missing or no text; write it in quotation marks')
    return value


def chosen(names: Iterable[str]) -> tuple[Template, ...]:
    """Return the templates of these names, the head first.

    Raises:
        PlanError: an unknown name, or a name given twice.
    """
    known = templates()
    picked = [head()]
    for name in names:
        if name not in known:
            raise PlanError(f'there is no template "{name}"; {did_you_mean(name, known)}')
        if known[name] in picked:
            raise PlanError(f'the template "{name}" is named twice; name it once')
        picked.append(known[name])
    return tuple(picked)


def questions(picked: Iterable[Template]) -> tuple[Question, ...]:
    """Return the questions of these templates in order, each key once.

    A question that one template needs unconditionally is asked unconditionally.
    """
    asked: dict[str, Question] = {}
    for template in picked:
        for question in template.questions:
            known = asked.get(question.key)
            if known is None:
                asked[question.key] = question
            elif known.unasked or (known.where_empty and not question.where_empty):
                del asked[question.key]  # the required one is asked
                asked[question.key] = question
    return tuple(asked.values())


def written_answer(
    question: Question, answer: str, unit: str = "", answers: Mapping[str, str] | None = None
) -> str | None:
    """Return an answer as TOML, or None for an optional answer that is empty.

    Args:
        question: the question.
        answer: the typed answer.
        unit: the unit of bare numbers, once known.
        answers: the other answers, by key.

    Raises:
        PlanError: an invalid answer; one sentence that describes a valid one.
    """
    answer = answer.strip() or (question.default(unit) or "")
    if not answer:
        if question.optional:
            return None
        raise PlanError(f'"{question.ask}" has no answer; {_wanted(question)}')
    match question.sort:
        case Sort.COUNT:
            if not re.fullmatch(r"[1-9][0-9]?", answer):
                raise PlanError(f'"{answer}" is no count; {_wanted(question)}')
            return answer
        case Sort.LENGTH:
            length = _length(question, answer, unit)
            least = (answers or {}).get(question.at_least or "", "").strip()
            if least and length.mm < _length(question, least, unit).mm:
                raise PlanError(
                    f'"{question.ask}": {answer} is below the least, {least}; give {least} or more'
                )
            return _quoted(f"{length.value} {length.unit}")
        case Sort.CHOICE:
            answer = (question.also or {}).get(answer.lower(), answer)
            if answer not in question.choices:
                close = nearest(answer, question.choices)
                hint = f'did you mean "{close}"?' if close else _wanted(question)
                raise PlanError(f'"{answer}" is none of the choices; {hint}')
            return _quoted(answer)
        case Sort.LABELS:
            labels = [label.strip() for label in answer.split(",") if label.strip()]
            return "[" + ", ".join(_quoted(label) for label in labels) + "]"
        case Sort.WORDS:
            return _quoted(answer)


def _length(question: Question, answer: str, unit: str) -> Length:
    """Read a length; a comma counts as a decimal point, as in many countries."""
    if re.match(r"[+-]?[1-9]\d{0,2},\d{3}(?!\d)", answer):
        both = f"{answer.replace(',', '')} or {answer.replace(',', '.')}"
        raise PlanError(
            f'"{question.ask}": {answer} may be {both}; write it with a point, or without a comma'
        )
    default = None if question.needs_unit or not unit else Unit(unit)
    try:
        return written_length(re.sub(r"(?<=\d),(?=\d)", ".", answer, count=1), default)
    except WrittenError as error:
        raise PlanError(f'"{question.ask}": {error}') from None


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    if not text.isprintable():
        raise PlanError(f'"{visible(text)}" holds a character that can\'t be written; use plain words')
    return f'"{escaped}"'


def _wanted(question: Question) -> str:
    return {
        Sort.COUNT: "write a whole number from 1 to 99",
        Sort.LENGTH: 'write a figure and its unit, such as "18 thou"',
        Sort.CHOICE: f"write one of: {', '.join(question.choices)}",
        Sort.LABELS: "write words with commas between",
        Sort.WORDS: "write a few words",
    }[question.sort]


def unit_of(asked: Iterable[Question], answers: Mapping[str, str]) -> str:
    """Return the unit of bare numbers that was chosen, by its usual name."""
    for question in asked:
        if question.key == "unit":
            answer = answers.get("unit", "").strip()
            return (question.also or {}).get(answer.lower(), answer) or question.default() or ""
    return ""


def filled(picked: Iterable[Template], answers: Mapping[str, str]) -> str:
    """Return the text of the plan from the answers; lines that name an empty answer are omitted.

    Raises:
        PlanError: an answer is missing, invalid, or belongs to no question.
    """
    picked = tuple(picked)
    asked = questions(picked)
    known = [question.key for question in asked]
    for key in answers:
        if key not in known:
            raise PlanError(f'no question has the key "{key}"; {did_you_mean(key, known)}')
    unit = unit_of(asked, answers)
    if unit not in {known_unit.value for known_unit in Unit}:
        unit = ""
    written = {
        q.key: written_answer(q, answers.get(q.key, ""), unit, answers)
        for q in asked
        if q.is_asked(answers) or answers.get(q.key, "").strip()
    }
    # Bores and journals are read in inches if gaps are read in thou.
    written["size_unit"] = '"in"' if unit == Unit.THOU else written.get("unit")
    lines = []
    for template in picked:
        for line in [*template.text.splitlines(), ""]:
            fields = _FIELD.findall(line)
            if all(written.get(field) is not None for field in fields):
                lines.append(_FIELD.sub(lambda found: written[found[1]] or "", line))
    return "\n".join(lines).rstrip("\n") + "\n"
