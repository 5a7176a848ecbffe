"""A user's preferences between sessions: rate and volume of the voice, and the day of the last cautions."""

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


@dataclass(frozen=True, slots=True)
class Preferences:
    """The preferences of one user.

    words_per_minute, volume: None if never set.
    told: the day of the last cautions, by person and plan.
    """

    words_per_minute: int | None = None
    volume: float | None = None
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
    return Preferences(
        rate if isinstance(rate, int) and SLOWEST <= rate <= FASTEST else None,
        float(volume) if isinstance(volume, int | float) and 0 <= volume <= 1 else None,
        {str(key): str(day) for key, day in told.items()} if isinstance(told, dict) else {},
    )
