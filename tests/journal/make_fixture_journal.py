"""Makes the fixture journal of today's schema: run once, before the release that brings the schema.

Run: python -m tests.journal.make_fixture_journal. It writes tests/journal/data/schema-N.journal and what it
must be read as, schema-N.json. A fixture that is there is never made again: next year's program must
open this year's file.
"""

from pathlib import Path

from handsfree.export import to_json
from handsfree.journal import Journal
from handsfree.journal.schema import MIGRATIONS
from handsfree.session import fold
from tests.support import journals

DATA = Path(__file__).parent / "data"


def main() -> None:
    path = DATA / f"schema-{len(MIGRATIONS)}.journal"
    if path.exists():
        raise SystemExit(f"{path} is there already: it stays as it was released")
    plan = journals.plan()
    with Journal.open(path, clock=journals.clock(), identities=journals.identities()) as journal:
        events = journals.log_story(journal, plan)
    path.with_suffix(".json").write_bytes(to_json(fold(plan, events), events))


if __name__ == "__main__":
    main()
