"""Event identities that sort by time.

Source: RFC 9562, section 5.7 (UUID version 7) and section 6.2, method 2 (monotonic random).
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from datetime import datetime
from uuid import UUID

_RANDOM_BITS = 74  # 12 bits of rand_a and 62 of rand_b
_STEP_BITS = 32  # largest random step to a second id of the same millisecond, which can't be guessed


class Identities:
    """A source of UUIDs of version 7, each greater than the last, even if the clock goes back."""

    def __init__(self, bits: Callable[[int], int] = secrets.randbits, after: str | None = None) -> None:
        """Start after the id `after`; `bits(n)` returns n random bits."""
        self._bits = bits
        self._millisecond = -1
        self._random = 0
        if after is not None:
            self.follow(after)

    def follow(self, identity: str) -> None:
        """Make every later id greater than `identity`, if that is a version 7 UUID."""
        try:
            known = UUID(identity)
        except ValueError:
            return
        if known.version == 7:
            number = known.int
            random = (number >> 64 & 0xFFF) << 62 | number & (1 << 62) - 1
            self._millisecond, self._random = max((self._millisecond, self._random), (number >> 80, random))

    def give(self, at: datetime) -> str:
        """Return the next id, made at the aware time `at`.

        >>> from datetime import UTC
        >>> Identities(bits=lambda n: 0).give(datetime(2022, 2, 22, 19, 22, 22, tzinfo=UTC))
        '017f22e2-79b0-7000-8000-000000000000'
        """
        millisecond = max(0, round(at.timestamp() * 1000))  # a clock that was never set may be before 1970
        if millisecond > self._millisecond:
            self._millisecond = millisecond
            self._random = self._bits(_RANDOM_BITS - 1)  # the top bit is left free as room for counting
        else:
            self._random += 1 + self._bits(_STEP_BITS)
            if self._random >> _RANDOM_BITS:
                self._millisecond += 1
                self._random = self._bits(_RANDOM_BITS - 1)
        number = self._millisecond << 80 | 7 << 76 | (self._random >> 62) << 64 | 2 << 62
        return str(UUID(int=number | self._random & (1 << 62) - 1))
