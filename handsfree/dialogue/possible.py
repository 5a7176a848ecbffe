"""The meanings possible at this moment: no "yes" without a question, no "carry on" unless standing by."""

from __future__ import annotations

from collections.abc import Sequence

from handsfree.dialogue.answer import just_told, last_measured, whole
from handsfree.dialogue.measured import is_plausible
from handsfree.dialogue.questions import about
from handsfree.plan import Rule
from handsfree.session import Session
from handsfree.understand import Control, Meaning, Reading, Word

# Common in talk between people; the words of radiotelephony are said only to the bench.
_COMMON = frozenset({"yes", "yeah", "yep", "okay", "no", "nope", "that's", "carry", "go", "sorry"})


def can_be_meant(session: Session, words: Sequence[str], meaning: Meaning) -> bool:
    """Return whether words with this meaning can be meant now.

    Ordinary words are possible only as an answer. Of two words that sound alike, the one that can't
    answer an open question is excluded while it is open.
    """
    if session.standing_by:
        return _wakes(session, meaning)
    asked = about(session) is not None
    common = bool(words) and words[0] in _COMMON
    match meaning.commands:
        case (Control(Word.AFFIRM),) if common:
            return asked or session.plan.check(session.check).rule is Rule.TICK
        case (Control(Word.NEGATIVE),) if common:
            return asked or just_told(session)
        case (Control(Word.GO_AHEAD),) if common and tuple(words) != ("go", "ahead"):
            return False
        case (Control(Word.CONFIRM | Word.ROGER),):
            return not asked
        case (Reading(corrects=True),) if common:
            return asked or last_measured(session) is not None
        case _:
            return True


def _wakes(session: Session, meaning: Meaning) -> bool:
    """Return whether a meaning is answered while standing by: "go ahead", and a size, which isn't logged."""
    match meaning.commands:
        case (Control(word),):
            return word is Word.GO_AHEAD
        case (Reading(value, position), *_):
            place = whole(position, session.position)
            return is_plausible(session.plan.check(session.check), place, [value])
        case _:
            return True
