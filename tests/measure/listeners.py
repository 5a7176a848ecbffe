"""The recognisers that the accuracy bench sets beside each other, each as a function of the sound.

All are given the same utterances, cut by the program's own endpointer, and the same plan. Each gives
hearings with their decisions, so that one scoring fits all.

- embedded: the program as it is, with its decision.
- dictation: what the same neural model writes when nothing holds it to the grammar, with a number
  parser (text2num) and a pattern behind it. It costs nothing extra: the embedded recogniser decodes
  freely anyway, for its fit.
- pocketsphinx: the phone-HMM recogniser with the very grammar, narrowed, that the program uses
  (as its smallest word graph: see word_graph). It has no fit; what parses to one meaning is accepted.
- vosk: the program's other recogniser, where an English model is present.
"""

from __future__ import annotations

import functools
import re
import time
from collections.abc import Callable, Sequence
from dataclasses import replace

from handsfree.ears import Choice, Recognisers
from handsfree.hear import Hearing, Samples, Utterance, utterances
from handsfree.length import length
from handsfree.plan import Plan, Position
from handsfree.recordings import Recognised
from handsfree.understand import (
    Command,
    Control,
    Decision,
    Evidence,
    Feel,
    Listening,
    Meaning,
    Move,
    Outcome,
    Reading,
    Word,
    decide,
    listen_for,
)
from tests.measure.word_graph import word_graph
from tests.support.human import ONES

Cut = Sequence[Utterance]
Listener = Callable[[Cut], list[Recognised]]

# Said here otherwise than in PocketSphinx's dictionary, or missing from it.
PRONUNCIATIONS = {
    "thou(2)": "TH AW",
    "fower": "F AW ER",
    "niner": "N AY N ER",
    "nought": "N AO T",
    "thousandths": "TH AW Z AH N TH S",
    "thousandths(2)": "TH AW Z AH N D TH S",
    "thousandths(3)": "TH AW Z AH N S",
    "hundredths": "HH AH N D R AH D TH S",
    "millimetre": "M IH L AH M IY T ER",
    "millimetres": "M IH L AH M IY T ER Z",
    "microns": "M AY K R AA N Z",
}


def cut(samples: Samples) -> Cut:
    """Cut speech out of (n,) int16, as the program does."""
    return utterances(samples)


@functools.cache
def listening_of(plan: Plan) -> Listening:
    """Return the listening of the plan's first check."""
    return listen_for(plan, plan.checks[0])


def embedded(plan: Plan, check: str) -> Listener:
    """Listen with the embedded recogniser and decide as the program does."""
    ear = Recognisers(plan, Choice.PHRASE).ear(check)
    return lambda cuts: [ear.hear(utterance) for utterance in cuts]


def vosk(plan: Plan, check: str) -> Listener:
    """Listen with Vosk and decide as the program does.

    Raises:
        ModelError: where no English model is present.
    """
    ear = Recognisers(plan, Choice.VOSK).ear(check)
    return lambda cuts: [ear.hear(utterance) for utterance in cuts]


def pocketsphinx(plan: Plan, check: str) -> Listener:
    """Listen with PocketSphinx, held to the narrowed grammar as the smallest graph of its phrases."""
    from pocketsphinx import Decoder

    listening = listen_for(plan, plan.check(check))
    decoder = Decoder(lm=None, loglevel="FATAL")
    for word, phones in PRONUNCIATIONS.items():
        if decoder.lookup_word(word) is None:
            decoder.add_word(word, phones, True)
    missing = sorted(word for word in listening.automaton.words if decoder.lookup_word(word) is None)
    if missing:
        raise SystemExit(f"PocketSphinx's dictionary lacks {', '.join(missing)}: add them to PRONUNCIATIONS")
    graph = word_graph(listening.automaton)
    arcs = [(a, b, 1.0, word) if word else (a, b, 1.0) for a, b, word in graph.arcs]
    decoder.add_fsg("bench", decoder.create_fsg("bench", 0, graph.final, arcs))
    decoder.activate_search("bench")

    def listen(cuts: Cut) -> list[Recognised]:
        found = []
        for utterance in cuts:
            began = time.perf_counter()
            decoder.start_utt()
            decoder.process_raw(utterance.samples.tobytes(), full_utt=True)
            decoder.end_utt()
            best = decoder.hyp()
            words = tuple(best.hypstr.split()) if best else ()
            took_ms = (time.perf_counter() - began) * 1000
            hearing = Hearing(words, utterance.start_s, utterance.end_s, "pocketsphinx", decode_ms=took_ms)
            found.append((hearing, decide(Evidence(words), listening.automaton, listening.context)))
        return found

    return listen


_PLACE = r"cylinder (?P<cylinder>\d+) (?P<ring>top|second|2nd|2)"
_AMOUNT = (
    r"(?P<whole>(\d )?\d+(\.\d+)?)(?P<part> and (a|1) half| and (a|1) quarter| and 3 quarters)?"
    r"( (thou|thousandths|thousands))?"
)
_PARTS = {" and a half": "5", " and 1 half": "5", " and a quarter": "25", " and 1 quarter": "25"}
_FEEL = r"(?P<before>no go |go |correction )?"
_PHRASE = re.compile(rf"({_PLACE} )?{_FEEL}{_AMOUNT}(?P<after> drag)?")
_MOVE = re.compile(_PLACE)


def dictation(heard: Sequence[Recognised], listening: Listening) -> list[Recognised]:
    """Take the embedded recogniser's free writing through a number parser and a pattern."""
    return [
        (replace(hearing, recogniser="dictation"), understood(hearing.free or "", listening))
        for hearing, _ in heard
    ]


def understood(text: str, listening: Listening | None) -> Decision:
    """Return the result of a number parser and a pattern for a free transcript.

    >>> str(understood("Cylinder three top, eighteen thou.", None).meaning.commands[0].value)
    '18 thou'
    """
    from text_to_num import alpha2digit

    plain = " ".join(re.sub(r"[^a-z0-9.' ]+", " ", text.lower()).split())
    plain = re.sub(r"\.(?!\d)", "", plain)
    digits = alpha2digit(plain, "en")
    digits = re.sub(rf"\b({'|'.join(_ONES)})\b", lambda match: _ONES[match[0]], digits)
    if match := _PHRASE.fullmatch(digits):
        return _accepted(_reading(match))
    if match := _MOVE.fullmatch(digits):
        return _accepted(Move(_place(match)))
    if listening is not None:
        decision = decide(Evidence(tuple(plain.split())), listening.automaton, listening.context)
        first = decision.meaning.commands[0] if decision.meaning else None
        if first is not None and not isinstance(first, Reading) and first != Control(Word.CORRECTION):
            return _accepted(first)
    return Decision(Outcome.IGNORE)


_ONES = dict(zip(ONES[1:10], "123456789", strict=True))


def _accepted(command: Command) -> Decision:
    return Decision(Outcome.ACCEPT, (Meaning((command,)),))


def _place(match: re.Match[str]) -> Position:
    ring = match["ring"]
    return Position.of({"cylinder": match["cylinder"], "ring": "second" if ring in ("2nd", "2") else ring})


def _reading(match: re.Match[str]) -> Reading:
    whole, part = match["whole"].replace(" ", ""), match["part"]
    value = length(f"{whole}.{_PARTS.get(part, '75')}" if part else whole)
    before = (match["before"] or "").strip()
    feel = Feel.DRAG if match["after"] else Feel(before) if before in ("go", "no go") else None
    place = _place(match) if match["cylinder"] else None
    return Reading(value, place, feel, before == "correction")
