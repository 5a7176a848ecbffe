"""Statistics of checks as PDF or SVG, set by typst from a template beside this file."""

from __future__ import annotations

import json
from collections.abc import Sequence
from importlib.resources import files

from handsfree.errors import HandsfreeError, install_extra
from handsfree.export.build_sheet import FONTS, printable
from handsfree.export.capability import Capability, Interval, Sample, bins

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
        "samples": [_sample(sample, found) for sample, found in pairs],
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


def _sample(sample: Sample, found: Capability) -> dict[str, object]:
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
