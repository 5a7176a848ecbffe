"""How the voice was heard at the bench, counted from journals, with Wilson's interval."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from statistics import NormalDist

from handsfree.errors import JournalError
from handsfree.journal import Sounds
from handsfree.recordings import over_noise_db, wilson
from handsfree.session import Account, Recorded, Spoken, account

HEARD_CAUTION = (
    "That a reading stood is no proof that it was right: nobody may have noticed. One corrected or removed "
    "may have been your own slip, or measured anew. Ignored: sound that was taken for talk, counted up to "
    "the last entry of each journal."
)
HEARD_COLUMNS = ("", "logged", "stood", "corrected", "removed", "asked about", "ignored")

_NO_SOUND = "no sound kept"
_LOUDNESS = ((20.0, "20 dB and more"), (10.0, "10 to 20 dB"), (-1000.0, "under 10 dB"))


def heard_rows(
    said: Sequence[tuple[Spoken, Recorded]], confidence: float = 0.95
) -> Iterator[tuple[str, ...]]:
    """Yield the rows of a table with `HEARD_COLUMNS`: all, then by person, check and speech over noise.

    said: what was said, each with its journal, beside which its sound may be kept.
    """
    journals = {id(one): recorded for one, recorded in said}
    groups: tuple[tuple[str, Callable[[Spoken], str]], ...] = (
        ("", lambda _: "all"),
        ("by person", lambda one: one.who or "nobody named"),
        ("by check", lambda one: one.check),
        ("speech over noise", lambda one: _loudness(one, journals[id(one)])),
    )
    for title, by in groups:
        counted = account([one for one, _ in said], by)
        if title:
            yield title, *[""] * (len(HEARD_COLUMNS) - 1)
        for name in _ordered(counted):
            yield f"  {name}" if title else name, *_counts(counted[name], confidence)


def _ordered(names: Iterable[str]) -> list[str]:
    """Return names in the order of their first, but levels from the quietest room on."""
    fixed = [name for _, name in _LOUDNESS] + [_NO_SOUND]
    return sorted(names, key=lambda name: fixed.index(name) if name in fixed else -1)


def _counts(one: Account, confidence: float) -> tuple[str, ...]:
    """Return the cells of a row: shares of the logged readings, and of what was logged or asked about."""
    z = NormalDist().inv_cdf(0.5 + confidence / 2)

    def share(count: int, total: int) -> str:
        if not total:
            return str(count)
        low, high = wilson(count, total, z)
        return f"{count}: {100 * count / total:.1f} % [{100 * low:.1f}-{100 * high:.1f}]"

    return (
        str(one.readings),
        share(one.stood, one.readings),
        str(one.corrected),
        str(one.removed),
        share(one.asked, one.readings + one.asked),
        str(one.ignored),
    )


def _loudness(one: Spoken, recorded: Recorded) -> str:
    """Return how far an utterance lay above the noise, by its kept sound."""
    if one.sound is None:
        return _NO_SOUND
    try:
        found = over_noise_db(Sounds.beside(recorded.path.resolve()).load(one.sound))
    except JournalError:
        return _NO_SOUND
    return _NO_SOUND if found is None else next(name for least, name in _LOUDNESS if found >= least)
