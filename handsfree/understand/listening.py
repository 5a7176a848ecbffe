"""A plan's check as something to listen for: its narrowed grammar, automaton and context."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from handsfree.errors import GrammarError
from handsfree.length import Length
from handsfree.plan import Check, Plan
from handsfree.plan.position import Position
from handsfree.understand.automaton import Automaton
from handsfree.understand.grammar import Grammar, Narrowing, load_grammar
from handsfree.understand.meaning import RESERVED, Context


@dataclass(frozen=True)
class Listening:
    """What can be said while a check is in hand."""

    grammar: Grammar
    automaton: Automaton
    context: Context

    def at(self, position: Position, check: Check) -> Context:
        """The same context with a bare reading taken to be at `position`."""
        context = self.context
        return Context(
            context.unit,
            context.axes,
            context.checks,
            lambda named: _window(check, named or position),
        )


def listen_for(plan: Plan, check: Check) -> Listening:
    """Narrow the grammar to a check of a plan.

    Raises:
        GrammarError: an axis or label that would be taken for something else.
    """
    axes: Mapping[str, tuple[str, ...]] = {axis.name: axis.labels for axis in check.axes}
    for name in axes:
        if name in RESERVED:
            raise GrammarError(f'an axis can\'t be named "{name}", a word that the grammar uses; rename it')
    checks = tuple(other.name for other in plan.checks)
    grammar = load_grammar().narrowed(Narrowing(axes, checks=checks))
    widest = _widest(check)
    context = Context(
        check.unit, axes, checks, lambda named: widest if named is None else _window(check, named)
    )
    return Listening(grammar, grammar.compile(), context)


def _window(check: Check, position: Position) -> tuple[Length, Length] | None:
    return check.windows.get(position)


def _widest(check: Check) -> tuple[Length, Length] | None:
    """The range that holds the windows of all positions, for a reading whose place isn't known."""
    windows = list(check.windows.values())
    if not windows:
        return None
    return (
        min((low for low, _ in windows), key=lambda length: length.mm),
        max((high for _, high in windows), key=lambda length: length.mm),
    )
