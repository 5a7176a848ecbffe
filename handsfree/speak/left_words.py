"""What is left of a check, in one sentence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from handsfree.plan import PART
from handsfree.plan.position import Position
from handsfree.speak.numbers import cardinal
from handsfree.speak.phrasing import label_words, listed
from handsfree.speak.reply import Reply
from handsfree.speak.work_words import WorkWords

# More names than this can't be kept in mind; the display shows them all. Common practice, no source.
_MOST_PLACES = 3


@dataclass(frozen=True, slots=True)
class OpenPlaces:
    """What is left of a check, in its work order.

    whole: axis and label of all that was not read at all, to be named in one breath. loose: what
    else was not read. short, again, over: read, and to be worked on, measured again, or too large.
    count: how many places that is. everything: nothing was read yet. filed: what is short is to be
    filed. elsewhere: other checks that aren't done.
    """

    count: int = 0
    whole: tuple[tuple[str, str], ...] = ()
    loose: tuple[Position, ...] = ()
    short: tuple[Position, ...] = ()
    again: tuple[Position, ...] = ()
    over: tuple[Position, ...] = ()
    everything: bool = False
    filed: bool = True
    elsewhere: tuple[str, ...] = ()


class LeftWords(WorkWords):
    """Answers to "what's left" and to "finish"."""

    def whats_left(self, left: OpenPlaces) -> Reply:
        """Say what is left, in one sentence.

        >>> three_top = Position.of({"cylinder": "3", "ring": "top"})
        >>> LeftWords().whats_left(OpenPlaces(9, whole=(("ring", "second"),), loose=(three_top,))).text
        'Nine left: all second rings and three top.'
        """
        checks = self._checks(left)
        if not left.count:
            return (
                self.reply("talk.nothing_left_here", checks=checks)
                if checks
                else self.reply("talk.nothing_left")
            )
        count, more = cardinal(left.count), self._more(checks)
        if left.everything:
            return self.reply("talk.all_left", count=count, more=more)
        return self.reply("talk.whats_left", count=count, places=self._places(left) + more)

    def finish_open(self, left: OpenPlaces) -> Reply:
        """Ask whether to close the sheet although something is open.

        >>> four_top = Position.of({"cylinder": "4", "ring": "top"})
        >>> LeftWords().finish_open(OpenPlaces(1, loose=(four_top,))).text
        'One still open: four top. Finish all the same? Yes or no.'
        """
        checks, expects = self._checks(left), ("yes", "no")
        if not left.count:
            return self.reply("talk.finish_elsewhere", checks=checks, expects=expects)
        count, more = cardinal(left.count), self._more(checks)
        if left.everything:
            return self.reply("talk.finish_all", count=count, more=more, expects=expects)
        return self.reply("talk.finish_open", count=count, places=self._places(left) + more, expects=expects)

    def _places(self, left: OpenPlaces) -> str:
        unread = self._wholes(left.whole)
        unread += [self.place(position) for position in left.loose]
        groups = [listed(unread, most=_MOST_PLACES)] if unread else []
        for name, places in (
            ("left.file" if left.filed else "left.short", left.short),
            ("left.again", left.again),
            ("left.over", left.over),
        ):
            if places:
                groups.append(self.sentence(name, places=self._listed(places)))
        return "; ".join(groups)

    def _wholes(self, whole: Sequence[tuple[str, str]]) -> list[str]:
        """Name what is wholly open; the numbers of an axis in one breath."""
        numbers = [label_words(label) for _, label in whole if label[:1].isdecimal()]
        if numbers:
            axis = next(axis for axis, label in whole if label[:1].isdecimal())
            return [self.sentence("left.number", axis=axis, label=listed(numbers, most=_MOST_PLACES))]
        return [
            self.sentence("left.part" if axis == PART else "left.kind", axis=axis, label=label_words(label))
            for axis, label in whole
        ]

    def _checks(self, left: OpenPlaces) -> str:
        return listed(list(left.elsewhere), most=_MOST_PLACES) if left.elsewhere else ""

    def _more(self, checks: str) -> str:
        return self.sentence("left.more", checks=checks) if checks else ""

    def _listed(self, positions: Sequence[Position]) -> str:
        return listed([self.place(position) for position in positions], most=_MOST_PLACES)
