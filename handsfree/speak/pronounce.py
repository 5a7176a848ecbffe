"""Words that speech engines say wrongly, spelled so that they say them as the shop does.

"Thou" is a pronoun to every engine; the shop says it as in "thousand".
"""

from __future__ import annotations

import re

# The engine espeak-ng takes phonemes in double brackets (its Kirshenbaum-like mnemonics); other
# engines get a respelling that English letter-to-sound rules read alike.
_PHONEMES = {"thou": "[[T'aU]]"}
_RESPELLED = {"thou": "thow"}

# "Seventeen and a half" in one breath is heard as seventy and a half, "forty and" as fourteen, and
# "thirty-one" as thirteen, by the recogniser that judges the voice (`tests/outside/test_voice_heard.py`).
_TEN_AND = re.compile(r"(teen|ty)(?= and (?:a|three) (?:half|quarter))", re.IGNORECASE)
_TENS_HYPHEN = re.compile(r"(?<=ty)-(?=(?:one|two|three|four|five|six|seven|eight|nine)\b)", re.IGNORECASE)
# "Eight top" runs its two t together, and its first word isn't heard: a breath between them, where the
# engine has a way to ask for one.
_EIGHT_TOP = re.compile(r"\b(eight) (?=top\b)", re.IGNORECASE)
_BREATH = "[[_:]]"
_WORDS = re.compile(rf"\b({'|'.join(_PHONEMES)})\b", re.IGNORECASE)


def pronounceable(text: str, engine: str) -> str:
    """Spell a sentence for an engine.

    Args:
        text: the sentence in plain English.
        engine: the engine's name as pyttsx3 has it; "espeak" understands phonemes.

    >>> pronounceable("Eighteen thou.", "espeak")
    "Eighteen [[T'aU]]."
    >>> pronounceable("Eighteen thou, a thousand.", "sapi5")
    'Eighteen thow, a thousand.'
    >>> pronounceable("Seventeen and a half. Forty and a quarter.", "espeak")
    'Seventeen, and a half. Forty, and a quarter.'
    >>> pronounceable("Thirty-one.", "espeak")
    'Thirty one.'
    >>> pronounceable("Eight top, nine.", "espeak")
    'Eight [[_:]] top, nine.'
    """
    table = _PHONEMES if engine == "espeak" else _RESPELLED
    # a label with brackets must not be taken for phonemes
    plain = text.replace("[[", "").replace("]]", "")
    apart = _TENS_HYPHEN.sub(" ", _TEN_AND.sub(r"\1,", plain))
    if engine == "espeak":
        apart = _EIGHT_TOP.sub(rf"\1 {_BREATH} ", apart)
    return _WORDS.sub(lambda word: table[word[0].lower()], apart)
