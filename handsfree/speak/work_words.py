"""Words for what the trade does beyond a single verdict: passes of the filer, parts, shims, heat."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from handsfree.length import Length, Unit
from handsfree.plan import Position
from handsfree.speak.amount import Amount, unit_words
from handsfree.speak.numbers import cardinal, number_words
from handsfree.speak.phrasing import listed
from handsfree.speak.reply import Reply
from handsfree.speak.verdict_words import VerdictWords


class WorkWords(VerdictWords):
    """Answers that end in work: how far to file, what to measure again, which shim to fit."""

    def short_of_turns(
        self,
        position: Position,
        value: Amount,
        remaining: Amount,
        pace: str,
        *,
        about: int | None = None,
        turns: int | None = None,
        risk: float | None = None,
        was: Amount | None = None,
        advice: str | None = None,
    ) -> Reply:
        """Answer a ring that is short and is filed by counted turns: what is left, and the next pass.

        Args:
            position: where.
            value: the reading.
            remaining: up to the aim.
            pace: which of the [pass] phrases fits: what the advice rests on.
            about: whole turns that the rest would take.
            turns: measure again after these.
            risk: the stated chance of going over; shown, and spoken in full answers.
            was: the value that this one corrects.
            advice: a sentence to end with.

        >>> from handsfree.length import length
        >>> three_top = Position.of({"cylinder": "3", "ring": "top"})
        >>> WorkWords().short_of_turns(
        ...     three_top, length("15.5"), length("2.5"), "learned", about=16, turns=11, risk=0.05
        ... ).aloud
        'Three top, fifteen and a half. Two and a half to go, about sixteen turns, check after eleven.'
        """
        amount = self.computed(remaining, (value,))
        chance = "" if risk is None else f"{risk * 100:g}"
        fields = {
            "amount": amount,
            "about": "" if about is None else _turn_words(about),
            "turns": "" if turns is None else cardinal(turns),
            "passes": "" if turns is None else _turn_words(turns),
            "risk": chance and number_words(Decimal(chance)),
        }
        tail = self.sentence(f"pass.{pace}", **fields)
        risky = self.sentence("pass.risk", **fields) if risk is not None else ""
        head = self._head(position, value, was, (remaining,))
        detail = f"chance of going over: {chance} % at most" if chance else None
        return self.joined([head, tail, risky, advice], self.tone("verdict.short"), detail=detail)

    def disagrees(
        self,
        position: Position,
        value: Amount,
        before: Amount,
        *,
        filed: bool,
        was: Amount | None = None,
    ) -> Reply:
        """Answer a reading that doesn't go with the one before it: measure again.

        filed: it is of a gap, which filing can't make smaller.

        >>> from handsfree.length import length
        >>> three_top = Position.of({"cylinder": "3", "ring": "top"})
        >>> WorkWords().disagrees(three_top, length("15"), length("17"), filed=True).text
        'Three top, fifteen. Seventeen before, and a gap only grows. Measure again.'
        """
        name = "verdict.shrunk" if filed else "verdict.disagrees"
        said = self.value(before, (value,))
        return self._answer(name, position, value, was, None, None, beside=(before,), before=said)

    def contradicts(self, position: Position, value: Amount, *, was: Amount | None = None) -> Reply:
        """Answer leaves that can't all be true of one gap: measure again."""
        return self._answer("verdict.contradicts", position, value, was, None, None)

    def part_logged(
        self, position: Position, value: Amount, *, was: Amount | None = None, then: Position | None = None
    ) -> Reply:
        """Answer the reading of a part while others are missing: what was logged, and what comes next."""
        following = None if then is None else self.sentence("next", place=self.place(then))
        return self.joined([self._head(position, value, was, ()), following], self.tone("verdict.noted"))

    def shim(
        self,
        position: Position,
        value: Amount,
        lash: Length,
        side: str,
        choice: Length | None,
        predicted: Length | None,
        ideal: Length,
        *,
        was: Amount | None = None,
        out_of: Position | None = None,
    ) -> Reply:
        """Answer a lash outside its limits: which shim to fit and what it should give.

        Args:
            position: of the part that was read last.
            value: what was read there.
            lash: the lash as measured.
            side: "short" or "over".
            choice: the shim, or None if no size that can be had does.
            predicted: the lash with it.
            ideal: the shim that would give the aim exactly.
            was: the value that this one corrects.
            out_of: where the shim comes out of, where it is used again.
        """
        said, wrong = self.value(lash, (value,)), self.sentence(f"side.{side}")
        if choice is None or predicted is None:
            return self._answer(
                "shim.none",
                position,
                value,
                was,
                None,
                None,
                beside=(lash, ideal),
                lash=said,
                side=wrong,
                ideal=self.computed(ideal),
            )
        words = self.value(choice, (value,))
        if out_of is not None:
            words = self.sentence("shim.out_of", choice=words, place=self.place(out_of))
        return self._answer(
            "shim.fit",
            position,
            value,
            was,
            None,
            None,
            beside=(lash, choice),
            lash=said,
            side=wrong,
            choice=words,
            predicted=self.computed(predicted, (value,)),
        )

    @property
    def keep_shim(self) -> str:
        """The sentence that a lash is good as it is."""
        return self.sentence("shim.keep")

    def hot(self, least: Length, remark: str, *, butts: bool, again: bool) -> str:
        """Give the sentence that a gap may leave little when hot: an estimate, and said to be one.

        least: what is left in the worst case. remark: what kind of figure that is. butts: the ends
        may meet. again: it was told before in this check.
        """
        name = "hot.again" if again else "hot.butts" if butts else "hot.close"
        return self.sentence(name, least=self.computed(least), remark=remark)

    def target_changed(self, check: str, positions: Sequence[Position]) -> str:
        """Give the sentence that a bore makes readings wrong that were right by the plan's figures."""
        return self.sentence("target_changed", check=check, places=listed([self.place(p) for p in positions]))

    def in_unit(self, unit: Unit) -> str:
        """Give the sentence that names the unit of bare numbers from here on."""
        return self.sentence("in_unit", unit=unit_words(unit))

    def shared_out(
        self, places: Sequence[tuple[str, str]], spare: Sequence[str], empty: Sequence[str]
    ) -> str:
        """Give the sentence that says which ring goes to which bore, before filing starts.

        Args:
            places: ring and bore, each as its label is said.
            spare: rings that no bore takes.
            empty: bores that no ring suits.
        """
        sentences = [
            self.sentence("share.places", places=listed([f"{ring} to {bore}" for ring, bore in places]))
            if places
            else "",
            self.sentence("share.spare", rings=listed(list(spare))) if spare else "",
            self.sentence("share.empty", bores=listed(list(empty))) if empty else "",
        ]
        return " ".join(sentence for sentence in sentences if sentence)


def _turn_words(count: int) -> str:
    return f"{cardinal(count)} {'turn' if count == 1 else 'turns'}"
