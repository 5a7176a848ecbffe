"""The front page: go on, begin, make a plan by a form, look back, try this machine, settings.

All of it is what the commands do, by the same functions; what only they can do comes in by `Hands`.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import astuple, dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from handsfree import __version__
from handsfree.errors import HandsfreeError, JournalError, PlanError
from handsfree.export import DARK, PAPER, find, has, picture, pictures_of, summarise
from handsfree.journal import Sounds, is_journal
from handsfree.judge import findings
from handsfree.live import write_plan
from handsfree.page.site import Site
from handsfree.planfile import load_plan, parse_plan
from handsfree.preferences import STYLES, changed, load_preferences, save_preferences, settings
from handsfree.session import ChangedPlan, Recorded, entry_text, read, results
from handsfree.show import (
    Weight,
    answer_faults,
    new_plan,
    new_plan_questions,
    phrase_card,
    plan_rows,
    question_form,
    template_list,
)
from handsfree.speak import journal_beside
from handsfree.visible import shown

FORMS = {
    "pdf": "application/pdf",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "csv": "text/csv",
    "json": "application/json",
}
"""Exports that are handed out, with their media types (IANA's registry)."""

SOUNDS_FROM = ("here", "page", "keys")
"""Where a session hears and speaks: this computer or the page; the page alone; nowhere, keys alone."""

_BEGINS_WITHIN_S = 60.0
_LOOK_EVERY_S = 0.05
_LONGEST = 200  # letters of a name
_MOST_CHECKS = 40
_MOST_FOUND = 200  # sessions in one answer


@dataclass(frozen=True)
class Order:
    """A session to begin. journal: None for a trial, of which nothing is kept."""

    plan: Path | None
    journal: Path | None
    who: str = ""
    sound: str = "here"
    answers: str | None = None
    changed_plan: ChangedPlan | None = None


@dataclass(frozen=True)
class Hands:
    """What the front page has the program do.

    begin: begins a session, soon; false if one is at work. ends: ends it. fault: why the last one couldn't
    begin. at_work: the session at work; None before it has begun and after it. export: a journal in one of
    `FORMS`. verified: whether a journal is as it was logged, and what is said of it. probes: what works on
    this machine, as name, whether it works, what was found and the remedy.
    """

    begin: Callable[[Order], bool]
    end: Callable[[], object]
    fault: Callable[[], str]
    at_work: Callable[[], Order | None]
    export: Callable[[Path, str], bytes]
    verified: Callable[[Path], tuple[bool, Sequence[str]]]
    probes: Callable[[], Iterable[tuple[str, bool, str, str]]]


class Shelf:
    """The plans and journals of one folder, by their names alone.

    A name is looked for in the folder's own list and never joined to a path. What leads out of the folder
    (a link) and what is hidden isn't in the list.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder.resolve()
        self._read: dict[Path, tuple[object, Recorded]] = {}

    def plans(self) -> list[Path]:
        """Return the plan files, by name."""
        return [path for path in self._files() if path.suffix == ".toml" and _holds_checks(path)]

    def journals(self) -> list[Path]:
        """Return the journals, by name."""
        own = set(self._files())
        return [path for path in find([self.folder]) if path in own]

    def plan(self, name: object) -> Path:
        """Return the plan file of this name; PlanError if there is none."""
        return self._named(self.plans(), name, PlanError, "plan")

    def journal(self, name: object) -> Path:
        """Return the journal of this name; JournalError if there is none."""
        return self._named(self.journals(), name, JournalError, "journal")

    def recorded(self, path: Path) -> Recorded:
        """Return a journal's session; it is read again only after a change."""
        stamp = _stamp(path)
        if path not in self._read or self._read[path][0] != stamp:
            self._read[path] = (stamp, read(path))
        return self._read[path][1]

    def sound(self, journal: Path, number: object) -> bytes:
        """Return the kept sound of an event, as FLAC.

        Raises:
            JournalError: there is none, or it was altered.
        """
        event = next((one for one in self.recorded(journal).events if str(one.seq) == number), None)
        name = event.draft.heard.sound if event is not None and event.draft.heard is not None else None
        if name is None:
            raise JournalError(f"No sound was kept of event {_short(number)} of {journal.name}.")
        sounds = Sounds.beside(journal)
        path = sounds.path(name)
        if not path.resolve().is_relative_to(self.folder):
            raise JournalError(f"The sounds of {journal.name} lie in another folder; play them from there.")
        if (fault := sounds.trust(name)) is not None:
            raise JournalError(fault)
        return path.read_bytes()

    def fresh_journal(self, plan: Path, today: str) -> Path:
        """Return an unused name for another session of a plan."""
        for number in range(1, 1000):
            more = f"-{number}" if number > 1 else ""
            path = plan.with_name(f"{plan.stem}-{today}{more}.journal")
            if not path.exists():
                return path
        raise JournalError(f"{self.folder} is full of journals of {plan.name}; go on with one of them")

    def _files(self) -> list[Path]:
        try:
            entries = sorted(self.folder.iterdir())
        except OSError as fault:
            why = fault.strerror or fault
            raise HandsfreeError(f"{shown(self.folder)}: the folder can't be read ({why})") from None
        return [path for path in entries if not path.name.startswith(".") and self._is_own(path)]

    def _is_own(self, path: Path) -> bool:
        try:
            return path.is_file() and path.resolve().parent == self.folder
        except OSError:  # a link that leads to itself
            return False

    def _named(self, paths: Iterable[Path], name: object, kind: type[HandsfreeError], what: str) -> Path:
        for path in paths:
            if path.name == name:
                return path
        raise kind(f'there is no {what} "{_short(name)}" in {self.folder}; choose one that is shown')


def _holds_checks(path: Path) -> bool:
    """Return whether a file looks like a plan: other programs write TOML, too."""
    try:
        with path.open("rb") as file:
            return b"[[check" in file.read(1_000_000)
    except OSError:
        return False


def _stamp(path: Path) -> object:
    """Return what differs once a journal, or what is kept beside it, was written to."""
    found = []
    for name in (path.name, f"{path.name}-wal", f"{path.name}.unsaved"):
        try:
            stat = path.with_name(name).stat()
            found.append((stat.st_mtime_ns, stat.st_size))
        except OSError:
            found.append((0, 0))
    return tuple(found)


def _short(text: object) -> str:
    return shown(str(text)[:_LONGEST])


class FrontPage:
    """The front page on a site: `/front`, and what it asks for. `why` says why it is this folder."""

    def __init__(self, site: Site, folder: Path, why: str, hands: Hands) -> None:
        self._shelf, self._why, self._hands = Shelf(folder), why, hands
        site.page("/front", "front.html")
        site.look("/front/state", self.state)
        site.look("/front/questions", self.questions)
        site.look("/front/card", lambda form: {"card": phrase_card(load_plan(self._plan(form)))})
        site.look(
            "/front/targets",
            lambda form: [list(astuple(row)) for row in plan_rows(load_plan(self._plan(form)))],
        )
        site.look("/front/sessions", self.sessions)
        site.look("/front/session", self.session)
        site.look("/front/verify", self.verify)
        site.look("/front/probes", lambda _: [list(row) for row in self._hands.probes()])
        site.look("/front/settings", lambda _: settings(load_preferences()))
        site.call("/front/settings", self.keep_settings)
        site.call("/front/plan", self.make_plan)
        site.call("/front/begin", self.begin)
        site.call("/front/end", self.end)
        site.hand_out("/front/file", self._file)
        site.hand_out("/front/sound", self._sound)
        site.hand_out("/front/picture", self._picture)

    # ---- what is there

    def state(self, _: Mapping[str, Any]) -> dict[str, Any]:
        """Return the folder, its plans (the one worked on last first), the templates, the session at work."""
        plans = [self._plan_row(path) for path in self._shelf.plans()]
        plans.sort(key=lambda row: (row["touched"], row["file"]), reverse=True)
        work = self._hands.at_work()
        return {
            "folder": str(self._shelf.folder),
            "why": self._why,
            "version": __version__,
            "at_work": None if work is None else "" if work.plan is None else work.plan.name,
            "fault": self._hands.fault(),
            "plans": plans,
            "templates": [{"name": name, "about": about} for name, about in template_list()],
        }

    def _plan_row(self, path: Path) -> dict[str, Any]:
        row: dict[str, Any] = {"file": path.name, "name": path.stem, "engine": "", "checks": [], "fault": ""}
        row |= {"journal": "", "standing": "", "finished": False, "touched": ""}
        try:
            plan = load_plan(path)
        except HandsfreeError as fault:
            return row | {"fault": str(fault)}
        row |= {
            "name": plan.name,
            "engine": str(plan.engine),
            "checks": [check.name for check in plan.checks],
        }
        journal = self._latest(path)
        if journal is None:
            return row
        row |= {"journal": journal.name, "touched": f"{_touched(journal):020.6f}"}
        try:
            told = _summary(self._shelf.recorded(journal))
            return row | {"standing": told["standing"], "finished": told["finished"]}
        except HandsfreeError as fault:
            return row | {"standing": str(fault)}

    def _latest(self, plan: Path) -> Path | None:
        """Return the journal of a plan that was written to last; None before the first."""
        named = journal_beside(plan)
        others = re.compile(rf"{re.escape(plan.stem)}-[0-9]{{4}}-[0-9]{{2}}-[0-9]{{2}}(-[0-9]+)?\.journal")
        own = [
            path for path in self._shelf.journals() if path.name == named.name or others.fullmatch(path.name)
        ]
        return max(own, key=_touched, default=None)

    def _plan(self, form: Mapping[str, Any]) -> Path:
        return self._shelf.plan(form.get("plan"))

    # ---- a new plan

    def questions(self, form: Mapping[str, Any]) -> list[dict[str, Any]]:
        """Return the questions of the named templates, as fields of a form."""
        return [question_form(question) for question in new_plan_questions(_names(form.get("checks")))]

    def make_plan(self, form: Mapping[str, Any]) -> dict[str, Any]:
        """Write a plan from answers, or say what is wrong with them, by question.

        Nothing is written while an answer won't do; a plan that contradicts itself is written only with
        "anyway". The file is always a new one.
        """
        names, given = _names(form.get("checks")), form.get("answers")
        if not isinstance(given, dict) or len(given) > 200:
            raise PlanError("the answers are missing; fill in the form and send it again")
        answers = {str(key): str(answer)[: 10 * _LONGEST].strip() for key, answer in given.items()}
        asked = [question for question in new_plan_questions(names) if question.is_asked(answers)]
        if faults := answer_faults(asked, answers):
            return {"faults": faults}
        text = new_plan(names, {q.key: answers[q.key] for q in asked if answers.get(q.key)})
        plan = parse_plan(text, "the new plan")
        found = findings(plan)
        if any(one.weight is Weight.CONTRADICTION for one in found) and form.get("anyway") is not True:
            return {"contradicts": [str(one) for one in found]}
        path = self._write(text, plan.name)
        return {"file": path.name, "remarks": [str(one) for one in found]}

    def _write(self, text: str, name: str) -> Path:
        stem = re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")[:40].strip("-") or "new-plan"
        taken = {path.stem for path in self._shelf.journals()}
        # a journal of that name is another plan's: the new one must not go on with it
        free = next(word for n in range(1, 1000) if (word := stem if n == 1 else f"{stem}-{n}") not in taken)
        return write_plan(text, self._shelf.folder, free)

    # ---- a session

    def begin(self, form: Mapping[str, Any]) -> dict[str, Any]:
        """Begin a session, or go on with one; answer when its bench can be seen."""
        order = self._order(form)
        if not self._hands.begin(order):
            raise HandsfreeError("a session is at work; go to its bench, or end it first")
        end = time.monotonic() + _BEGINS_WITHIN_S
        while time.monotonic() < end:
            if fault := self._hands.fault():
                raise HandsfreeError(fault)
            if self._hands.at_work() is not None:
                return {"go": "/bench"}
            time.sleep(_LOOK_EVERY_S)
        raise HandsfreeError("the session is slow to begin; look at the terminal, or go to the bench")

    def _order(self, form: Mapping[str, Any]) -> Order:
        sound, answers, edited = (form.get(name) for name in ("sound", "answers", "changed_plan"))
        if sound not in SOUNDS_FROM or answers not in {None, *STYLES}:
            raise HandsfreeError("there is no such choice; choose one that is shown")
        order = Order(None, None, str(form.get("who") or "")[:_LONGEST].strip(), sound, answers)
        if form.get("trial") is True:
            return order
        plan = self._plan(form)
        if edited not in {None, *ChangedPlan}:
            raise HandsfreeError("there is no such way to go on with a changed plan; keep or judge")
        if form.get("fresh") is True:
            journal = self._shelf.fresh_journal(plan, datetime.now().astimezone().date().isoformat())
        else:
            journal = self._latest(plan) or journal_beside(plan)
        if journal.exists() and not is_journal(journal):
            raise JournalError(f"{journal.name}: that file isn't a journal; rename it, or the plan")
        return replace(order, plan=plan, journal=journal, changed_plan=edited and ChangedPlan(edited))

    def end(self, _: Mapping[str, Any]) -> dict[str, Any]:
        """End the session at work, if there is one: all that was answered is in its journal."""
        self._hands.end()
        return {}

    # ---- past sessions

    def sessions(self, form: Mapping[str, Any]) -> dict[str, Any]:
        """Return the sessions that fit what is looked for, the newest first, and what can't be read."""
        sought = {name: str(form.get(name) or "") for name in ("engine", "place", "who", "text")}
        found, unreadable = [], []
        for path in self._shelf.journals():
            try:
                recorded = self._shelf.recorded(path)
                if has(recorded, **sought):
                    found.append(_summary(recorded))
            except HandsfreeError as fault:
                unreadable.append(str(fault))
        found.sort(key=lambda row: (row["began"], row["file"]), reverse=True)
        return {"sessions": found[:_MOST_FOUND], "more": len(found[_MOST_FOUND:]), "unreadable": unreadable}

    def session(self, form: Mapping[str, Any]) -> dict[str, Any]:
        """Return one session: every position, every entry, and the names of its pictures."""
        recorded = self._shelf.recorded(self._shelf.journal(form.get("journal")))
        found = results(recorded.session, recorded.events)
        return {
            "summary": _summary(recorded),
            "forms": list(FORMS),
            "pictures": [
                {"number": n, "about": one.about} for n, one in enumerate(pictures_of(recorded.session))
            ],
            "rows": [
                [one.check.name, one.item.key, one.limits, one.text, one.verdict or "", str(one.tries or "")]
                for one in found
            ],
            "log": [
                {
                    "number": entry.event.seq,
                    "at": f"{entry.event.local:%H:%M:%S}",
                    "place": f"{entry.check}: {entry.position.key}",
                    "text": entry_text(entry),
                    "fate": entry.state.value,
                    "words": entry.event.draft.heard.words if entry.event.draft.heard else "",
                    "sound": bool(entry.event.draft.heard and entry.event.draft.heard.sound),
                }
                for entry in recorded.session.log()
            ],
        }

    def verify(self, form: Mapping[str, Any]) -> dict[str, Any]:
        """Return whether a journal is as it was logged, in the words of the command."""
        holds, lines = self._hands.verified(self._shelf.journal(form.get("journal")))
        return {"holds": holds, "lines": list(lines)}

    def keep_settings(self, form: Mapping[str, Any]) -> dict[str, Any]:
        """Keep settings, or say what is wrong with them, by field."""
        kept, faults = changed(load_preferences(), form)
        if faults:
            return {"faults": faults}
        save_preferences(kept)
        return settings(kept)

    def _file(self, form: Mapping[str, str]) -> tuple[bytes, str, str]:
        journal, form_of = self._shelf.journal(form.get("journal")), form.get("form", "")
        if form_of not in FORMS:
            raise HandsfreeError(f"there is no such form; choose one of {', '.join(FORMS)}")
        return self._hands.export(journal, form_of), FORMS[form_of], f"{journal.stem}.{form_of}"

    def _sound(self, form: Mapping[str, str]) -> tuple[bytes, str, str]:
        journal, number = self._shelf.journal(form.get("journal")), form.get("number", "")
        return self._shelf.sound(journal, number), "audio/flac", f"{journal.stem}-{number}.flac"

    def _picture(self, form: Mapping[str, str]) -> tuple[bytes, str, str]:
        drawn = pictures_of(self._shelf.recorded(self._shelf.journal(form.get("journal"))).session)
        number = form.get("number", "")
        if number not in {str(each) for each in range(len(drawn))}:
            raise HandsfreeError("there is no such picture; choose one that is shown")
        ink = DARK if form.get("ink") == "dark" else PAPER
        return picture(drawn[int(number)], ink).encode(), "image/svg+xml", ""


def _touched(path: Path) -> float:
    return path.stat().st_mtime


def _summary(recorded: Recorded) -> dict[str, Any]:
    told = summarise(recorded)
    return {
        "file": told.path.name,
        "engine": told.engine,
        "plan": told.plan,
        "who": told.who,
        "began": told.began.strftime("%Y-%m-%d %H:%M"),
        "finished": told.finished,
        "standing": told.standing,
    }


def _names(checks: object) -> list[str]:
    """Return the names of templates, from a list or with commas between.

    Raises:
        PlanError: there are none.
    """
    listed = checks.split(",") if isinstance(checks, str) else checks
    names = [str(name).strip()[:_LONGEST] for name in listed] if isinstance(listed, list) else []
    names = [name for name in names if name]
    if not names or len(names) > _MOST_CHECKS:
        raise PlanError("no check was chosen; choose what is to be measured")
    return names
