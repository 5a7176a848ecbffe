"""Which phrases to read aloud, so that few of them hold every number word and the bench's commands. Pure."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from handsfree.length import Unit
from handsfree.manifest import Row
from handsfree.plan import Check, Position, Rule
from handsfree.understand import (
    ChangeCheck,
    Command,
    Control,
    Feel,
    Listening,
    Move,
    Reading,
    Word,
    meanings,
    said_place,
)
from handsfree.understand.numbers import cardinal_words

_POOL = 3000  # readings to choose from
_BREVITIES = (0.3, 0.15, 0.1, 0.05, 0.0)  # short phrases are easier to read; long ones hold more words
_UNITS = {
    Unit.THOU: ("thou", "thousandths"),
    Unit.INCH: ("inches",),
    Unit.MM: ("millimetres",),
    Unit.MICRON: ("microns",),
}
_DIGITS = [*(cardinal_words(number)[0] for number in range(1, 10)), "zero", "oh"]
NUMBER_WORDS = frozenset(
    {word for number in range(1, 100) for word in cardinal_words(number)}
    | {"zero", "oh", "half", "quarter", "quarters", "point", "decimal", "hundred"}
)
_READINGS = 0.45  # of what is read aloud, where commands could fill the rest
# Those first whose loss costs most; what isn't used at a check is left out below.
_CONTROLS = (
    Word.DISREGARD,
    Word.AFFIRM,
    Word.NEGATIVE,
    Word.STAND_BY,
    Word.GO_AHEAD,
    Word.SAY_AGAIN,
    Word.READ_BACK,
    Word.DONE,
    Word.NOT_DONE,
    Word.NEXT,
    Word.FINISH,
    Word.WHATS_LEFT,
    Word.DRESSED,
    Word.PREVIOUS,
    Word.CONFIRM,
    Word.ROGER,
)


@dataclass(frozen=True, slots=True)
class Phrase:
    """Something to read aloud, and what it asks of the bench.

    text: as it is shown. words: in the grammar's spelling.
    """

    text: str
    words: tuple[str, ...]
    command: Command

    def row(self, file: str, voice: str) -> Row:
        """Give the manifest's row for a recording of it."""
        command = self.command
        value = command.value if isinstance(command, Reading) else None
        position = command.position if isinstance(command, Reading | Move) else None
        labels = dict(position.labels) if position else {}
        kind = "word" if value is None else "reading" if position else "bare"
        return Row(
            file,
            voice,
            kind,
            self.text,
            labels.pop("cylinder", None),
            labels.pop("ring", None),
            value,
            command.feel.value if isinstance(command, Reading) and isinstance(command.feel, Feel) else None,
            place=tuple(labels.items()),
        )


def phrases_to_read(listening: Listening, check: Check, count: int, seed: int) -> tuple[Phrase, ...]:
    """Choose what to read aloud at a check of a plan.

    Readings come first until every number word is held by one, commands fill what is left, in the
    order in which it matters that they are heard. Then they are shuffled: nobody reads a list as
    they work.
    """
    rng = random.Random(seed)
    commands = list(_commands(listening, check, rng))
    pool = list(_readings(listening, check, rng)) if check.rule is not Rule.TICK else []
    most = max(count - len(commands), round(count * _READINGS))
    readings: list[Phrase] = []
    for brevity in _BREVITIES:
        readings = _covering(pool, brevity)
        if len(readings) <= most:
            break
    readings = readings[:most]
    chosen = [*readings, *commands[: count - len(readings)]]
    spare = [phrase for phrase in pool if phrase not in chosen]
    chosen += rng.sample(spare, min(count - len(chosen), len(spare)))
    rng.shuffle(chosen)
    return tuple(chosen)


def not_read(listening: Listening, check: Check, chosen: Sequence[Phrase]) -> list[str]:
    """Name the commands of the check that aren't among the phrases chosen."""
    said = {phrase.text for phrase in chosen}
    return [
        phrase.text for phrase in _commands(listening, check, random.Random(0)) if phrase.text not in said
    ]


