"""Judge a reading, then word the verdict: by itself, or with the other parts of its item."""

from __future__ import annotations

from dataclasses import dataclass, replace

from handsfree.dialogue.advice import elsewhere, heat, in_doubt, pass_advice
from handsfree.dialogue.answer import Said, amount_of, entry_amount
from handsfree.judge import Joint, PassAdvice, State, Verdict, judge_direct, next_leaf
from handsfree.length import Length
from handsfree.plan import Check, Position, Rule
from handsfree.session import Entry, Session, joint_at, known_bounds, taken_from, target_at
from handsfree.speak import After, Amount, Bound, Logged, Reply, Side, Wording


@dataclass(frozen=True, slots=True)
class Remedy:
    """The remedy for a ring or part that is over: its name, and a place where the part would fit."""

    name: str
    place: Position | None = None


@dataclass(frozen=True, slots=True)
class Judged:
    """A judged reading.

    logged: the words for the reading itself. state: None while parts of its item are missing.
    verdict: its figures, if any. doubt: the earlier amount that it contradicts.
    contradicts: the leaves contradict each other. size: the gap itself, unless it is a bound.
    pass_advice: the next pass, if turns are counted. remedy: the remedy, if it is over.
    leaves: the leaves to try next, if it isn't settled; None if the drawer is unknown.
    joint: the parts together, if parts are read. out_of: the place whose shim is reused.
    """

    logged: Logged
    state: State | None
    verdict: Verdict | None = None
    doubt: Amount | None = None
    contradicts: bool = False
    size: Length | None = None
    least: Length | None = None
    pass_advice: PassAdvice | None = None
    remedy: Remedy | None = None
    leaves: tuple[Length, ...] | None = None
    joint: Joint | None = None
    out_of: Position | None = None

    @property
    def remaining(self) -> Length | None:
        """The amount left, for the log."""
        return None if self.verdict is None else self.verdict.remaining

    @property
    def goes_on(self) -> bool:
        """Whether the work goes on to the next place."""
        return self.state is State.GOOD or (self.state is None and self.doubt is None)


def judge_reading(
    before: Session,
    after: Session,
    check: Check,
    position: Position,
    said: Said,
    corrects: Entry | None,
    *,
    named: bool,
) -> Judged:
    """Judge a reading by its check's rule.

    Args:
        before: the session without the reading.
        after: the session with it.
        check: its check.
        position: its place.
        said: the spoken size.
        named: whether the user named its place.
        corrects: the entry that it corrects.
    """
    was = entry_amount(corrects) if corrects else None
    logged = Logged(position, said.amount, was, in_hand=position == before.position, named=named)
    doubt = in_doubt(before, check, position, said, corrects)
    if doubt is not None:
        return Judged(logged, State.UNCERTAIN, doubt=doubt)
    if check.parts:
        return _by_parts(after, check, logged, said)
    return _directly(before, after, check, logged, said, corrects)


def _directly(
    before: Session, after: Session, check: Check, logged: Logged, said: Said, corrects: Entry | None
) -> Judged:
    position = logged.position
    bounds = said.bounds if corrects else known_bounds(before, check, position, said.bounds)
    target = target_at(after, check, position)
    verdict = judge_direct(after.plan, check, position, bounds, target)
    if not bounds.is_possible:
        return Judged(logged, verdict.state, contradicts=True)
    if bounds != said.bounds:
        logged = replace(logged, value=amount_of(bounds) or said.amount)
    size = bounds.low if bounds.is_exact else None
    judged = Judged(logged, verdict.state, verdict, size=size, least=bounds.low)
    filed = check.rule is Rule.FILE_TO_GAP
    match verdict.state:
        case State.SHORT if size is not None:
            return replace(judged, pass_advice=pass_advice(after, check, position, size, target))
        case State.OVER:
            remedy = Remedy(*elsewhere(after, check, position, size)) if filed else Remedy("joint")
            return replace(judged, remedy=remedy)
        case State.OPEN:
            stack = next_leaf(after.plan, check, position, bounds, target)
            known = filed and bool(after.plan.leaves)
            return replace(judged, leaves=stack.leaves if stack is not None else () if known else None)
        case _:
            return judged


