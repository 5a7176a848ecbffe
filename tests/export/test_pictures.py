"""Pictures of a check: where a reading is drawn, what is told in words, and that nothing becomes markup."""

import re
import xml.etree.ElementTree as ET
from fractions import Fraction

import pytest

from handsfree.bench import Bench
from handsfree.export import DARK, PAPER, picture, pictures_of
from handsfree.export.pictures import Picture, Shape, scale_of
from handsfree.journal import Journal
from handsfree.planfile import load_plan, parse_plan
from handsfree.session import results
from tests.support.program import PLAN

SVG = "{http://www.w3.org/2000/svg}"


def session_of(*entries, plan=None):
    with Journal.in_memory() as journal:
        bench = Bench(plan or load_plan(PLAN), journal)
        bench.open()
        for entry in entries:
            bench.key(entry)
        return bench.session


def drawn(*entries, number=0):
    return ET.fromstring(picture(pictures_of(session_of(*entries))[number], PAPER))  # noqa: S314 - our own


def test_nothing_is_drawn_of_a_check_without_a_reading():
    assert pictures_of(session_of()) == []


def test_every_position_has_its_limits_and_every_reading_its_sign():
    svg = drawn("18", "20", "3*1*15-")
    bands = [box for box in svg.iter(f"{SVG}rect") if box.get("fill") == PAPER.band]
    assert len(bands) == 16
    assert len(list(svg.iter(f"{SVG}circle"))) == 1  # 18: inside
    assert len(list(svg.iter(f"{SVG}polygon"))) == 1  # 20: outside
    assert len([box for box in svg.iter(f"{SVG}rect") if box.get("fill") == PAPER.ink]) == 1  # under 15
    assert svg.get("aria-label") == (
        "ring gaps, every position against its limits: 1 inside, 1 outside, 1 known by a leaf alone, 13 open"
    )


def test_a_reading_is_drawn_where_it_lies_between_its_limits():
    """By hand: 18.75 is halfway between 18 and 19.5, whatever the scale."""
    svg = drawn("18.75")
    band = next(box for box in svg.iter(f"{SVG}rect") if box.get("fill") == PAPER.band)
    dot = next(svg.iter(f"{SVG}circle"))
    middle = float(band.get("y")) + float(band.get("height")) / 2
    assert float(dot.get("cy")) == pytest.approx(middle, abs=0.1)


def test_filing_is_drawn_in_order_with_its_turns_and_a_new_ring_begins_a_new_line():
    svg = drawn("14", "10/", "16", "8/", "18", "20.75", "2*1*19", number=1)
    lines = [each.get("points").split() for each in svg.iter(f"{SVG}polyline")]
    assert [len(line) for line in lines] == [3]  # 20.75 was over: 19 is another ring's
    heights = [float(point.split(",")[1]) for point in lines[0]]
    assert heights == sorted(heights, reverse=True)  # the gap grows upwards
    # equal steps of the gap are equal steps of the drawing: 14, 16, 18
    assert heights[0] - heights[1] == pytest.approx(heights[1] - heights[2], abs=0.2)
    texts = [each.text for each in svg.iter(f"{SVG}text")]
    assert [text for text in texts if text in {"10", "8"}] == ["10", "8"]
    assert "1 top 14 thou, 16 thou, 18 thou" in svg.get("aria-label")


def test_withdrawn_reading_is_not_drawn():
    svg = drawn("14", "16", "/", "18", number=1)
    assert len(next(svg.iter(f"{SVG}polyline")).get("points").split()) == 2


def test_check_that_is_not_filed_has_no_picture_of_filing():
    text = PLAN.read_text("utf-8").replace('rule = "file to gap"', 'rule = "limits"')
    plan = parse_plan(re.sub(r"(?m)^(plus = .*)$", r'\1\nminus = "0 thou"', text))
    assert len(pictures_of(session_of("14", "1*1*16", plan=plan))) == 1


def test_scale_covers_every_pass_but_nothing_far_outside():
    session = session_of("18")
    found = results(session)
    near = scale_of(session.plan.checks[0].unit, found, [Fraction(-1, 20)])
    far = scale_of(session.plan.checks[0].unit, found, [Fraction(-100)])
    assert near.left < Fraction(-1, 20)
    assert far.left > Fraction(-1)


def test_names_cant_become_markup_and_control_characters_are_no_xml():
    evil = '<script>&"\x00\x1b\u202e\ud800]]>'
    shapes = (Shape("text", (1, 2), "ink", evil),)
    for ink in (PAPER, DARK):
        written = picture(Picture(evil, 10, 10, shapes), ink)
        svg = ET.fromstring(written)  # noqa: S314 - our own
        assert [each.tag for each in svg.iter()] == [f"{SVG}svg", f"{SVG}rect", f"{SVG}text"]
        assert next(svg.iter(f"{SVG}text")).text.startswith('<script>&"')
        assert "style" not in written
        assert "href" not in written