def _covering(pool: Sequence[Phrase], brevity: float) -> list[Phrase]:
    """Choose readings, each for the number words that it adds, until they hold them all.

    brevity: what each word of a phrase takes off its worth.
    """
    held = [(phrase, NUMBER_WORDS & set(phrase.words)) for phrase in pool]
    wanted = frozenset().union(*(words for _, words in held))
    chosen: list[Phrase] = []
    while wanted:
        best, words = max(held, key=lambda pair: len(pair[1] & wanted) / (1 + brevity * len(pair[0].words)))
        chosen.append(best)
        wanted -= words
    return chosen


def _commands(listening: Listening, check: Check, rng: random.Random) -> Iterator[Phrase]:
    left_out = {Word.DONE, Word.NOT_DONE} if check.rule is not Rule.TICK else set()
    if check.rule is not Rule.FILE_TO_GAP:
        left_out |= {Word.DRESSED}
    texts = [word.value for word in _CONTROLS if word not in left_out]
    place = said_place(rng.choice(check.positions).labels)
    texts.insert(texts.index(Word.CONFIRM), place)
    texts += [f"check {name}" for name in listening.context.checks if name != check.name]
    for text in texts:
        phrase = _phrase(listening, text)
        if phrase is not None:
            yield phrase


def _readings(listening: Listening, check: Check, rng: random.Random) -> Iterator[Phrase]:
    seen: set[str] = set()
    for _ in range(_POOL):
        position = rng.choice(check.positions)
        text = _reading(check, position, rng)
        if text in seen:
            continue
        seen.add(text)
        phrase = _phrase(listening, text)
        if phrase is not None and isinstance(phrase.command, Reading):
            yield phrase


def _reading(check: Check, position: Position, rng: random.Random) -> str:
    amount, unit = _amount(rng), rng.choice((*_UNITS[check.unit_at(position)], ""))
    placed = said_place(position.labels)
    style = rng.randrange(8)
    if style < 4:
        return f"{placed}, {amount} {unit}".strip()
    if style == 4:
        return f"no go {amount}"
    if style in (5, 6):
        return f"{amount}, correction, {_amount(rng)} {unit}".strip()
    return f"{amount} {unit}".strip()


def _amount(rng: random.Random) -> str:
    whole = " ".join(cardinal_words(rng.randint(1, 99)))
    digits = [rng.choice(_DIGITS[:9]) for _ in range(3)]
    pair = " ".join(cardinal_words(rng.randint(10, 99)))
    point = rng.choice(("point", "point", "decimal"))
    return rng.choice(
        (
            whole,
            f"{whole} and a half",
            f"{whole} and a quarter",
            f"{whole} and three quarters",
            f"{whole} {point} {digits[0]}",
            f"{whole} {point} {digits[0]} {digits[1]}",
            f"{whole} {point} {pair}",
            f"{whole} {point} {rng.choice(('zero', 'oh'))} {digits[0]}",
            f"{rng.choice(('zero', 'oh'))} {point} {digits[0]} {digits[1]}",
            f"{digits[0]} {digits[1]}",
            f"{digits[0]} {digits[1]} {point} {digits[2]}",
            f"{point} {rng.choice(('zero', 'oh'))} {digits[0]} {digits[1]}",
        )
    )


def _phrase(listening: Listening, text: str) -> Phrase | None:
    """Make a phrase, if it means one thing only and may be acted on unasked."""
    words = tuple(text.replace(",", " ").split())
    if not listening.automaton.accepts(words):
        return None
    found = meanings(words, listening.automaton, listening.context)
    if len(found) != 1 or not found[0].sure or len(found[0].commands) != 1:
        return None
    command = found[0].commands[0]
    return (
        Phrase(text, words, command) if isinstance(command, Reading | Move | Control | ChangeCheck) else None
    )
