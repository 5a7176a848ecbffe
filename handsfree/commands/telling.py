"""A replayed exchange as lines for people."""

from __future__ import annotations

from handsfree.commands.replaying import Step
from handsfree.understand import Outcome

_WIDTH = 10


def lines_of(step: Step) -> list[str]:
    """What was heard or keyed, and what was answered."""
    head = step.origin if step.start_s is None else f"{step.origin} {step.start_s:.1f}-{step.end_s:.1f} s"
    exchange = step.exchange
    if exchange is None:
        return [f"{head}\n{'':4}{'fault' if step.fault else 'silence':<{_WIDTH}}{step.fault or ''}".rstrip()]
    lines = [head]
    if exchange.source == "keypad":
        lines.append(f"{'':4}{'keyed':<{_WIDTH}}{exchange.words} Enter".rstrip())
    else:
        outcome = exchange.decision.outcome if exchange.decision else Outcome.IGNORE
        words = exchange.words if outcome is not Outcome.IGNORE else "(talk that isn't for the bench)"
        lines.append(f"{'':4}{'heard' if outcome is not Outcome.ASK else 'unsure':<{_WIDTH}}{words}")
    if exchange.reply.text:
        lines.append(f"{'':4}{'answer':<{_WIDTH}}{exchange.reply.text}")
    return lines
