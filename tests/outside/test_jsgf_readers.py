"""The grammar file, read by PocketSphinx's own JSGF reader, holds the very language that ours does.

Source: PocketSphinx 5.1.1, `Jsgf` and its finite state grammar, a reader written in C that shares no
line with the Python parser used here. The comparison is exact (both automata are walked side by side),
so it covers accepted and rejected sentences of any length. PocketSphinx drops tags; they are compared by
writing each as a word of its own.

The other reader on PyPI, jsgf-tools 2.1.0, is no oracle: it knows neither tags nor * nor a header, and it
installs itself over the import name of the parser that the package depends on.
"""

from __future__ import annotations

import random
import re
from pathlib import Path

import pytest

from handsfree.plan import load_plan
from handsfree.understand import grammar_folder, listen_for, load_grammar
from tests.languages import Machine, difference, machine_of, read_fsg, sentences

pocketsphinx = pytest.importorskip("pocketsphinx")

GRAMMAR = grammar_folder() / "bench.gram"
DEMO = Path(__file__).parents[2] / "demo" / "plan.toml"


def read_by_pocketsphinx(path: Path, folder: Path, rule: str = "bench.utterance") -> Machine:
    reader = pocketsphinx.Jsgf(str(path))
    made = reader.build_fsg(reader.get_rule(rule), pocketsphinx.LogMath(), 1.0)
    written = folder / "made.fsg"
    made.writefile(str(written))
    return read_fsg(written)


def tags_as_words(text: str) -> str:
    return re.sub(r"\{([^}]*)\}", r" tag:\1 ", text)


def with_tags(machine: Machine) -> Machine:
    arcs = tuple((s, f"tag:{w[1:-1]}" if w and w.startswith("{") else w, t) for s, w, t in machine.arcs)
    return Machine(machine.start, machine.finals, arcs)


@pytest.fixture(scope="module")
def narrowed():
    plan = load_plan(DEMO)
    return listen_for(plan, plan.checks[0])


def test_the_grammar_file_means_the_same_to_pocketsphinx_with_every_tag_in_its_place(tmp_path):
    tagged = tmp_path / "tagged.gram"
    tagged.write_text(tags_as_words(GRAMMAR.read_text("utf-8")), "utf-8")
    ours = with_tags(machine_of(load_grammar().compile(), tags=True))
    assert difference(ours, read_by_pocketsphinx(tagged, tmp_path)) is None


def test_the_grammar_narrowed_to_a_plan_and_written_again_means_the_same_to_pocketsphinx(tmp_path, narrowed):
    written = tmp_path / "narrowed.gram"
    written.write_text(narrowed.grammar.jsgf(), "utf-8")
    assert difference(machine_of(narrowed.automaton), read_by_pocketsphinx(written, tmp_path)) is None


def test_sentences_of_either_reader_and_their_near_misses_are_judged_alike_by_both(tmp_path, narrowed):
    written = tmp_path / "narrowed.gram"
    written.write_text(narrowed.grammar.jsgf(), "utf-8")
    theirs, ours = read_by_pocketsphinx(written, tmp_path), narrowed.automaton
    rng = random.Random(11)
    vocabulary = sorted(ours.words)
    rejected = 0
    for words in (*sentences(theirs, rng, 150), *sentences(machine_of(ours), rng, 150)):
        assert ours.accepts(words), words
        assert theirs.accepts(words), words
        near = list(words)
        near[rng.randrange(len(near))] = rng.choice(vocabulary)
        assert ours.accepts(near) == theirs.accepts(near), near
        rejected += not ours.accepts(near)
    assert rejected > 100  # the near misses are misses for the most part


def test_the_comparison_sees_what_a_wrong_precedence_does(tmp_path):
    """The fault of the Python parser that the file is written around: a doubly tagged first part."""
    text = (
        "#JSGF V1.0;\ngrammar bench;\npublic <utterance> = a tenth {u-1} {f-tenths} [of a] | five tenths;\n"
    )
    path = tmp_path / "odd.gram"
    path.write_text(text, "utf-8")
    found = difference(machine_of(load_grammar(path).compile()), read_by_pocketsphinx(path, tmp_path))
    assert found == (("five", "tenths"), "second")


def test_only_two_words_of_the_grammar_are_missing_from_pocketsphinxs_dictionary_and_then_it_loads():
    words = load_grammar().compile().words
    decoder = pocketsphinx.Decoder(lm=None, loglevel="FATAL")
    missing = [word for word in words if decoder.lookup_word(word) is None]
    assert missing == ["fower", "nought"]
    decoder.add_word("fower", "F AW ER", True)
    decoder.add_word("nought", "N AO T", True)
    decoder.add_word("thou(2)", "TH AW", True)
    decoder.add_jsgf_file("bench", str(GRAMMAR))
    decoder.activate_search("bench")
    assert decoder.current_search() == "bench"
