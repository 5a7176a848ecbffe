"""What is kept of a person between sessions: how fast and loud the voice is, and when cautions were told."""

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
"""Words a minute that the voice may be set to."""


@dataclass(frozen=True, slots=True)
class Preferences:
    """What one person has set.

    words_per_minute, volume: None where it was never set.
    told: the day on which cautions were told last, by person and plan.
    """

    words_per_minute: int | None = None
    volume: float | None = None
    told: Mapping[str, str] = field(default_factory=dict)

    def cautioned(self, who: str, plan: str, today: date) -> bool:
        """Return whether this person was told the cautions of this plan today."""
        return self.told.get(_key(who, plan)) == today.isoformat()

    def with_voice(self, began: tuple[int, float], ended: tuple[int, float]) -> Preferences:
        """Return the same with what a session changed of rate and volume."""
        rate = self.words_per_minute if ended[0] == began[0] else ended[0]
        volume = self.volume if ended[1] == began[1] else ended[1]
        return replace(self, words_per_minute=rate, volume=volume)

    def with_told(self, who: str, plan: str, today: date) -> Preferences:
        """Return the same with the cautions told; days that have passed are dropped."""
        kept = {key: day for key, day in self.told.items() if day == today.isoformat()}
        return replace(self, told=kept | {_key(who, plan): today.isoformat()})


def _key(who: str, plan: str) -> str:
    return json.dumps([who, plan])


def preferences_path() -> Path:
    """Return where they are kept, whether anything is there or not."""
    import platformdirs

    return Path(platformdirs.user_data_path("handsfree", appauthor=False)) / "preferences.json"


def load_preferences(path: Path | None = None) -> Preferences:
    """Read them; what can't be read counts as never set, since no work depends on it."""
    try:
        form = json.loads((path or preferences_path()).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return Preferences()
    return _from(form) if isinstance(form, dict) else Preferences()


def save_preferences(preferences: Preferences, path: Path | None = None) -> None:
    """Write them, whole or not at all; where that can't be done they hold for this session only."""
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
