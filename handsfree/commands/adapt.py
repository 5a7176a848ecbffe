"""`handsfree adapt`: adapt the recogniser to one speaker, show the adaptation, or remove it."""

from __future__ import annotations

import argparse
import math
import statistics
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from handsfree.adapt import (
    ENOUGH,
    FEWEST,
    WRONG_COSTS,
    Adaptation,
    Learned,
    Offer,
    OwnRecording,
    Recording,
    adaptation_path,
    forget_voices,
    learn,
    load_adaptation,
    load_voices,
    offered_by_journals,
    rehearsals,
    remove_adaptation,
    save_adaptation,
    text_of,
)
from handsfree.commands.options import DONE
from handsfree.commands.outputs import print_line
from handsfree.commands.score import check_of, said_by
from handsfree.devices import QUIET_DB
from handsfree.ears import evidence, phrase_recogniser
from handsfree.errors import AdaptationError, did_you_mean
from handsfree.export import find
from handsfree.hear import (
    Hearing,
    PhraseModel,
    Recogniser,
    read_sound,
    utterances,
)
from handsfree.journal import is_journal
from handsfree.recordings import (
    ASKED,
    IGNORED,
    NAME,
    RIGHT,
    WRONG,
    ManifestRow,
    active_level_db,
    judge_command,
    plan_for,
    read_manifest,
    rows_of,
    to_sound,
)
from handsfree.understand import Listening, Thresholds, decide, listen_for, load_spellings
from handsfree.visible import shown

_NOTHING = "Nothing was learned of your voice yet: handsfree rehearse PLAN, then handsfree adapt."

_EVERYBODY = "all"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of `handsfree adapt`."""
    parser.description = (
        "Learns from what `handsfree rehearse` kept, or from readings at the bench that were let stand. "
        "Nothing of it leaves this machine."
    )
    parser.add_argument(
        "--from",
        action="extend",
        nargs="+",
        type=Path,
        dest="sources",
        metavar="DIR|JOURNAL",
        help="recordings with a manifest.csv, journals, or folders of journals (all rehearsals)",
    )
    parser.add_argument("--voice", metavar="NAME", help="only this voice, where there are several")
    parser.add_argument(
        "--encoder", type=Path, metavar="FILE", help='encoder of the embedded recogniser, or "packaged"'
    )
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--show", action="store_true", help="show what was learned, and where it is kept")
    what.add_argument("--undo", action="store_true", help="take it away")
    what.add_argument("--voices", action="store_true", help="list the people whose voices are known")
    what.add_argument(
        "--forget", metavar="NAME", help='forget what this person sounds like ("all": everybody)'
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Learn, show or remove an adaptation; list or forget voices."""
    if options.voices:
        return _list_voices()
    if options.forget is not None:
        return _forget(options.forget)
    if options.undo:
        gone = remove_adaptation()
        print_line(f"Taken away: {adaptation_path()}" if gone else "There was nothing to take away.")
        return DONE
    if options.show:
        found = load_adaptation()
        print_line(f"# {adaptation_path()}\n{text_of(found)}".rstrip() if found else _NOTHING)
        return DONE
    return _learn(options)


def _list_voices() -> int:
    known = load_voices()
    for name, voices in known.items():
        state = "known" if len(voices) >= ENOUGH else f"known after {ENOUGH - len(voices)} more"
        print_line(f"{shown(name)}: {len(voices)} phrases, {state}")
    if not known:
        print_line("No voice is known: handsfree rehearse PLAN, or handsfree bench PLAN --who NAME.")
    return DONE


def _forget(name: str) -> int:
    """Forget one person's voice, or everybody's.

    Raises:
        AdaptationError: nobody of that name is known, or the file can't be written.
    """
    known = load_voices()
    if name not in known and name != _EVERYBODY:
        remedy = did_you_mean(name, known) if known else "nobody's is, so nothing need be forgotten"
        raise AdaptationError(f"no voice is known as {shown(name)}; {remedy}")
    names = [name] if name in known else list(known)
    forget_voices(names)
    print_line(f"Forgotten: {', '.join(map(shown, names)) or 'nobody was known'}")
    return DONE


def _learn(options: argparse.Namespace) -> int:
    sources = options.sources or rehearsals()
    if not sources:
        raise AdaptationError(
            'there are no rehearsals to learn from; run "handsfree rehearse PLAN", or name a folder or a '
            "journal by --from"
        )
    from_work = any(map(_holds_journals, sources))
    heard = recordings_in(sources, options.voice)
    ears = Listeners(PhraseModel(encoder=options.encoder), heard)
    learned = learn(
        ears.samples,
        ears,
        load_spellings(),
        told=lambda text: print_line(f"{text} ..."),
        looser=not from_work,  # of what was refused nobody knows what it was
    )
    levels = [one.level_db for one in heard.values()]
    adaptation = replace(
        learned.adaptation,
        speech_db=round(statistics.median(levels), 1),
        made=datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        recogniser=ears.name,
        before=learned.before,
        after=learned.after,
    )
    for line in told(learned, adaptation, heard):
        print_line(line)
    return _kept(adaptation, _known_before(ears) if from_work else None, from_work=from_work)


