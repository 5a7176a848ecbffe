"""Whatever is read and filed: the verdict is the judge's, and advice never goes too far."""

from __future__ import annotations

import itertools
import re
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.journal import Journal, Kind
from handsfree.judge import State, judge_joint, next_position
from handsfree.judge.filing import Pass, advise_pass, learn
from handsfree.judge.reading import judge_reading
from handsfree.session import DOUBT
from tests.dialogue.rules import BEARINGS, GAPS, HEAD, LASH, plan_of
from tests.dialogue.talk import Clock, Talk

pytestmark = pytest.mark.quick

LOGGED = (Kind.READING, Kind.CORRECTION)
HOUSINGS = st.sampled_from(["2.225", "2.2251", "2.226"])
SHELLS = st.sampled_from(["61.2", "61.25", "60"])
JOURNALS = st.sampled_from(["2.1", "2.0999", "2.0980", "2.1012"])
KEYED_PARTS = st.one_of(
    st.tuples(st.sampled_from("12"), st.just("1"), HOUSINGS),
    st.tuples(st.sampled_from("12"), st.just("2"), SHELLS),
    st.tuples(st.sampled_from("12"), st.just("3"), JOURNALS),
).map("*".join)
STEPS = st.one_of(
    KEYED_PARTS, KEYED_PARTS, KEYED_PARTS, st.sampled_from(["/", "*", "**", "/2.0999", "2.2251-"])
)


def now(bench: Talk, check, item) -> dict:
    """The figures of an item's parts that stand, none of them a bound or in doubt: read off the log."""
    found = {}
    for entry in bench.session.log():
        if entry.stands and check.item(entry.position) == item:
            latest = bench.session.current(check.name, entry.position)
            usable = latest.bound is None and DOUBT not in latest.event.draft.data
            if usable:
                found[entry.position] = latest.value
    return found


@settings(max_examples=150)
@given(st.lists(STEPS, max_size=20))
def test_verdict_of_a_difference_is_always_that_of_the_judge_for_what_stands(steps):
    plan = plan_of(HEAD + BEARINGS)
    check = plan.checks[0]
    bench = Talk(plan, Journal.in_memory(clock=Clock()))
    for step in steps:
        exchange = bench.key(step)
        for event in exchange.events:
            draft = event.draft
            if event.kind not in LOGGED or DOUBT in draft.data or draft.bound is not None:
                continue
            item = check.item(draft.position)
            joint = judge_joint(plan, check, item, now(bench, check, item))
            if joint.missing:
                assert (draft.verdict, draft.remaining) == (None, None)
            else:
                assert draft.verdict == joint.verdict.state.value
                assert draft.remaining == joint.verdict.remaining
                assert "That makes" in exchange.reply.text


LASHES = st.sampled_from(["0.08", "0.12", "0.2", "0.13"])
SHIMS = st.sampled_from(["2.6", "2.55", "2.7"])
KEYED_LASH = st.one_of(SHIMS.map(lambda size: f"1*1*{size}"), LASHES.map(lambda size: f"1*2*{size}"))


@settings(max_examples=150)
@given(st.lists(KEYED_LASH, max_size=14))
def test_shim_is_never_reckoned_from_what_was_read_before_the_last_one_was_changed(steps):
    """A round ends with a lash outside its limits; both are read anew before anything is fitted again."""
    bench = Talk(plan_of(HEAD + LASH), Journal.in_memory(clock=Clock()))
    together: dict[str, Decimal] = {}
    for step in steps:
        text = bench.key(step).reply.text
        _, part, size = step.split("*")
        if "Measure again" in text:
            together.pop(part, None)
            continue
        if together.get("wrong"):
            together = {}
        together[part] = Decimal(size)
        fits = re.search(r"Fit (.*) for (.*), then", text)
        if not {"1", "2"} <= together.keys():
            assert not fits
            continue
        lash = together["2"]
        assert bool(fits) is not (Decimal("0.10") <= lash <= Decimal("0.16"))
        if fits:
            together["wrong"] = lash
            space = together["1"] + lash
            predicted = _number(fits[2])
            assert space - _number(fits[1]) == predicted
            assert Decimal("0.10") <= predicted <= Decimal("0.16")


