"""Loads a plan file: plans are read, checked and built only here."""

from __future__ import annotations

from pathlib import Path

from handsfree.errors import PlanError
from handsfree.plan import Plan
from handsfree.planfile.source import Source
from handsfree.textfile import parse_toml, read_text
from handsfree.visible import shown

FORMAT = 1
MOST_LETTERS = 1_000_000
LONGEST_LINE = 4_000


def load_plan(path: Path | str) -> Plan:
    """Return the plan in the file at `path`.

    Raises:
        PlanError: the file is missing, can't be read, isn't TOML, or is an invalid plan; one sentence with
            the file, the place and the remedy.
    """
    return parse_plan(read_text(path, "plan file", PlanError), shown(path))


def parse_plan(text: str, where: str = "plan") -> Plan:
    """Return the plan in a text; `where` names it in errors.

    Raises:
        PlanError: as `load_plan`.
    """
    from pydantic import ValidationError  # here, because not every command reads a plan

    from handsfree.planfile.build import build
    from handsfree.planfile.tables import PlanTable, known_keys

    source = Source(text, where)
    _check_size(text, where)
    table = parse_toml(text, where, PlanError)
    _check_format(source, table.get("format"))
    try:
        checked = PlanTable.model_validate(table)
    except ValidationError as error:
        raise source.from_validation(error, known_keys()) from None
    return build(checked, source)


def _check_size(text: str, where: str) -> None:
    """Refuse texts that no person writes and that take minutes to parse: a key of thousands of parts."""
    if len(text) > MOST_LETTERS:
        raise PlanError(f"{where}: this file has over {MOST_LETTERS} letters, so it is no plan; name another")
    longest = max(map(len, text.split("\n")))
    if longest > LONGEST_LINE:
        raise PlanError(
            f"{where}: a line in this file has {longest} letters, which is too long for a plan; write at "
            f"most {LONGEST_LINE}"
        )


def _check_format(source: Source, number: object) -> None:
    # First: errors about a newer plan's unknown keys would only confuse.
    if isinstance(number, int) and number > FORMAT:
        raise source.error(
            ("format",),
            f"this plan has format {number}, and this program reads up to format {FORMAT}; "
            "use a newer handsfree",
        )
    if isinstance(number, int) and number < 1:
        raise source.error(("format",), f"there is no format {number}; write format = {FORMAT}")
