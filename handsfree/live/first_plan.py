"""A first plan made at the bench: five questions, answered by voice or key, become a plan file."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

from handsfree.errors import PlanError
from handsfree.files import write_whole
from handsfree.length import plain
from handsfree.plan import Plan
from handsfree.planfile import load_plan
from handsfree.session import Session

_QUESTIONS = Path(__file__).with_name("first_plan.toml")
_RINGS = ("top", "second")


def questions() -> Plan:
    """Give the questions, as a plan of their own."""
    return load_plan(_QUESTIONS)


def plan_text(session: Session) -> str:
    """Write the plan that the answers describe, as TOML.

    Raises:
        PlanError: a question is still open, or a count isn't whole.
    """
    check = session.plan.checks[0]
    answers: dict[str, Decimal] = {}
    for position, entry in session.results(check.name).items():
        if entry.value is not None and not entry.bound:
            answers[position.labels[0][1]] = entry.value.value
    rings = _whole(answers, "rings", len(_RINGS))
    cylinders = _whole(answers, "cylinders", 16)
    allowance = _answer(answers, "allowance")
    parts = [
        "# Made at the bench. The ring maker's figures come first: put theirs here.",
        "format = 1",
        'name = "Made at the bench"',
        "",
        "[engine]",
        'name = "to be named"',
        "",
        "[[check]]",
        'name = "ring gaps"',
        'rule = "file to gap"',
        'unit = "thou"',
        "",
        "[check.axes]",
        f"cylinder = {cylinders}",
        "ring = [" + ", ".join(f'"{ring}"' for ring in _RINGS[:rings]) + "]",
    ]
    for ring in _RINGS[:rings]:
        aim = _answer(answers, f"{ring} target")
        parts += [
            "",
            "[[check.target]]",
            f'ring = "{ring}"',
            f'aim = "{plain(aim)} thou"',
            f'plus = "{plain(allowance)} thou"',
        ]
    return "\n".join(parts) + "\n"


def write_plan(text: str, folder: Path) -> Path:
    """Write a plan under a name that isn't taken.

    Raises:
        PlanError: it can't be written.
    """
    for number in range(1, 1000):
        path = folder / ("new-plan.toml" if number == 1 else f"new-plan-{number}.toml")
        try:
            write_whole(path, text.encode(), fresh=True)
        except FileExistsError:
            continue
        except OSError as fault:
            reason = fault.strerror or fault
            raise PlanError(f'can\'t write the plan "{path}": {reason}; start in another folder') from fault
        return path
    raise PlanError(f'the folder "{folder}" is full of new plans; name one of them, or tidy up')


def _answer(answers: dict[str, Decimal], question: str) -> Decimal:
    if question not in answers:
        raise PlanError(f'no plan was made: the question "{question}" has no answer; start again')
    return answers[question]


def _whole(answers: dict[str, Decimal], question: str, most: int) -> int:
    answer = _answer(answers, question)
    if answer != int(answer) or not 1 <= answer <= most:
        wanted = f"start again with a whole number, 1 to {most}"
        raise PlanError(f"no plan was made: {question} can't be {plain(answer)}; {wanted}")
    return int(answer)
