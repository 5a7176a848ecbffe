"""The same as lines of plain text, for screen readers, pipes and logs."""

from __future__ import annotations

from handsfree.bench import Exchange
from handsfree.live import Ears, LiveState
from handsfree.understand import Outcome


def exchange_lines(exchange: Exchange) -> list[str]:
    """Return the words heard or keyed, and the answer; nothing for chatter."""
    if exchange.decision is not None and exchange.decision.outcome is Outcome.IGNORE:
        return []
    lines = []
    if exchange.source == "keypad":
        lines.append(f"keyed: {exchange.words} Enter".replace("  ", " "))
    elif exchange.source == "voice":
        unsure = exchange.decision is not None and exchange.decision.outcome is Outcome.ASK
        lines.append(f"{'unsure' if unsure else 'heard'}: {exchange.words}")
    if exchange.reply.text:
        lines.append(f"answer: {exchange.reply.text}")
    return lines


def change_lines(before: LiveState, after: LiveState) -> list[str]:
    """Return other changes: new or cleared trouble, and ears that became deaf or asleep."""
    lines = [f"trouble: {each}" for each in after.trouble if each not in before.trouble]
    lines += [f"over: {each}" for each in before.trouble if each not in after.trouble]
    told = {Ears.DEAF, Ears.ASLEEP}
    if after.ears is not before.ears and (after.ears in told or before.ears in told):
        lines.append(f"ears: {after.ears.value}")
    if after.overflows > before.overflows:
        lines.append(f"sound was lost, {after.overflows} times so far")
    return lines
