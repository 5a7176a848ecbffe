"""The build sheet as PDF, for the customer or the next builder.

Typst sets the page from a template beside this file; the content is passed as data. The same session
always produces the same bytes.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable, Sequence
from importlib.resources import files

from handsfree.errors import HandsfreeError, install_extra
from handsfree.export.pictures import PAPER, Scale, drawing, picture, pictures_of, scale_of, signed
from handsfree.journal import Event, head
from handsfree.plan import Check
from handsfree.session import Entry, Fate, Result, Session, entry_text, results

BREAK = "\u200b"  # marks where the template may break a word; never printed
FONTS = ("Libertinus Serif", "DejaVu Sans Mono")  # both come with typst

_TITLE = 160  # characters of a name that are printed
_CELL = 400
_DERIVATIONS = 8  # most that are printed one by one
_WORD = 24  # characters; longer words may be broken
_CHUNK = 8  # characters between two breaks
_BEYOND = re.compile("[^\u0000-\u052f\u1e00-\u1fff\u2000-\u22ff\ufffd]")  # not in typst's own fonts
_LONG = re.compile(rf"\S{{{_WORD},}}")


def to_pdf(
    session: Session, events: Iterable[Event], *, cautions: Sequence[str] = (), paper: str = "a4"
) -> bytes:
    """Return a session's build sheet as PDF.

    Args:
        session: the session to print.
        events: the events that it was folded from.
        cautions: the cautions of the trade, a sentence or two each.
        paper: "a4" or "us-letter".

    Raises:
        HandsfreeError: typst isn't installed.
    """
    try:
        import typst
    except ImportError as fault:
        raise HandsfreeError(
            f"The build sheet needs the package typst: {install_extra('export')}, or export as CSV."
        ) from fault
    events = list(events)
    content = json.dumps(sheet_content(session, events, cautions, paper), ensure_ascii=False)
    template = files("handsfree.export").joinpath("build_sheet.typ").read_bytes()
    printed = typst.compile(
        template,
        format="pdf",
        sys_inputs={"sheet": content},
        # The machine's own fonts only where needed, so that the bytes don't depend on the machine.
        ignore_system_fonts=_BEYOND.search(content) is None,
        timestamp=events[-1].at.replace(microsecond=0) if events else 0,
    )
    if not isinstance(printed, bytes):  # pragma: no cover - typst returns a list only for pictures
        raise HandsfreeError("The build sheet could not be printed.")
    return printed


def sheet_content(
    session: Session, events: Sequence[Event], cautions: Sequence[str], paper: str = "a4"
) -> dict[str, object]:
    """Return the sheet's content as data for the template."""
    found = results(session)
    missing = sum(not result.complete for result in found)
    count = len(events)
    return {
        "title": printable(session.plan.name, _TITLE),
        "engine": printable(str(session.plan.engine), _TITLE),
        "short": printable(session.plan.name, 60),
        "paper": paper,
        "fonts": list(FONTS),
        "state": _state(session, missing),
        "facts": _facts(session, events),
        "checks": [_check(check, [r for r in found if r.check is check]) for check in session.plan.checks],
        "pictures": [
            {"svg": picture(drawn, PAPER), "about": printable(drawn.about, _TITLE), "width": drawn.width}
            for drawn in pictures_of(session)
        ],
        "changes": [_change(entry) for entry in session.log() if entry.state is not Fate.STANDS],
        "cautions": [printable(caution, 2000) for caution in cautions],
        "events": "1 event" if count == 1 else f"{count} events",
        "hash": head(events),
        "checking": "Does the journal still hold all of this? handsfree journal verify JOURNAL --hash HASH",
    }


def _state(session: Session, missing: int) -> str:
    if missing:
        return f"not complete: {missing} place{'s' * (missing != 1)} below without a reading"
    return "complete" if session.finished else "complete, session not closed"


def _facts(session: Session, events: Sequence[Event]) -> list[tuple[str, str]]:
    who = dict.fromkeys(str(event.draft.data["who"]) for event in events if event.draft.data.get("who"))
    facts = [("measured by", ", ".join(who) or "not stated")]
    facts += [(name, value) for name, value in session.facts.items() if name != "who"]
    if session.plan.engine.bore is not None:
        facts.append(("bore", str(session.plan.engine.bore)))
    if events:
        facts.append(("began", _local(events[0])))
        facts.append(("ended", _local(events[-1])))
        facts.append(("program", f"handsfree {events[-1].program}"))
    return [(printable(name, 60), printable(value, _TITLE)) for name, value in facts]


def _check(check: Check, found: Sequence[Result]) -> dict[str, object]:
    axes = tuple(dict.fromkeys(axis for result in found for axis, _ in result.item.labels))
    scale = scale_of(check.unit, found)
    derivations = dict.fromkeys(result.target.derivation for result in found if result.target is not None)
    derivations.pop("given", None)
    words = [printable(each, _CELL) for each in derivations]
    return {
        "name": printable(check.name, _TITLE),
        "about": printable(_about(check), _CELL),
        "axes": [printable(axis, 40) for axis in axes],
        "scale": None if scale is None else _scale(scale),
        "rows": [_row(result, axes, scale) for result in found],
        "derivations": words if len(words) <= _DERIVATIONS else ["each from its own bore"],
    }


def _about(check: Check) -> str:
    held = (check.instrument, *(part.instrument for part in check.parts))
    instruments = dict.fromkeys(str(one) for one in held if one is not None)
    measured = f", measured with {', '.join(instruments)}" if instruments else ""
    return f"{check.rule.value}{measured}"


def _scale(scale: Scale) -> dict[str, str]:
    left, right = (signed(end, scale.unit) for end in (scale.left, scale.right))
    return {"left": left, "middle": f"{scale.unit} from aim", "right": right}


def _row(result: Result, axes: Sequence[str], scale: Scale | None) -> dict[str, object]:
    last = result.last
    return {
        "labels": [printable(result.item.get(axis) or "", 80) for axis in axes],
        "target": printable(result.limits, _CELL),
        "reading": printable(result.text, _CELL) or "-",
        "verdict": printable(result.verdict or "", 80),
        "tries": str(result.tries) if result.tries else "",
        "at": "" if last is None else _local(last.event),
        "chart": drawing(result, scale),
    }


def _change(entry: Entry) -> list[str]:
    heard = entry.event.draft.heard
    return [
        str(entry.event.seq),
        printable(f"{entry.check}: {entry.position.key}", _CELL),
        printable(entry_text(entry), _CELL),
        "withdrawn" if entry.state is Fate.VOIDED else "corrected",
        printable(heard.words if heard else "", _CELL),
        _local(entry.event),
    ]


def _local(event: Event) -> str:
    return event.local.strftime("%Y-%m-%d %H:%M")


def printable(text: str, most: int) -> str:
    """Return at most `most` characters of a text, without control characters and direction marks.

    Paper obeys none of them, so they needn't be written out as on a screen (`handsfree.visible`). Long
    words get `BREAK` characters.
    """
    kept = "".join(
        " " if sign.isspace() else sign
        for sign in text[: most + 1]
        if sign.isspace() or unicodedata.category(sign) not in ("Cc", "Cf", "Cs", "Co", "Cn")
    )
    if len(text) > most:
        kept = kept[:most] + "\u2026"
    return _LONG.sub(lambda word: BREAK.join(_chunks(word.group())), kept)


def _chunks(word: str) -> list[str]:
    return [word[start : start + _CHUNK] for start in range(0, len(word), _CHUNK)]
