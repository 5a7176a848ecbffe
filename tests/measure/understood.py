"""Whether the numbers in the answers are understood, from the recorded loudspeaker side of a live bench.

Runs `handsfree bench` in a room of PulseAudio's null sinks, plays recorded readings into the microphone's
side, cuts its answers out of the recording of the other side, and lets a recogniser hear them that isn't the
one at the bench: the packaged network, its encoder not adapted, sentence by sentence, held to a grammar of
the sentences in answers, as a listener knows what to expect. An answer is understood when every number in it
is.

It is judged twice: as by a stranger, who knows of the pace only what people's is like, and as by one who is
used to the voice, and knows how long each word takes it (`tests/support/rhythm.py`, learned from other
answers, which the same voice speaks in silence).

    python -m tests.measure.understood [--phrases 200] [--draw 7] [--voice NAME] [--keep FOLDER] [--write]
    python -m tests.measure.understood --kept FOLDER          judge recordings again

The recording is judged as it is, which is digitally silent between the words, and with pink noise under it.
With --write it leaves understood.json and understood.md beside itself.
"""

from __future__ import annotations

import argparse
import json
import random
import signal
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soxr

from handsfree.hear import (
    PACKAGED_ENCODER,
    SAMPLERATE_HZ,
    Hearing,
    PhraseModel,
    PhraseRecogniser,
    Samples,
    Utterance,
    read_sound,
)
from handsfree.hear.heard import Alternative
from handsfree.hear.phrase import pace_logp
from handsfree.recordings.noise import spoil
from handsfree.speak import EngineVoice, Reply, Sound, Tone, VoiceSettings, tone
from tests.measure import latency
from tests.measure.live import add_results_options, leave, start_plain
from tests.support.answers import (
    grammar_of_beginnings,
    grammar_of_verdicts,
    made_up,
    numbers_in,
    sentences_of,
    words_of,
)
from tests.support.rhythm import Rhythm, learned
from tests.support.room import RATE_HZ, Recording, Room, spans, write_wav

ROOT = Path(__file__).parents[2]
HERE = Path(__file__)
ROOMS_DB = (None, 40.0, 30.0)
LISTENERS = ("a stranger", "one used to the voice")
HEADS = dict(zip(LISTENERS, ("heard for the first time", "by a listener who knows the voice"), strict=True))
LEARNED_FROM = 500
DRAW = 7
CORRECTED = ["corrected"]  # then what follows is a first sentence, too
_LEARNING_SEED = 77
_PAUSE_S = 1.2  # longer than any inside an answer
_PATIENCE_S = 14.0
_ROWS = 48  # nobody waits for the judge; with sixteen it lost the first word of some sentences
_SENTENCE_S = 0.25  # between sentences the voice pauses for a third of a second, after a comma for a sixth


@dataclass(frozen=True, eq=False)
class Answer:
    """An answer as written, and as (n,) int16 at 16 kHz from the loudspeaker."""

    text: str
    sound: Samples


class Said:
    """The words of the answers that a bench speaks: they may be fewer than those that it shows."""

    def __init__(self, timings: Path) -> None:
        self._timings = timings
        self._taken = 0

    def answers(self) -> list[str]:
        """Take the answers that were spoken since the last time."""
        lines = self._timings.read_text("utf-8").splitlines() if self._timings.exists() else []
        found, self._taken = lines[self._taken :], len(lines)
        return [str(json.loads(line)["said"]) for line in found]


def recorded(
    room: Room, folder: Path, count: int, voice: Sequence[str], draw: int = DRAW
) -> tuple[list[Answer], int]:
    """Play readings and collect the answers; the second number says how many brought no single answer."""
    timings = folder / "timings"
    process = start_plain(room, folder, "--timings", str(timings), *voice)
    lines, answers, other = Said(timings), [], 0
    time.sleep(24)
    lines.answers()
    with room.recording() as recording:
        for path in latency.phrases(count, draw):
            since = recording.path.stat().st_size // 4
            room.say(write_wav(folder / "phrase.wav", read_sound(path), SAMPLERATE_HZ))
            sound = _answer_after(recording, since)
            said = lines.answers()
            if sound is None or len(said) != 1 or not numbers_in(said[0]):
                other += 1
            else:
                answers.append(Answer(said[0], sound))
    process.send_signal(signal.SIGTERM)
    process.wait(timeout=20)
    return answers, other


