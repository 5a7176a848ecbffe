"""Sentences about the work: heat, a bore that changes targets, the unit, rings shared out, what is left.

Also the answers to what is asked or said beside the readings: help, hints, how much to go, the voice itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from handsfree.length import Length, Unit
from handsfree.plan import PART, Position
from handsfree.speak.amount import Amount, cardinal, unit_words
from handsfree.speak.phrasing import Phrasing, gathered, label_words, listed, runs
from handsfree.speak.reply import Reply, VoiceChange

# More is too long to listen to or remember; the display shows all places. Common practice, no source.
_MOST_CHECKS = 3
_MOST_WORDS = 10


@dataclass(frozen=True, slots=True)
class OpenPlaces:
    """The work left in a check, in work order.

    whole: axis and label of groups without any reading, named together; each: the number of places in
    each. loose: other places without a reading. short, again, over: places to work on, to measure again,
    or too large. count: the number of places. everything: nothing was read yet.
    filed: short places are filed. elsewhere: other checks with work left.
    """

    count: int = 0
    whole: tuple[tuple[str, str], ...] = ()
    each: int = 0
    loose: tuple[Position, ...] = ()
    short: tuple[Position, ...] = ()
    again: tuple[Position, ...] = ()
    over: tuple[Position, ...] = ()
    everything: bool = False
    filed: bool = True
    elsewhere: tuple[str, ...] = ()


class WorkWords:
    """Sentences about the work around a reading, and about what is left of it.

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

    def whats_left(self, left: OpenPlaces) -> Reply:
        """List the work left, in one sentence.

        >>> three_top = Position.of({"cylinder": "3", "ring": "top"})
        >>> left = OpenPlaces(9, whole=(("ring", "second"),), loose=(three_top,))
        >>> WorkWords(Phrasing()).whats_left(left).text
        'Nine left: all second rings; three top.'
        """
        checks = self._checks(left)
        if not left.count:
            return (
                self._phrasing.reply("talk.nothing_left_here", checks=checks)
                if checks
                else self._phrasing.reply("talk.nothing_left")
            )
        count, more = cardinal(left.count), self._more(checks)
        if left.everything:
            return self._phrasing.reply("talk.all_left", count=count, more=more)
        return self._with_places("talk.whats_left", left, count=count, more=more)

    def finish_open(self, left: OpenPlaces) -> Reply:
        """Ask whether to close the session although places are open.

        >>> four_top = Position.of({"cylinder": "4", "ring": "top"})
        >>> WorkWords(Phrasing()).finish_open(OpenPlaces(1, loose=(four_top,))).text
        'One still open: four top. Finish all the same? Yes or no.'
        """
        checks, expects = self._checks(left), ("yes", "no")
        if not left.count:
            return self._phrasing.reply("talk.finish_elsewhere", checks=checks, expects=expects)
        count, more = cardinal(left.count), self._more(checks)
        if left.everything:
            return self._phrasing.reply("talk.finish_all", count=count, more=more, expects=expects)
        return self._with_places("talk.finish_open", left, expects, count=count, more=more)

    def _with_places(
        self, name: str, left: OpenPlaces, expects: tuple[str, ...] = (), *, count: str, more: str
    ) -> Reply:
        """Fill a phrase with the places left: all are shown, a few are spoken."""
        named = self._named(left)
        shown, aloud = (
            self._phrasing.reply(name, count=count, places="; ".join(places) + more, expects=expects)
            for places in ([text for text, _ in named], self._first(named))
        )
        return shown if aloud == shown else replace(shown, spoken=aloud.text)

    def _first(self, named: Sequence[tuple[str, int]]) -> list[str]:
        """Return the first few places, and the count of the rest."""
        said: list[str] = []
        words = 0
        for number, (text, _) in enumerate(named):
            words += len(text.split())
            if said and words > _MOST_WORDS:
                rest = sum(count for _, count in named[number:])
                return [*said, self._phrasing.sentence("left.others", count=cardinal(rest))]
            said.append(text)
        return said

    def _named(self, left: OpenPlaces) -> list[tuple[str, int]]:
        """Return the places left as ranges, each with its number of places."""
        named = self._wholes(left) + [
            (self._phrasing.place(one.position), one.count) for one in gathered(left.loose)
        ]
        for name, places in (
            ("left.file" if left.filed else "left.short", left.short),
            ("left.again", left.again),
            ("left.over", left.over),
        ):
            named += [
                (self._phrasing.sentence(name, places=self._phrasing.place(one.position)), one.count)
                for one in gathered(places)
            ]
        return named

    def _wholes(self, left: OpenPlaces) -> list[tuple[str, int]]:
        """Name the groups that are entirely open, each with its size; combine the labels of an axis."""
        numbers = [label for _, label in left.whole if label[:1].isdecimal()]
        if numbers:
            axis = next(axis for axis, label in left.whole if label[:1].isdecimal())
            name = "left.both" if left.each == 2 and len(numbers) > 1 else "left.number"
            said = self._phrasing.sentence(name, axis=axis, label=label_words(runs(numbers)))
            return [(said, left.each * len(numbers))]
        return [
            (
                self._phrasing.sentence(
                    "left.part" if axis == PART else "left.kind", axis=axis, label=label_words(label)
                ),
                left.each,
            )
            for axis, label in left.whole
        ]

    def _checks(self, left: OpenPlaces) -> str:
        return listed(list(left.elsewhere), most=_MOST_CHECKS) if left.elsewhere else ""

    def _more(self, checks: str) -> str:
        return self._phrasing.sentence("left.more", checks=checks) if checks else ""


