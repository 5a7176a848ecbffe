"""`handsfree plan`: make a plan from questions, print it, check it, assign rings to bores."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from handsfree.commands.options import DONE, add_journal, add_plan
from handsfree.errors import PlanError
from handsfree.files import write_whole
from handsfree.textfile import parse_toml, read_text
from handsfree.visible import for_terminal, shown

if TYPE_CHECKING:
    from handsfree.dialogue import SharedOut
    from handsfree.planfile import Question, Template

CONTRADICTS = 2
Ask = Callable[[str], str]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add `handsfree plan`'s own commands."""
    actions = parser.add_subparsers(required=True, metavar="ACTION")

    new = actions.add_parser(
        "new",
        help="make one by asking, from templates of the trade",
        description="Asks on the terminal for whatever --answer and --answers leave open.",
    )
    new.add_argument("checks", nargs="*", metavar="CHECK", help="templates in the order of work; see --list")
    new.add_argument("--list", action="store_true", help="the templates; with CHECKs, their questions")
    new.add_argument(
        "--own", action="append", type=Path, default=[], metavar="FILE", help="a template of yours"
    )
    new.add_argument("--answer", action="append", default=[], metavar="KEY=ANSWER", help="answer a question")
    new.add_argument("--answers", type=Path, metavar="FILE", help="answers as TOML: key = answer")
    new.add_argument("--out", type=Path, metavar="FILE", help="standard output when not given")
    new.set_defaults(run=run_new)

    show = actions.add_parser("show", help="every target, and how it came about")
    add_plan(show)
    show.set_defaults(run=run_show)

    check = actions.add_parser("check", help="what contradicts itself; status 2 if anything does")
    add_plan(check)
    check.set_defaults(run=run_check)

    share = actions.add_parser("share", help="rings tried in one bore: which goes where for least filing")
    add_journal(share)
    share.set_defaults(run=run_share)


def run_new(options: argparse.Namespace) -> int:
    """Make a plan: 0, or 2 if the answers contradict each other."""
    from handsfree.judge import findings
    from handsfree.planfile import load_template, parse_plan
    from handsfree.show import Weight, check_plan

    own = tuple(load_template(path) for path in options.own)
    if options.list:
        print(for_terminal(_listing(options.checks, own)), end="")
        return DONE
    given = given_answers(options.answers, options.answer)
    ask = _ask if sys.stdin.isatty() else None
    names = list(options.checks) or ([] if own else _asked_checks(ask))
    text = answered_plan(names, own, given, ask, _tell)
    where = "the new plan"
    if options.out is None:
        print(text, end="")
    else:
        _write_new(options.out, text)
        where = str(options.out)
        _tell(f"The plan is in {where}; the makers' figures come first, so check it against theirs.")
    plan = parse_plan(text, where)
    found = findings(plan)
    if found:
        _tell(check_plan(plan).rstrip("\n"))
    return CONTRADICTS if any(finding.weight is Weight.CONTRADICTION for finding in found) else DONE


def run_show(options: argparse.Namespace) -> int:
    """Print a plan."""
    from handsfree.planfile import load_plan
    from handsfree.show import show_plan

    print(for_terminal(show_plan(load_plan(options.plan))), end="")
    return DONE


def run_check(options: argparse.Namespace) -> int:
    """Check a plan: 0, or 2 if anything contradicts itself."""
    from handsfree.judge import findings
    from handsfree.planfile import load_plan
    from handsfree.show import Weight, check_plan

    plan = load_plan(options.plan)
    print(for_terminal(check_plan(plan)), end="")
    contradicts = any(finding.weight is Weight.CONTRADICTION for finding in findings(plan))
    return CONTRADICTS if contradicts else DONE


def run_share(options: argparse.Namespace) -> int:
    """Print the assignment of rings to bores, from a journal of trials."""
    from handsfree.dialogue import shared_out
    from handsfree.session import read

    session = read(options.journal).session
    found = [shared for check in session.plan.checks if (shared := shared_out(session, check)) is not None]
    if not found:
        raise PlanError(
            f"{options.journal}: no check of its plan shares rings out; give the one in which they are tried "
            "a [check.share]"
        )
    print(for_terminal("\n".join(line for shared in found for line in _shared_lines(shared))))
    return DONE


def answered_plan(
    names: Sequence[str],
    own: Sequence[Template],
    given: Mapping[str, str],
    ask: Ask | None,
    tell: Callable[[str], object],
) -> str:
    """Return the text of a plan; ask for missing answers.

    Args:
        names: templates in the order of work.
        own: the user's own templates, after them.
        given: answers by key of their question.
        ask: asks a question and returns the answer; None without a terminal.
        tell: takes a sentence about an invalid answer.

    Raises:
        PlanError: an answer is missing or invalid.
    """
    from handsfree.show import new_plan, new_plan_questions

    answers = dict(given)
    if ask is None:
        return new_plan(names, answers, own)
    asked = new_plan_questions(names, own)
    usual: dict[str, str] = {}
    while True:
        _ask_all(asked, answers, usual, ask, tell)
        try:
            return new_plan(names, answers, own)
        except PlanError as error:
            tell(f"{error}")
            tell("Once more, with your answers in brackets: Enter keeps one.")
            usual, answers = answers, {key: answers[key] for key in given}


