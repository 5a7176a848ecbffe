"""The pure part of ``handsfree plan new``, ``show`` and ``check``: text in, text out.

Not imported by the room itself, as it needs the rules of `handsfree.judge`, which need plans.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from handsfree.judge import Finding, Weight, findings
from handsfree.length import Length, Unit, in_unit, plain
from handsfree.plan import Check, Plan, Position, Rule, cautions_for
from handsfree.planfile import (
    Question,
    Template,
    chosen,
    filled,
    parse_plan,
    questions,
    templates,
    unit_of,
    written_answer,
)

__all__ = [
    "Finding",
    "PlanRow",
    "Weight",
    "answer_fault",
    "answer_faults",
    "check_plan",
    "new_plan",
    "new_plan_questions",
    "plan_rows",
    "question_form",
    "show_plan",
    "template_list",
]

_METRIC = frozenset({Unit.MM, Unit.MICRON})


def template_list() -> tuple[tuple[str, str], ...]:
    """Return the name and subject of every template, to choose from."""
    return tuple((template.name, template.about) for template in templates().values())


def new_plan_questions(names: Iterable[str], own: Iterable[Template] = ()) -> tuple[Question, ...]:
    """Return the questions to ask for a plan from these templates, in order, each once.

    Raises:
        PlanError: there is no such template.
    """
    return questions((*chosen(names), *own))


def answer_fault(
    question: Question, answer: str, unit: str = "", answers: Mapping[str, str] | None = None
) -> str | None:
    """Return what is wrong with an answer as one sentence, or None if it will do.

    unit: the answer to the question "unit", once it was given. answers: those given so far.
    """
    from handsfree.errors import PlanError

    try:
        written_answer(question, answer, unit, answers)
    except PlanError as error:
        return str(error)
    return None


def answer_faults(asked: Iterable[Question], answers: Mapping[str, str]) -> dict[str, str]:
    """Return what is wrong with the answers of a form, one sentence by key of the question."""
    asked = tuple(asked)
    unit = unit_of(asked, answers)
    faults = {
        question.key: answer_fault(question, answers.get(question.key, ""), unit, answers)
        for question in asked
        if question.is_asked(answers)
    }
    return {key: fault for key, fault in faults.items() if fault is not None}


def question_form(question: Question) -> dict[str, object]:
    """Return a question as plain data, for a form's field; `defaults` are by unit of the plan."""
    return {
        "key": question.key,
        "ask": question.ask,
        "kind": question.sort.value,
        "choices": list(question.choices),
        "defaults": dict(question.defaults or {}),
        "optional": question.optional,
        "needs_unit": question.needs_unit,
        "where_empty": list(question.where_empty),
        "unasked": question.unasked,
    }


def new_plan(names: Iterable[str], answers: Mapping[str, str], own: Iterable[Template] = ()) -> str:
    """Return the text of a new plan; it has been read back, so it is valid.

    Args:
        names: templates in the order of work.
        answers: by key of the question; what is missing takes its default.
        own: templates of the user's own, from `load_template`, after the others.

    Raises:
        PlanError: an answer won't do, or the answers together make no plan.
    """
    text = filled((*chosen(names), *own), answers)
    parse_plan(text, "the new plan")
    return text


@dataclass(frozen=True, slots=True)
class PlanRow:
    """One line of the table of a plan; texts, ready to print. Empty where a check has no targets."""

    check: str
    position: str
    aim: str
    other: str
    limits: str
    derivation: str


def plan_rows(plan: Plan) -> tuple[PlanRow, ...]:
    """Return the table of a plan: one row for each item, in work order."""
    return tuple(_row(check, item) for check in plan.checks for item in check.items)


def _row(check: Check, item: Position) -> PlanRow:
    target = check.targets.get(item)
    if target is None:
        return PlanRow(check.name, item.key, "", "", "done or not", "")
    limits = f"{target.lower} to {target.upper}"
    return PlanRow(check.name, item.key, str(target.aim), _other(target.aim), limits, target.derivation)


