"""Advice beside a verdict: another bore, heat, a bore that changes targets, doubtful readings.

Rings tried in one bore are assigned to their bores: offered once all are tried and before any is filed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from handsfree.dialogue.answer import Said, entry_amount
from handsfree.dialogue.places import still_open
from handsfree.journal import Draft, Kind
from handsfree.judge import (
    Closure,
    Disagreement,
    Fitting,
    PassAdvice,
    State,
    bore_here,
    bores_for,
    doubt,
    heat_caution,
    next_pass,
    passes_like,
    share_out,
)
from handsfree.length import Length, in_unit
from handsfree.plan import Caution, Check, Position, Rule, Target, bore_shape, cautions_for, measured_target
from handsfree.session import (
    Entry,
    Session,
    bores_for_gaps,
    bounds_of,
    comparable,
    figure_of,
    figures,
    filed_passes,
    state_at,
    with_draft,
)
from handsfree.speak import Amount, Wording, place_words

BORE_AXIS = "cylinder"


def in_doubt(
    session: Session, check: Check, position: Position, said: Said, corrects: Entry | None
) -> Amount | None:
    """Return the earlier amount that a new reading contradicts, or None where they agree.

    session: before the reading. corrects: the entry that it replaces.
    """
    if corrects is not None:
        session = with_draft(session, Draft(Kind.VOID, refers_to=corrects.event.id))
    before = comparable(session, check, position)
    if corrects is not None and any(entry.measured > corrects.measured for entry in before):
        return None  # not the newest reading there, so there is nothing to measure again
    if check.rule is Rule.FILE_TO_GAP:
        return _shrunk(check, position, said, before[-1]) if before else None
    if not said.bounds.is_exact:
        return None
    earlier = [figure for figure in map(figure_of, before) if figure is not None]
    found: Disagreement | None = doubt(check, position, [*earlier, said.value])
    if found is None or not earlier:
        return None
    return max(earlier, key=lambda figure: abs(figure.mm - said.value.mm))


def _shrunk(check: Check, position: Position, said: Said, before: Entry) -> Amount | None:
    """Return the amount before if a gap seems smaller now; two leaves are compared exactly elsewhere."""
    known, now = bounds_of(before), said.bounds.high
    if known is None or known.low is None or now is None:
        return None
    if not known.is_exact and not said.bounds.is_exact:
        return None
    return None if doubt(check, position, [known.low, now]) is None else entry_amount(before)


def pass_advice(
    after: Session, check: Check, position: Position, reading: Length, target: Target
) -> PassAdvice | None:
    """Return the advice on the next pass, if turns are counted in this check.

    after: the session with the reading in it.
    """
    if check.rule is not Rule.FILE_TO_GAP or not any(name == check.name for name, _ in after.turns):
        return None
    passes = passes_like(position, filed_passes(after, check), after.dressed)
    return next_pass(after.plan, check, position, reading, passes, target)


def elsewhere(
    after: Session, check: Check, place: Position, gap: Length | None
) -> tuple[str, Position | None]:
    """Return the remedy for a ring that is over: its name, and a place where the ring would fit.

    If one figure stands for all bores, another bore may still fit.
    """
    bores = bores_for_gaps(after, check)
    if gap is None:
        return "ring", None
    kind = dict(place.labels) | {BORE_AXIS: None}
    others = [
        position
        for position in still_open(after, check)
        if position != place and dict(position.labels) | {BORE_AXIS: None} == kind
    ]
    targets = {position: measured_target(after.plan, check, position, bores) for position in others}
    found = bores_for(after.plan, check, place, gap, others, targets, bores)
    if found:
        labels = [(axis, found[0].bore if axis == BORE_AXIS else label) for axis, label in place.labels]
        return "other_bore", Position(tuple(labels))
    own = all(_has_own_bore(after, check, position, bores) for position in (place, *others))
    return ("no_bore" if own or not others else "ring"), None


def _has_own_bore(
    session: Session, check: Check, position: Position, bores: Mapping[Position, Length]
) -> bool:
    if position.get(BORE_AXIS) in session.plan.engine.bores:
        return True
    if check.bores_from is None:
        return False
    return bore_shape(session.plan.check(check.bores_from), check.item(position), bores) is not None


def heat(say: Wording, session: Session, check: Check, place: Position, gap: Length | None) -> str | None:
    """Return the caution that a gap leaves less than the plan's margin when hot, or None.

    It is said in full once per check, and briefly after that.
    """
    if gap is None or session.plan.hot is None or check.rule is not Rule.FILE_TO_GAP:
        return None
    bores = bores_for_gaps(session, check)
    closure = heat_caution(session.plan, check, place, gap, bores)
    if closure is None:
        return None
    told = any(
        position != place
        and figure is not None
        and heat_caution(session.plan, check, position, figure, bores) is not None
        for position, figure in (
            (position, figure_of(entry)) for position, entry in session.results(check.name).items()
        )
    )
    return say.work.hot(_least(closure, check), closure.remark, butts=closure.butts, again=told)


def _least(closure: Closure, check: Check) -> Length:
    return Length(in_unit(max(closure.least_mm, Fraction(0)), check.unit), check.unit)


def changed_targets(say: Wording, before: Session, after: Session, check: Check) -> str | None:
    """Name the readings of other checks that were good and no longer are, by the bore just measured."""
    sentences = []
    for other in after.plan.checks:
        if other.bores_from != check.name:
            continue
        worse = [
            position
            for position in after.results(other.name)
            if state_at(before, other, position) is State.GOOD
            and state_at(after, other, position) is not State.GOOD
        ]
        if worse:
            sentences.append(say.work.target_changed(other.name, worse))
    return " ".join(sentences) or None


def first_cautions(session: Session, check: Check) -> tuple[Caution, ...]:
    """Return the cautions for the start of a check, each once per session."""
    visited = {session.plan.check(name).rule for name in session.hands if name != check.name}
    return tuple(caution for caution in cautions_for(check) if not caution.rules & visited)


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
