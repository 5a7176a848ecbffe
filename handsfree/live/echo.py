"""The delay after which the bench's own voice reaches its microphone. Pure.

A sound server, a wireless loudspeaker or a busy machine may delay sound for longer than its device reports.
If the microphone hears the answers, the beginning of each shows the delay; the ears stay shut for that time
after its end.
"""

from __future__ import annotations

from collections import deque
from statistics import median

import numpy as np

from handsfree.hear import SAMPLERATE_HZ, Samples
from handsfree.recordings import level_db, to_sound

_PIECE = SAMPLERATE_HZ // 100
_KEPT_S = 60.0  # longer than any answer
_BEFORE_S = 0.3  # for the level of the room before the answer
_LATEST_S = 1.0  # anything later is the user's speech
_RISE_DB = 12.0
_LONG_S = 0.05  # shortest loud sound that is not a click
_ANSWERS = 3


class Echo:
    """Follows the microphone while the ears are shut."""

    def __init__(self) -> None:
        self._levels: deque[tuple[float, float]] = deque()  # when a piece ended, and its level
        self._late: deque[float] = deque(maxlen=_ANSWERS)

    @property
    def late_s(self) -> float:
        """The delay of the last answer's end at the microphone; 0 if no answer was ever heard."""
        return max(self._late[-1], median(self._late)) if self._late else 0.0

    def hear(self, samples: Samples, at_s: float) -> None:
        """Take (n,) int16, 16 kHz mono; `at_s`: when the last of them was captured."""
        sound = to_sound(samples)
        for end in range(_PIECE, len(sound) + 1, _PIECE):
            when = at_s - (len(sound) - end) / SAMPLERATE_HZ
            self._levels.append((when, level_db(sound[end - _PIECE : end])))
        while self._levels and self._levels[0][0] < at_s - _KEPT_S:
            self._levels.popleft()

    def played(self, began_at: float) -> None:
        """Learn from an answer whose first sample left the device at that time."""
        before = [level for when, level in self._levels if began_at - _BEFORE_S <= when < began_at]
        after = [(when, level) for when, level in self._levels if began_at <= when < began_at + _LATEST_S]
        self._levels.clear()
        if not before or not after:
            return
        loud = np.array([level for _, level in after]) > median(before) + _RISE_DB
        needed = round(_LONG_S * SAMPLERATE_HZ / _PIECE)
        for start in range(len(loud) - needed + 1):
            if loud[start : start + needed].all():
                self._late.append(max(0.0, after[start][0] - _PIECE / SAMPLERATE_HZ - began_at))
                return
