"""Words for a logged reading and what it means: short, good, over, uncertain, unsettled."""

from __future__ import annotations

from decimal import ROUND_UP

from handsfree.length import Length
from handsfree.plan import Position
from handsfree.speak.amount import Amount
from handsfree.speak.phrasing import Phrasing, listed
from handsfree.speak.reply import Reply


class VerdictWords(Phrasing):
    """The answers to readings.

    Every method takes `was`, the value that this one corrects; `then`, the position that comes
    next; `advice`, a finished sentence to end with (a caution); and where parts are read one by one
    `makes`, what they come to.
    """

    def short(
        self,
        position: Position,
        value: Amount,
        remaining: Amount,
        *,
        was: Amount | None = None,
        then: Position | None = None,
        advice: str | None = None,
        makes: Amount | None = None,
        action: str = "file",
    ) -> Reply:
        """Answer a reading below its target: the value, then the amount left to remove.

        action: which of the [action] phrases names the work.

        >>> from handsfree.length import length
        >>> three_top = Position.of({"cylinder": "3", "ring": "top"})
        >>> VerdictWords().short(three_top, length("18"), length("2")).text
        'Three top, eighteen. File two.'
        >>> VerdictWords().short(three_top, length("19"), length("1"), was=length("18")).text
        'Corrected. Three top, nineteen, was eighteen. File one.'
        """
        amount = self.computed(remaining, (value,))
        act = self.sentence(f"action.{action}", amount=amount)
        return self._answer(
            "verdict.short",
            position,
            value,
            was,
            then,
            advice,
            makes=makes,
            beside=(remaining,),
            amount=amount,
            action=act,
        )

    def good(
        self,
        position: Position,
        value: Amount,
        *,
        was: Amount | None = None,
        then: Position | None = None,
        advice: str | None = None,
        makes: Amount | None = None,
        last: bool = False,
        next_check: str | None = None,
    ) -> Reply:
        """Answer a reading inside its limits.

        last: nothing is left to measure here. next_check: the check in which something is.

        >>> from handsfree.length import length
        >>> three_top = Position.of({"cylinder": "3", "ring": "top"})
        >>> four_top = Position.of({"cylinder": "4", "ring": "top"})
        >>> VerdictWords().good(three_top, length("18.5"), then=four_top).text
        'Three top, eighteen and a half. Good. Next, four top.'
        """
        end = self._end(next_check) if last else None
        return self._answer("verdict.good", position, value, was, then, advice, makes=makes, end=end)

    def over(
        self,
        position: Position,
        value: Amount,
        excess: Amount,
        *,
        was: Amount | None = None,
        then: Position | None = None,
        advice: str | None = None,
        makes: Amount | None = None,
        remedy: str = "ring",
        elsewhere: Position | None = None,
    ) -> Reply:
        """Answer a reading above its upper limit: by how much, and what not to do.

        remedy: which of the [remedy] phrases fits what is measured. elsewhere: the place where it
        should still fit.

        >>> from handsfree.length import length
        >>> three_top = Position.of({"cylinder": "3", "ring": "top"})
        >>> VerdictWords().over(three_top, length("21"), length("1.5")).text
        "Three top, twenty one. Over by one and a half. Don't file; try it in another bore, or replace."
        """
        other = {} if elsewhere is None else {"place": self.place(elsewhere)}
        return self._answer(
            "verdict.over",
            position,
            value,
            was,
            then,
            advice,
            makes=makes,
            beside=(excess,),
            amount=self.computed(excess, (value,), ROUND_UP),
            remedy=self.sentence(f"remedy.{remedy}", **other),
            stop=self.sentence(f"stop.{remedy}", **other),
        )

    def uncertain(
        self,
        position: Position,
        value: Amount,
        *,
        was: Amount | None = None,
        then: Position | None = None,
        advice: str | None = None,
        makes: Amount | None = None,
        filed: bool = True,
    ) -> Reply:
        """Answer a reading too close to a limit to be called: measure again, don't file.

        >>> from handsfree.length import length
        >>> VerdictWords().uncertain(Position.of({"cylinder": "3", "ring": "top"}), length("18.4")).text
        "Three top, eighteen point four. Close to the limit. Don't file; measure again."
        """
        name = "verdict.uncertain" if filed else "verdict.uncertain_part"
        return self._answer(name, position, value, was, then, advice, makes=makes)

    def unsettled(
        self,
        position: Position,
        value: Amount,
        *,
        was: Amount | None = None,
        then: Position | None = None,
        advice: str | None = None,
        leaves: tuple[Length, ...] | None = None,
    ) -> Reply:
        """Answer a bound that leaves open whether metal must come off: try the next leaf.

        leaves: which leaf to try, or which to stack; empty where none in the drawer can tell more,
        None where the drawer isn't known.

        >>> from handsfree.length import length
        >>> from handsfree.speak.amount import Bound, Side
        >>> three_top = Position.of({"cylinder": "3", "ring": "top"})
        >>> VerdictWords().unsettled(three_top, Bound(Side.AT_LEAST, length("18"))).text
        'Three top, eighteen or more. Not settled. Try the next leaf.'
        """
        if leaves is None:
            return self._answer("verdict.unsettled", position, value, was, then, advice)
        if not leaves:
            return self._answer("verdict.unsettled_here", position, value, was, then, advice)
        sizes = [self.value(leaf, (value,)) for leaf in leaves]
        leaf = sizes[0] if len(sizes) == 1 else self.sentence("stacked", leaves=listed(sizes))
        return self._answer(
            "verdict.unsettled_leaf", position, value, was, then, advice, beside=leaves, leaf=leaf
        )

    def noted(
        self,
        position: Position,
        value: Amount,
        *,
        was: Amount | None = None,
        then: Position | None = None,
        advice: str | None = None,
    ) -> Reply:
        """Answer a reading that the plan has no target for."""
        return self._answer("verdict.noted", position, value, was, then, advice)

    def _end(self, next_check: str | None) -> str:
        """The sentence that nothing is left to measure here."""
        return self.sentence("check_done", check=next_check) if next_check else self.sentence("all_done")

    def _head(self, position: Position, value: Amount, was: Amount | None, beside: tuple[Amount, ...]) -> str:
        """The first words of every answer: what was logged."""
        others = beside if was is None else (*beside, was)
        said, place = self.value(value, others), self.place(position)
        if was is None:
            return self.sentence("head.logged", place=place, value=said)
        before = self.value(was, (value, *beside))
        return self.sentence("head.corrected", place=place, value=said, was=before)

    def _answer(
        self,
        verdict: str,
        position: Position,
        value: Amount,
        was: Amount | None,
        then: Position | None,
        advice: str | None,
        *,
        makes: Amount | None = None,
        beside: tuple[Amount, ...] = (),
        end: str | None = None,
        **fields: str,
    ) -> Reply:
        """Value first, then what it means, then advice, then what comes next."""
        head = self._head(position, value, was, beside)
        sum_of_parts = None
        if makes is not None:
            sum_of_parts = self.sentence("makes", value=self.computed(makes, (value,)))
        tail = self.sentence(verdict, **fields)
        following = None if then is None else self.sentence("next", place=self.place(then))
        return self.joined([head, sum_of_parts, tail, advice, following, end], self.tone(verdict))
