"""Every answer in words: value first, then the amount left.

Pure. The caller decides what happened; this module only words it. Each method returns a `Reply`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from handsfree.length import Length, Unit
from handsfree.plan import Caution, Position
from handsfree.speak.amount import Amount, amount_words, cardinal, length_words, number_words
from handsfree.speak.phrasebook import Phrasebook
from handsfree.speak.phrasing import Phrasing, label_words, sentence_case
from handsfree.speak.reply import Reply, Verbosity
from handsfree.speak.verdict_words import VerdictWords
from handsfree.speak.work_words import WorkWords

_CAUTIONS_A_PIECE = 2


# Phrases that name a place: with a target, with limits, with neither.
_MOVED = ("talk.moved", "talk.moved_limits", "talk.moved_no_target")
_HERE = ("talk.here", "talk.here_limits", "talk.here_no_target")


class Wording:
    """Words for questions, procedure words, moves, and trouble.

    `verdict` has the answers to readings, `work` sentences that go beside them and what is left.

    Args:
        verbosity: how much to say.
        unit: the session's unit; terse and normal answers omit it unless another unit occurs.
        book: the phrases; the shipped ones by default.
    """

    def __init__(
        self,
        verbosity: Verbosity = Verbosity.NORMAL,
        unit: Unit = Unit.THOU,
        book: Phrasebook | None = None,
    ) -> None:
        self.phrasing = Phrasing(verbosity, unit, book)
        self.verdict = VerdictWords(self.phrasing)
        self.work = WorkWords(self.phrasing)

    @property
    def verbosity(self) -> Verbosity:
        """The length of answers."""
        return self.phrasing.verbosity

    def at(self, unit: Unit) -> Wording:
        """Return the same words with `unit` as the unit of bare numbers."""
        here = self.phrasing
        return self if unit is here.unit else Wording(here.verbosity, unit, here.book)

    def place(self, position: Position) -> str:
        """Say a position."""
        return self.phrasing.place(position)

    # ---- questions

    def say_again(self, times: int = 1) -> Reply:
        """Ask for a repetition; the second and third time in a row, with a hint.

        >>> Wording().say_again().text
        'Say again?'
        """
        names = ("talk.say_again", "talk.say_again_slowly", "talk.say_again_or_key")
        return self.phrasing.reply(names[min(max(times, 1), 3) - 1])

    def between(self, choices: Sequence[str]) -> Reply:
        """Ask which of a few phrases was meant; each of them is an answer.

        >>> Wording().between(["cylinder five", "nine"]).text
        'Cylinder five, or nine?'
        """
        return self.phrasing.reply("talk.between", choices=", or ".join(choices), expects=tuple(choices))

    def between_values(self, values: Sequence[Length], position: Position | None = None) -> Reply:
        """Ask which of a few readings was said: only the doubtful part, with units if they differ.

        >>> from handsfree.length import length
        >>> Wording().between_values([length("15"), length("50")]).text
        'Fifteen, or fifty?'
        """
        said = [self.phrasing.value(value, values) for value in values]
        choices = ", or ".join(said)
        if position is not None:
            choices = f"{self.place(position)}, {choices}"
        return self.phrasing.reply("talk.between", choices=choices, expects=tuple(said))

    def between_places(self, axis: str, labels: Sequence[str]) -> Reply:
        """Ask which place was said, naming the axis once.

        >>> Wording().between_places("cylinder", ["5", "9"]).text
        'Cylinder five, or nine?'
        """
        said = [label_words(label) for label in labels]
        first = f"{axis} {said[0]}" if labels[0][:1].isdecimal() else said[0]
        rest = said[1:]
        return self.phrasing.reply("talk.between", choices=", or ".join([first, *rest]), expects=tuple(said))

    def confirm(self, what: str) -> Reply:
        """Ask for yes or no.

        >>> Wording().confirm("Eighteen and a half").text
        'Eighteen and a half? Yes or no.'
        """
        return self.phrasing.reply("talk.confirm", what=what, expects=("yes", "no"))

    def confirm_value(self, value: Length, position: Position | None = None) -> Reply:
        """Ask whether this reading was meant."""
        said = self.phrasing.value(value)
        return self.confirm(said if position is None else f"{self.place(position)}, {said}")

    def reading_wanted(self, position: Position) -> Reply:
        """Ask for the reading of a position that was named without one."""
        return self.phrasing.reply("talk.reading_wanted", place=self.place(position))

    def out_of_range(self, position: Position, value: Length) -> Reply:
        """Refuse an implausible reading; its unit is always named."""
        said = length_words(value, digit_check=self.verbosity is Verbosity.FULL)
        return self.phrasing.reply("talk.out_of_range", place=self.place(position), value=said)

    # ---- procedure words

    def disregarded(self, position: Position, value: Amount, stands: Amount | None = None) -> Reply:
        """Name the withdrawn entry and the one that counts now.

        >>> from handsfree.length import length
        >>> three_top = Position.of({"cylinder": "3", "ring": "top"})
        >>> Wording().disregarded(three_top, length("18"), stands=length("20")).text
        'Disregarded: three top, eighteen. Twenty stands.'
        """
        beside = () if stands is None else (stands,)
        what = f"{self.place(position)}, {self.phrasing.value(value, beside)}"
        if stands is None:
            after = self.phrasing.sentence("talk.open_again", place=self.place(position))
        else:
            after = self.phrasing.sentence("talk.stands", value=self.phrasing.value(stands, (value,)))
        return self.phrasing.reply("talk.disregarded", after, what=what)

    def disregarded_note(self, what: str) -> Reply:
        """Say that something other than a reading was withdrawn, in the given words."""
        return self.phrasing.reply("talk.disregarded", what=what)

    def nothing_to_disregard(self) -> Reply:
        """Say that there is nothing to withdraw."""
        return self.phrasing.reply("talk.nothing_to_disregard")

    def nothing_to_correct(self) -> Reply:
        """Say that there is no reading to correct."""
        return self.phrasing.reply("talk.nothing_to_correct")

    def nothing_to_repeat(self) -> Reply:
        """Answer "say again" before anything was said."""
        return self.phrasing.reply("talk.nothing_to_repeat")

    def nothing_asked(self) -> Reply:
        """Answer "affirm" when no question is open."""
        return self.phrasing.reply("talk.nothing_asked")

    def negative(self) -> Reply:
        """Answer "negative": ask for the right words."""
        return self.phrasing.reply("talk.negative")

    def kept(self) -> Reply:
        """Answer "negative" to an offer: nothing changes."""
        return self.phrasing.reply("talk.kept")

    def standing_by(self) -> Reply:
        """Answer "stand by"."""
        return self.phrasing.reply("talk.standing_by")

    def still_standing_by(self) -> Reply:
        """Answer a reading that came during stand by: it is not logged."""
        return self.phrasing.reply("talk.still_standing_by")

    def go_ahead(self, position: Position | None) -> Reply:
        """Answer "go ahead", naming the position in hand."""
        if position is None:
            return self.phrasing.reply("talk.go_ahead_nowhere")
        return self.phrasing.reply("talk.go_ahead", place=self.place(position))

    def read_back(self, position: Position, value: Amount) -> Reply:
        """Repeat the last reading with its place and unit.

        >>> from handsfree.length import length
        >>> Wording().read_back(Position.of({"cylinder": "3", "ring": "top"}), length("18")).text
        'Three top, eighteen thou.'
        """
        said = amount_words(value, digit_check=self.verbosity is Verbosity.FULL)
        return self.phrasing.reply("talk.read_back", place=self.place(position), value=said)

    def no_reading(self, position: Position) -> Reply:
        """Read back a position that has no reading."""
        return self.phrasing.reply("talk.no_reading", place=self.place(position))

    # ---- moves and the rest of the session

    def moved(
        self,
        position: Position,
        target: Length | None = None,
        last: Amount | None = None,
        *,
        limits: tuple[Length, Length] | None = None,
        advice: str | None = None,
    ) -> Reply:
        """Name the new position, its target or limits, and its last reading.

        >>> from handsfree.length import length
        >>> Wording().moved(Position.of({"cylinder": "4", "ring": "top"}), length("20")).text
        'Now four top.'
        """
        return self._placed(_MOVED, position, target, last, limits, advice)

    def here(
        self,
        position: Position,
        target: Length | None = None,
        last: Amount | None = None,
        *,
        limits: tuple[Length, Length] | None = None,
    ) -> Reply:
        """Answer where the work stands and what is wanted there.

        >>> from handsfree.length import length
        >>> Wording().here(Position.of({"cylinder": "4", "ring": "top"}), length("20")).text
        'Four top, to twenty.'
        """
        return self._placed(_HERE, position, target, last, limits)

    def _placed(
        self,
        names: tuple[str, str, str],
        position: Position,
        target: Length | None,
        last: Amount | None,
        limits: tuple[Length, Length] | None,
        advice: str | None = None,
    ) -> Reply:
        to_target, within, nowhere = names
        last_one = (
            None if last is None else self.phrasing.sentence("talk.last_was", value=self.phrasing.value(last))
        )
        after = [sentence for sentence in (last_one, advice) if sentence]
        place = self.place(position)
        if target is not None:
            said = self.phrasing.computed(target, _beside(last))
            return self.phrasing.reply(to_target, *after, place=place, target=said)
        if limits is not None:
            low, high = (self.phrasing.computed(limit, (*limits, *_beside(last))) for limit in limits)
            return self.phrasing.reply(within, *after, place=place, low=low, high=high)
        return self.phrasing.reply(nowhere, *after, place=place)

    def no_such_place(self, place: str | Position) -> Reply:
        """Say that the plan holds no such position."""
        said = place if isinstance(place, str) else self.place(place)
        return self.phrasing.reply("talk.no_such_place", place=said)

    def end_of_plan(self, position: Position, next_check: str | None = None) -> Reply:
        """Answer "next" at the last position; next_check: a check with work left."""
        more = () if next_check is None else (self.phrasing.sentence("go_to_check", check=next_check),)
        return self.phrasing.reply("talk.end_of_plan", *more, place=self.place(position))

    def start_of_plan(self, position: Position) -> Reply:
        """Answer "previous" at the first position."""
        return self.phrasing.reply("talk.start_of_plan", place=self.place(position))

    def check_changed(self, check: str, position: Position | None = None, *before: str) -> Reply:
        """Name the new check, as the plan does.

        before: sentences after the check's name: its unit, its cautions.
        """
        if position is None:
            return self.phrasing.reply("talk.check_changed_only", *before, check=check)
        said = self.phrasing.sentence("talk.check_place", place=self.place(position))
        return self.phrasing.joined(
            [self.phrasing.sentence("talk.check_changed_only", check=check), *before, said],
            self.phrasing.tone("talk.check_changed_only"),
        )

    def turns(self, count: Decimal, position: Position | None = None, advice: str | None = None) -> Reply:
        """Read back a number of turns of the filer."""
        said = f"{number_words(count)} {'turn' if count == 1 else 'turns'}"
        place = "" if position is None else self.place(position)
        if position is None and self.verbosity is Verbosity.FULL:
            return self.phrasing.joined([f"{said}, noted.", advice], self.phrasing.tone("talk.turns"))
        return self.phrasing.reply("talk.turns", *([advice] if advice else []), turns=said, place=place)

    def dressed(self) -> Reply:
        """Answer that the wheel was dressed."""
        return self.phrasing.reply("talk.dressed")

    def ticked(
        self,
        what: str,
        then: Position | None = None,
        *,
        last: bool = False,
        next_check: str | None = None,
    ) -> Reply:
        """Say that a task is done, as the plan names it, and name the next place."""
        following = None if then is None else self.phrasing.sentence("next", place=self.place(then))
        end = self.phrasing.end(next_check) if last else None
        return self.phrasing.reply("talk.ticked", *(part for part in (following, end) if part), what=what)

    def unticked(self, what: str) -> Reply:
        """Say that a task is not done."""
        return self.phrasing.reply("talk.unticked", what=what)

    def finished(self, logged: int, still_open: int = 0) -> Reply:
        """Say that the session is closed, with the number of positions that have a reading."""
        if still_open:
            return self.phrasing.reply(
                "talk.finished_open", count=cardinal(logged), open=cardinal(still_open)
            )
        return self.phrasing.reply("talk.finished", count=cardinal(logged))

    def opened(self, position: Position, cautions: Sequence[Caution] = (), *, remind: bool = False) -> Reply:
        """Greet a new session: ready, the cautions and how to skip them, and finally the first position.

        cautions: shown, and spoken in short pieces that the user can interrupt by speaking.
        remind: mention in three words that there are cautions.

        >>> three_top = Position.of({"cylinder": "3", "ring": "top"})
        >>> Wording().opened(three_top, remind=True).text
        'Ready. First, three top. Eye protection on.'
        """
        ready = self.phrasing.sentence("talk.opened")
        first = self.phrasing.sentence("talk.first", place=self.place(position))
        tone = self.phrasing.tone("talk.opened")
        if not cautions:
            reminder = self.phrasing.sentence("talk.reminder") if remind else None
            return self.phrasing.joined([ready, first, reminder], tone)
        shown = [ready, self.phrasing.sentence("talk.skip"), *(caution.first for caution in cautions), first]
        aloud = [caution.aloud for caution in cautions if caution.aloud]
        pieces = [" ".join(aloud[n : n + _CAUTIONS_A_PIECE]) for n in range(0, len(aloud), _CAUTIONS_A_PIECE)]
        reply = self.phrasing.joined(shown, tone, aloud=[ready, *pieces, first])
        return replace(
            reply, pieces=(f"{ready} {pieces[0]}", *pieces[1:], sentence_case(first)) if pieces else ()
        )

    def resumed(self, done: int, total: int, position: Position | None, *, remind: bool = False) -> Reply:
        """Greet a continued session with its last position; `remind` mentions its cautions briefly."""
        if position is None:
            return self.phrasing.reply("talk.resumed_complete", total=cardinal(total))
        so_far = cardinal(done) if done else "none"
        where = {"done": so_far, "total": cardinal(total), "place": self.place(position)}
        reminder = [self.phrasing.sentence("talk.reminder")] if remind else []
        return self.phrasing.joined(
            [self.phrasing.sentence("talk.resumed", **where), *reminder], self.phrasing.tone("talk.resumed")
        )

    # ---- trouble

    def trouble(self, name: str, detail: str | None = None) -> Reply:
        """State a fault and its remedy; `detail` is shown, not spoken.

        Args:
            name: one of the [trouble.*] phrases, such as "microphone_lost".
            detail: the message of the fault.

        Raises:
            KeyError: an unknown trouble. A fault of the program.

        >>> Wording().trouble("keypad_back").text
        'Keypad is back.'
        """
        return self.phrasing.reply(f"trouble.{name}", detail=detail)


def _beside(amount: Amount | None) -> tuple[Amount, ...]:
    """Return the other amounts of an answer, which decide whether units are said."""
    return () if amount is None else (amount,)
