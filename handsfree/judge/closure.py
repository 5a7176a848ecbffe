"""Whether a ring will butt when hot: an estimate from assumed temperatures, never a target.

The result depends on temperatures that nobody at a bench knows, so it is a range; the ring maker's figure
overrides it.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from handsfree.length import Length
from handsfree.plan import PI, Hot

REMARK = "an estimate from assumed temperatures; the maker's figure decides"


def closure_mm(bore: Length, hot: Hot, ring_rise: Decimal) -> Fraction:
    """Return the closing of the gap in exact millimetres.

    C = pi * D * (a_r * dT_r - a_b * dT_b): the growth of the ring's length less the growth of the bore's
    circumference. This is a simplified form; the exact one leaves G * a_r * dT_r more, so this errs on the
    safe side.

    Args:
        bore: diameter D, cold.
        hot: expansion a of ring and bore in 1/K, and the bore's rise of temperature in K.
        ring_rise: the ring's rise of temperature in K.

    Source: linear thermal expansion; coefficients as ``materials.toml`` says. Worked example:
    4.030 in, ductile iron (11e-6) up by 200 K in grey iron (10e-6) up by 90 K: 16.459 thou.
    """
    growth = Fraction(hot.ring.expansion) * Fraction(ring_rise)
    room = Fraction(hot.bore.expansion) * Fraction(hot.bore_rise)
    return PI * bore.mm * (growth - room)


@dataclass(frozen=True, slots=True)
class Closure:
    """The remaining gap when hot, from the greater to the lesser assumed rise of the ring.

    least_mm, most_mm: negative if the ends would meet. butts: the least is zero or below. short: the least
    is below the plan's margin. remark: the nature of the estimate, for display.
    """

    least_mm: Fraction
    most_mm: Fraction
    butts: bool
    short: bool
    remark: str = REMARK


def hot_gap(gap: Length, bore: Length, hot: Hot) -> Closure:
    """Return the estimate of a gap in a running engine; see `closure_mm`.

    Worked example: 18.135 thou in 4.030 in at 200 K leaves 18.135 - 16.459 = 1.676 thou; at 240 K
    it would be 3.894 thou short of not butting.
    """
    least, most = (gap.mm - closure_mm(bore, hot, rise) for rise in reversed(hot.ring_rise))
    return Closure(least, most, least <= 0, least < hot.margin.mm)


def butting_rise(gap: Length, bore: Length, hot: Hot) -> Fraction:
    """Return the ring's rise of temperature at which its ends would meet, in K.

    dT_r = (G / (pi * D) + a_b * dT_b) / a_r. Worked example: row 1 of the above, 212.0 K.
    """
    room = Fraction(hot.bore.expansion) * Fraction(hot.bore_rise)
    return (gap.mm / (PI * bore.mm) + room) / Fraction(hot.ring.expansion)