def _ask_all(
    asked: Sequence[Question],
    answers: dict[str, str],
    usual: Mapping[str, str],
    ask: Ask,
    tell: Callable[[str], object],
) -> None:
    """Ask the unanswered questions, each until its answer is valid.

    usual: earlier answers, as defaults.
    """
    from handsfree.planfile import unit_of
    from handsfree.show import answer_fault

    for question in asked:
        if not question.is_asked(answers):
            continue
        while question.key not in answers:
            unit = unit_of(asked, answers)
            default = usual.get(question.key) or question.default(unit)
            hint = f" [{default}]" if default else " [none]" if question.optional else ""
            choices = f" ({', '.join(question.choices)})" if question.choices else ""
            answer = ask(f"{question.ask}{choices}{hint} ").strip() or default or ""
            fault = answer_fault(question, answer, unit, answers)
            if fault is None:
                answers[question.key] = answer
            else:
                tell(fault)


def given_answers(file: Path | None, pairs: Sequence[str]) -> dict[str, str]:
    """Read answers from a TOML file and from ``key=answer`` words; the words take precedence.

    Raises:
        PlanError: the file can't be read, or a word has no "=".
    """
    answers: dict[str, str] = {}
    if file is not None:
        where = shown(file)
        table = parse_toml(read_text(file, "file of answers", PlanError), where, PlanError)
        for key, value in table.items():
            if isinstance(value, dict | bool):
                raise PlanError(
                    f'{where}: the answer to "{key}" is no text or figure; write it in quotation marks'
                )
            answers[key] = ", ".join(map(str, value)) if isinstance(value, list) else str(value)
    for pair in pairs:
        key, equals, answer = pair.partition("=")
        if not equals:
            raise PlanError(f'"{pair}" is no answer; write KEY=ANSWER, such as cylinders=4')
        answers[key.strip()] = answer.strip()
    return answers


def _asked_checks(ask: Ask | None) -> list[str]:
    if ask is None:
        raise PlanError("no check was named; name templates, such as ring gaps; --list shows them")
    _tell(_listing((), ()).rstrip("\n"))
    answer = ask("Which checks, in the order of work, with commas between? ")
    return [name.strip() for name in answer.split(",") if name.strip()]


def _listing(names: Sequence[str], own: Sequence[Template]) -> str:
    from handsfree.show import new_plan_questions, template_list

    if not names and not own:
        rows = template_list()
    else:
        rows = tuple(
            (question.key, question.ask + (f" [{question.default()}]" if question.default() else ""))
            for question in new_plan_questions(names, own)
        )
    width = max(len(name) for name, _ in rows)
    return "".join(f"{name:<{width}}  {about}\n" for name, about in rows)


def _shared_lines(shared: SharedOut) -> list[str]:
    from handsfree.length import in_unit, plain

    kind = ", ".join(f"{axis} {label}" for axis, label in shared.like.labels if axis != "cylinder")
    lines = [f"{shared.check.name}, for {shared.to.name}{': ' + kind if kind else ''}"]
    if shared.fitting is None:
        left = ", ".join(shared.missing)
        why = f"not tried yet: {left}" if left else "the bore that they were tried in isn't known"
        return [*lines, f"  nothing is shared out: {why}"]
    unit = shared.to.unit
    for place in shared.fitting.places:
        gap, rest = (
            f"{plain(in_unit(Fraction(mm), unit, places=2))} {unit}" for mm in (place.gap_mm, place.left_mm)
        )
        lines.append(f"  {place.ring} to cylinder {place.bore}: about {gap} there, {rest} to file")
    lines += [f"  {ring}: no bore takes it" for ring in shared.fitting.spare]
    lines += [f"  cylinder {bore}: a ring is wanted" for bore in shared.fitting.empty]
    if shared.filed:
        lines.append("  filing has begun, so measure each ring in its bore before going by this")
    lines.append("  predictions; only a reading in the bore itself counts")
    return lines


def _write_new(path: Path, text: str) -> None:
    try:
        write_whole(path, text.encode(), fresh=True)
    except FileExistsError:
        raise PlanError(f"{path}: this file is there already; name another with --out") from None
    except OSError as error:
        raise PlanError(f"{path}: the plan can't be written ({error.strerror}); name another file") from None


def _ask(question: str) -> str:
    sys.stderr.write(question)
    sys.stderr.flush()
    answer = sys.stdin.readline()
    if not answer:
        raise PlanError("no plan was made: the answers ended before the questions; start again")
    return answer.rstrip("\n")


def _tell(text: str) -> None:
    print(for_terminal(text), file=sys.stderr)
