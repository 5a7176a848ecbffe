"""Written forms of one person's words, from an alignment of decoded text and spoken words. Pure.

The embedded recogniser also decodes freely. If the free text differs from the known words in just one place,
the difference is a form of this person's word. A form may be used only if no other word or run of words in
the grammar is spelt like it or more similar to it: a form that could be another word would turn one number
into another.

Confused words, from an alignment of spoken and heard words.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

from handsfree.understand import Spellings, cardinal_words

Words = tuple[str, ...]
OwnSpellings = Mapping[Words, tuple[str, ...]]
Spelling = tuple[Words, str]

MOST_WORDS = 3
"""Most words of a written form."""
ALONE_LIKENESS = 0.5
"""Least similarity to its word of a form that was the whole free text."""
OTHER_LIKENESS = 0.75
"""A form this similar to another word, and more similar to it than to its own, is rejected."""

_GROUP = 4  # words of the longest group with its own spelling
_FORM = re.compile(r"[a-z']+( [a-z']+)*")
_NUMBERS = frozenset(word for number in range(1, 100) for word in cardinal_words(number)) | {
    *("zero", "oh", "tree", "fower", "fife", "niner", "hundred", "half", "quarter", "tenth", "tenths"),
    *("point", "decimal", "minus", "below"),
}


def plain_text(text: str) -> str:
    """Return a decoded text in lower case without punctuation that means nothing.

    >>> plain_text("Cylinder three-top, 18.5 foul.")
    'cylinder three top 18.5 foul'
    """
    spaced = re.sub(r"[,!?;:-]|\.(?!\d)", " ", text.lower())
    return " ".join(spaced.split())


def found_spelling(
    said: Words, free: str, spellings: Spellings, phrases: Iterable[Words] = ()
) -> Spelling | None:
    """Return the one word with an unknown written form, and the form; None if none is certain.

    Args:
        said: the spoken words, in the grammar's spelling.
        free: the text of the free decoding.
        spellings: the known spellings.
        phrases: words that stand together in the grammar; such a pair may have one form.

    >>> from handsfree.understand import load_spellings
    >>> found_spelling(("six", "top", "eighteen", "thou"), "6 top, eighteen tau.", load_spellings())
    (('thou',), 'tau')
    """
    text = plain_text(free)
    begins = _prefixes(said, text, spellings)
    if len(text) in begins[-1]:
        return None
    ends = _suffixes(said, text, spellings)
    pairs = frozenset(phrases)
    for length in (1, 2):
        found = {
            (said[at : at + length], text[p:q].strip())
            for at in range(len(said) - length + 1)
            if length == 1 or said[at : at + length] in pairs
            for p in begins[at]
            for q in ends[at + length]
            if p < q and _whole_words(text, p, q)
        }
        found = {(words, form) for words, form in found if _FORM.fullmatch(form)}
        found = {(words, form) for words, form in found if len(form.split()) <= MOST_WORDS}
        if len(found) > 1:
            return None
        for words, form in found:
            alone = len(words) == len(said)
            return None if alone and likeness(form, " ".join(words)) < ALONE_LIKENESS else (words, form)
    return None


def collides(words: Words, form: str, spellings: Spellings, known: Iterable[str]) -> bool:
    """Return whether a form could be mistaken for anything else in the grammar.

    known: all words of the grammar in use, besides those with spellings.
    """
    others = _other_forms(words, spellings, known)
    own = set(words) | {f for word in words for f in spellings.of((word,))}
    everything = frozenset(others) | own
    if len(form) < 2 or not _FORM.fullmatch(form) or _runs_together(form, everything):
        return True
    if any(word in others and word not in own for word in form.split()):
        return True
    if any(_completes(form, other, everything) for other in others):
        return True
    itself = likeness(form, " ".join(words))
    number = bool(_NUMBERS & set(words))
    for other in others:
        alike = likeness(form, other)
        if number and other in _NUMBERS and alike >= itself:
            return True
        if alike >= OTHER_LIKENESS and alike > itself:
            return True
    return False


def with_spellings(spellings: Spellings, forms: OwnSpellings, known: Sequence[str]) -> Spellings:
    """Return the spellings plus the forms without collisions."""
    joined = dict(spellings.forms)
    for words, written in forms.items():
        for form in written:
            if not collides(words, form, Spellings(joined), known):
                joined[words] = (*joined.get(words, ()), form)
    return Spellings(joined)


def likeness(one: str, other: str) -> float:
    """Return the similarity of two texts, 0 to 1: twice the common letters over all letters.

    Source: the ratio of Ratcliff and Obershelp, as in the standard library's difflib.
    """
    return SequenceMatcher(None, one, other, autojunk=False).ratio()


def _other_forms(words: Words, spellings: Spellings, known: Iterable[str]) -> set[str]:
    """Return all spellings of other words; the words of a group aren't others to it."""
    found = {word for word in known if word not in words}
    for group, written in spellings.forms.items():
        if group != words and not set(group) <= set(words):
            found.update(plain_text(form) or form for form in (*written, " ".join(group)))
    return found


