"""What a keyed number means: by the same rules as the same number said aloud. Pure."""

from __future__ import annotations

from dataclasses import replace

from handsfree.understand.command import Reading
from handsfree.understand.meaning import Meaning, Window
from handsfree.understand.numbers import Amount, Spoken, lengths, plausible


def as_said(reading: Reading, window: Window | None) -> Meaning:
    """Take a keyed reading as the same number would be taken if it were said.

    ".018" is eighteen thou where thou are read, and "35" may be 0.35 mm where hundredths are: the window
    of its place chooses, and what the window doesn't hold stays as it was keyed.

    >>> from handsfree.length import length
    >>> meant = as_said(Reading(length("0.018")), (length("4.5"), length("45")))
    >>> str(meant.commands[0].value), meant.sure
    ('18 thou', True)
    """
    value, unit = reading.value.value, reading.value.unit
    spoken = Spoken((Amount(value),), pointed=0 < value < 1, whole=value == int(value))
    fitting = plausible(lengths(spoken, None, unit), window)
    if len(fitting) != 1:
        return Meaning((reading,))
    return Meaning((replace(reading, value=fitting[0].length),), fitting[0].sure)
