"""The JSGF file, read with a parser library, narrowed to a plan and compiled to a word automaton.

Source of the form: JSpeech Grammar Format, W3C Note 5 June 2000.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from handsfree.errors import GrammarError
from handsfree.textfile import read_text
from handsfree.understand.automaton import Automaton, Builder

ROOT = "utterance"

_NAME_PARTS = re.compile(r"[0-9]+|[^\W\d_]+(?:'[^\W\d_]+)*")
# Source: the spelling of digits in ICAO Annex 10 volume II (from memory).
_RADIO_DIGITS = {"three": "tree", "four": "fower", "five": "fife", "nine": "niner"}


@dataclass(frozen=True)
class Narrowing:
    """The part of the grammar that a plan needs.

    axes: axis name to its labels, in the plan's order; together they make <position>.
    alone: the last axis, if its labels are words that may name a position with the label right
        before them, or by themselves, the rest taken from the position in hand ("journal",
        "exhaust lash").
    amounts, units: names of the alternatives that <amount> and <unit_word> keep.
    checks: names of the plan's checks, in its order.
    root: the start rule.
    nouns: words that may follow a bare number in place of a unit ("eight cylinders").
    left_out: parts of <utterance> that the check in hand can't need.
    """

    axes: Mapping[str, Sequence[str]]
    amounts: Sequence[str] = ("small", "pointed")
    units: Sequence[str] = ("thou_unit", "inch_unit", "mm_unit")
    checks: Sequence[str] = ()
    root: str = ROOT
    alone: str | None = None
    nouns: Sequence[str] = ()
    left_out: frozenset[str] = frozenset()


@dataclass(frozen=True)
class _AxisRules:
    """An axis, and the rules of its numeric labels and of its word labels."""

    axis: str
    number: str | None
    word: str | None


@dataclass(frozen=True)
class Grammar:
    """A parsed JSGF grammar: rule name to the parser library's expansion tree."""

    name: str
    rules: Mapping[str, Any] = field(repr=False)

    def narrowed(self, to: Narrowing) -> Grammar:
        """Keep only the plan's positions, labels, values and checks."""
        rules = dict(self.rules)
        parts = [_narrow_axis(rules, axis, labels, bare=axis == to.alone) for axis, labels in to.axes.items()]
        named = {axis: f"<axis_{_rule_name(axis)}>" for axis in to.axes}
        whole = list(named.values())
        # "exhaust lash", "lash": the axes before are taken from the position in hand
        tails = [whole[start:] for start in range(1, len(whole))] if to.alone in named else []
        rules["position"] = _parse_expansion(" | ".join(" ".join(names) for names in [whole, *tails]))
        singles = [name for name in whole if [name] not in tails] if len(whole) > 1 else []
        rules["place"] = _parse_expansion(" | ".join(["<position>", *singles]))
        left_out = to.left_out | _natural_places(rules, parts, to.axes)
        if left_out and ROOT in rules:
            wanted = [name for name in _references(rules[ROOT]) if name not in left_out]
            rules[ROOT] = _parse_expansion(" | ".join(f"<{name}>" for name in wanted))
        for rule, kept in (("amount", to.amounts), ("unit_word", to.units)):
            rules[rule] = _parse_expansion(" | ".join(f"<{name}>" for name in kept))
        if to.nouns:
            counted = " | ".join(f"{noun} {{unit-thou}}" for noun in to.nouns)
            rules["unit_word"] = _parse_expansion(" | ".join([*(f"<{name}>" for name in to.units), counted]))
        if to.checks:
            rules["check_name"] = _choice(
                (_label_words(name), f"check-{index}") for index, name in enumerate(to.checks)
            )
        reached = _reachable(rules, to.root)
        return Grammar(self.name, {name: rule for name, rule in rules.items() if name in reached})

    def compile(self, root: str = ROOT) -> Automaton:
        """Compile the word automaton of rule `root`.

        Raises:
            GrammarError: for a missing or recursive rule.
        """
        builder = Builder()
        start, final = builder.state(), builder.state()
        _Compiler(self, builder).rule(root, start, final, ())
        return builder.build(start, final)

    def jsgf(self, root: str = ROOT) -> str:
        """Write the grammar as JSGF text again, for recognisers that read it themselves."""
        lines = ["#JSGF V1.0 UTF-8 en;", f"grammar {self.name};"]
        for name, expansion in self.rules.items():
            visible = "public " if name == root else ""
            lines.append(f"{visible}<{name}> = {_text(expansion)};")
        return "\n".join(lines) + "\n"


@cache
def load_grammar(path: Path | None = None) -> Grammar:
    """Read a JSGF file; the packaged bench grammar when no path is given.

    Raises:
        GrammarError: when the file can't be read or isn't JSGF.
    """
    import jsgf
    import pyparsing

    path = path or grammar_folder() / "bench.gram"
    text = read_text(path, "grammar", GrammarError)
    try:
        parsed = jsgf.parse_grammar_string(text)
    except (pyparsing.ParseBaseException, jsgf.GrammarError) as error:
        raise GrammarError(f'grammar "{path}" isn\'t JSGF: {error}; mend the line that it names') from error
    return Grammar(parsed.name, {rule.name: rule.expansion for rule in parsed.rules})


