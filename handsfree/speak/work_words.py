"""Additional sentences of an answer: heat, a bore that changes targets, the unit, rings assigned to bores."""

from __future__ import annotations

from collections.abc import Sequence

from handsfree.length import Length, Unit
from handsfree.plan import Position
from handsfree.speak.amount import unit_words
from handsfree.speak.phrasing import Phrasing, listed


class WorkWords:
    """Sentences about the work beside a reading.

    Args:
        phrasing: fills the phrases.
    """

    def __init__(self, phrasing: Phrasing) -> None:
        self._phrasing = phrasing

    @property
    def keep_shim(self) -> str:
        """The sentence that a lash is good."""
        return self._phrasing.sentence("shim.keep")

    def hot(self, least: Length, remark: str, *, butts: bool, again: bool) -> str:
        """Return the sentence that a gap may leave little when hot; it is stated as an estimate.

        least: the gap left in the worst case. remark: the kind of figure. butts: the ends may
        meet. again: it was said before in this check.
        """
        name = "hot.again" if again else "hot.butts" if butts else "hot.close"
        return self._phrasing.sentence(name, least=self._phrasing.computed(least), remark=remark)

    def target_changed(self, check: str, positions: Sequence[Position]) -> str:
        """Return the sentence that a bore invalidates readings that were good by the plan's figures."""
        places = listed([self._phrasing.place(position) for position in positions])
        return self._phrasing.sentence("target_changed", check=check, places=places)

    def in_unit(self, unit: Unit) -> str:
        """Return the sentence that names the unit of bare numbers from here on."""
        return self._phrasing.sentence("in_unit", unit=unit_words(unit))

    def shared_out(
        self, places: Sequence[tuple[str, str]], spare: Sequence[str], empty: Sequence[str]
    ) -> str:
        """Return the sentence that says which ring goes to which bore, before filing starts.

        Args:
            places: ring and bore, each as its label is said.
            spare: rings that no bore takes.
            empty: bores that no ring suits.
        """
        say = self._phrasing.sentence
        sentences = [
            say("share.places", places=listed([f"{ring} to {bore}" for ring, bore in places]))
            if places
            else "",
            say("share.spare", rings=listed(list(spare))) if spare else "",
            say("share.empty", bores=listed(list(empty))) if empty else "",
        ]
        return " ".join(sentence for sentence in sentences if sentence)
