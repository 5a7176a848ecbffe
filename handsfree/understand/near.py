"""Free decoding of an utterance: an unknown place, chatter, or words meant for the bench.

A recogniser constrained to the grammar finds one of its phrases in every sound. Its free transcript shows
whether a doubtful phrase is worth asking about, and whether the user addressed the bench in unknown
words. Pure: from text to a decision; nothing here ever turns text into a command.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from functools import cache
from itertools import groupby

from handsfree.errors import GrammarError
from handsfree.length import Length
from handsfree.understand.automaton import Automaton
from handsfree.understand.command import Reading
from handsfree.understand.decide import Decision, Evidence, Near, Outcome, Thresholds, decide, now_possible
from handsfree.understand.grammar import grammar_folder
from handsfree.understand.meaning import Context, Window, meanings
from handsfree.understand.numbers import cardinal_words, digit_words

_TOKEN = re.compile(r"[a-z']+|\d+")
_PLACE_NUMBER_MOST = 99
_ORDINAL = re.compile(r"(\d+)(st|nd|rd|th)\b")

LIKE = 0.8
"""Minimum similarity of transcript and phrase for asking about a phrase with a poor fit."""

POOR_FIT = -0.7
"""Above this fit a phrase is asked about, unless it is `UNLIKE` the transcript."""

UNLIKE = 0.5
"""Cries and the beginning of long talk fit a short phrase, but their transcript differs."""

MOST_WORDS = 11
"""Longest utterance addressed to the bench without a pause."""

_STRANGE_SHARE = 0.12  # share of unknown words: one in nine may be misheard
_FEW_WORDS = 5  # in so few words two numbers are enough: "two is fifteen"
_PLAIN_WORDS = 8  # in so few, none of them strange, a size that can be true here is enough
_ASKING = frozenset({"what", "what's", "which", "where", "how"})


@dataclass(frozen=True, slots=True)
class Nearness:
    """Words that people say to the bench.

    trade: words of the trade. strong: other typical words. With a number one of either is enough, without one
    it takes two, one of them of the trade. light: common words that go with them and with any talk.
    requests: beginnings of a request that needs no other word.
    """

    trade: frozenset[str]
    strong: frozenset[str]
    light: frozenset[str]
    requests: tuple[tuple[str, ...], ...]


@cache
def load_nearness() -> Nearness:
    """Read the list of words that people say to a bench.

    Raises:
        GrammarError: when the file is missing or invalid.
    """
    path = grammar_folder() / "near.toml"
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        return Nearness(
            frozenset(table["trade"]),
            frozenset(table["strong"]),
            frozenset(table["light"]),
            tuple(tuple(str(each).split()) for each in table["requests"]),
        )
    except (OSError, tomllib.TOMLDecodeError, KeyError, TypeError) as error:
        raise GrammarError(f'words "{path}" can\'t be read: {error}; install handsfree again') from error


_NUMBERS = frozenset(
    {word for number in range(1, 100) for word in cardinal_words(number)}
    | {"zero", "oh", "nought", "half", "quarter", "quarters", "point", "hundred"}
)


def written_words(text: str) -> tuple[str, ...]:
    """Return the words of a free transcript in the grammar's spelling: numerals in words, no signs.

    >>> written_words("Cylinder 6 top, 22.75.")
    ('cylinder', 'six', 'top', 'twenty', 'two', 'point', 'seventy', 'five')
    """
    plain = _ORDINAL.sub(r"\1", text.lower())
    plain = re.sub(r"(\d)\.(\d)", r"\1 point \2", plain)
    found: list[str] = []
    for token in _TOKEN.findall(plain):
        if token.removesuffix("'s") in _NUMBERS:  # "number one's at fifteen"
            found += [token.removesuffix("'s"), *(["is"] if token.endswith("'s") else [])]
        elif not token.isdecimal():
            found.append(token)
        elif len(token) < 3 and token[0] != "0":
            found += cardinal_words(int(token))
        else:
            found += digit_words(token)
    return tuple(found)


def likeness(text: str, words: Sequence[str]) -> float:
    """Return the similarity of a free transcript and a phrase, letter by letter: 0 to 1.

    >>> likeness("Hold on.", ("four", "top", "ten")) < 0.5 < likeness("17 now", ("seventeen", "thou"))
    True
    """
    return SequenceMatcher(None, " ".join(written_words(text)), " ".join(words), autojunk=False).ratio()


def missing_label(text: str, axes: Mapping[str, Sequence[str]]) -> tuple[str, str] | None:
    """Return an axis and the number after its name if the plan has no such label, else None.

    >>> missing_label("Cylinder 9, top.", {"cylinder": ("1", "2"), "ring": ("top", "second")})
    ('cylinder', '9')
    """
    words = written_words(text)
    for axis, labels in axes.items():
        if not labels or not all(label.isdecimal() for label in labels):
            continue
        names = {axis.lower(), "number"}
        for at, word in enumerate(words):
            if word not in names:
                continue
            rest = words[at + 1 :]
            if word != "number" and rest[:1] == ("number",):
                continue
            label, after = _number_at(rest)
            # "number twelve" is a place only beside one: "number twelve second"
            beside = word != "number" or _names_another(after, axis, axes)
            if label is not None and label not in labels and beside:
                return axis, label
    return None


def _number_at(words: Sequence[str]) -> tuple[str | None, Sequence[str]]:
    """Return the whole number at the beginning of words, and the words after it."""
    for count in (2, 1):
        said = tuple(words[:count])
        if len(said) == count and said in _CARDINALS:
            return _CARDINALS[said], words[count:]
    return None, words


_CARDINALS = {tuple(cardinal_words(number)): str(number) for number in range(1, _PLACE_NUMBER_MOST + 1)}


def _names_another(words: Sequence[str], axis: str, axes: Mapping[str, Sequence[str]]) -> bool:
    others = {label.lower() for name, labels in axes.items() if name != axis for label in labels}
    return bool(words) and words[0] in others


def is_meant(
    text: str,
    extra: Iterable[str] = (),
    nearness: Nearness | None = None,
    fitting: Callable[[Sequence[str]], bool] = lambda _: False,
) -> bool:
    """Return whether a free transcript was meant for the bench: short, and made of words people say to it.

    extra: the plan's own words, such as its axes and labels. fitting: whether words hold a size or a place
    that can be meant now.

    >>> is_meant("Put down sixteen for one top.", ["top"]), is_meant("He put sixteen on the top shelf.")
    (True, False)
    """
    near = nearness or load_nearness()
    words = written_words(text)
    if not 0 < len(words) <= MOST_WORDS:
        return False
    if words in near.requests:
        return True
    trade = near.trade | set(extra)
    strong = near.strong | trade
    known = [word for word in words if word in strong or word in near.light or word in _NUMBERS]
    if len(words) - len(known) > len(words) * _STRANGE_SHARE:
        return False
    told = sum(word in strong for word in words)
    counted = sum(word in _NUMBERS for word in words)
    plain = len(known) == len(words) <= _PLAIN_WORDS
    if counted:
        return told > 0 or (counted > 1 and len(words) <= _FEW_WORDS) or (plain and fitting(words))
    if plain and words[0] in _ASKING and told:
        return True
    return (told > 1 or plain) and any(word in trade for word in words)


def fits_now(words: Sequence[str], automaton: Automaton, context: Context) -> bool:
    """Return whether words hold a size within the window of the place in hand, or a place with its axis."""
    window = context.window(None)
    for number, size in groupby(range(len(words)), lambda at: words[at] in _NUMBERS or words[at] in _BETWEEN):
        if not number:
            continue
        run = _trimmed([words[at] for at in size])
        for meaning in meanings(run, automaton, context) if run else ():
            (command,) = meaning.commands[:1]
            if isinstance(command, Reading) and window is not None and _within(command.value, window):
                return True
    return any(
        word in (axis.lower(), "number") and _number_at(words[at + 1 :])[0] in labels
        for axis, labels in context.axes.items()
        for at, word in enumerate(words)
    )


_BETWEEN = frozenset({"and", "a"})  # "sixteen and a half"


def _trimmed(words: Sequence[str]) -> Sequence[str]:
    """Return words from the first number to the last."""
    numbers = [at for at, word in enumerate(words) if word in _NUMBERS]
    return words[numbers[0] : numbers[-1] + 1] if numbers else ()


def _within(size: Length, window: Window) -> bool:
    low, high = window
    return low.mm <= size.mm <= high.mm


def weighed(
    evidence: Evidence,
    free: str | None,
    automaton: Automaton,
    context: Context,
    thresholds: Thresholds | None = None,
) -> Decision:
    """Decide on a hearing by its phrases and by its free transcript.

    free: the free transcript, if there is one.
    """
    taken = now_possible(evidence, automaton, context)
    decision = decide(taken, automaton, context, thresholds)
    if decision.outcome is Outcome.ACCEPT and free is not None and _goes_on(free, taken.words, context.axes):
        decision = replace(decision, outcome=Outcome.ASK)
    decision = reconsider(
        decision,
        taken.words,
        free,
        taken.fit,
        context.axes,
        lambda words: fits_now(words, automaton, context),
    )
    return decision if taken.words == evidence.words else replace(decision, words=taken.words)


def _goes_on(free: str, words: Sequence[str], axes: Mapping[str, Sequence[str]]) -> bool:
    """Return whether the transcript has the words and then another place: the next reading is being said.

    What was heard so far is right, but taken now its answer would shut the ears to the rest.
    """
    written = written_words(free)
    rest = written[len(words) :]
    places = {*axes, *(label for labels in axes.values() for label in labels if label.isalpha())}
    return written[: len(words)] == tuple(words) and len(rest) > 1 and not places.isdisjoint(rest)


def reconsider(
    decision: Decision,
    words: Sequence[str],
    free: str | None,
    fit: float | None,
    axes: Mapping[str, Sequence[str]],
    fitting: Callable[[Sequence[str]], bool] = lambda _: False,
) -> Decision:
    """Review a decision by the free transcript; without one the decision stays.

    A place that the plan lacks is named, even if a phrase of the grammar came near it. A doubtful phrase
    that differs from the transcript is not asked about. Words outside the grammar but meant for the bench
    get a hint.
    """
    if free is None:
        return decision
    lacking = missing_label(free, axes)
    if lacking is not None:
        return Decision(Outcome.ASK, near=Near(missing=lacking))
    if decision.outcome is Outcome.ACCEPT:
        return decision
    if decision.outcome is Outcome.ASK:
        if fit is None or likeness(free, words) >= (UNLIKE if fit >= POOR_FIT else LIKE):
            return decision
        decision = replace(decision, outcome=Outcome.IGNORE, meanings=())
    own = {word for axis, labels in axes.items() for each in (axis, *labels) for word in written_words(each)}
    if is_meant(free, own - _NUMBERS, fitting=fitting):
        return Decision(Outcome.ASK, near=Near(said=free))
    return decision
