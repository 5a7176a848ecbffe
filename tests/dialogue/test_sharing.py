"""Rings tried in one bore: shared out when the last is read, and before any is filed."""

from __future__ import annotations

import re

import pytest

from handsfree.errors import PlanError
from handsfree.planfile import parse_plan
from tests.dialogue.rules import GAPS, HEAD, said, talk

pytestmark = pytest.mark.quick

# The worked example: rings of 14.0, 15.5, 13.0 and 17.2 thou in 4.0300 in; aim and upper limit 18.
TRIED = """
[[check]]
name = "tops tried"
rule = "limits"
unit = "thou"
[check.axes]
ring = 4
[check.share]
to = "ring gaps"
tried_in = 1
like = { ring = "top" }
[[check.target]]
lower = "1 thou"
upper = "18 thou"
"""
BORES_TO_SHARE = (
    'bore = "4.0300 in"\n[engine.bores]\n1 = "4.0300 in"\n2 = "4.0304 in"\n3 = "4.0297 in"\n4 = "4.0301 in"'
)
EXACT_GAPS = GAPS.replace('plus = "1.5 thou"', 'plus = "0 thou"')
SHARED = (
    "All tried. Least filing: ring one to cylinder four, ring two to cylinder one, "
    "ring three to cylinder two and ring four to cylinder three."
)


def test_rings_tried_in_one_bore_are_shared_out_when_the_last_is_read_and_before_filing():
    bench = talk(TRIED, EXACT_GAPS, engine=BORES_TO_SHARE)
    answers = said(bench, "fourteen", "fifteen and a half", "thirteen", "seventeen point two")
    assert answers[:3] == [
        "Ring one, fourteen. Good. Next, ring two.",
        "Ring two, fifteen and a half. Good. Next, ring three.",
        "Ring three, thirteen. Good. Next, ring four.",
    ]
    assert answers[3] == (
        f"Ring four, seventeen point two. Good. {SHARED} All measured. Say check ring gaps."
    )
    assert SHARED in bench.say("check ring gaps").reply.text


def test_a_ring_that_no_bore_takes_is_spare_and_the_bore_without_one_is_named():
    bench = talk(TRIED, EXACT_GAPS, engine=BORES_TO_SHARE)
    said(bench, "fourteen", "fifteen and a half", "thirteen")
    answer = bench.say("twenty").reply.text
    assert "Over by two." in answer
    assert "No bore takes ring four. A ring is wanted for cylinder" in answer


def test_nothing_is_shared_out_once_filing_has_begun_or_while_a_ring_is_untried():
    bench = talk(TRIED, EXACT_GAPS, engine=BORES_TO_SHARE)
    said(bench, "fourteen", "fifteen and a half", "thirteen")
    assert "Least filing" not in bench.say("check ring gaps").reply.text
    said(bench, "cylinder one top fourteen", "check tops tried")
    assert "Least filing" not in bench.say("ring four seventeen point two").reply.text


def test_without_the_bore_of_the_trial_nothing_is_shared_out():
    bench = talk(TRIED, EXACT_GAPS)
    answers = said(bench, "fourteen", "fifteen and a half", "thirteen", "seventeen point two")
    assert not any("Least filing" in answer for answer in answers)


@pytest.mark.parametrize(
    ("written", "instead", "fault"),
    [
        ('to = "ring gaps"', 'to = "ring gap"', 'did you mean "ring gaps"'),
        ('to = "ring gaps"', 'to = "tops tried"', "is no check of gaps to file"),
        ("tried_in = 1", "tried_in = 9", '"9" is no cylinder'),
        ('like = { ring = "top" }', 'like = { ring = "third" }', '"third" is no ring'),
        ('like = { ring = "top" }', 'like = { rings = "top" }', 'did you mean "ring"'),
        ('like = { ring = "top" }', "", "which ring these are isn't said"),
        ("ring = 4", "ring = 4\nbatch = 2", "with one axis, the rings"),
        ("tried_in", "tried_on", 'no key "tried_on" here; did you mean "tried_in"'),
    ],
)
def test_a_share_that_cannot_be_is_one_sentence(written, instead, fault):
    text = HEAD + TRIED.replace(written, instead, 1) + EXACT_GAPS
    with pytest.raises(PlanError, match=re.escape(fault)) as error:
        parse_plan(text)
    assert "\n" not in str(error.value)
