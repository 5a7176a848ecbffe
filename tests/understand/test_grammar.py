"""The JSGF file narrowed to plans of all sorts, written again, and what is refused."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from handsfree.errors import GrammarError
from handsfree.plan import parse_plan
from handsfree.understand import Narrowing, listen_for, load_grammar, said_place
from handsfree.understand.grammar import label_tag
from tests.languages import difference, machine_of, sentences

pytestmark = pytest.mark.quick

EIGHT = {"cylinder": [str(n) for n in range(1, 9)], "ring": ["top", "second"]}


def narrow(axes, **more):
    return load_grammar().narrowed(Narrowing(axes, **more))


def written(folder: Path, text: str) -> Path:
    path = folder / "odd.gram"
    path.write_text(text, "utf-8")
    return path


def accepts(automaton, words: str) -> bool:
    return automaton.accepts(words.split())


def parses(automaton, words: str) -> frozenset[tuple[str, ...]]:
    return automaton.parses(words.split())


@pytest.fixture(scope="module")
def rings():
    return narrow(EIGHT).compile()


@pytest.mark.parametrize(
    "words",
    [
        "cylinder eight top eighteen",
        "cylinder number tree second ring eighteen thou",
        "cylinder two",
        "go to cylinder two top",
        "top ring",
        "second",
    ],
)
def test_places_of_the_plan_can_be_said(rings, words):
    assert rings.accepts(words.split())


@pytest.mark.parametrize(
    "words",
    [
        "cylinder nine top eighteen",  # the plan has eight
        "cylinder niner",
        "cylinder eight oil rail eighteen",
        "cylinder eight eighteen",  # a reading names the whole place or none of it
        "top eighteen",
        "cylinder",
        "",
        "eighteen eighteen",
        "cylinder one top eighteen nineteen",
    ],
)
def test_what_the_plan_does_not_hold_cannot_be_said(rings, words):
    assert not rings.accepts(words.split())


def test_narrowing_leaves_the_grammar_as_it_was():
    before = load_grammar().jsgf()
    narrow({"main": ["1", "2"]}, amounts=["small"], units=["mm_unit"], checks=["rods"])
    assert load_grammar().jsgf() == before


def test_a_rule_that_cannot_be_reached_is_left_out():
    grammar = narrow(EIGHT)
    assert "cylinder_label" in grammar.rules
    only = narrow(EIGHT, root="thou_unit")
    assert set(only.rules) == {"thou_unit"}


def test_narrowing_by_kind_of_value_and_unit():
    metric = narrow(EIGHT, amounts=["pointed"], units=["mm_unit"]).compile()
    assert accepts(metric, "zero point four five millimetres")
    assert not accepts(metric, "eighteen")
    assert not accepts(metric, "point four thou")


def test_new_axes_are_said_with_their_names_and_numbers_in_words():
    mains = narrow({"main": [str(n) for n in range(1, 6)], "side": ["left", "right"]}).compile()
    for words in (
        "main three left two point five",
        "main number five right ten",
        "main fife side right ten",
        "main four",
        "main fower left side",
        "left",
        "side right",
    ):
        assert mains.accepts(words.split()), words
    for words in ("main six left ten", "main left three", "cylinder one", "main niner"):
        assert not mains.accepts(words.split()), words


def test_a_ring_that_the_file_does_not_know_joins_those_that_it_does():
    rings = narrow({"cylinder": ["1"], "ring": ["top", "second", "third"]}).compile()
    assert accepts(rings, "cylinder one third ring eighteen")
    assert accepts(rings, "cylinder one top eighteen")


def test_numbered_rings_are_said_by_name_and_number_so_that_a_bare_number_stays_a_reading():
    numbered = narrow({"cylinder": ["1"], "ring": ["1", "2"]}).compile()
    assert accepts(numbered, "cylinder one ring two eighteen")
    assert numbered.parses(["two"]) == {("u-2",)}


def test_labels_of_letters_and_digits_are_said_apart():
    mixed = narrow({"valve": ["b2", "oil-way"], "main": ["12"]}).compile()
    assert accepts(mixed, "b two main twelve ten")
    assert accepts(mixed, "oil way main twelve ten")


def test_ninety_nine_labels_can_be_narrowed_to():
    many = narrow({"main": [str(n) for n in range(1, 100)]}).compile()
    assert accepts(many, "main ninety nine eighteen")
    assert accepts(many, "main forty tree eighteen")


def test_a_single_axis_is_a_whole_place():
    one = narrow({"cylinder": ["1", "2"]}).compile()
    assert accepts(one, "cylinder two eighteen")
    assert parses(one, "cylinder two") == {("cylinder-2",)}


def test_every_label_of_an_axis_carries_its_own_tag():
    axes = {"main journal": ["1", "2"], "end": ["front", "rear left"]}
    grammar = narrow(axes).compile()
    for number in axes["main journal"]:
        for end in axes["end"]:
            words = said_place([("main journal", number), ("end", end)]).split()
            assert grammar.parses(words) == {(label_tag("main journal", number), label_tag("end", end))}


def test_checks_of_the_plan_can_be_called_by_name():
    grammar = narrow(EIGHT, checks=["ring gaps", "Rods 2 & 3", "bore 120"]).compile()
    assert parses(grammar, "check ring gaps") == {("check-next", "check-0")}
    assert parses(grammar, "check rods two three") == {("check-next", "check-1")}
    assert parses(grammar, "check bore one two zero") == {("check-next", "check-2")}
    assert not accepts(grammar, "check bores")


def test_the_checks_of_the_file_itself_are_gone_once_a_plan_has_its_own():
    assert not accepts(narrow(EIGHT, checks=["rods"]).compile(), "check ring gaps")


def test_two_labels_that_sound_alike_are_refused():
    with pytest.raises(GrammarError, match='ring "oil rail" and ring "oil-rail" are said alike; rename one'):
        narrow({"cylinder": ["1"], "ring": ["oil rail", "oil-rail"]})


def test_a_name_that_cannot_be_said_is_refused():
    with pytest.raises(GrammarError, match='"&" has no letter or digit that could be said'):
        narrow(EIGHT, checks=["&"])


@pytest.mark.parametrize("axis", ["check", "word", "unit", "u", "turns"])
def test_an_axis_named_like_a_tag_of_the_grammar_is_refused(axis):
    plan = parse_plan(
        f"""
        format = 1
        name = "Odd"
        [engine]
        name = "Odd"
        [[check]]
        name = "gaps"
        rule = "file to gap"
        unit = "thou"
        [check.axes]
        "{axis}" = 2
        [[check.target]]
        aim = "18 thou"
        plus = "1 thou"
        """.replace("        ", "")
    )
    with pytest.raises(GrammarError, match=f'an axis can\'t be named "{axis}"'):
        listen_for(plan, plan.checks[0])


@pytest.mark.parametrize(
    "axes",
    [
        EIGHT,
        {"main": ["1", "2", "3"], "side": ["left", "right"]},
        {"cylinder": [str(n) for n in range(1, 21)], "ring": ["top", "2"]},
    ],
    ids=["rings", "mains", "twenty"],
)
def test_written_again_the_grammar_holds_the_same_language_with_the_same_tags(tmp_path, axes):
    grammar = narrow(axes, checks=["ring gaps", "rods"])
    again = load_grammar(written(tmp_path, grammar.jsgf()))
    assert again.name == grammar.name
    first, second = (machine_of(g.compile(), tags=True) for g in (grammar, again))
    assert difference(first, second) is None


def test_only_the_root_is_public_when_written():
    text = narrow(EIGHT).jsgf()
    assert [line for line in text.splitlines() if line.startswith("public")] == [
        next(line for line in text.splitlines() if line.startswith("public <utterance>"))
    ]


def test_whatever_can_be_said_parses_and_whatever_parses_can_be_said(rings):
    rng = random.Random(5)
    for words in sentences(machine_of(rings), rng, 200):
        assert rings.parses(words)
        near = [*words, rng.choice(rings.words)]
        assert bool(rings.parses(near)) == rings.accepts(near)


# --- what is refused ----------------------------------------------------------------------------

HEAD = "#JSGF V1.0;\ngrammar odd;\n"


def test_a_missing_file_is_said_in_a_sentence(tmp_path):
    with pytest.raises(GrammarError, match=r'grammar ".*gone\.gram" can\'t be read: No such file'):
        load_grammar(tmp_path / "gone.gram")


def test_a_file_that_is_no_jsgf_is_said_in_a_sentence(tmp_path):
    with pytest.raises(GrammarError, match=r"isn't JSGF: .*; mend the line that it names"):
        load_grammar(written(tmp_path, "hello"))


def test_a_rule_that_refers_to_itself_is_refused(tmp_path):
    path = written(tmp_path, HEAD + "public <utterance> = a [<b>];\n<b> = b <utterance>;\n")
    with pytest.raises(GrammarError, match="rule <utterance> refers to itself; write it with"):
        load_grammar(path).compile()


def test_a_rule_that_is_missing_is_named_with_the_rule_that_wants_it(tmp_path):
    path = written(tmp_path, HEAD + "public <utterance> = a <gone>;\n")
    with pytest.raises(GrammarError, match='"odd" has no rule <gone>, which <utterance> refers to'):
        load_grammar(path).compile()
    with pytest.raises(GrammarError, match=r'"odd" has no rule <other>$'):
        load_grammar(path).compile("other")


def test_a_rule_for_nothing_that_can_be_said_is_refused(tmp_path):
    path = written(tmp_path, HEAD + "public <utterance> = a | <VOID>;\n")
    with pytest.raises(GrammarError, match="VoidRef isn't used here; write it another way"):
        load_grammar(path).compile()


def test_every_form_of_the_notation_that_is_read_means_what_the_standard_says(tmp_path):
    """Source: JSpeech Grammar Format, W3C Note, sections 4.3 to 4.7."""
    text = "public <utterance> = /10/ a {one} | /1/ b+ [c] | (d e)* f | <NULL> g {h} {i};\n"
    automaton = load_grammar(written(tmp_path, HEAD + text)).compile()
    for words in ("a", "b", "b b b", "b b c", "f", "d e f", "d e d e f", "g"):
        assert automaton.accepts(words.split()), words
    for words in ("", "c", "a c", "d f", "d e", "b c c", "f f"):
        assert not automaton.accepts(words.split()), words
    assert automaton.parses(["a"]) == {("one",)}
    assert automaton.parses(["g"]) == {("h", "i")}


def test_every_form_of_the_notation_survives_being_written_again(tmp_path):
    text = "public <utterance> = a {one} | b+ [c {x}] | (d e)* f {y} | <NULL> g {h} {i};\n"
    grammar = load_grammar(written(tmp_path, HEAD + text))
    folder = tmp_path / "again"
    folder.mkdir()
    again = load_grammar(written(folder, grammar.jsgf()))
    first, second = (machine_of(g.compile(), tags=True) for g in (grammar, again))
    assert difference(first, second) is None


def test_a_place_is_said_with_the_axis_before_numbers_only():
    assert said_place([("cylinder", "12"), ("ring", "top")]) == "cylinder twelve top"
    assert said_place([("main journal", "3"), ("end", "b2")]) == "main journal three b two"
