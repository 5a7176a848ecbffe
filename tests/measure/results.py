"""What the benches do alike with their results: show each as it comes, and keep them beside the bench."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent


def shown(results: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Print each result as one JSON object a line as soon as it is there, and give them all."""
    kept = []
    for result in results:
        kept.append(result)
        print(json.dumps(result), flush=True)
    return kept


def keep(name: str, results: Sequence[dict[str, Any]], table: str, note: str) -> None:
    """Write results to ``NAME.json`` and their table, with a note below it, to ``NAME.md``."""
    (HERE / f"{name}.json").write_text(json.dumps(results, indent=1) + "\n", "utf-8")
    (HERE / f"{name}.md").write_text(f"{table}\n\n{note}\n", "utf-8")
