"""A first plan made at the bench: a few questions, answered by voice or key, become a plan file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from functools import cache
from pathlib import Path

from handsfree.bench import Bench, Exchange
from handsfree.dialogue import Answer, chosen_by
from handsfree.errors import PlanError
from handsfree.files import write_whole
from handsfree.journal import Draft, Event, Heard, Kind
from handsfree.length import Length, Unit, plain
from handsfree.plan import QUESTION, Plan, Position
from handsfree.planfile import load_plan
from handsfree.session import ChangedPlan, Session, with_draft
from handsfree.speak import Phrasing, Reply, Tone, cardinal, number_words
from handsfree.understand import Command, Control, Move, Reading, Word

_QUESTIONS = Path(__file__).with_name("first_plan.toml")
_RINGS = ("top", "second")
_COUNTED = ("cylinders", "rings")  # answers are whole numbers, not lengths


@cache
def questions() -> Plan:
    """Return the questions as a plan."""
    return load_plan(_QUESTIONS)


class Interview(Bench):
    """A session of questions instead of measurements; each answer is checked at once and can be changed."""

    def open(self, changed_plan: ChangedPlan | None = None, **facts: str) -> Exchange:
        """Start with the first question."""
        begun = super().open(changed_plan, **facts)
        self._last = self._asking()
        return replace(begun, reply=self._last)

    @property
    def _phrases(self) -> Phrasing:
        return self._say.phrasing

    @property
    def _in_hand(self) -> str:
        return self.session.position.labels[0][1]

    def _carry_out(self, commands: Sequence[Command], heard: Heard) -> tuple[tuple[Event, ...], Reply]:
        """Take the answers of one utterance; the reply to the last one asks the next question."""
        events: list[Event] = []
        reply = Reply("")
        for command in commands:
            answer = self._answer(command, heard)
            events.extend(self._take(answer.drafts))
            reply = answer.reply
        return tuple(events), self._spoken(Answer((), reply))

    def _answer(self, command: Command, heard: Heard) -> Answer:
        chosen = chosen_by(self.session, command)
        if len(chosen) == 1:  # of "this, or that?"
            command = chosen[0]
        match command:
            case Reading():
                return self._number(self._meant(command, heard), command.value.value, heard)
            case Move(position):
                return self._go_to(position.labels[0][1], heard)
            case Control(Word.AFFIRM) if not open_questions(self.session):
                finished = Draft(Kind.FINISHED, check=self.session.check, heard=heard)
                return Answer((finished,), self._phrases.reply("first_plan.made"))
            case Control(Word.SAY_AGAIN):
                return Answer((), self._last or self._asking())
            case Control(Word.DISREGARD | Word.NEGATIVE | Word.CORRECTION | Word.PREVIOUS):
                return self._back(heard)
            case Control(Word.NEXT | Word.GO_AHEAD | Word.FINISH | Word.READ_BACK):
                return Answer((), self._asking())
            case _:
                return Answer((), self._phrases.reply("first_plan.help", self._asking().text))

    def _meant(self, reading: Reading, heard: Heard) -> str:
        """Return the question that a number answers: the one named, the one corrected, or the one in hand."""
        if reading.position is not None:
            return reading.position.labels[0][1]
        last = self.session.last_entry
        if reading.corrects and last is not None:
            return last.position.labels[0][1]
        said = heard.words.split() if heard.source == "voice" else []
        return next((label for label in _COUNTED if label in said), self._in_hand)

    def _number(self, question: str, value: Decimal, heard: Heard) -> Answer:
        if not _fits(question, value):
            said = number_words(value)
            refused = self._phrases.sentence(f"first_plan.not_{_key(question)}", value=said)
            return Answer((self._move(question, heard),), self._asked(refused, question, Tone.AGAIN))
        logged = Draft(
            Kind.READING,
            check=self.session.check,
            position=_place(question),
            value=Length(value, Unit.THOU),
            heard=heard,
        )
        after = with_draft(self.session, logged)
        left = open_questions(after)
        if not left:
            return Answer((logged,), self._all(after))
        said = self._said_back(question, value)
        return Answer((logged, self._move(left[0])), self._asked(said, left[0], Tone.GOOD))

    def _go_to(self, question: str, heard: Heard) -> Answer:
        return Answer((self._move(question, heard),), self._asked("", question))

    def _back(self, heard: Heard) -> Answer:
        """Ask the last answered question again; the other answers are kept."""
        entry = self.session.last_entry
        if entry is None:
            return Answer((), self._asking())
        return self._go_to(entry.position.labels[0][1], heard)

    def _move(self, question: str, heard: Heard | None = None) -> Draft:
        return Draft(Kind.MOVE, check=self.session.check, position=_place(question), heard=heard)

    def _asking(self) -> Reply:
        """Ask the question in hand; once all are answered, ask whether to make the plan."""
        return self._asked("", self._in_hand) if open_questions(self.session) else self._all(self.session)

    def _asked(self, before: str, question: str, tone: Tone = Tone.ASK) -> Reply:
        return self._phrases.joined([before, self._phrases.sentence(f"first_plan.{_key(question)}")], tone)

    def _said_back(self, question: str, value: Decimal) -> str:
        one = "_one" if question in _COUNTED and value == 1 else ""
        return self._phrases.sentence(f"first_plan.said_{_key(question)}{one}", value=number_words(value))

    def _all(self, session: Session) -> Reply:
        said = " ".join(self._said_back(name, value) for name, value in answers_of(session).items())
        return self._phrases.reply("first_plan.all", answers=said, expects=("yes", "no"))


def answers_of(session: Session) -> dict[str, Decimal]:
    """Return the current answers by question, in the order of the questions."""
    check = session.plan.checks[0]
    found = session.results(check.name)
    return {
        position.labels[0][1]: entry.value.value
        for position in check.positions
        if (entry := found.get(position)) is not None and entry.value is not None
    }


def open_questions(session: Session) -> list[str]:
    """Return the questions without an answer, in order."""
    answers = answers_of(session)
    names = [position.labels[0][1] for position in session.plan.checks[0].positions]
    needless = {"second target"} if answers.get("rings") == 1 else set()
    return [name for name in names if name not in answers and name not in needless]


def plan_text(session: Session) -> str:
    """Return the plan that the answers describe, as TOML.

    Raises:
        PlanError: a question is not answered.
    """
    left = open_questions(session)
    if left:
        raise PlanError(f'no plan was made: the question "{left[0]}" has no answer; start again')
    answers = answers_of(session)
    name = f"{cardinal(int(answers['cylinders']))}-cylinder engine".capitalize()
    rings = _RINGS[: int(answers["rings"])]
    parts = [
        "# Made at the bench. The ring maker's figures come first: put theirs here.",
        "format = 1",
        f'name = "{name}"',
        "",
        "[engine]",
        f'name = "{name}"',
        "",
        "[[check]]",
        'name = "ring gaps"',
        'rule = "file to gap"',
        'unit = "thou"',
        'order = "ring by ring"',
        "",
        "[check.axes]",
        f"cylinder = {plain(answers['cylinders'])}",
        "ring = [" + ", ".join(f'"{ring}"' for ring in rings) + "]",
    ]
    for ring in rings:
        parts += [
            "",
            "[[check.target]]",
            f'ring = "{ring}"',
            f'aim = "{plain(answers[f"{ring} target"])} thou"',
            f'plus = "{plain(answers["allowance"])} thou"',
        ]
    return "\n".join(parts) + "\n"


def plan_name(session: Session) -> str:
    """Return the file name of the plan, after its engine."""
    return f"{cardinal(int(answers_of(session)['cylinders']))}-cylinder-engine"


def write_plan(text: str, folder: Path, name: str = "new-plan") -> Path:
    """Write a plan under an unused name.

    Raises:
        PlanError: it can't be written.
    """
    for number in range(1, 1000):
        path = folder / (f"{name}.toml" if number == 1 else f"{name}-{number}.toml")
        try:
            write_whole(path, text.encode(), fresh=True)
        except FileExistsError:
            continue
        except OSError as fault:
            reason = fault.strerror or fault
            raise PlanError(f'can\'t write the plan "{path}": {reason}; start in another folder') from fault
        return path
    raise PlanError(f'the folder "{folder}" is full of new plans; name one of them, or tidy up')


def _place(question: str) -> Position:
    return Position(((QUESTION, question),))


def _key(question: str) -> str:
    return question.replace(" ", "_")


def _fits(question: str, value: Decimal) -> bool:
    """Return whether a number is a valid answer to a question."""
    target = questions().checks[0].targets[_place(question)]
    within = target.lower.value <= value <= target.upper.value
    return within and (question not in _COUNTED or value == int(value))
