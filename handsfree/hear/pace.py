"""How long words take to say: the check that a phrase is as long as the sound was.

A decoder of this kind likes short answers to long sounds. People don't: over the project's own
fixtures (22 synthetic voices, `audio_fixtures/`) the length of a phrase in seconds is close to
0.158 + 0.069 for each letter, with a spread of 0.16 in its logarithm. The spread used here is
twice that, because people at a bench pause and drawl.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

_BASE_S = 0.158
_LETTER_S = 0.069
_SPREAD = 0.32


def expected_s(words: Sequence[str]) -> float:
    """Seconds that words take at an ordinary pace.

    >>> round(expected_s(["cylinder", "three", "top", "eighteen"]), 2)
    1.81
    """
    return _BASE_S + _LETTER_S * sum(len(word) for word in words)


def pace(words: Sequence[str], spoken_s: float) -> float:
    """Logarithm of how much longer the sound is than the words take; 0 is an ordinary pace."""
    return math.log(max(spoken_s, 0.05) / expected_s(words))


def pace_logp(words: Sequence[str], spoken_s: float) -> float:
    """Log-probability of the pace, up to a constant: 0 at best, less the odder it is."""
    return -0.5 * (pace(words, spoken_s) / _SPREAD) ** 2
