"""Statistics of a check over many engines: mean, spread, and how well the spread fits the limits.

Sources: sample mean, standard deviation, Student's interval of the mean and the chi-square interval of
the deviation are textbook. Cp = (U - L) / 6 s and Cpk = min(U - mean, mean - L) / 3 s, with
the interval of Cp from chi-square and that of Cpk as Cpk +- z sqrt(1 / 9n + Cpk^2 / (2 (n - 1))):
NIST/SEMATECH e-Handbook of Statistical Methods, section 6.1.6 (from memory), the last by Bissell 1990.
All of them assume a stable process and a normal distribution. Few shops have both, so the statistics are
an aid and no proof.
Plotted as PDF or SVG by typst, from a template beside this file.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from importlib.resources import files
from statistics import NormalDist

from handsfree.errors import HandsfreeError, install_extra
from handsfree.export.build_sheet import FONTS, printable
from handsfree.judge import chi_square_quantile, student_quantile
from handsfree.length import Length, Unit, as_given, millimetres_per
from handsfree.plan import Target
from handsfree.session import Recorded, Result, results

Interval = tuple[float, float]


@dataclass(frozen=True)
class Sample:
    """Figures of one check with the same limits.

    figures: exact, in the order of the sessions. left_out: number of items without a figure (no entry,
    or only a bound). sessions: number of sessions with figures.
    """

    check: str
    target: Target
    unit: Unit
    figures: tuple[Length, ...]
    left_out: int
    sessions: int

    @property
    def values(self) -> list[float]:
        """The figures in `unit`, for computing and drawing."""
        return [float(figure.mm / millimetres_per(self.unit)) for figure in self.figures]

    @property
    def limits(self) -> Interval:
        """The limits in `unit`."""
        lower, upper = self.target.lower.mm, self.target.upper.mm
        return float(lower / millimetres_per(self.unit)), float(upper / millimetres_per(self.unit))

    @property
    def name(self) -> str:
        """The check with its limits."""
        return f"{self.check}, {as_given(self.target.lower.value)} to {self.target.upper}"


@dataclass(frozen=True)
class Capability:
    """Statistics of a sample, in its unit; None where it is too small or has no spread.

    within: number of figures within the limits, inclusive. Intervals are two-sided and hold the true
    value with `confidence`.
    """

    n: int
    mean: float | None
    deviation: float | None
    least: float | None
    most: float | None
    within: int
    confidence: float
    mean_interval: Interval | None
    deviation_interval: Interval | None
    cp: float | None
    cp_interval: Interval | None
    cpk: float | None
    cpk_interval: Interval | None


def samples(sessions: Iterable[Recorded], check: str | None = None) -> list[Sample]:
    """Gather the figures of many sessions by check and limits.

    Args:
        sessions: the recorded sessions.
        check: name of a check; None for all checks.
    """
    groups: dict[tuple[str, Fraction, Fraction], list[tuple[int, Result]]] = {}
    for number, recorded in enumerate(sessions):
        for result in results(recorded.session):
            target = result.target
            if target is not None and check in (None, result.check.name):
                key = (result.check.name, target.lower.mm, target.upper.mm)
                groups.setdefault(key, []).append((number, result))
    return [_sample(name, found) for (name, _, _), found in groups.items()]


def _sample(name: str, found: Sequence[tuple[int, Result]]) -> Sample:
    figures = [(number, result.figure) for number, result in found if result.figure is not None]
    first = found[0][1]
    assert first.target is not None  # noqa: S101 - only results with a target are gathered
    return Sample(
        check=name,
        target=first.target,
        unit=first.check.unit,
        figures=tuple(figure for _, figure in figures),
        left_out=len(found) - len(figures),
        sessions=len({number for number, _ in figures}),
    )


def capability(values: Sequence[float], limits: Interval, confidence: float = 0.95) -> Capability:
    """Return the statistics of values against limits, all in one unit.

    Worked example (NIST/SEMATECH e-Handbook, 6.1.6, from memory): limits 8 and 20, mean 16, standard
    deviation 2 give Cp 1.0 and Cpk 0.6667.
    """
    n = len(values)
    lower, upper = limits
    within = sum(lower <= value <= upper for value in values)
    mean = math.fsum(values) / n if n else None
    least, most = (min(values), max(values)) if n else (None, None)
    if n < 2 or mean is None:
        return Capability(n, mean, None, least, most, within, confidence, None, None, None, None, None, None)
    deviation = math.sqrt(math.fsum((value - mean) ** 2 for value in values) / (n - 1))
    return Capability(
        n,
        mean,
        deviation,
        least,
        most,
        within,
        confidence,
        *_intervals(n, mean, deviation, limits, confidence),
    )


def _intervals(
    n: int, mean: float, deviation: float, limits: Interval, confidence: float
) -> tuple[Interval, Interval, float | None, Interval | None, float | None, Interval | None]:
    lower, upper = limits
    tail = (1 - confidence) / 2
    reach = student_quantile(1 - tail, n - 1) * deviation / math.sqrt(n)
    low, high = (math.sqrt(chi_square_quantile(p, n - 1) / (n - 1)) for p in (tail, 1 - tail))
    mean_interval, deviation_interval = (mean - reach, mean + reach), (deviation / high, deviation / low)
    if deviation == 0:
        return mean_interval, deviation_interval, None, None, None, None
    cp = (upper - lower) / (6 * deviation)
    cpk = min(upper - mean, mean - lower) / (3 * deviation)
    z = NormalDist().inv_cdf(1 - tail)
    spread = z * math.sqrt(1 / (9 * n) + cpk**2 / (2 * (n - 1)))
    return mean_interval, deviation_interval, cp, (cp * low, cp * high), cpk, (cpk - spread, cpk + spread)


def bins(values: Sequence[float], limits: Interval, most: int = 16) -> list[tuple[float, float, int]]:
    """Count values in equal bins of a round width that cover the limits and all values.

    Returns:
        Lower end (inclusive), upper end (exclusive) and count of each bin, in order.
    """
    ends = [*values, *limits]
    low, high = min(ends), max(ends)
    width = _round_up((high - low) / most or 1.0)
    first = math.floor(low / width + 1e-9)
    last = math.floor(high / width + 1e-9)
    counts = [0] * (last - first + 1)
    for value in values:
        counts[min(max(math.floor(value / width + 1e-9) - first, 0), last - first)] += 1
    return [((first + i) * width, (first + i + 1) * width, count) for i, count in enumerate(counts)]


def _round_up(width: float) -> float:
    """Return the next larger width of the series 1, 2, 5, 10."""
    power = 10.0 ** math.floor(math.log10(width))
    return next(step * power for step in (1, 2, 5, 10) if step * power >= width * (1 - 1e-9))


CAUTION = (
    "Cp and Cpk suppose a steady process and a normal spread, and few figures say little: see the interval. "
    "They describe what was measured, not what may be fitted; the maker's limits decide."
)


def figure_text(value: float | None) -> str:
    """Return a computed figure with four significant digits; "-" for None."""
    return "-" if value is None else f"{value:.4g}"


def interval_text(interval: Interval | None) -> str:
    """Return an interval as text."""
    return "-" if interval is None else f"{interval[0]:.4g} to {interval[1]:.4g}"


def facts(sample: Sample, found: Capability) -> list[tuple[str, str]]:
    """Return the statistics of a sample as names and texts, for tables."""
    sure = f"({found.confidence:.0%})"
    return [
        ("n", str(found.n)),
        ("sessions", str(sample.sessions)),
        (f"mean, {sample.unit}", figure_text(found.mean)),
        (f"mean {sure}", interval_text(found.mean_interval)),
        (f"s, {sample.unit}", figure_text(found.deviation)),
        (f"s {sure}", interval_text(found.deviation_interval)),
        ("Cp", figure_text(found.cp)),
        (f"Cp {sure}", interval_text(found.cp_interval)),
        ("Cpk", figure_text(found.cpk)),
        (f"Cpk {sure}", interval_text(found.cpk_interval)),
        ("inside", f"{found.within} of {found.n}"),
        ("left out", str(sample.left_out)),
    ]


def plot(pairs: Sequence[tuple[Sample, Capability]], file_format: str, *, paper: str = "a4") -> bytes:
    """Return a drawing of samples against their limits.

    Args:
        pairs: each sample with its statistics.
        file_format: "pdf" or "svg".
        paper: for PDF, "a4" or "us-letter".

    Raises:
        HandsfreeError: typst isn't installed.
    """
    try:
        import typst
    except ImportError as fault:
        raise HandsfreeError(f"Plots need the package typst: {install_extra('export')}.") from fault
    content = {
        "title": "Statistics of checks",
        "paper": paper,
        "loose": file_format == "svg",
        "fonts": list(FONTS),
        "caution": CAUTION,
        "samples": [_drawn(sample, found) for sample, found in pairs],
    }
    drawn = typst.compile(
        files("handsfree.export").joinpath("capability.typ").read_bytes(),
        format="svg" if file_format == "svg" else "pdf",
        sys_inputs={"statistics": json.dumps(content)},
        ignore_system_fonts=True,
        timestamp=0,
    )
    if not isinstance(drawn, bytes):
        raise HandsfreeError("The plot takes more than one page; name one check, or ask for PDF.")
    return drawn


def _drawn(sample: Sample, found: Capability) -> dict[str, object]:
    counted = bins(sample.values, sample.limits)
    left, right = counted[0][0], counted[-1][1]

    def at(value: float) -> float:
        return round((value - left) / (right - left), 5)

    lower, upper = sample.limits
    marks = [
        {"at": at(lower), "label": figure_text(lower), "dash": "solid"},
        {"at": at(upper), "label": figure_text(upper), "dash": "solid"},
    ]
    if found.mean is not None:
        marks.append({"at": at(found.mean), "label": "mean", "dash": "dashed"})
    return {
        "name": printable(f"{sample.name} ({sample.unit})", 160),
        "facts": facts(sample, found),
        "bins": [{"from": at(low), "to": at(high), "count": count} for low, high, count in counted],
        "marks": marks,
    }