_VOICE: Mapping[VoiceChange, str] = {
    VoiceChange.LOUDER: "talk.louder",
    VoiceChange.QUIETER: "talk.quieter",
    VoiceChange.FASTER: "talk.faster",
    VoiceChange.SLOWER: "talk.slower",
}


def help_words(say: Phrasing, example: str) -> Reply:
    """Name the few phrases that are enough for all work."""
    return say.reply("talk.help", example=example)


def hint_words(say: Phrasing, example: str) -> Reply:
    """Return one phrase that would have been understood."""
    return say.reply("talk.hint", example=example)


def heard_again(say: Phrasing, heard: str) -> Reply:
    """Ask for a repetition and quote the words that were heard."""
    return say.reply("talk.say_again_heard", heard=heard)


def no_such_label(say: Phrasing, axis: str, label: str) -> Reply:
    """Say that the plan has no such cylinder, main or valve.

    >>> no_such_label(Phrasing(), "cylinder", "9").text
    'There is no cylinder nine.'
    """
    return say.reply("talk.no_such_label", label=f"{axis} {label_words(label)}")


def ask_command(say: Phrasing, what: str) -> Reply:
    """Ask for confirmation of a command that is only uncertain."""
    return say.reply("talk.confirm", what=what, expects=("yes", "no"))


def vague_words(say: Phrasing) -> Reply:
    """Refuse a vague size."""
    return say.reply("talk.vague")


def to_go_words(say: Phrasing, position: Position, amount: Amount) -> Reply:
    """Tell how much is left to remove."""
    return say.reply("talk.to_go", place=say.place(position), amount=say.computed(amount))


def nothing_to_go(say: Phrasing, position: Position, *, over: bool = False) -> Reply:
    """Say that a place is good, or over."""
    return say.reply("talk.over_already" if over else "talk.none_to_go", place=say.place(position))


def whats_next(say: Phrasing, position: Position) -> Reply:
    """Name the place that comes next; nothing moves."""
    return say.reply("next", place=say.place(position))


def new_ring(say: Phrasing, position: Position, set_aside: int) -> Reply:
    """Say that a place starts again, and that its readings no longer count."""
    name = "talk.new_ring_again" if set_aside else "talk.new_ring"
    return say.reply(name, place=say.place(position))


def voice_words(say: Phrasing, change: str) -> Reply:
    """Answer "louder" and similar words; the new voice itself shows the change."""
    wanted = VoiceChange(change)
    return replace(say.reply(_VOICE[wanted]), change=wanted)
