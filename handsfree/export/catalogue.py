"""The journals in a folder: engine, date and progress of each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path

from handsfree.errors import HandsfreeError, JournalError
from handsfree.export.build_sheet import to_pdf
from handsfree.export.csv_json import positions_to_csv, to_csv, to_json
from handsfree.export.workbook import to_xlsx
from handsfree.journal import is_journal
from handsfree.judge import difference
from handsfree.length import Length
from handsfree.plan import Position, cautions_for
from handsfree.session import Recorded, Result, entry_text, read, results


@dataclass(frozen=True)
class Summary:
    """One journal in one line.

    began: local time, with its offset. done: number of the plan's items with all their readings.
    places: number of its items. verdicts: number of items by verdict.
    """

    path: Path
    engine: str
    plan: str
    who: str
    began: datetime
    lasted: timedelta
    events: int
    done: int
    places: int
    finished: bool
    verdicts: Counter[str] = field(default_factory=Counter)

    @property
    def standing(self) -> str:
        """How far it is: "12 of 16 done (1 over, 11 good)"."""
        verdicts = ", ".join(f"{count} {verdict}" for verdict, count in sorted(self.verdicts.items()))
        return f"{self.done} of {self.places} done" + (f" ({verdicts})" if verdicts else "")


@dataclass(frozen=True)
class Unreadable:
    """A journal that can't be read, and the reason."""

    path: Path
    sentence: str


def find(places: Iterable[Path]) -> Iterator[Path]:
    """Yield every journal among these files and in these folders, by name; in folders judged by content.

    Raises:
        JournalError: a named file or folder is missing.
    """
    for place in places:
        if place.is_dir():
            yield from (path for path in sorted(place.iterdir()) if path.is_file() and is_journal(path))
        elif place.exists():
            yield place
        else:
            raise JournalError(f"There is no journal or folder {place}; check the name.")


def summarise(recorded: Recorded) -> Summary:
    """Return a journal's summary."""
    found = results(recorded.session)
    first = recorded.began
    return Summary(
        path=recorded.path,
        engine=recorded.engine,
        plan=recorded.session.plan.name,
        who=recorded.fact("who") or "",
        began=first.local,
        lasted=recorded.ended - first.at,
        events=len(recorded.events),
        done=sum(result.complete for result in found),
        places=len(found),
        finished=recorded.session.finished,
        verdicts=Counter(result.verdict for result in found if result.verdict is not None),
    )


def has(recorded: Recorded, *, engine: str = "", place: str = "", who: str = "", text: str = "") -> bool:
    """Return whether a session has what is looked for, each a part of a text, ignoring case.

    Args:
        recorded: the session.
        engine: in the name of the engine or the plan.
        place: in the check and position of an entry.
        who: in the names of those who measured.
        text: in any of these, the file's name, or what was said, keyed or noted.
    """
    session = recorded.session
    log = session.log()
    engines = [recorded.engine, session.plan.name]
    people = [str(event.draft.data["who"]) for event in recorded.events if event.draft.data.get("who")]
    places = [f"{entry.check} {entry.position.key}" for entry in log]
    said = [
        f"{entry_text(entry)} {entry.event.draft.heard.words if entry.event.draft.heard else ''}"
        for entry in log
    ]
    notes = [entry.event.draft.note or "" for entry in log]
    anywhere = [*engines, *people, *places, *said, *notes, recorded.path.name]
    asked = ((engine, engines), (place, places), (who, people), (text, anywhere))
    return all(
        not part.strip() or any(part.strip().casefold() in one.casefold() for one in texts)
        for part, texts in asked
    )


def catalogue(
    places: Iterable[Path],
    *,
    engine: str | None = None,
    since: date | None = None,
    until: date | None = None,
) -> tuple[list[Summary], list[Unreadable]]:
    """Return the summaries of all journals in these places, oldest first, and the unreadable ones.

    Args:
        places: journals and folders.
        engine: only engines (or plans) whose name contains this, ignoring case.
        since: only sessions that began on this day or later, in local time.
        until: only sessions that began on this day or earlier.

    Raises:
        JournalError: a named file or folder is missing.
    """
    kept, unreadable = [], []
    for path in find(places):
        try:
            summary = summarise(read(path))
        except HandsfreeError as fault:
            unreadable.append(Unreadable(path, str(fault)))
            continue
        named = engine is None or any(
            engine.casefold() in name.casefold() for name in (summary.engine, summary.plan)
        )
        day = summary.began.date()
        if named and (since is None or day >= since) and (until is None or day <= until):
            kept.append(summary)
    return sorted(kept, key=lambda summary: (summary.began, str(summary.path))), unreadable


@dataclass(frozen=True)
class Pair:
    """One item of a check in both sessions; None where one of them doesn't have it."""

    check: str
    item: Position
    before: Result | None
    after: Result | None

    @property
    def change(self) -> Length | None:
        """The later figure less the earlier one, or None if either is missing or a bound.

        Exact if both are in one unit; otherwise rounded to six decimals in the later one's unit, for display.
        """
        first = self.before.figure if self.before else None
        second = self.after.figure if self.after else None
        return None if first is None or second is None else difference(second, first, second.unit)


def compare(before: Recorded, after: Recorded) -> list[Pair]:
    """Return the items of two sessions paired by check and position, in the later plan's order."""
    earlier = {(r.check.name, r.item): r for r in results(before.session, before.events)}
    later = {(r.check.name, r.item): r for r in results(after.session, after.events)}
    return [
        Pair(check, item, earlier.get((check, item)), later.get((check, item)))
        for check, item in {**later, **earlier}
    ]


def exported(journal: Path, form: str, *, paper: str = "a4", rows: str = "entries") -> bytes:
    """Return a journal's session in a form for others; the journal is only read.

    Args:
        journal: the journal.
        form: csv, json, xlsx (a spreadsheet) or pdf (the build sheet).
        paper: of the build sheet, "a4" or "us-letter".
        rows: of the CSV, "entries" as logged, or "positions" with their current entry.

    Raises:
        HandsfreeError: the journal is missing, empty or unreadable, or a package is missing.
    """
    recorded = read(journal)
    session, events = recorded.session, recorded.events
    match form:
        case "csv":
            return to_csv(session) if rows == "entries" else positions_to_csv(session, events)
        case "json":
            return to_json(session, events)
        case "xlsx":
            return to_xlsx(session, events)
        case "pdf":
            cautions = [caution.whole for caution in cautions_for(session.plan)]
            return to_pdf(session, events, cautions=cautions, paper=paper)
    raise JournalError(f'there is no form "{form}"; choose one of csv, json, xlsx, pdf')
