"""A user's preferences between sessions: the voice, how much is said, and the day of the last cautions."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any

SLOWEST, FASTEST = 80, 400
"""Range of the voice's rate, words a minute."""

STYLES = ("terse", "normal", "full")
"""How much the answers say."""


@dataclass(frozen=True, slots=True)
class Preferences:
    """The preferences of one user.

    words_per_minute, volume, answers (one of `STYLES`): None if never set.
    told: the day of the last cautions, by person and plan.
    """

    words_per_minute: int | None = None
    volume: float | None = None
    answers: str | None = None
    told: Mapping[str, str] = field(default_factory=dict)

    def cautioned(self, who: str, plan: str, today: date) -> bool:
        """Return whether this person heard the cautions of this plan today."""
        return self.told.get(_key(who, plan)) == today.isoformat()

    def with_voice(self, began: tuple[int, float], ended: tuple[int, float]) -> Preferences:
        """Return a copy with a session's changes of rate and volume."""
        rate = self.words_per_minute if ended[0] == began[0] else ended[0]
        volume = self.volume if ended[1] == began[1] else ended[1]
        return replace(self, words_per_minute=rate, volume=volume)

    def with_told(self, who: str, plan: str, today: date) -> Preferences:
        """Return a copy with today's cautions; earlier days are dropped."""
        kept = {key: day for key, day in self.told.items() if day == today.isoformat()}
        return replace(self, told=kept | {_key(who, plan): today.isoformat()})


def _key(who: str, plan: str) -> str:
    return json.dumps([who, plan])


def settings(kept: Preferences) -> dict[str, Any]:
    """Return what a person may set, with its choices, as plain data for a form.

    told: how many cautions were heard today and aren't said again.
    """
    return {
        "rate": kept.words_per_minute,
        "slowest": SLOWEST,
        "fastest": FASTEST,
        "volume": kept.volume,
        "answers": kept.answers,
        "styles": list(STYLES),
        "told": len(kept.told),
    }


def changed(kept: Preferences, form: Mapping[str, Any]) -> tuple[Preferences, dict[str, str]]:
    """Return the preferences with a form's settings, and what is wrong with these, by field.

    A missing setting is as if never set; "tell" (true) has the cautions told again.
    """
    rate, volume, answers = (form.get(name) for name in ("rate", "volume", "answers"))
    faults = {}
    if rate is not None and not (type(rate) is int and SLOWEST <= rate <= FASTEST):
        faults["rate"] = f"write a whole number from {SLOWEST} to {FASTEST}, or nothing"
    if volume is not None and not (type(volume) in {int, float} and 0 <= volume <= 1):
        faults["volume"] = "write a number from 0 to 1, or nothing"
    if answers is not None and answers not in STYLES:
        faults["answers"] = f"choose one of {', '.join(STYLES)}"
    if faults:
        return kept, faults
    loud = None if volume is None else float(volume)
    told = {} if form.get("tell") is True else kept.told
    return replace(kept, words_per_minute=rate, volume=loud, answers=answers, told=told), {}


def preferences_path() -> Path:
    """Return the path of the preferences, which may not exist yet."""
    import platformdirs

    return Path(platformdirs.user_data_path("handsfree", appauthor=False)) / "preferences.json"


def load_preferences(path: Path | None = None) -> Preferences:
    """Read the preferences; unreadable ones count as never set, since no work depends on them."""
    try:
        form = json.loads((path or preferences_path()).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return Preferences()
    return _from(form) if isinstance(form, dict) else Preferences()


def save_preferences(preferences: Preferences, path: Path | None = None) -> None:
    """Write the preferences atomically; if that fails, they hold for this session only."""
    path = path or preferences_path()
    form = {
        "words_per_minute": preferences.words_per_minute,
        "volume": preferences.volume,
        "answers": preferences.answers,
        "told": dict(preferences.told),
    }
    unfinished: Path | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile("w", dir=path.parent, delete=False, encoding="utf-8") as part:
            unfinished = Path(part.name)
            part.write(json.dumps(form, indent=1) + "\n")
        unfinished.replace(path)
    except OSError:
        if unfinished is not None:
            with suppress(OSError):
                unfinished.unlink()


def _from(form: Mapping[str, Any]) -> Preferences:
    rate, volume, told = form.get("words_per_minute"), form.get("volume"), form.get("told")
    answers = form.get("answers")
    return Preferences(
        rate if isinstance(rate, int) and SLOWEST <= rate <= FASTEST else None,
        float(volume) if isinstance(volume, int | float) and 0 <= volume <= 1 else None,
        answers if answers in STYLES else None,
        {str(key): str(day) for key, day in told.items()} if isinstance(told, dict) else {},
    )