def grammar_folder() -> Path:
    """Return the folder of the grammar files: inside the installed package, or beside it in a checkout."""
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "_grammars", package.parent / "grammars"):
        if folder.is_dir():
            return folder
    raise GrammarError(
        "the grammar files are missing from this installation; install from the checkout again"
    )


class _Compiler:
    """Compiles expansion trees into a builder; one copy of a rule for each reference to it."""

    def __init__(self, grammar: Grammar, builder: Builder) -> None:
        self._grammar = grammar
        self._builder = builder

    def rule(self, name: str, source: int, target: int, within: tuple[str, ...]) -> None:
        if name in within:
            raise GrammarError(
                f'grammar "{self._grammar.name}": rule <{name}> refers to itself; write it with * or +'
            )
        if name not in self._grammar.rules:
            where = f", which <{within[-1]}> refers to" if within else ""
            raise GrammarError(f'grammar "{self._grammar.name}" has no rule <{name}>{where}')
        self.expansion(self._grammar.rules[name], source, target, (*within, name))

    def expansion(self, node: Any, source: int, target: int, within: tuple[str, ...]) -> None:
        if node.tag:
            tagged = self._builder.state()
            self._builder.free(tagged, target, node.tag)
            target = tagged
        match type(node).__name__:
            case "Literal":
                self._builder.phrase(source, target, node.text.split())
            case "NamedRuleRef":
                self.rule(node.name, source, target, within)
            case "NullRef":
                self._builder.free(source, target)
            case "Sequence" | "RequiredGrouping":
                for child in node.children[:-1]:
                    between = self._builder.state()
                    self.expansion(child, source, between, within)
                    source = between
                self.expansion(node.children[-1], source, target, within)
            case "AlternativeSet" | "ParsedAlternativeSet":
                for child in node.children:
                    self.expansion(child, source, target, within)
            case "OptionalGrouping":
                self._builder.free(source, target)
                self.expansion(node.child, source, target, within)
            case "KleeneStar" | "Repeat":
                inside, after = self._builder.state(), self._builder.state()
                self._builder.free(source, inside)
                self.expansion(node.child, inside, after, within)
                self._builder.free(after, inside)
                self._builder.free(after, target)
                if type(node).__name__ == "KleeneStar":
                    self._builder.free(source, target)
            case "WeightedExpansion":
                self.expansion(node.child, source, target, within)
            case kind:
                raise GrammarError(
                    f'grammar "{self._grammar.name}": {kind} isn\'t used here; write it another way'
                )


def _parse_expansion(text: str) -> Any:
    import jsgf

    return jsgf.parse_expansion_string(text)


def _natural_places(
    rules: dict[str, Any], parts: Sequence[_AxisRules], axes: Mapping[str, Sequence[str]]
) -> frozenset[str]:
    """Narrow the other ways to say a place; return the parts of the root that are now unused.

    A bare number names a place only beside an unambiguous word, or after a verb of motion: with two
    numbered axes "three two" is a value.
    """
    first = parts[0] if parts else None
    named, goal, spot = ["<position>"], ["<place>"], ["<place>"]
    unused = {"sweeping"}
    if first is not None and first.number is not None and first.word is None:
        counted = f"number <{first.number}>"
        spot = [counted]
        goal.append(f"[number] <{first.number}>")
        if len(parts) == 1:
            named.append(counted)
        elif len(parts) == 2 and parts[1].number is None and parts[1].word is not None:
            said, other = " ".join(_plain_words(first.axis)), f"<axis_{_rule_name(parts[1].axis)}>"
            named += [
                f"[number] <{first.number}> {other}",
                f"[the] {other} [on | of | in] {said} [number] <{first.number}>",
                f"[the] {other} [on | of | in] {counted}",
                f"[the] {other} (on | in) <{first.number}>",
            ]
            labels = axes[parts[1].axis]
            rules["set"] = _choice(
                ([*_label_words(label)[:-1], f"{_label_words(label)[-1]}s"], label_tag(parts[1].axis, label))
                for label in labels
            )
            unused = set()
    for rule, shapes in (("named", named), ("goal", ["<named>", *goal]), ("spot", spot)):
        rules[rule] = _parse_expansion(" | ".join(shapes))
    return frozenset(unused)


