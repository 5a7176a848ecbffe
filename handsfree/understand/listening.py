"""The speech of one check of a plan: its narrowed grammar, automaton and context."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from handsfree.errors import GrammarError
from handsfree.length import Length, Unit, millimetres_per
from handsfree.plan import PART, QUESTION, Check, Plan, Position, Rule
from handsfree.understand.automaton import Automaton
from handsfree.understand.grammar import Grammar, Narrowing, load_grammar
from handsfree.understand.keys import Pad
from handsfree.understand.meaning import RESERVED, Context, Meaning

_HUNDRED = 100
# From these sizes on a figure has four digits or more and is read digit by digit.
LONG_FROM = {Unit.INCH: 1, Unit.MM: 10}


@dataclass(frozen=True)
class Listening:
    """Everything that can be said while a check is in hand."""

    grammar: Grammar
    automaton: Automaton
    context: Context

    def at(
        self,
        position: Position,
        check: Check,
        possible: Callable[[Sequence[str], Meaning], bool] | None = None,
    ) -> Context:
        """Return the context for bare readings at `position`, with its plausible range."""
        context = self.context

        def meant(named: Position | None) -> Position:
            return position if named is None else named.within(position)

        return Context(
            context.unit,
            context.axes,
            context.checks,
            lambda named: _window(check, meant(named)),
            lambda named: check.unit_at(meant(named)),
            possible,
        )


def listen_for(plan: Plan, check: Check) -> Listening:
    """Narrow the grammar to a check of a plan.

    Raises:
        GrammarError: an ambiguous axis or label.
    """
    axes: Mapping[str, tuple[str, ...]] = {axis.name: axis.labels for axis in check.axes}
    for name in axes:
        if name in RESERVED:
            raise GrammarError(f'an axis can\'t be named "{name}", a word that the grammar uses; rename it')
    checks = tuple(other.name for other in plan.checks)
    part = PART if check.read_parts else None
    nouns = axes.get(QUESTION, ())
    left_out = frozenset() if check.rule is Rule.FILE_TO_GAP else frozenset({"trouble"})
    grammar = load_grammar().narrowed(
        Narrowing(axes, amounts_of(check), checks=checks, alone=part, nouns=nouns, left_out=left_out)
    )
    widest = _widest(check)
    context = Context(
        check.unit,
        axes,
        checks,
        lambda named: widest if named is None else _window(check, named),
        lambda named: check.unit if named is None else check.unit_at(named),
    )
    return Listening(grammar, grammar.compile(), context)


def pad_for(plan: Plan, check: Check, position: Position) -> Pad:
    """Return the keypad at a check, with the position in hand."""
    return Pad(
        check.unit,
        tuple((axis.name, axis.labels) for axis in check.axes),
        tuple(other.name for other in plan.checks),
        lambda named: check.unit_at(position if named is None else named.within(position)),
        check.signed,
    )


def amounts_of(check: Check) -> tuple[str, ...]:
    """Return the grammar's rules for a check's amounts; gaps in thou need only two.

    The fewer the rules, the better each is recognised.
    """
    windows = []
    for position, (low, high) in check.windows.items():
        unit = check.unit_at(position)
        windows.append((unit, low.mm / millimetres_per(unit), high.mm / millimetres_per(unit)))
    long = any(unit in LONG_FROM and high >= LONG_FROM[unit] for unit, _, high in windows)
    below_one = not windows or any(low < 1 for _, low, _ in windows)
    return (
        "size" if long else "small",
        *(["pointed"] if below_one or not long else []),
        *(["hundred"] if any(high >= _HUNDRED for _, _, high in windows) else []),
        *(["long"] if long else []),
        *(["signed"] if check.signed else []),
    )


def _window(check: Check, position: Position) -> tuple[Length, Length] | None:
    return check.windows.get(position)


def _widest(check: Check) -> tuple[Length, Length] | None:
    """Return the union of the windows of all positions, for a reading with an unknown place."""
    windows = list(check.windows.values())
    if not windows:
        return None
    return (
        min((low for low, _ in windows), key=lambda length: length.mm),
        max((high for _, high in windows), key=lambda length: length.mm),
    )
