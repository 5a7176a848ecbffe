"""The demo's session, line by line: who says or keys what, under which noise, and what must come of it.

Everybody in it is synthetic and the engine is invented. The verdicts and the amounts left were worked
out by hand from the targets of ``plan.toml``, so that they check the program and aren't copied from it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass

MICHAEL, EMMA, HEART = "kokoro-am_michael", "kokoro-bf_emma", "kokoro-af_heart"
GEORGE, JOE = "kokoro-bm_george", "piper-joe"
KEYPAD = "keypad"


@dataclass(frozen=True)
class Line:
    """One recording, or one entry of the keypad.

    voice: a speaker of ``audio_fixtures``, or the keypad. text: what is said, or the keys before Enter.
    noise, snr_db: a kind of ``handsfree.recordings.noise`` and how far speech lies above it.
    expect: "reading" or "correction" (a value is logged), "ask" (nothing may be logged), "drowned"
        (nothing but the truth may be logged; it should be asked for), "ignore" (neither logged nor
        answered), "hold" (standing by: understood, not logged), or the procedure word that must be
        understood.
    cylinder, ring, value: where a value must be logged, and which, in thou. bound: "under" or "over"
        where a leaf gives only that. verdict, left: what must be said of it, in thou.
    """

    voice: str
    text: str
    expect: str
    cylinder: str = ""
    ring: str = ""
    value: str = ""
    bound: str = ""
    verdict: str = ""
    left: str = ""
    noise: str = ""
    snr_db: str = ""

    def rows(self) -> Iterator[dict[str, str]]:
        """Give the one row of the manifest that it makes."""
        yield asdict(self)


def _logged(
    voice: str,
    text: str,
    place: str,
    value: str,
    verdict: str,
    left: str = "",
    noise: str = "",
    *,
    expect: str = "reading",
    bound: str = "",
) -> Line:
    cylinder, ring = place.split()
    kind, _, snr_db = noise.partition(" ")
    return Line(voice, text, expect, cylinder, ring, value, bound, verdict, left, kind, snr_db)


STORY = (
    # one top starts short and is filed in three steps, with the compressor running for the last two
    _logged(MICHAEL, "cylinder one top, fourteen and a half thou", "1 top", "14.5", "short", "3.5"),
    _logged(MICHAEL, "sixteen thou", "1 top", "16", "short", "2"),
    _logged(MICHAEL, "seventeen and a quarter", "1 top", "17.25", "short", "0.75", "compressor 15"),
    _logged(MICHAEL, "eighteen thou", "1 top", "18", "good", "", "compressor 15"),
    # two top: a leaf that doesn't go in, talk across the bench, then the rest of the way
    _logged(EMMA, "cylinder two top, no go fifteen", "2 top", "15", "short", "3", bound="under"),
    Line(
        JOE,
        "Did anybody order more of the blue rags, or are we down to the last box again?",
        "ignore",
        noise="fan",
        snr_db="20",
    ),
    _logged(EMMA, "sixteen point five thou", "2 top", "16.5", "short", "1.5", "fan 15"),
    _logged(EMMA, "eighteen and a half thou", "2 top", "18.5", "good"),
    # three top by keypad: both hands are oily, but a thumb is free
    _logged(KEYPAD, "3*1*15", "3 top", "15", "short", "3"),
    _logged(KEYPAD, "16.75", "3 top", "16.75", "short", "1.25"),
    _logged(KEYPAD, "18", "3 top", "18", "good"),
    # four top has gone too far, and metal can't be put back
    _logged(GEORGE, "cylinder four top, twenty and three quarters", "4 top", "20.75", "over", "", "radio 18"),
    # five top: a slip of the tongue is corrected, then a roar drowns the next reading
    _logged(GEORGE, "cylinder five top, thirteen thou", "5 top", "13", "short", "5"),
    _logged(GEORGE, "correction, fifteen thou", "5 top", "15", "short", "3", expect="correction"),
    _logged(GEORGE, "seventeen thou", "5 top", "17", "short", "1", "pink -4", expect="drowned"),
    _logged(GEORGE, "seventeen thou", "5 top", "17", "short", "1"),
    # "eighteen five" may be eighteen and a half, or eighteen and then five: it is always asked about
    _logged(GEORGE, "eighteen five", "5 top", "18.5", "", "", expect="ask"),
    _logged(GEORGE, "affirm", "5 top", "18.5", "good", "", "air 15"),
    # six top, digit by digit, as figures are read out over a radio
    _logged(HEART, "cylinder six top, one eight decimal five", "6 top", "18.5", "good"),
    # somebody wants a word: nothing is logged until go ahead
    Line(HEART, "stand by", "stand by"),
    Line(MICHAEL, "nineteen thou", "hold"),
    Line(HEART, "go ahead", "go ahead"),
    # seven has a target of its own
    _logged(HEART, "cylinder seven top, eighteen and a half thou", "7 top", "18.5", "short", "0.5"),
    _logged(HEART, "nineteen thou", "7 top", "19", "good", "", "impacts 15"),
    _logged(HEART, "cylinder eight top, eighteen point two five thousandths", "8 top", "18.25", "good"),
    Line(HEART, "read back", "read back"),
    # the first two seconds, then home; what is missing is told before the sheet closes
    _logged(EMMA, "cylinder one second, twenty thou", "1 second", "20", "good"),
    _logged(KEYPAD, "2*2*19.5", "2 second", "19.5", "short", "0.5"),
    Line(EMMA, "finish", "finish"),
    Line(HEART, "affirm", "affirm"),
)