def _number(words: str) -> Decimal:
    digits = dict(
        zip(
            ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"],
            "0123456789",
            strict=True,
        ),
        point=".",
    )
    return Decimal("".join(digits[word] for word in words.split()))


# --- advice -------------------------------------------------------------------------------------

GROWS = st.decimals(0, 2, places=2)
FILED = st.one_of(
    st.tuples(st.just("pass"), st.integers(1, 20), GROWS),
    st.tuples(st.just("pass"), st.integers(1, 20), GROWS),
    st.tuples(st.just("leaf"), st.sampled_from("+-"), GROWS),
    st.tuples(st.just("dressed"), st.just(0), st.just(Decimal(0))),
    st.tuples(st.just("void"), st.just(0), st.just(Decimal(0))),
)
ADVICE = re.compile(r"check after|then measure|count the turns", re.IGNORECASE)


@settings(max_examples=150)
@given(st.decimals(8, 17, places=1), st.lists(FILED, max_size=14))
def test_advice_is_given_only_to_a_ring_that_is_short_by_a_figure_and_is_what_was_learned(start, steps):
    plan = plan_of(HEAD + GAPS)
    check, place = plan.checks[0], plan.checks[0].positions[0]
    bench = Talk(plan, Journal.in_memory(clock=Clock()))
    gap = start
    bench.key(f"1*1*{gap}")
    for kind, turns, grows in steps:
        if kind == "dressed":
            assert not ADVICE.search(bench.key("0/").reply.text)
            continue
        if kind == "void":
            assert not ADVICE.search(bench.key("/").reply.text)
            continue
        gap += grows
        if kind == "leaf":
            assert not ADVICE.search(bench.key(f"1*1*{gap}{turns}").reply.text)
            continue
        bench.key("1*1*")
        bench.key(f"{turns}/")
        exchange = bench.key(str(gap))
        if not exchange.events or exchange.events[0].kind is not Kind.READING:
            continue
        draft = exchange.events[0].draft
        verdict = judge_reading(check.target(place), draft.value, check.rule, check.unit)
        allowed = draft.verdict == State.SHORT.value
        assert bool(ADVICE.search(exchange.reply.text)) is allowed
        assert draft.verdict in (verdict.state.value, "uncertain")
        if allowed:
            passes = _passes(bench, check, place)
            advice = advise_pass(learn(passes), check.target(place), draft.value, plan.risk, None, check.unit)
            after = re.search(r"check after (\w+)", exchange.reply.text)
            assert (after is None) is (advice.basis.value not in ("early", "learned"))
            if after is not None:
                assert after[1] == bench.bench._say.turns(Decimal(advice.turns)).text.split()[0].lower()
                # never further than would, at what was learned, go over
                assert (
                    learn(passes).per_turn_mm * advice.turns <= check.target(place).upper.mm - draft.value.mm
                )


def _passes(bench: Talk, check, place) -> list[Pass]:
    """What was filed at a place, read off the session in another way than the program does."""
    standing = list(bench.session.standing(check.name, place))
    turned = bench.session.turns.get((check.name, place), ())
    found = []
    for before, after in itertools.pairwise(standing):
        count = sum(turn.count for turn in turned if before.measured < turn.number < after.measured)
        bad = any(entry.bound or DOUBT in entry.event.draft.data for entry in (before, after))
        dressed = max(bench.session.dressed, default=0) > before.measured
        replaced = before.event.draft.verdict == State.OVER.value
        if count and not bad and not dressed and not replaced:
            found.append(Pass(Decimal(count), after.value.mm - before.value.mm))
    return found


@given(st.lists(st.sampled_from(["1*1*18", "2*1*18", "3*1*15", "1*2*18", "*", "/", "4*2*21"]), max_size=12))
def test_next_is_the_first_place_in_the_plans_order_that_is_not_good(steps):
    plan = plan_of(HEAD + GAPS)
    check = plan.checks[0]
    bench = Talk(plan, Journal.in_memory(clock=Clock()))
    for step in steps:
        bench.key(step)
    here = bench.session.position
    good = {
        p for p, entry in bench.session.results(check.name).items() if entry.event.draft.verdict == "good"
    }
    wanted = next_position(check, good | {here}, here)
    bench.key("*")
    assert bench.session.position == (wanted or here)