def _kept(
    adaptation: Adaptation,
    before: tuple[Adaptation, Mapping[str, int]] | None = None,
    *,
    from_work: bool = False,
) -> int:
    """Keep an adaptation if it helps, and more than the one `before`, which is given with its counts.

    from_work: journals are no reason to take away what was learned from rehearsals.
    """
    if before is not None:
        former, counts = before
        if adaptation.changes_nothing or cost_of(counts) <= cost_of(adaptation.after):
            told = f"{counts[RIGHT]} right, {counts[WRONG]} wrong: {cost_of(counts)}"
            print_line(f"What was learned from {former.recordings} recordings before stays ({told}).")
            return DONE
    if adaptation.changes_nothing:
        if not from_work and remove_adaptation():
            print_line("What was learned before is taken away: on these recordings it isn't borne out.")
        return DONE
    path = save_adaptation(adaptation)
    print_line(f"Kept in {path}, and used from now on.")
    print_line("--no-adapt leaves it out once, handsfree adapt --undo takes it away.")
    return DONE


def _known_before(ears: Listeners) -> tuple[Adaptation, Mapping[str, int]] | None:
    """Return what was learned before, and its results on these recordings; None if it can't be used."""
    try:
        former = load_adaptation()
    except AdaptationError:
        return None
    if former is None or former.changes_nothing:
        return None
    counts = dict.fromkeys((RIGHT, WRONG, ASKED, IGNORED), 0)
    for sample in ears.samples:
        result, _ = ears.result(sample, ears.hear(sample, former), former.thresholds)
        counts[RIGHT if result == IGNORED and not sample.said else result] += 1
    return former, counts


def recordings_in(sources: Sequence[Path], voice: str | None) -> dict[str, Recording]:
    """Read the recordings in folders, and the kept sounds of journals, by path.

    Raises:
        AdaptationError: several speakers, or too few recordings.
        ScoreError, PlanError, SoundError, JournalError: a source or a recording can't be used.
    """
    journals = [source for source in sources if _holds_journals(source)]
    folders = [source for source in sources if source not in journals]
    offered = [one for folder in folders for one in _in_folder(folder, voice)]
    offered += offered_by_journals(find(journals))
    voices = list(dict.fromkeys(one.voice for one in offered))
    if voice is not None and offered and voice not in voices:
        raise AdaptationError(
            f'there are no recordings of a voice "{voice}"; {did_you_mean(voice, sorted(voices))}'
        )
    chosen = [one for one in offered if voice in (None, one.voice)]
    if voice is None and len(voices) > 1:
        few = ", ".join(each or "nobody named" for each in voices[:3]) + (" ..." if len(voices) > 3 else "")
        raise AdaptationError(f"these are recordings of several voices ({few}); name yours with --voice")
    found = {one.key: loaded for one in chosen if (loaded := one.load()) is not None}
    if journals:
        print_line(f"{len(found)} recordings tell their words, of {len(chosen)}.")
    if len(found) < FEWEST:
        raise AdaptationError(
            f"{len(found)} recordings are too few to learn from and to judge by; "
            f"rehearse at least {FEWEST} phrases" + (", or name more journals" if journals else "")
        )
    return found


def _holds_journals(source: Path) -> bool:
    if not source.is_dir():
        return is_journal(source)
    return not (source / NAME).exists() and any(map(is_journal, source.iterdir()))


def _in_folder(folder: Path, voice: str | None) -> Iterator[Offer]:
    """Yield the recordings of a folder with a manifest; of another voice, only one to name it."""
    if voice is not None:
        others = [row for row in read_manifest(folder) if row.voice != voice]
        yield from (Offer(row.file, row.voice, lambda: None) for row in others)
        if len(others) == len(read_manifest(folder)) and others:
            return
    rows = rows_of(folder, lambda row: voice in (None, row.voice))
    plan, _ = plan_for(folder, rows, None)
    listening = listen_for(plan, check_of(plan, None, rows))
    said = said_by(listening)
    for row in rows:
        yield Offer(str(folder / row.file), row.voice, partial(_of_row, folder, row, listening, said))