def keep(folder: Path, answers: Sequence[Answer], other: int) -> None:
    """Write recordings and what they say: 000.wav and on, answers.json."""
    folder.mkdir(parents=True, exist_ok=True)
    for number, answer in enumerate(answers):
        write_wav(folder / f"{number:03}.wav", answer.sound, SAMPLERATE_HZ)
    texts = {"texts": [answer.text for answer in answers], "no_single_answer": other}
    (folder / "answers.json").write_text(json.dumps(texts, indent=1) + "\n", encoding="utf-8")


def loaded(folder: Path) -> tuple[list[Answer], int]:
    """Read what `keep` wrote."""
    texts = json.loads((folder / "answers.json").read_text(encoding="utf-8"))
    sounds = (read_sound(folder / f"{number:03}.wav") for number in range(len(texts["texts"])))
    return [Answer(*pair) for pair in zip(texts["texts"], sounds, strict=True)], texts["no_single_answer"]


def _answer_after(recording: Recording, since: int) -> Samples | None:
    """Wait until the loudspeaker has been silent for a while; return its words, without the tone."""
    until = time.monotonic() + _PATIENCE_S
    while time.monotonic() < until:
        time.sleep(0.2)
        played = latency.side(recording, 1, since)
        loud = spans(played, RATE_HZ, floor=latency.FLOOR, gap_s=_PAUSE_S)
        if loud and len(played) / RATE_HZ - loud[-1][1] > _PAUSE_S:
            began, ended = (round(RATE_HZ * at) for at in loud[0])
            words = played[began + _tone_length(played[began:ended]) : ended + RATE_HZ // 10]
            return np.asarray(soxr.resample(words, RATE_HZ, SAMPLERATE_HZ), np.int16)
    return None


def _tone_length(sound: Samples) -> int:
    """Return how much of an answer is its tone: that one which the beginning is most like, in samples."""
    lengths = {}
    for kind in Tone:
        made = tone(kind, RATE_HZ).samples.astype(float)
        head = sound[: len(made)].astype(float)
        if len(made) and len(head) == len(made):
            lengths[len(made)] = abs(float(_likeness(made, head)))
    return max(lengths, key=lambda length: lengths[length])


def _likeness(made: np.ndarray[Any, Any], head: np.ndarray[Any, Any]) -> float:
    """Cosine between spectra's magnitudes: the beginning was found to the sample only roughly."""
    one, two = (np.abs(np.fft.rfft(each)) for each in (made, head))
    return float(one @ two / (np.linalg.norm(one) * np.linalg.norm(two) + 1e-9))


def spoken(text: str, voice: EngineVoice) -> Answer:
    """Return an answer as the voice renders it, without a room."""
    return Answer(text, at_16k(voice.render(Reply(text))))


def at_16k(sound: Sound) -> Samples:
    """Return a voice's sound at the rate of ears: (n,) int16."""
    resampled = soxr.resample(sound.samples.astype(np.float32), sound.samplerate_hz, SAMPLERATE_HZ)
    return np.asarray(np.clip(resampled, -32_768, 32_767), np.int16)


def used_to(voice: EngineVoice, count: int = LEARNED_FROM) -> tuple[Rhythm, Rhythm]:
    """Learn the voice's rhythm from so many made-up answers: of first sentences, and of the others."""
    draw = random.Random(_LEARNING_SEED)
    first: list[tuple[list[str], float]] = []
    others: list[tuple[list[str], float]] = []
    for _ in range(count):
        answer = spoken(made_up(draw), voice)
        texts, found = sentences_of(answer.text), sentences(answer.sound)
        if len(texts) != len(found):
            continue  # a pause was too short to be seen
        for number, (text, (_, _, (began_s, ended_s))) in enumerate(zip(texts, found, strict=True)):
            begins = number == 0 or (number == 1 and words_of(texts[0]) == CORRECTED)
            (first if begins else others).append((words_of(text), ended_s - began_s))
    return learned(first), learned(others)


def judged(
    answers: Sequence[Answer], rhythms: tuple[Rhythm, Rhythm]
) -> tuple[dict[str, dict[str, int]], list[dict[str, str]]]:
    """Count the answers understood in each room by each listener, and list the others."""
    model = PhraseModel(encoder=PACKAGED_ENCODER)
    begin, judge = (
        PhraseRecogniser(grammar, model=model, rows=_ROWS)
        for grammar in (grammar_of_beginnings(), grammar_of_verdicts())
    )
    counts: dict[str, dict[str, int]] = {}
    missed = []
    for room_db in ROOMS_DB:
        name = "digital silence" if room_db is None else f"pink noise {room_db:g} dB below"
        counts[name] = dict.fromkeys(LISTENERS, 0)
        for number, answer in enumerate(answers):
            samples = answer.sound
            if room_db is not None:
                samples = spoil(samples, "pink", room_db, np.random.default_rng(number), ())
            heard: dict[str, list[str]] = {listener: [] for listener in LISTENERS}
            for began, ended, limits in sentences(answer.sound):
                utterance = Utterance(samples[began:ended], *limits)
                hearings: dict[bool, Hearing] = {}  # by whether a first sentence is expected
                for listener, said in heard.items():
                    first = said in ([], CORRECTED)
                    if first not in hearings:
                        hearings[first] = (begin if first else judge).hear(utterance)
                    rhythm = None if listener == LISTENERS[0] else rhythms[0 if first else 1]
                    said.append(" ".join(likeliest(hearings[first], limits[1] - limits[0], rhythm)))
            for listener, said in heard.items():
                if numbers_in(" ".join(said)) == numbers_in(answer.text):
                    counts[name][listener] += 1
                else:
                    about = {"room": name, "listener": listener}
                    missed.append({**about, "said": answer.text, "heard": ". ".join(said)})
    return counts, missed


def likeliest(hearing: Hearing, spoken_s: float, rhythm: Rhythm | None) -> tuple[str, ...]:
    """Return the likeliest words of a hearing: by the voice's rhythm, where known, not by people's pace."""
    if rhythm is None or not hearing.alternatives:
        return hearing.words

    def score(other: Alternative) -> float:
        return other.logp - pace_logp(other.words, spoken_s) + rhythm.logp(other.words, spoken_s)

    return max(hearing.alternatives, key=score).words


def sentences(sound: Samples) -> list[tuple[int, int, tuple[float, float]]]:
    """Find the sentences of an answer: first sample, end, and when it is spoken in seconds."""
    edge = SAMPLERATE_HZ * 15 // 100
    found = []
    for began_s, ended_s in spans(sound, SAMPLERATE_HZ, floor=latency.FLOOR, gap_s=_SENTENCE_S):
        began, ended = (round(SAMPLERATE_HZ * at) for at in (began_s, ended_s))
        found.append((max(0, began - edge), ended + edge, (began_s, ended_s)))
    return found


def table(result: dict[str, Any]) -> str:
    """Write the result as a Markdown table."""
    count = result["answers"]

    def share(right: int) -> str:
        return f"{right} of {count}, {100 * right / count:.1f} %"

    lines = [
        f"| loudspeaker's side, in | {' | '.join(HEADS[each] for each in LISTENERS)} |",
        "| --- |" + " --- |" * len(LISTENERS),
        *[
            f"| {name} | {' | '.join(share(right[each]) for each in LISTENERS)} |"
            for name, right in result["understood"].items()
        ],
        "",
        f"Answers in which every number is right, {result['numbers']} numbers in all, places counted, "
        "recorded from the loudspeaker's side of a live bench and heard by the packaged network, which isn't "
        "the bench's, held to a grammar of answers. A listener who knows the voice knows how long each word "
        f"takes it, from {LEARNED_FROM} other answers. "
        + " ".join(filter(None, [result["voice"], f"`{result['command']}`"])),
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Record, judge and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--phrases", type=int, default=200)
    parser.add_argument("--draw", type=int, default=DRAW, help="other readings than the usual")
    parser.add_argument("--voice", help="another than the usual")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="keep the recordings there")
    parser.add_argument("--kept", type=Path, metavar="FOLDER", help="judge those that were kept there")
    add_results_options(parser)
    options = parser.parse_args()
    if options.kept:
        answers, other = loaded(options.kept)
    else:
        with Room() as room, tempfile.TemporaryDirectory() as name:
            chosen = ["--voice", options.voice] if options.voice else []
            answers, other = recorded(room, Path(name), options.phrases, chosen, options.draw)
    if options.keep:
        keep(options.keep, answers, other)
    with EngineVoice(VoiceSettings(voice=options.voice)) as voice:
        rhythms = used_to(voice)
    counts, missed = judged(answers, rhythms)
    result = {
        "answers": len(answers),
        "no_single_answer": other,
        "numbers": sum(len(numbers_in(answer.text)) for answer in answers),
        "understood": counts,
        "missed": missed,
        "voice": f"Voice: {options.voice}." if options.voice else "",
        "command": f"python -m tests.measure.understood --phrases {len(answers) + other}",
    }
    leave("understood", result, table, options, ears=False)


if __name__ == "__main__":
    main()
