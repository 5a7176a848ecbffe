"""Words for a logged reading and what it means: short, good, over, uncertain, unsettled."""

from __future__ import annotations

from decimal import ROUND_UP

from handsfree.plan.position import Position
from handsfree.speak.amount import Amount
from handsfree.speak.phrasing import Phrasing
from handsfree.speak.reply import Reply


class VerdictWords(Phrasing):
    """The answers to readings.

    Every method takes `was`, the value that this one corrects; `then`, the position that comes
    next; and `advice`, a finished sentence to end with (a safe next pass, a caution).
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
        last: bool = False,
    ) -> Reply:
        """Answer a reading inside its limits; `last` says that nothing is left to measure.

        >>> from handsfree.length import length
        >>> three_top = Position.of({"cylinder": "3", "ring": "top"})
        >>> four_top = Position.of({"cylinder": "4", "ring": "top"})
        >>> VerdictWords().good(three_top, length("18.5"), then=four_top).text
        'Three top, eighteen and a half. Good. Next, four top.'
        """
        end = self.sentence("all_done") if last else None
        return self._answer("verdict.good", position, value, was, then, advice, end=end)

    def over(
        self,
        position: Position,
        value: Amount,
        excess: Amount,
        *,
        was: Amount | None = None,
        then: Position | None = None,
        advice: str | None = None,
        remedy: str = "ring",
    ) -> Reply:
        """Answer a reading above its upper limit: by how much, and what not to do.

        remedy: which of the [remedy] phrases fits what is measured.

        >>> from handsfree.length import length
        >>> three_top = Position.of({"cylinder": "3", "ring": "top"})
        >>> VerdictWords().over(three_top, length("21"), length("1.5")).text
        "Three top, twenty one. Over by one and a half. Don't file; try it in another bore, or replace."
        """
        return self._answer(
            "verdict.over",
            position,
            value,
            was,
            then,
            advice,
            beside=(excess,),
            amount=self.computed(excess, (value,), ROUND_UP),
            remedy=self.sentence(f"remedy.{remedy}"),
            stop=self.sentence(f"stop.{remedy}"),
        )

    def uncertain(
        self,
        position: Position,
        value: Amount,
        *,
        was: Amount | None = None,
        then: Position | None = None,
        advice: str | None = None,
    ) -> Reply:
        """Answer a reading too close to a limit to be called: measure again, don't file.

        >>> from handsfree.length import length
        >>> VerdictWords().uncertain(Position.of({"cylinder": "3", "ring": "top"}), length("18.4")).text
        "Three top, eighteen point four. Close to the limit. Don't file; measure again."
        """
        return self._answer("verdict.uncertain", position, value, was, then, advice)

    def unsettled(
        self,
        position: Position,
        value: Amount,
        *,
        was: Amount | None = None,
        then: Position | None = None,
        advice: str | None = None,
    ) -> Reply:
        """Answer a bound that leaves open whether metal must come off: try the next leaf.

        >>> from handsfree.length import length
        >>> from handsfree.speak.amount import Bound, Side
        >>> three_top = Position.of({"cylinder": "3", "ring": "top"})
        >>> VerdictWords().unsettled(three_top, Bound(Side.AT_LEAST, length("18"))).text
        'Three top, eighteen or more. Not settled. Try the next leaf.'
        """
        return self._answer("verdict.unsettled", position, value, was, then, advice)

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

    def _answer(
        self,
        verdict: str,
        position: Position,
        value: Amount,
        was: Amount | None,
        then: Position | None,
        advice: str | None,
        *,
        beside: tuple[Amount, ...] = (),
        end: str | None = None,
        **fields: str,
    ) -> Reply:
        """Value first, then what it means, then advice, then what comes next."""
        others = beside if was is None else (*beside, was)
        said = self.value(value, others)
        place = self.place(position)
        if was is None:
            head = self.sentence("head.logged", place=place, value=said)
        else:
            before = self.value(was, (value, *beside))
            head = self.sentence("head.corrected", place=place, value=said, was=before)
        tail = self.sentence(verdict, **fields)
        following = None if then is None else self.sentence("next", place=self.place(then))
        return self.joined([head, tail, advice, following, end], self.tone(verdict))
