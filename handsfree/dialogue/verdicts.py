"""A reading judged and worded: directly, or together with the other parts of its item."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from handsfree.dialogue.advice import elsewhere, heat, in_doubt, pass_advice
from handsfree.dialogue.answer import Said, amount_of
from handsfree.judge import Joint, State, Verdict, judge_direct, next_leaf
from handsfree.length import Length
from handsfree.plan import Check, Position, Rule
from handsfree.session import Entry, Session, joint_at, known_bounds, taken_from, target_at
from handsfree.speak import Amount, Bound, Reply, Side, Wording


@dataclass(frozen=True, slots=True)
class After:
    """What comes after a verdict: the next place, whether there is none, another check, more to say."""

    then: Position | None = None
    last: bool = False
    next_check: str | None = None
    advice: str | None = None


@dataclass(frozen=True, slots=True)
class Found:
    """What a reading came to.

    state: None while parts of its item are missing. doubt: the amount that it doesn't go with.
    goes_on: whether the work goes on to the next place. word: makes the answer.
    """

    state: State | None
    remaining: Length | None
    doubt: Amount | None
    goes_on: bool
    word: Callable[[After], Reply]


def find(
    say: Wording,
    before: Session,
    logged: Session,
    check: Check,
    place: Position,
    said: Said,
    was: Amount | None,
    corrects: Entry | None,
) -> Found:
    """Judge a reading by its check's rule.

    Args:
        say: words for sizes at this place.
        before: the session without the reading.
        logged: the session with it.
        check: its check.
        place: where it was read.
        said: what was said.
        was: the amount that it corrects, as it is spoken.
        corrects: the entry that it corrects.
    """
    doubt = in_doubt(before, check, place, said, corrects)
    if doubt is not None:
        filed = check.rule is Rule.FILE_TO_GAP
        reply = say.disagrees(place, said.amount, doubt, filed=filed, was=was)
        return Found(State.UNCERTAIN, None, doubt, goes_on=False, word=lambda _: reply)
    if check.parts:
        return _of_parts(say, logged, check, place, said, was)
    return _direct(say, before, logged, check, place, said, was, corrects)


def _direct(
    say: Wording,
    before: Session,
    logged: Session,
    check: Check,
    place: Position,
    said: Said,
    was: Amount | None,
    corrects: Entry | None,
) -> Found:
    bounds = said.bounds if corrects else known_bounds(before, check, place, said.bounds)
    target = target_at(logged, check, place)
    verdict = judge_direct(logged.plan, check, place, bounds, target)
    state = verdict.state
    if not bounds.is_possible:
        reply = say.contradicts(place, said.amount, was=was)
        return Found(state, None, None, goes_on=False, word=lambda _: reply)
    amount = said.amount if bounds == said.bounds else amount_of(bounds) or said.amount
    figure = bounds.low if bounds.is_exact else None
    filed = check.rule is Rule.FILE_TO_GAP

    def word(after: After) -> Reply:
        match state:
            case State.SHORT:
                advice = None if figure is None else pass_advice(logged, check, place, figure, target)
                if advice is not None:
                    return say.short_of_turns(
                        place,
                        amount,
                        advice.to_go,
                        advice.pace.value.replace(" ", "_"),
                        about=advice.about,
                        turns=advice.turns,
                        risk=advice.risk,
                        was=was,
                        advice=after.advice,
                    )
                return _short(say, place, amount, verdict, was, after, filed=filed)
            case State.OVER if verdict.excess is not None:
                remedy, other = elsewhere(logged, check, place, figure) if filed else ("part", None)
                return say.over(
                    place,
                    amount,
                    verdict.excess,
                    was=was,
                    remedy=remedy,
                    elsewhere=other,
                    advice=after.advice,
                )
            case State.GOOD:
                warm = heat(say, logged, check, place, bounds.low)
                advices = " ".join(part for part in (warm, after.advice) if part) or None
                return say.good(
                    place,
                    amount,
                    was=was,
                    then=after.then,
                    last=after.last,
                    next_check=after.next_check,
                    advice=advices,
                )
            case State.OPEN:
                stack = next_leaf(logged.plan, check, place, bounds, target)
                known = filed and bool(logged.plan.leaves)
                leaves = stack.leaves if stack is not None else () if known else None
                return say.unsettled(place, amount, was=was, leaves=leaves)
            case _:
                return say.uncertain(place, amount, was=was, filed=filed)

    return Found(state, verdict.remaining, None, goes_on=state is State.GOOD, word=word)


def _short(
    say: Wording,
    place: Position,
    amount: Amount,
    verdict: Verdict,
    was: Amount | None,
    after: After,
    *,
    filed: bool,
) -> Reply:
    assert verdict.remaining is not None  # noqa: S101 - the judge gives it for what is short
    left: Amount = verdict.remaining
    if verdict.at_least:
        left = Bound(Side.OVER, verdict.remaining)
    action = "file" if filed and not verdict.at_least else "to_go"
    return say.short(place, amount, left, was=was, action=action, advice=after.advice)


def _of_parts(
    say: Wording, logged: Session, check: Check, place: Position, said: Said, was: Amount | None
) -> Found:
    if not said.bounds.is_exact:
        reply = say.unsettled(place, said.amount, was=was)
        return Found(State.OPEN, None, None, goes_on=False, word=lambda _: reply)
    joint = joint_at(logged, check, place)
    if joint.verdict is None or joint.value is None:
        return Found(
            None,
            None,
            None,
            goes_on=True,
            word=lambda after: say.part_logged(place, said.amount, was=was, then=after.then),
        )
    state = joint.verdict.state
    choice = None if joint.shim is None else joint.shim.choice
    out_of = taken_from(logged, check, place, choice)
    word = _word_sum if joint.shim is None else partial(_word_shim, out_of)
    return Found(
        state,
        joint.verdict.remaining,
        None,
        goes_on=state is State.GOOD,
        word=lambda after: word(say, joint, place, said.amount, was, after),
    )


def _word_sum(
    say: Wording, joint: Joint, place: Position, amount: Amount, was: Amount | None, after: After
) -> Reply:
    value, verdict = joint.value, joint.verdict
    assert value is not None and verdict is not None  # noqa: S101, PT018 - nothing is missing
    match verdict.state:
        case State.SHORT if verdict.remaining is not None:
            return say.short(place, amount, verdict.remaining, was=was, makes=value, action="tight")
        case State.OVER if verdict.excess is not None:
            return say.over(place, amount, verdict.excess, was=was, makes=value, remedy="joint")
        case State.GOOD:
            return say.good(
                place,
                amount,
                was=was,
                makes=value,
                then=after.then,
                last=after.last,
                next_check=after.next_check,
                advice=after.advice,
            )
        case _:
            return say.uncertain(place, amount, was=was, makes=value, filed=False)


def _word_shim(
    out_of: Position | None,
    say: Wording,
    joint: Joint,
    place: Position,
    amount: Amount,
    was: Amount | None,
    after: After,
) -> Reply:
    shim = joint.shim
    assert shim is not None  # noqa: S101 - the rule is that of shims
    state = shim.verdict.state
    if state is State.GOOD:
        return say.good(
            place,
            amount,
            was=was,
            then=after.then,
            last=after.last,
            next_check=after.next_check,
            advice=say.keep_shim,
        )
    if state is State.UNCERTAIN:
        return say.uncertain(place, amount, was=was, filed=False)
    return say.shim(
        place,
        amount,
        shim.lash,
        state.value,
        shim.choice,
        shim.predicted,
        shim.ideal,
        was=was,
        out_of=out_of,
    )
