"""The build of the twin, line by line: who says or keys what, and what must come of it.

Everybody in it is synthetic and the engine is invented. The verdicts and the amounts left were worked
out by hand from ``plan.toml``, so that they check the program and aren't copied from it:

- Cylinder one's bore is 79.513 on average where its gaps are taken and 79.508 lower down, which is the
  tightest. Its top ring wants 0.35 there, so pi times 0.005 more where it is measured: 0.3657, and
  0.37 in steps of hundredths. Cylinder two: 79.515 and 79.509, so 0.3688, and 0.37 too.
- Second rings want 79.508 times 0.0050: 0.39754, up to 0.40, and pi times 0.005 more: 0.4157, up to
  0.42. Cylinder two: 79.509, 0.40 and pi times 0.006: 0.4188, up to 0.42.
- Clearances: 79.507 - 79.450 = 0.057; 79.508 - 79.410 = 0.098, over 0.08; 79.508 - 79.451 = 0.057;
  45.052 - 45.001 = 0.051; 45.049 - 45.003 = 0.046.
- Lash 0.08 with a shim of 2.60 wants 2.60 + 0.08 - 0.13 = 2.55.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

MICHAEL, EMMA, HEART = "kokoro-am_michael", "kokoro-bf_emma", "kokoro-af_heart"
GEORGE, JOE = "kokoro-bm_george", "piper-joe"
KEYPAD = "keypad"
PLACES = {
    "cylinder bores": ("cylinder", "depth", "direction"),
    "piston to bore": ("cylinder", "part"),
    "ring gaps": ("cylinder", "ring"),
    "main bearings": ("main", "part"),
    "end float": ("shaft",),
    "valve lash": ("cylinder", "valve", "part"),
}


@dataclass(frozen=True)
class Value:
    """One value that must be logged: where, which, in mm, and what must be said of it."""

    check: str
    place: str
    value: str
    verdict: str = ""
    left: str = ""
    bound: str = ""


@dataclass(frozen=True)
class Line:
    """One recording, or one entry of the keypad.

    voice: a speaker of ``audio_fixtures``, or the keypad. text: what is said, or the keys before Enter.
    values: what must be logged. expect: as in ``demo/story.py``. noise, snr_db: a kind of
    ``handsfree.recordings.noise`` and how far speech lies above it.
    """

    voice: str
    text: str
    values: tuple[Value, ...] = ()
    expect: str = "reading"
    noise: str = ""
    snr_db: str = ""

    def rows(self) -> Iterator[dict[str, str]]:
        """Give the rows of the manifest: one for each value, or one for none."""
        for value in self.values or (Value("", "", ""),):
            labels = zip(PLACES.get(value.check, ()), value.place.split(), strict=True)
            yield {
                "voice": self.voice,
                "text": self.text,
                "expect": self.expect,
                "check": value.check,
                "place": ", ".join(f"{axis} {label}" for axis, label in labels),
                "value": value.value,
                "unit": "mm" if value.value else "",
                "bound": value.bound,
                "verdict": value.verdict,
                "left": value.left,
                "noise": self.noise,
                "snr_db": self.snr_db,
            }


def _said(voice: str, text: str, *values: str, noise: str = "", expect: str = "reading") -> Line:
    """A line with its values, each written as check: place value verdict left."""
    kind, _, snr_db = noise.partition(" ")
    return Line(voice, text, tuple(map(_value, values)), expect, kind, snr_db)


def _value(written: str) -> Value:
    check, _, rest = written.partition(": ")
    count = len(PLACES[check])
    words = rest.split()
    place, (value, *more) = " ".join(words[:count]), words[count:]
    bound = ""
    if value[0] == "<":
        bound, value = "under", value[1:]
    verdict, left = [*more, "", ""][:2]
    return Value(check, place, value, verdict, left, bound)


def _word(voice: str, text: str, expect: str | None = None, noise: str = "") -> Line:
    """A line that logs no value: a procedure word, a move, turns, talk."""
    kind, _, snr_db = noise.partition(" ")
    return Line(voice, text, (), expect or "word", kind, snr_db)


STORY = (
    # the bores with a dial gauge, two depths, across and along; the second half by thumb
    _said(
        MICHAEL,
        "cylinder one upper across, seventy nine point five one four",
        "cylinder bores: 1 upper across 79.514 good",
    ),
    _said(
        MICHAEL, "seventy nine point five one two millimetres", "cylinder bores: 1 upper along 79.512 good"
    ),
    _said(
        MICHAEL,
        "seventy nine point five zero nine",
        "cylinder bores: 1 lower across 79.509 good",
        noise="fan 20",
    ),
    _said(
        MICHAEL,
        "seventy nine point five zero seven",
        "cylinder bores: 1 lower along 79.507 good",
        noise="fan 20",
    ),
    _said(KEYPAD, "79.516", "cylinder bores: 2 upper across 79.516 good"),
    _said(KEYPAD, "79.514", "cylinder bores: 2 upper along 79.514 good"),
    _said(KEYPAD, "79.508", "cylinder bores: 2 lower across 79.508 good"),
    _said(KEYPAD, "2*2*2*79.51", "cylinder bores: 2 lower along 79.51 good"),
    # pistons: bore less skirt; one was misread, and is put right in the same breath that noticed it
    _word(EMMA, "check piston to bore"),
    _said(EMMA, "cylinder one bore, seventy nine point five zero seven", "piston to bore: 1 bore 79.507"),
    _said(EMMA, "skirt, seventy nine point four five", "piston to bore: 1 skirt 79.45 good"),
    _said(EMMA, "cylinder two bore, seventy nine point five zero eight", "piston to bore: 2 bore 79.508"),
    _said(EMMA, "skirt, seventy nine point four one", "piston to bore: 2 skirt 79.41 over"),
    _said(
        EMMA,
        "correction, seventy nine point four five one",
        "piston to bore: 2 skirt 79.451 good",
        expect="correction",
    ),
    # ring gaps, filed by counted turns; the targets follow the bores as they were measured
    _word(KEYPAD, ".*3"),
    _said(GEORGE, "cylinder one top, zero point two five millimetres", "ring gaps: 1 top 0.25 short 0.12"),
    _word(GEORGE, "six turns"),
    _said(GEORGE, "zero point two eight", "ring gaps: 1 top 0.28 short 0.09"),
    _word(KEYPAD, "4/"),
    _said(GEORGE, "zero point three zero", "ring gaps: 1 top 0.3 short 0.07", noise="compressor 15"),
    _word(GEORGE, "three turns"),
    _said(GEORGE, "zero point three two", "ring gaps: 1 top 0.32 short 0.05", noise="compressor 15"),
    _word(JOE, "Is anybody going to the bakery, or do I have to go there myself again?", "ignore"),
    _word(KEYPAD, "5/"),
    _said(KEYPAD, "0.35", "ring gaps: 1 top 0.35 short 0.02"),
    _word(KEYPAD, "4/"),
    _said(KEYPAD, "0.37", "ring gaps: 1 top 0.37 good"),
    _said(HEART, "cylinder two top, no go zero point three five", "ring gaps: 2 top <0.35 short 0.02"),
    _said(HEART, "zero point three eight", "ring gaps: 2 top 0.38 good"),
    _said(HEART, "cylinder one second, zero point four three", "ring gaps: 1 second 0.43 good"),
    # this one went over; no other bore takes it, and a new ring is filed instead
    _said(HEART, "cylinder two second, zero point five zero", "ring gaps: 2 second 0.5 over"),
    _said(HEART, "zero point four four", "ring gaps: 2 second 0.44 good", noise="air 18"),
    # the mains: shells less journal, both in one breath
    _word(HEART, "check main bearings"),
    _said(
        MICHAEL,
        "main one shells, forty five point zero five two, journal, forty five point zero zero one",
        "main bearings: 1 shells 45.052",
        "main bearings: 1 journal 45.001 good",
    ),
    _said(KEYPAD, "2*1*45.049", "main bearings: 2 shells 45.049"),
    _said(KEYPAD, "45.003", "main bearings: 2 journal 45.003 good"),
    _word(MICHAEL, "check end float"),
    _said(MICHAEL, "zero point one two millimetres", "end float: crank 0.12 good"),
    # the lash: one shim is changed, and both are measured again
    _word(MICHAEL, "check valve lash"),
    _said(EMMA, "cylinder one intake shim, two point six zero", "valve lash: 1 intake shim 2.6"),
    _said(EMMA, "lash, zero point zero eight", "valve lash: 1 intake lash 0.08 short 0.02"),
    _said(EMMA, "cylinder one intake shim, two point five five", "valve lash: 1 intake shim 2.55"),
    _said(EMMA, "lash, zero point one three", "valve lash: 1 intake lash 0.13 good"),
    _said(KEYPAD, "1*2*1*2.7", "valve lash: 1 exhaust shim 2.7"),
    _said(KEYPAD, "0.21", "valve lash: 1 exhaust lash 0.21 good"),
    _said(KEYPAD, "2.65", "valve lash: 2 intake shim 2.65"),
    _said(KEYPAD, "0.12", "valve lash: 2 intake lash 0.12 good"),
    _said(
        GEORGE,
        "cylinder two exhaust shim, two point seven five, lash, zero point two two",
        "valve lash: 2 exhaust shim 2.75",
        "valve lash: 2 exhaust lash 0.22 good",
    ),
    # last looks, what is left, home
    _word(GEORGE, "check last looks"),
    _word(GEORGE, "done"),
    _word(GEORGE, "done"),
    _word(KEYPAD, "0+"),
    _word(GEORGE, "done"),
    _word(EMMA, "what's left"),
    _word(EMMA, "finish"),
    _word(MICHAEL, "affirm"),
)
