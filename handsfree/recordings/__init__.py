"""Recordings as test material: manifests, noise, levels, scores."""

from handsfree.recordings.manifest import NAME, PLAN_NAME, ManifestRow, plan_for, read_manifest
from handsfree.recordings.noise import active_level_db, level_db, over_noise_db, to_sound
from handsfree.recordings.score import (
    ASKED,
    IGNORED,
    RIGHT,
    WRONG,
    Condition,
    Recognised,
    Scored,
    check_condition,
    judge_command,
    judge_row,
    report,
    rows_of,
    score_rows,
    scored_row,
    wilson,
)

__all__ = [
    "ASKED",
    "IGNORED",
    "NAME",
    "PLAN_NAME",
    "RIGHT",
    "WRONG",
    "Condition",
    "ManifestRow",
    "Recognised",
    "Scored",
    "active_level_db",
    "check_condition",
    "judge_command",
    "judge_row",
    "level_db",
    "over_noise_db",
    "plan_for",
    "read_manifest",
    "report",
    "rows_of",
    "score_rows",
    "scored_row",
    "to_sound",
    "wilson",
]
