"""Words for a logged reading: the reading, its verdict, the work to do, the next place."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_UP, Decimal

from handsfree.length import Length
from handsfree.plan import Position
from handsfree.speak.amount import Amount, Bound, cardinal, number_words
from handsfree.speak.phrasing import Phrasing, listed
from handsfree.speak.reply import Reply, Verbosity


@dataclass(frozen=True, slots=True)
class Logged:
    """A logged entry: the first words of every answer to a reading.

    position, value: the place and the reading there.
    was: the corrected value.
    makes: the sum of the parts, where parts are read one by one.
    in_hand, named: whether the position was in hand, and whether the user named it. A position in hand
    is not spoken in terse answers, nor in normal ones unless the user named it.
    """

    position: Position
    value: Amount
    was: Amount | None = None
    makes: Amount | None = None
    in_hand: bool = False
    named: bool = True


@dataclass(frozen=True, slots=True)
class After:
    """The last words of an answer, after the verdict.

    then: the next position. obvious: it need not be named.
    last: nothing is left to measure here.
    next_check: the next check with work left.
    advice: a finished sentence, such as a caution.
    """

    then: Position | None = None
    obvious: bool = False
    last: bool = False
    next_check: str | None = None
    advice: str | None = None


NOTHING_AFTER = After()


class VerdictWords:
    """The answers to readings.

    Args:
        phrasing: fills the phrases.
    """

    def __init__(self, phrasing: Phrasing) -> None:
        self._phrasing = phrasing

    def short(
        self, logged: Logged, remaining: Amount, after: After = NOTHING_AFTER, *, action: str = "file"
    ) -> Reply:
        """Answer a reading below its target: the value, then the amount left to remove.

        action: which of the [action] phrases names the work.

        >>> from handsfree.length import length
        >>> three_top = Position.of({"cylinder": "3", "ring": "top"})
        >>> say = VerdictWords(Phrasing())
        >>> say.short(Logged(three_top, length("18")), length("2")).text
        'Three top, eighteen. File two.'
        >>> say.short(Logged(three_top, length("19"), was=length("18")), length("1")).text
        'Corrected. Three top, nineteen, was eighteen. File one.'
        """
        if isinstance(remaining, Bound) and remaining.limit.value == 0:
            return self._answer("verdict.just_short", logged, after)  # more than nothing is no answer
        amount = self._phrasing.computed(remaining, (logged.value,))
        act = self._phrasing.sentence(f"action.{action}", amount=amount)
        return self._answer("verdict.short", logged, after, beside=(remaining,), amount=amount, action=act)

    def short_of_turns(
        self,
        logged: Logged,
        remaining: Amount,
        pace: str,
        after: After = NOTHING_AFTER,
        *,
        about: int | None = None,
        turns: int | None = None,
        risk: float | None = None,
    ) -> Reply:
        """Answer a short ring that is filed by counted turns: the amount left, and the next pass.

        Args:
            logged: the reading.
            remaining: the amount left to the aim.
            pace: the [pass] phrase, by the basis of the advice.
            after: the last words; their advice ends the answer.
            about: whole turns for the rest.
            turns: measure again after these.
            risk: the stated chance of going over; shown, and spoken in full answers.

        >>> from handsfree.length import length
        >>> reading = Logged(Position.of({"cylinder": "3", "ring": "top"}), length("15.5"))
        >>> say = VerdictWords(Phrasing())
        >>> say.short_of_turns(reading, length("2.5"), "learned", about=16, turns=11, risk=0.05).aloud
        'Three top, fifteen and a half. Two and a half to go, about sixteen turns, check after eleven.'
        """
        amount = self._phrasing.computed(remaining, (logged.value,))
        chance = "" if risk is None else f"{risk * 100:g}"
        fields = {
            "amount": amount,
            "about": "" if about is None else _turn_words(about),
            "turns": "" if turns is None else cardinal(turns),
            "passes": "" if turns is None else _turn_words(turns),
            "risk": chance and number_words(Decimal(chance)),
        }
        tail = self._phrasing.sentence(f"pass.{pace}", **fields)
        risky = self._phrasing.sentence("pass.risk", **fields) if risk is not None else ""
        detail = f"chance of going over: {chance} % at most" if chance else None
        shown, aloud = self._heads(logged, (remaining,))
        rest = [tail, risky, after.advice]
        return self._phrasing.joined(
            [shown, *rest], self._phrasing.tone("verdict.short"), detail=detail, aloud=[aloud, *rest]
        )

    def good(self, logged: Logged, after: After = NOTHING_AFTER) -> Reply:
        """Answer a reading inside its limits.

        >>> from handsfree.length import length
        >>> three_top = Position.of({"cylinder": "3", "ring": "top"})
        >>> four_top = Position.of({"cylinder": "4", "ring": "top"})
        >>> VerdictWords(Phrasing()).good(Logged(three_top, length("18.5")), After(four_top)).text
        'Three top, eighteen and a half. Good. Next, four top.'
        """
        return self._answer("verdict.good", logged, after)

    def over(
        self,
        logged: Logged,
        excess: Amount,
        after: After = NOTHING_AFTER,
        *,
        remedy: str = "ring",
        elsewhere: Position | None = None,
    ) -> Reply:
        """Answer a reading above its upper limit: by how much, and a caution.

        remedy: the [remedy] phrase for this check. elsewhere: a place where the part should still
        fit.

        >>> from handsfree.length import length
        >>> reading = Logged(Position.of({"cylinder": "3", "ring": "top"}), length("21"))
        >>> VerdictWords(Phrasing()).over(reading, length("1.5")).text
        "Three top, twenty one. Over by one and a half. Don't file; try it in another bore, or replace."
        """
        other = {} if elsewhere is None else {"place": self._phrasing.place(elsewhere)}
        return self._answer(
            "verdict.over",
            logged,
            after,
            beside=(excess,),
            amount=self._phrasing.computed(excess, (logged.value,), ROUND_UP),
            remedy=self._phrasing.sentence(f"remedy.{remedy}", **other),
            stop=self._phrasing.sentence(f"stop.{remedy}", **other),
        )

    def uncertain(self, logged: Logged, after: After = NOTHING_AFTER, *, filed: bool = True) -> Reply:
        """Answer a reading too close to a limit for a verdict: measure again, don't file.

        >>> from handsfree.length import length
        >>> reading = Logged(Position.of({"cylinder": "3", "ring": "top"}), length("18.4"))
        >>> VerdictWords(Phrasing()).uncertain(reading).text
        "Three top, eighteen point four. Close to the limit. Don't file; measure again."
        """
        return self._answer("verdict.uncertain" if filed else "verdict.uncertain_part", logged, after)

    def unsettled(self, logged: Logged, leaves: tuple[Length, ...] | None = None) -> Reply:
        """Answer a bound that doesn't settle the verdict: try the next leaf.

        leaves: the leaf to try, or leaves to stack; empty where no leaf in the drawer tells more,
        None where the drawer is unknown.

        >>> from handsfree.length import length
        >>> from handsfree.speak.amount import Bound, Side
        >>> three_top = Position.of({"cylinder": "3", "ring": "top"})
        >>> VerdictWords(Phrasing()).unsettled(Logged(three_top, Bound(Side.AT_LEAST, length("18")))).text
        'Three top, eighteen or more. Not settled. Try the next leaf.'
        """
        if leaves is None:
            return self._answer("verdict.unsettled", logged)
        if not leaves:
            return self._answer("verdict.unsettled_here", logged)
        sizes = [self._phrasing.value(leaf, (logged.value,)) for leaf in leaves]
        leaf = sizes[0] if len(sizes) == 1 else self._phrasing.sentence("stacked", leaves=listed(sizes))
        return self._answer("verdict.unsettled_leaf", logged, beside=leaves, leaf=leaf)

    def noted(self, logged: Logged, after: After = NOTHING_AFTER) -> Reply:
        """Answer a reading without a target in the plan."""
        return self._answer("verdict.noted", logged, after)

    def disagrees(self, logged: Logged, before: Amount, *, filed: bool) -> Reply:
        """Answer a reading that contradicts the one before it: measure again.

        filed: the reading is a gap, which filing can't make smaller.

        >>> from handsfree.length import length
        >>> reading = Logged(Position.of({"cylinder": "3", "ring": "top"}), length("15"))
        >>> VerdictWords(Phrasing()).disagrees(reading, length("17"), filed=True).text
        'Three top, fifteen. Seventeen before, and a gap only grows. Measure again.'
        """
        name = "verdict.shrunk" if filed else "verdict.disagrees"
        said = self._phrasing.value(before, (logged.value,))
        return self._answer(name, logged, beside=(before,), before=said)

    def contradicts(self, logged: Logged) -> Reply:
        """Answer leaves that contradict each other: measure again."""
        return self._answer("verdict.contradicts", logged)

    def part_logged(self, logged: Logged, after: After = NOTHING_AFTER) -> Reply:
        """Answer the reading of a part while others are missing: the reading, and the next part."""
        shown, aloud = self._heads(logged, ())
        following = self._next(after.then)
        tone = self._phrasing.tone("verdict.noted")
        return self._phrasing.joined(
            [shown, following], tone, aloud=[aloud, self._next(after.then, obvious=after.obvious)]
        )

    def shim(
        self,
        logged: Logged,
        lash: Length,
        side: str,
        choice: Length | None,
        predicted: Length | None,
        ideal: Length,
        *,
        out_of: Position | None = None,
    ) -> Reply:
        """Answer a lash outside its limits: the shim to fit, and the predicted lash.

        Args:
            logged: the part that was read last.
            lash: the lash as measured.
            side: "short" or "over".
            choice: the shim, or None if no available size corrects it.
            predicted: the lash with that shim.
            ideal: the shim that would reach the aim exactly.
            out_of: the place that the shim is taken from, if it is reused.
        """
        value, say = (logged.value,), self._phrasing
        fields = {"lash": say.value(lash, value), "side": say.sentence(f"side.{side}")}
        if choice is None or predicted is None:
            return self._answer(
                "shim.none", logged, NOTHING_AFTER, beside=(lash, ideal), ideal=say.computed(ideal), **fields
            )
        words = say.value(choice, value)
        if out_of is not None:
            words = say.sentence("shim.out_of", choice=words, place=say.place(out_of))
        fields |= {"choice": words, "predicted": say.computed(predicted, value)}
        return self._answer("shim.fit", logged, NOTHING_AFTER, beside=(lash, choice), **fields)

    def _next(self, then: Position | None, *, obvious: bool | None = None) -> str:
        """Name the next place, as shown; aloud where `obvious` says whether it need not be named."""
        if then is None:
            return ""
        name = "next" if obvious is None else "next_obvious" if obvious else "next_aloud"
        return self._phrasing.sentence(name, place=self._phrasing.place(then))

    def _heads(self, logged: Logged, beside: tuple[Amount, ...]) -> tuple[str, str]:
        """Return the first words of every answer, what was logged: as shown, and as spoken."""
        value, was, say = logged.value, logged.was, self._phrasing
        others = beside if was is None else (*beside, was)
        fields = {"place": say.place(logged.position), "value": say.value(value, others, brief=True)}
        name, here = "head.logged", "head.logged_here"
        if was is not None:
            name, here = "head.corrected", "head.corrected_here"
            fields["was"] = say.value(was, (value, *beside), brief=True)
        shown = say.sentence(name, **fields)
        if logged.in_hand and (not logged.named or say.verbosity is Verbosity.TERSE):
            return shown, say.sentence(here, **fields)
        return shown, shown

    def _answer(
        self,
        verdict: str,
        logged: Logged,
        after: After = NOTHING_AFTER,
        *,
        beside: tuple[Amount, ...] = (),
        **fields: str,
    ) -> Reply:
        """Return value, verdict, advice and next place, in this order."""
        say = self._phrasing
        total = None
        if logged.makes is not None:
            total = say.sentence("makes", value=say.computed(logged.makes, (logged.value,)))
        shown, aloud = self._heads(logged, beside)
        rest = [total, say.sentence(verdict, **fields), after.advice]
        end, end_aloud = say.ends(after.next_check) if after.last else (None, None)
        return say.joined(
            [shown, *rest, self._next(after.then), end],
            say.tone(verdict),
            aloud=[aloud, *rest, self._next(after.then, obvious=after.obvious), end_aloud],
        )


def _turn_words(count: int) -> str:
    return f"{cardinal(count)} {'turn' if count == 1 else 'turns'}"