def _other(aim: Length) -> str:
    """The aim in the other system of units, rounded for reading."""
    unit = Unit.THOU if aim.unit in _METRIC else Unit.MM
    return f"{plain(in_unit(aim.mm, unit, places=2 if unit is Unit.THOU else 4))} {unit}"


def show_plan(plan: Plan) -> str:
    """Print a plan as text: its head, a table for each check, and how each target came about.

    Derivations are named by letters in the table and written out below it, each once.
    """
    lines = [plan.name, *_head(plan)]
    rows = plan_rows(plan)
    for check in plan.checks:
        own = [row for row in rows if row.check == check.name]
        reasons = list(dict.fromkeys(row.derivation for row in own if row.derivation))
        lines += ["", *_check_head(check)]
        table = [("position", "aim", "that is", "limits", "how")]
        for row in own:
            letter = _letter(reasons.index(row.derivation)) if row.derivation else ""
            table.append((row.position, row.aim, row.other, row.limits, letter))
        lines += _columns(table)
        lines += [f"  {_letter(number)}: {reason}" for number, reason in enumerate(reasons)]
    lines += ["", "Cautions"]
    lines += [f"  {caution.first}" for caution in cautions_for(plan)]
    return "\n".join(lines) + "\n"


def _head(plan: Plan) -> list[str]:
    engine = plan.engine
    lines = [f"  engine: {engine.name}"]
    if engine.bore is not None:
        lines.append(f"  bore: {engine.bore.value} {engine.bore.unit}")
    lines += [f"  bore of cylinder {label}: {b.value} {b.unit}" for label, b in engine.bores.items()]
    if engine.duty is not None:
        lines.append(f"  duty: {engine.duty}")
    sure = f" at {plan.confidence:.0%}" if plan.acceptance.value == "guarded" else ""
    lines.append(f"  acceptance: {plan.acceptance}{sure}")
    lines += [f"  instrument: {instrument}" for instrument in plan.instruments]
    if plan.leaves:
        lines.append("  leaves: " + ", ".join(str(leaf) for leaf in plan.leaves))
    return lines


def _check_head(check: Check) -> list[str]:
    lines = [f"{check.name} ({check.rule}, {check.unit})"]
    if check.parts:
        lines.append(f"  read: {_formula(check)}")
        lines += [f"  {part.name}: {part.given}, given" for part in check.parts if part.given is not None]
    if check.shims:
        lines.append(f"  shims: {len(check.shims)} sizes, {check.shims[0]} to {check.shims[-1]}")
    if check.share is not None:
        kind = ", ".join(f"{axis} {label}" for axis, label in check.share.like) or "rings"
        lines.append(f"  tried in cylinder {check.share.tried_in}, shared out to {check.share.to}: {kind}")
    if check.bores_from is not None:
        lines.append(f"  bores: as measured in {check.bores_from}")
    if check.rule is Rule.FILE_TO_GAP:
        lines.append("  a gap only grows; the lower limit is the aim unless it says otherwise")
    return lines


def _formula(check: Check) -> str:
    terms = []
    for part in check.parts:
        times = "" if abs(part.times) == 1 else f"{abs(part.times)} "
        terms.append(f"{'-' if part.times < 0 else '+'} {times}{part.name}")
    return " ".join(terms).removeprefix("+ ")


def _letter(number: int) -> str:
    """Name a derivation: a to z, then aa, ab ..."""
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("a") + rest) + letters
    return letters


def _columns(table: Sequence[tuple[str, ...]]) -> list[str]:
    widths = [max(len(row[column]) for row in table) for column in range(len(table[0]))]
    return [
        "  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in table
    ]


def check_plan(plan: Plan) -> str:
    """Return the faults and remarks about a plan, one line each, the most serious first.

    `findings` gives the same as data, for the exit status: any contradiction means trouble.
    """
    found = findings(plan)
    if not found:
        return "Nothing contradicts itself.\n"
    return "".join(f"{finding}\n" for finding in found)