def _runs_together(text: str, pieces: frozenset[str], needed: str = "") -> bool:
    """Return whether a text consists only of such pieces, with or without blanks between them."""
    reached: set[tuple[int, bool]] = {(0, not needed)}
    todo = list(reached)
    while todo:
        at, used = todo.pop()
        if at == len(text):
            if used:
                return True
            continue
        if text[at] == " ":
            steps = [(at + 1, used)]
        else:
            steps = [(at + len(p), used or p == needed) for p in pieces if p and text.startswith(p, at)]
        todo += [step for step in steps if step not in reached]
        reached.update(steps)
    return False


def _completes(form: str, other: str, pieces: frozenset[str]) -> bool:
    """Return whether another word's spelling could be read as this form with pieces around it."""
    return form in other and _runs_together(other, (pieces - {other}) | {form}, form)


def _prefixes(said: Words, text: str, spellings: Spellings) -> list[set[int]]:
    """Return, for each number of first words, the positions in the text at which they can end."""
    reached: list[set[int]] = [{0}, *(set[int]() for _ in said)]
    for at in range(len(said)):
        for length in range(1, min(_GROUP, len(said) - at) + 1):
            for form in _written(said[at : at + length], spellings):
                for p in reached[at]:
                    begin = p + 1 if text[p : p + 1] == " " else p
                    end = begin + len(form)
                    if text.startswith(form, begin) and _ends_well(text, end):
                        reached[at + length].add(end)
    return reached


def _suffixes(said: Words, text: str, spellings: Spellings) -> list[set[int]]:
    """Return, for each word, the positions in the text at which it and all later words can begin."""
    starts: list[set[int]] = [*(set[int]() for _ in said), {len(text)}]
    for at in range(len(said) - 1, -1, -1):
        for length in range(1, min(_GROUP, len(said) - at) + 1):
            for form in _written(said[at : at + length], spellings):
                for q in starts[at + length]:
                    end = q - 1 if q and text[q - 1] == " " else q
                    begin = end - len(form)
                    if begin >= 0 and text.startswith(form, begin) and _ends_well(text, end):
                        starts[at].add(begin)
    return starts


def _written(words: Words, spellings: Spellings) -> list[str]:
    return [plain_text(form) or form for form in spellings.of(words)]


def _ends_well(text: str, end: int) -> bool:
    """Return whether `end` is not within a word; digits may follow one another."""
    return not (text[end - 1 : end].isalpha() and text[end : end + 1].isalpha())


def _whole_words(text: str, begin: int, end: int) -> bool:
    span = text[begin:end]
    starts = begin == 0 or text[begin - 1] == " " or span.startswith(" ")
    return starts and (end == len(text) or text[end] == " " or span.endswith(" "))


Pair = tuple[str | None, str | None]

_TIE = 0.001  # breaks ties; too small to outweigh a difference in any phrase


@dataclass(frozen=True, slots=True)
class Confusion:
    """A spoken word and the heard one: None on one side for a deletion or an insertion."""

    said: str | None
    heard: str | None
    times: int

    def __str__(self) -> str:
        """Return it as a phrase for people.

        >>> str(Confusion("fifteen", "fifty", 2))
        'fifteen was heard as fifty (2 times)'
        """
        often = f" ({self.times} times)" if self.times > 1 else ""
        if self.said is None:
            return f"{self.heard} was heard where nothing was said{often}"
        if self.heard is None:
            return f"{self.said} was not heard{often}"
        return f"{self.said} was heard as {self.heard}{often}"


def aligned(said: Sequence[str], heard: Sequence[str]) -> list[Pair]:
    """Return the alignment of two phrases with the fewest differences (Levenshtein distance over words).

    Among equal alignments, similar words are paired.

    >>> aligned("three top fifteen thou".split(), "tree top fifty".split())
    [('three', 'tree'), ('top', 'top'), ('fifteen', 'fifty'), ('thou', None)]
    """
    rows, columns = len(said), len(heard)
    costs = [[float(i + j) if not i or not j else 0.0 for j in range(columns + 1)] for i in range(rows + 1)]
    for i in range(1, rows + 1):
        for j in range(1, columns + 1):
            paired = costs[i - 1][j - 1] + _unlike(said[i - 1], heard[j - 1])
            costs[i][j] = min(paired, costs[i - 1][j] + 1, costs[i][j - 1] + 1)
    pairs: list[Pair] = []
    i, j = rows, columns
    while i or j:
        if i and j and costs[i][j] == costs[i - 1][j - 1] + _unlike(said[i - 1], heard[j - 1]):
            pairs.append((said[i - 1], heard[j - 1]))
            i, j = i - 1, j - 1
        elif i and costs[i][j] == costs[i - 1][j] + 1:
            pairs.append((said[i - 1], None))
            i -= 1
        else:
            pairs.append((None, heard[j - 1]))
            j -= 1
    return pairs[::-1]


def _unlike(one: str, other: str) -> float:
    """Return the cost of pairing two words: one, plus a little more the less similar they are."""
    return 0.0 if one == other else 1 + _TIE * (1 - likeness(one, other))


def confusions(phrases: Iterable[tuple[Sequence[str], Sequence[str]]]) -> list[Confusion]:
    """Return the confusions in pairs of spoken and heard phrases, most frequent first."""
    counts: Counter[Pair] = Counter()
    for said, heard in phrases:
        counts.update(pair for pair in aligned(said, heard) if pair[0] != pair[1])
    return [Confusion(*pair, times) for pair, times in counts.most_common()]