def _narrow_axis(
    rules: dict[str, Any], axis: str, labels: Sequence[str], *, bare: bool = False
) -> _AxisRules:
    """Keep the alternatives of an axis whose tag names one of `labels`; create the axis if it is new.

    bare: word labels are said without the axis.
    """
    name = _rule_name(axis)
    wanted: dict[str, str] = {}
    for label in labels:
        other = wanted.setdefault(label_tag(axis, label), label)
        if other != label:
            raise GrammarError(f'{axis} "{other}" and {axis} "{label}" are said alike; rename one of them')
    known = rules.get(f"{name}_label")
    kept = [child for child in known.children if child.tag in wanted] if known is not None else []
    if known is not None and {child.tag for child in kept} == set(wanted):
        narrowed = copy.copy(known)
        narrowed._children = kept  # the library's own list; its setter refuses a shared child
        rules[f"{name}_label"] = narrowed
        counts = all(label[:1].isdigit() for label in labels)
        return _AxisRules(axis, f"{name}_label" if counts else None, None if counts else f"{name}_label")
    said = " ".join(_plain_words(axis))
    word_shapes = [f"<{name}_word>"] if bare else [f"<{name}_word> [{said}]", f"{said} <{name}_word>"]
    made: list[str] = []
    known_rules: dict[bool, str] = {}
    for rule, shapes in (
        (f"{name}_number", [f"{said} [number] <{name}_number>"]),
        (f"{name}_word", word_shapes),
    ):
        spoken = [
            (words, tag)
            for tag, label in wanted.items()
            if label[:1].isdigit() == rule.endswith("_number")
            for words in _ways_to_say(label)
        ]
        if spoken:
            rules[rule] = _choice(spoken)
            known_rules[rule.endswith("_number")] = rule
            made += shapes
    rules[f"axis_{name}"] = _parse_expansion(" | ".join(made))
    return _AxisRules(axis, known_rules.get(True), known_rules.get(False))


def _choice(spoken: Iterable[tuple[Sequence[str], str]]) -> Any:
    """Return alternatives, each of some words and a tag. Built, since long lists parse too deeply."""
    import jsgf

    literals = []
    for words, tag in spoken:
        literal = jsgf.Literal(" ".join(words))
        literal.tag = tag
        literals.append(literal)
    return jsgf.AlternativeSet(*literals)


def label_tag(axis: str, label: str) -> str:
    """Return the tag of a label on an axis.

    >>> label_tag("ring", "oil rail")
    'ring-oil-rail'
    """
    return f"{_rule_name(axis)}-{'-'.join(_plain_words(label))}"


def _rule_name(axis: str) -> str:
    return "_".join(_plain_words(axis))


def _plain_words(text: str) -> list[str]:
    """Return the words and numbers of a name, without signs; a number is split from a letter beside it."""
    words = _NAME_PARTS.findall(text.lower())
    if not words:
        raise GrammarError(f'"{text}" has no letter or digit that could be said; give it another name')
    return words


def _label_words(label: str) -> list[str]:
    """Return the words of a label: numbers to 99 as cardinals, longer ones digit by digit."""
    from handsfree.understand.numbers import cardinal_words, digit_words

    said: list[str] = []
    for part in _plain_words(label):
        if not part.isdigit():
            said.append(part)
        elif len(part) < 3 and part[0] != "0":
            said += cardinal_words(int(part))
        else:
            said += digit_words(part)
    return said


def _ways_to_say(label: str) -> list[list[str]]:
    """Return a label's words, and those with the digits of radiotelephony where they differ."""
    words = _label_words(label)
    radio = [_RADIO_DIGITS.get(word, word) for word in words]
    return [words] if radio == words else [words, radio]


def said_place(labels: Sequence[tuple[str, str]]) -> str:
    """Return the words of a place: a number after its axis, a word by itself.

    >>> said_place([("cylinder", "3"), ("ring", "oil rail")])
    'cylinder three oil rail'
    """
    return " ".join(
        " ".join([*(_plain_words(axis) if label[:1].isdigit() else []), *_label_words(label)])
        for axis, label in labels
    )


def _reachable(rules: Mapping[str, Any], root: str) -> set[str]:
    seen: set[str] = set()
    todo = [root]
    while todo:
        name = todo.pop()
        if name in seen or name not in rules:
            continue
        seen.add(name)
        todo.extend(_references(rules[name]))
    return seen


def _references(node: Any) -> list[str]:
    if type(node).__name__ == "NamedRuleRef":
        return [node.name]
    return [name for child in node.children for name in _references(child)]


def _text(node: Any) -> str:
    """Return an expansion as JSGF text, fully bracketed so that operator precedence is irrelevant."""
    match type(node).__name__:
        case "Literal":
            text = f"({node.text})" if " " in node.text else node.text
        case "NamedRuleRef":
            text = f"<{node.name}>"
        case "NullRef":
            text = "<NULL>"
        case "Sequence" | "RequiredGrouping":
            text = "(" + " ".join(_text(child) for child in node.children) + ")"
        case "AlternativeSet" | "ParsedAlternativeSet":
            text = "(" + " | ".join(_text(child) for child in node.children) + ")"
        case "OptionalGrouping":
            text = f"[{_text(node.child)}]"
        case "KleeneStar":
            text = f"({_text(node.child)})*"
        case "Repeat":
            text = f"({_text(node.child)})+"
        case _:
            text = _text(node.child)
    return f"{text} {{{node.tag}}}" if node.tag else text
