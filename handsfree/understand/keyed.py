"""The meaning of a keyed number, by the rules of the spoken number. Pure."""

from __future__ import annotations

from dataclasses import replace

from handsfree.understand.command import Reading
from handsfree.understand.meaning import Meaning, Window
from handsfree.understand.numbers import Amount, SpokenNumber, lengths, plausible


def as_said(reading: Reading, window: Window | None) -> Meaning:
    """Interpret a keyed reading as the same number when spoken.

    ".018" is eighteen thou in a check in thou, and "35" may be 0.35 mm in a check in millimetres: the
    window of its place chooses, and a number outside the window stays as it was keyed.

    >>> from handsfree.length import length
    >>> meant = as_said(Reading(length("0.018")), (length("4.5"), length("45")))
    >>> str(meant.commands[0].value), meant.sure
    ('18 thou', True)
    """
    value, unit = reading.value.value, reading.value.unit
    spoken = SpokenNumber((Amount(value),), pointed=0 < value < 1, whole=value == int(value))
    fitting = plausible(lengths(spoken, None, unit), window)
    if len(fitting) != 1:
        return Meaning((reading,))
    return Meaning((replace(reading, value=fitting[0].length),), fitting[0].sure)