def _by_parts(after: Session, check: Check, logged: Logged, said: Said) -> Judged:
    if not said.bounds.is_exact:
        return Judged(logged, State.OPEN)
    joint = joint_at(after, check, logged.position)
    if joint.verdict is None or joint.value is None:
        return Judged(logged, None)
    choice = None if joint.shim is None else joint.shim.choice
    if joint.shim is None:
        logged = replace(logged, makes=joint.value)
    out_of = taken_from(after, check, logged.position, choice)
    return Judged(logged, joint.verdict.state, joint.verdict, joint=joint, out_of=out_of)


def word(say: Wording, session: Session, check: Check, judged: Judged, after: After) -> Reply:
    """Word a judged reading.

    Args:
        say: the wording for sizes at its place.
        session: with the reading in it.
        check: its check.
        judged: the judged reading.
        after: the last words of the answer.
    """
    logged, filed = judged.logged, check.rule is Rule.FILE_TO_GAP
    if judged.doubt is not None:
        return say.verdict.disagrees(logged, judged.doubt, filed=filed)
    if judged.contradicts:
        return say.verdict.contradicts(logged)
    if judged.state is None:
        return say.verdict.part_logged(logged, after)
    if judged.joint is not None and judged.joint.shim is not None:
        return _word_shim(say, judged, judged.joint, after)
    match judged.state:
        case State.SHORT:
            return _word_short(say, judged, after, filed=filed)
        case State.OVER if judged.verdict is not None and judged.verdict.excess is not None:
            if judged.remedy is None:
                return say.verdict.over(logged, judged.verdict.excess, remedy="joint")
            name, other = judged.remedy.name, judged.remedy.place
            advice = After(advice=after.advice)
            return say.verdict.over(logged, judged.verdict.excess, advice, remedy=name, elsewhere=other)
        case State.GOOD:
            warm = heat(say, session, check, logged.position, judged.least)
            advices = " ".join(part for part in (warm, after.advice) if part) or None
            return say.verdict.good(logged, replace(after, advice=advices))
        case State.OPEN:
            return say.verdict.unsettled(logged, judged.leaves)
        case _:
            return say.verdict.uncertain(logged, filed=filed)


def _word_short(say: Wording, judged: Judged, after: After, *, filed: bool) -> Reply:
    verdict, advice = judged.verdict, judged.pass_advice
    assert verdict is not None and verdict.remaining is not None  # noqa: S101, PT018 - it is short
    if judged.joint is not None:
        return say.verdict.short(judged.logged, verdict.remaining, action="tight")
    last = After(advice=after.advice)
    if advice is not None:
        return say.verdict.short_of_turns(
            judged.logged,
            advice.to_go,
            advice.basis.value.replace(" ", "_"),
            last,
            about=advice.about,
            turns=advice.turns,
            risk=advice.risk,
        )
    left: Amount = verdict.remaining
    if verdict.at_least:
        left = Bound(Side.OVER, verdict.remaining)
    action = "short_by" if not filed else "to_go" if verdict.at_least else "file"
    return say.verdict.short(judged.logged, left, last, action=action)


def _word_shim(say: Wording, judged: Judged, joint: Joint, after: After) -> Reply:
    shim = joint.shim
    assert shim is not None  # noqa: S101 - the rule is that of shims
    if shim.verdict.state is State.GOOD:
        return say.verdict.good(judged.logged, replace(after, advice=say.work.keep_shim))
    if shim.verdict.state is State.UNCERTAIN:
        return say.verdict.uncertain(judged.logged, filed=False)
    return say.verdict.shim(
        judged.logged,
        shim.lash,
        shim.verdict.state.value,
        shim.choice,
        shim.predicted,
        shim.ideal,
        out_of=judged.out_of,
    )