def _of_row(
    folder: Path, row: ManifestRow, listening: Listening, said: Callable[[str], tuple[str, ...]]
) -> Recording | None:
    words = said(row.text) if row.kind != "chatter" else ()
    if not words and row.kind != "chatter":
        return None  # not in this grammar: nothing can be learned from it
    samples = read_sound(folder / row.file)
    cuts = tuple(utterances(samples))
    return Recording(
        row.text,
        words,
        row.expected(),
        cuts,
        listening,
        listening.context,
        active_level_db(to_sound(samples)),
    )


class Listeners:
    """Hears recordings for learning, with one recogniser for each grammar and adaptation."""

    def __init__(self, model: PhraseModel, recordings: Mapping[str, Recording]) -> None:
        self._model = model
        self._recordings = recordings
        self._made: tuple[Adaptation, dict[int, Recogniser]] = (Adaptation(), {})
        self.samples = [
            OwnRecording(key, one.said, one.listening.automaton.words, one.listening.automaton.phrases)
            for key, one in recordings.items()
        ]
        self.name = ""

    def hear(self, sample: OwnRecording, adaptation: Adaptation) -> tuple[Hearing, ...]:
        """Return the hearing of each utterance of a sample."""
        one = self._recordings[sample.key]
        if self._made[0] != adaptation:
            self._made = adaptation, {}
        made = self._made[1]
        if id(one.listening) not in made:
            used = None if adaptation.changes_nothing else adaptation
            made[id(one.listening)] = phrase_recogniser(one.listening, self._model, used)
        recogniser = made[id(one.listening)]
        self.name = self.name or recogniser.name
        return tuple(recogniser.hear(utterance) for utterance in one.utterances)

    def result(
        self, sample: OwnRecording, hearings: tuple[Hearing, ...], thresholds: Thresholds
    ) -> tuple[str, bool]:
        """Grade hearings: right, wrong, asked or ignored, and whether the likeliest command was right."""
        one = self._recordings[sample.key]
        decisions = [
            decide(evidence(hearing), one.listening.automaton, one.context, thresholds)
            for hearing in hearings
        ]
        return judge_command(one.expected, decisions, talk=not one.said)


def told(learned: Learned, adaptation: Adaptation, heard: Mapping[str, Recording]) -> list[str]:
    """Report the adaptation and its improvement."""
    usual = Thresholds()
    lines = [f"Learned from {adaptation.recordings} recordings:"]
    for words, written in adaptation.forms.items():
        lines.append(f"  when you say {' '.join(words)}, it may be written {' or '.join(written)}")
    if adaptation.pace:
        slower = "more" if adaptation.pace > 0 else "less"
        percent = abs(100 * math.expm1(adaptation.pace))
        lines.append(f"  you take {percent:.0f} % {slower} time than usual for a phrase")
    lines += _limits_told("margin", usual.sure_margin, adaptation.sure_margin)
    lines += _limits_told("fit", usual.sure_fit, adaptation.sure_fit)
    if adaptation.changes_nothing:
        lines.append("  nothing that would help; you are heard as everybody is")
    for why in dict.fromkeys(learned.refused.values()):
        these = [f"{' '.join(w)} as {form}" for (w, form), reason in learned.refused.items() if reason == why]
        more = f" and {len(these) - 3} more" if len(these) > 3 else ""
        lines.append(f"  not learned, because {why}: {', '.join(these[:3])}{more}")
    lines += [
        f'  {key} says it is "{heard[key].text}" and is heard as something else: listen to it'
        for key in learned.unlike
    ]
    lines += _score_told(learned)
    if adaptation.speech_db is not None and adaptation.speech_db < QUIET_DB:
        lines.append(
            f"Your voice is faint ({adaptation.speech_db:.0f} dB): turn the gain up, or come closer."
        )
    return lines


def _limits_told(name: str, usual: float, own: float) -> list[str]:
    if own == usual:
        return []
    if own < usual:
        return [f"  you will be asked less often: {name} {own:g} to act unasked, usually {usual:g}"]
    return [
        f"  you will be asked more often: {name} {own:g} to act unasked, usually {usual:g}",
        "    (a value was taken wrong; that is reason enough, even where recordings held back can't show it)",
    ]


def _score_told(learned: Learned) -> list[str]:
    lines = ["On recordings held back while learning (a question counts 1, a wrong value 100):"]
    for name, counts in (("before", learned.before), ("after", learned.after)):
        lines.append(
            f"  {name:7} {counts[RIGHT]} right, {counts[WRONG]} wrong, {counts[ASKED]} asked, "
            f"{counts[IGNORED]} ignored: {cost_of(counts)}"
        )
    return lines


def cost_of(counts: Mapping[str, int]) -> int:
    """Return the cost of results: one for a question, a hundred for a wrong value."""
    return counts[ASKED] + counts[IGNORED] + WRONG_COSTS * counts[WRONG]
