"""Targets: a given figure, the maker's, or a factor of the bore.

Every factor that isn't the maker's is marked as common practice, no source.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache
from importlib.resources import files

from handsfree.length import Length, Unit, in_unit, lowest_form, plain

# Pi to 34 decimals; the error is less than the size of an atom on any engine.
PI = Fraction(Decimal("3.1415926535897932384626433832795028"))

# The step to which a computed gap is rounded up: the resolution of leaves [common practice, no source].
STEPS = {
    Unit.THOU: Length(Decimal("0.5"), Unit.THOU),
    Unit.INCH: Length(Decimal("0.0005"), Unit.INCH),
    Unit.MM: Length(Decimal("0.01"), Unit.MM),
    Unit.MICRON: Length(Decimal(10), Unit.MICRON),
}
OIL_RAILS = frozenset({"oil rail", "rail", "oil", "upper rail", "lower rail"})


def gap_for(bore: Length, factor: Decimal) -> Fraction:
    """Return the gap for a bore and a factor, in exact millimetres: G = D * f.

    Source: ring makers' fitting sheets state the gap as a factor of the bore; the form is theirs, the
    default factors here are common practice, no source. Units: the factor is a plain ratio.
    Worked example: 4.030 in times 0.0045 = 0.018135 in = 18.135 thou = 0.460629 mm.

    >>> from handsfree.length import length, in_unit
    >>> in_unit(gap_for(length("4.030", "in"), Decimal("0.0045")), Unit.THOU)
    Decimal('18.135')
    """
    return bore.mm * Fraction(factor)


def gap_change_mm(bore_change_mm: Fraction) -> Fraction:
    """Return the change of one ring's gap due to a change of bore: dG = pi * dD.

    Source: the ring's own length stays, and the bore's circumference is pi times its diameter.
    Both in millimetres. Worked example: a bore 1.5 thou smaller lower down closes a gap of 22.0
    thou to 22.0 - pi * 1.5 = 17.288 thou there.
    """
    return PI * bore_change_mm


def round_up(mm: Fraction, step: Length) -> Length:
    """Return `mm` rounded up to a whole number of steps; a gap is never rounded down.

    >>> from handsfree.length import length, millimetres_per
    >>> str(round_up(Fraction("18.135") * millimetres_per(Unit.THOU), length("0.5")))
    '18.5 thou'
    """
    steps = -((-mm) // step.mm)
    return Length(lowest_form(step.value * steps), step.unit)


@dataclass(frozen=True, slots=True)
class Duty:
    """A use of an engine, with the usual factors of each ring as (least, most)."""

    name: str
    about: str
    factors: dict[str, tuple[Decimal, Decimal]]

    def factor(self, ring: str) -> Decimal | None:
        """Return the greater of the usual factors: too small a gap breaks rings, too large leaks a little."""
        usual = self.factors.get(ring)
        return None if usual is None else usual[1]


@cache
def duties() -> dict[str, Duty]:
    """Return the known duties by name, from ``duties.toml`` beside this module."""
    text = (files("handsfree.plan") / "duties.toml").read_text("utf-8")
    table = tomllib.loads(text, parse_float=Decimal)
    return {
        name: Duty(
            name,
            entry["about"],
            {ring: (Decimal(entry[ring][0]), Decimal(entry[ring][1])) for ring in ("top", "second")},
        )
        for name, entry in table["duty"].items()
    }


@cache
def least_rail_gap() -> Length:
    """Return the least gap of an oil rail, whatever the bore [common practice, no source]."""
    text = (files("handsfree.plan") / "duties.toml").read_text("utf-8")
    figure = tomllib.loads(text, parse_float=Decimal)["rail"]["least_thou"]
    return Length(Decimal(figure), Unit.THOU)


@dataclass(frozen=True, slots=True)
class Target:
    """The aim and its inclusive limits.

    Each length keeps its own unit. `derivation` is the origin of the aim in words ("given", "the maker's
    figure", "bore 4.030 in times 0.0045 ...").
    """

    aim: Length
    lower: Length
    upper: Length
    derivation: str = "given"

    def __str__(self) -> str:
        return f"{self.aim} (from {self.lower} to {self.upper})"


class RecipeError(ValueError):
    """A recipe without a valid target. `key`: the key at fault in the table. The text is the remedy."""

    def __init__(self, key: str | None, sentence: str) -> None:
        super().__init__(sentence)
        self.key = key


@dataclass(frozen=True, slots=True)
class Recipe:
    """One table of targets, read but not yet computed for a bore.

    Of several aims the maker's wins, then the plan's own, then bore times factor. origin: the origin of the
    factor, in words. step: a computed aim is rounded up to this. filed: for a gap that only grows; its lower
    limit is its aim unless given.
    """

    unit: Unit
    step: Length
    filed: bool
    aim: Length | None = None
    maker: Length | None = None
    factor: Decimal | None = None
    origin: str = ""
    least: Length | None = None
    lower: Length | None = None
    upper: Length | None = None
    plus: Length | None = None
    minus: Length | None = None
    source: str | None = None

    def target(self, bore: Length | None, place: str = "") -> Target:
        """Return the target for a bore; `place` names that bore in words.

        Raises:
            RecipeError: there is no aim, or a limit is missing.
        """
        aim, derivation = self._aim(bore, place)
        return self._limits(aim, derivation)

    def _aim(self, bore: Length | None, place: str) -> tuple[Length, str]:
        computed = self._computed(bore, place)
        if self.maker is not None:
            words = f"the maker's figure {self.maker}"
            words += f" ({self.source})" if self.source else ""
            if self.aim is not None and self.aim.mm != self.maker.mm:
                words += f"; it wins over the plan's {self.aim}"
            if computed is not None:
                words += f"; instead of {computed[1]}"
            return self.maker, words
        if self.aim is not None:
            return self.aim, f"given ({self.source})" if self.source else "given"
        if computed is not None:
            return computed
        if self.least is not None:
            aim = round_up(self.least.mm, self.step)
            return aim, f"at least {self.least} whatever the bore (common practice, no source)"
        if not self.filed and self.lower is not None and self.upper is not None:
            return _middle(self.lower, self.upper), "the middle of the limits"
        if self.factor is not None:
            raise RecipeError(
                "factor", "a factor needs the bore of this cylinder; write it as bore in [engine]"
            )
        raise RecipeError(None, 'the target has no "aim"; add one, such as aim = "18 thou"')

    def _computed(self, bore: Length | None, place: str) -> tuple[Length, str] | None:
        if self.factor is None or bore is None:
            return None
        raw = gap_for(bore, self.factor)
        aim = round_up(raw, self.step)
        words = f"{place or 'bore'} {bore.value} {bore.unit} times {self.factor} is {_shown(raw, self.unit)}"
        if aim.mm != raw:
            words += f", up to {aim}"
        return aim, f"{words}; {self.origin}"

    def _limits(self, aim: Length, derivation: str) -> Target:
        lower, upper = self.lower, self.upper
        if self.plus is not None:
            upper = added(aim, self.plus, 1)
        if self.minus is not None:
            lower = added(aim, self.minus, -1)
        if lower is None and self.filed:
            lower = aim  # a filed gap must reach its aim and may only be larger
        if upper is None:
            raise RecipeError(None, 'the target has no upper limit; add "upper" or "plus"')
        if lower is None:
            raise RecipeError(None, 'the target has no lower limit; add "lower" or "minus"')
        return Target(aim, lower, upper, derivation)


def shifted(target: Target, bore_change_mm: Fraction, step: Length, words: str) -> Target:
    """Return the target for a measurement where the bore is wider than at its tightest place.

    The gap there reads larger by pi times the difference, so aim and limits move up by it,
    rounded up to `step`.

    Worked example: 22.0 thou at the top of a bore that is 1.5 thou smaller lower down is only
    17.288 there; to have 18 there takes 18 + 4.712, up to 23 thou at the top.
    """
    if bore_change_mm <= 0:
        return target
    shift = round_up(gap_change_mm(bore_change_mm), step)
    return Target(
        added(target.aim, shift, 1),
        added(target.lower, shift, 1),
        added(target.upper, shift, 1),
        f"{target.derivation}; {shift} more, {words}",
    )


def added(aim: Length, tolerance: Length, sign: int) -> Length:
    """Return aim plus `sign` times tolerance, exactly: in the aim's unit, or in millimetres.

    >>> from handsfree.length import length
    >>> str(added(length("18"), length("0.02", "mm"), 1))
    '0.4772 mm'
    """
    if aim.unit == tolerance.unit:
        return Length(aim.value + sign * tolerance.value, aim.unit)
    # A thou is exactly 0.0254 mm, so a sum in any of the units is exact in millimetres.
    return Length(in_unit(aim.mm + sign * tolerance.mm, Unit.MM, places=18), Unit.MM)


def _middle(lower: Length, upper: Length) -> Length:
    if lower.unit != upper.unit:
        raise RecipeError(
            None, "the limits are in two units, so no exact middle; write them in one or add an aim"
        )
    return Length((lower.value + upper.value) / 2, lower.unit)


def _shown(mm: Fraction, unit: Unit) -> str:
    return f"{plain(in_unit(mm, unit, places=4))} {unit}"
