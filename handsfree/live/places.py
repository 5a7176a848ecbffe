"""Where a live session keeps what it makes."""

from __future__ import annotations

from pathlib import Path


def journal_beside(plan: Path) -> Path:
    """Name the journal that goes with a plan when none is named: beside it, with its name.

    >>> str(journal_beside(Path("engines/heron.toml")))
    'engines/heron.journal'
    """
    return plan.with_suffix(".journal")


def phrases_folder() -> Path:
    """Give the folder where rendered phrases outlive a session: the user's cache."""
    import platformdirs

    return Path(platformdirs.user_cache_dir("handsfree")) / "voice"
