"""Assign rings tried in one bore to their bores: offered once all are tried and before any is filed."""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.judge import Fitting, bore_here, share_out
from handsfree.length import Length
from handsfree.plan import Check, Position, measured_target
from handsfree.session import Session, bores_for_gaps, figures
from handsfree.speak import Wording, place_words

BORE_AXIS = "cylinder"


@dataclass(frozen=True, slots=True)
class SharedOut:
    """An assignment of rings to bores, for the check of gaps `to`.

    missing: rings that weren't tried yet; until all are tried, none is assigned. filed: whether
    any of these rings was already measured or filed in its own bore.
    """

    check: Check
    to: Check
    like: Position
    tried_in: Length | None
    missing: tuple[str, ...]
    filed: bool
    fitting: Fitting | None = None


def shared_out(session: Session, check: Check) -> SharedOut | None:
    """Assign the rings of a check in which they were tried; None for any other check.

    The bores are those measured or in the plan; without the bore of the trial there is no fitting.
    """
    share = check.share
    if share is None:
        return None
    plan = session.plan
    to = plan.check(share.to)
    kind = [item for item in to.items if all(item.get(axis) == label for axis, label in share.like)]
    tried_at = next(item for item in kind if item.get(BORE_AXIS) == share.tried_in)
    bores = bores_for_gaps(session, to)
    tried_in = bore_here(plan, to, tried_at, bores)
    gaps = {position.labels[0][1]: gap for position, gap in figures(session, check.name).items()}
    missing = tuple(label for label in check.axes[0].labels if label not in gaps)
    filed = any(
        session.current(to.name, item) is not None or session.turns.get((to.name, item)) for item in kind
    )
    found = SharedOut(check, to, tried_at, tried_in, missing, bool(filed))
    if missing or tried_in is None:
        return found
    targets = {item: measured_target(plan, to, item, bores) for item in kind}
    fitting = share_out(plan, to, tried_at, gaps, tried_in, targets, bores)
    return SharedOut(check, to, tried_at, tried_in, missing, bool(filed), fitting)


def offer(say: Wording, session: Session, check: Check) -> str | None:
    """Return the sentence that says which ring goes to which bore, or None where none is due."""
    found = shared_out(session, check)
    if found is None or found.fitting is None or found.filed:
        return None
    return offer_words(say, found)


def offer_for(say: Wording, session: Session, to: Check) -> tuple[str, ...]:
    """Return the offers for a check of gaps, from every check whose rings are assigned to it."""
    sharing = [
        check for check in session.plan.checks if check.share is not None and check.share.to == to.name
    ]
    offers = (offer(say, session, check) for check in sharing)
    return tuple(sentence for sentence in offers if sentence is not None)


def offer_words(say: Wording, found: SharedOut) -> str:
    """Put a fitting into words."""
    assert found.fitting is not None  # noqa: S101 - checked by the callers
    ring = found.check.axes[0].name
    places = [
        (_named(ring, position.ring), _named(BORE_AXIS, position.bore)) for position in found.fitting.places
    ]
    return say.work.shared_out(
        places,
        [_named(ring, label) for label in found.fitting.spare],
        [_named(BORE_AXIS, label) for label in found.fitting.empty],
    )


def _named(axis: str, label: str) -> str:
    return place_words(Position.of({axis: label}))
