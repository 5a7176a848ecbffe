"""Copies journals to the shop's PostgreSQL database.

The journal on the bench stays the only truth: it is opened for reading, and events already in the shop's
database are compared, never changed. Copying resumes where it stopped, may run from many benches and from
cron at the same time, and is retried when the network fails. The address comes from the environment, and
no password is ever printed.
"""

from __future__ import annotations

import hashlib
import os
import re
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar, cast
from urllib.parse import quote, quote_plus

from handsfree.errors import HandsfreeError, ShareError, install_extra
from handsfree.journal.columns import COLUMNS, storable
from handsfree.journal.event import Kind
from handsfree.journal.shop_tables import prepare, tables
from handsfree.journal.verify import StoredEvent, rows_of

if TYPE_CHECKING:
    import psycopg
    from sqlalchemy import Connection, Engine, Table
    from sqlalchemy.engine import URL

VARIABLE = "HANDSFREE_SHARE"

T = TypeVar("T")

_HERE = re.compile(r"(localhost|127(\.\d+){3}|\[?::1\]?)(:\d+)?|[/@].*")  # this machine, or a socket's folder
_HOST = re.compile(r"[A-Za-z0-9._:,\[\]-]*")
_MOST_PATIENCE_S = 86_400  # a day
_BATCH = 2000  # events in one transaction
_NAME = re.compile(r"[A-Za-z][A-Za-z0-9_]*")
_LASTING = re.compile(
    r"authentication failed|no password supplied|does not exist|permission denied|no pg_hba\.conf entry"
    r"|must be owner|read-only transaction|certificate|SSL",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class _There:
    """Number of a journal's events in the shop's database after a batch, and number added by the batch."""

    count: int
    added: int


@dataclass(frozen=True, slots=True)
class Shared:
    """Result for one journal: events sent, events there now, or the trouble."""

    path: Path
    sent: int = 0
    total: int = 0
    trouble: str | None = None


def address(name: str | None = None, environment: Mapping[str, str] = os.environ) -> str:
    """Return the address of a shop's database.

    Args:
        name: name of the shop: "barn" means the variable HANDSFREE_SHARE_BARN. Without it, HANDSFREE_SHARE.
        environment: the environment variables.

    Raises:
        ShareError: the variable isn't set, or `name` is an address.
    """
    if name is not None and not _NAME.fullmatch(name):
        raise ShareError(
            "Give the name of a shop, made of letters, and put its address into the environment as "
            f"{VARIABLE}_NAME: on the command line others could read its password."
        )
    variable = VARIABLE if name is None else f"{VARIABLE}_{name.upper()}"
    found = environment.get(variable, "").strip()
    if not found:
        raise ShareError(
            f"There is no address of the shop's database: set {variable} in the environment, "
            "such as postgresql://bench@shop.example/handsfree."
        )
    return found


class Shop:
    """A shop's database, connected when first needed.

    Args:
        where: its address, a PostgreSQL URL.
        patience_s: time to keep trying when it can't be reached, in seconds.
        sleep: function that waits, for tests.

    Raises:
        ShareError: the address is invalid, or the packages for it aren't installed.
    """

    def __init__(
        self, where: str, *, patience_s: float = 60.0, sleep: Callable[[float], None] = time.sleep
    ) -> None:
        if not 0 <= patience_s <= _MOST_PATIENCE_S:  # false for NaN, too
            raise ShareError(
                f"A patience of {patience_s} s makes no sense; give one from 0 to {_MOST_PATIENCE_S}."
            )
        self._patience_s = patience_s
        self._sleep = sleep
        self._url = _parsed(where)
        self._engine, (self._journals, self._events) = _connected(self._url)
        self._prepared = False

    @property
    def name(self) -> str:
        """Address for display, without user and password."""
        port = f":{self._url.port}" if self._url.port else ""
        return f"{self._url.host or 'this machine'}{port}/{self._url.database or ''}"

    def close(self) -> None:
        """Close the connection."""
        self._engine.dispose()

    def share(self, path: Path, *, station: str) -> Shared:
        """Copy the events of one journal that the shop doesn't have yet.

        Args:
            path: the journal; it is only read.
            station: the name of this bench, which the shop's tables call so.

        Raises:
            HandsfreeError: the journal can't be read, was altered, or differs from the shop's copy; the
                database can't be reached, or refuses the events.
        """
        rows = rows_of(path)
        if not rows:
            return Shared(path)
        facts = _facts(path, rows, station)
        sent = 0
        known: int | None = None
        while True:
            there = self._retried(partial(self._send, facts, rows, known))
            sent, known = sent + there.added, there.count
            if there.count == len(rows):
                return Shared(path, sent, len(rows))

    def differing(self) -> list[str]:
        """Check every shared journal against its chain; return one sentence for each that fails."""
        from sqlalchemy import select

        def names() -> list[tuple[str, str]]:
            with self._begun() as connection:
                query = select(self._journals.c.id, self._journals.c.file).order_by(self._journals.c.id)
                return [(str(row[0]), str(row[1])) for row in connection.execute(query)]

        found = []
        for identity, file in self._retried(names):
            broken = self._retried(partial(self._first_broken, identity))
            if broken is not None:
                found.append(f"The shop's copy of {file} (journal {identity}): {broken}")
        return found

    def _first_broken(self, journal: str) -> str | None:
        from sqlalchemy import select

        from handsfree.journal.verify import first_fault

        columns = self._events.c
        wanted = [column for column in columns if column.name not in ("journal", "shared_at")]
        query = select(*wanted).where(columns.journal == journal).order_by(columns.seq)
        with self._begun() as connection:
            rows = [StoredEvent.of(dict(row._mapping)) for row in connection.execute(query)]
        return first_fault(rows)

    def _send(self, facts: dict[str, object], rows: Sequence[StoredEvent], known: int | None) -> _There:
        """Send one batch in one transaction, starting where the shop's copy ends.

        The shop's copy is compared with the journal first, unless this run has just sent all of it (`known`).
        """
        from sqlalchemy import func, select, text
        from sqlalchemy.dialects.postgresql import insert

        events = self._events.c
        journal = str(facts["id"])
        with self._begun() as connection:
            # Two runs over one journal take turns: the second sees the rows of the first.
            lock = text("SELECT pg_advisory_xact_lock(hashtextextended(:journal, 0))")
            connection.execute(lock, {"journal": journal})
            counted = select(func.count(), func.min(events.seq), func.max(events.seq))
            count, first, last = connection.execute(counted.where(events.journal == journal)).one()
            if count == 0:
                connection.execute(insert(self._journals).values(facts).on_conflict_do_nothing())
            elif count != known:
                self._compare(connection, journal, rows, (count, first, last))
            batch = rows[count : count + _BATCH]
            if batch:
                _copy(connection, journal, batch)
        return _There(count + len(batch), len(batch))

    def _compare(
        self, connection: Connection, journal: str, rows: Sequence[StoredEvent], theirs: tuple[int, int, int]
    ) -> None:
        """Check that the shop's copy is the beginning of this journal, hash by hash."""
        from sqlalchemy import func, literal, select
        from sqlalchemy.dialects.postgresql import aggregate_order_by

        count, first, last = theirs
        events = self._events.c
        ours = hashlib.md5(
            "".join(row.hash for row in rows[:count]).encode(), usedforsecurity=False
        ).hexdigest()
        joined = func.md5(func.string_agg(events.hash, aggregate_order_by(literal(""), events.seq)))
        there = connection.execute(select(joined).where(events.journal == journal)).scalar()
        if (first, last) == (1, count) and count <= len(rows) and there == ours:
            return
        if (first, last) != (1, count):
            what = f"it holds {count} events, numbered {first} to {last}"
        elif count > len(rows):
            what = f"it holds {count} events and the journal only {len(rows)}"
        else:
            what = f"the {count} events there aren't the same as the first {count} here"
        raise ShareError(
            f"The shop's copy of this journal isn't the beginning of it: {what}. One of them was altered or "
            "is an old copy; nothing was sent. See `handsfree journal verify` and `handsfree share --check`."
        )

    @contextmanager
    def _begun(self) -> Iterator[Connection]:
        with self._engine.begin() as connection:
            if not self._prepared:
                prepare(connection, self._events.metadata)
            yield connection
        self._prepared = True

    def _retried(self, work: Callable[[], T]) -> T:
        """Call `work`, and retry while the network or the server fails, for `patience_s` at most."""
        import psycopg
        from sqlalchemy.exc import DBAPIError, SQLAlchemyError

        waited, pause = 0.0, 0.25
        while True:
            try:
                return work()
            except (DBAPIError, psycopg.Error) as fault:
                cause = fault.orig if isinstance(fault, DBAPIError) else fault
                if not _passing(cause) or waited >= self._patience_s:
                    raise ShareError(self._sentence(cause)) from None  # its own text may hold secrets
            except SQLAlchemyError as fault:
                name = type(fault).__name__
                raise ShareError(f"The shop's database {self.name} can't be used ({name}).") from None
            self._engine.dispose()
            self._sleep(pause)
            waited += pause
            pause = min(pause * 2, 8.0)

    def _sentence(self, fault: BaseException | None) -> str:
        lines = str(fault).strip().splitlines() or [""]
        reason = lines[-1] if "connection" in lines[0] else lines[0]
        for secret in _secrets(self._url):
            reason = reason.replace(secret, "***")
        if _passing(fault):
            return (
                f"The shop's database {self.name} can't be reached ({reason}); what was sent is kept, and "
                "the next run goes on from there."
            )
        return f"The shop's database {self.name} refuses ({reason}); see to its rights and name."


def share(shop: Shop, journals: Sequence[Path], *, station: str) -> list[Shared]:
    """Copy many journals; one that fails doesn't stop the others.

    Args:
        shop: the destination.
        journals: paths of the journals.
        station: the name of this bench, which the shop's tables call so.
    """
    outcomes = []
    for path in journals:
        try:
            outcomes.append(shop.share(path, station=station))
        except HandsfreeError as fault:
            outcomes.append(Shared(path, trouble=str(fault)))
    return outcomes


def _copy(connection: Connection, journal: str, batch: Sequence[StoredEvent]) -> None:
    """Write rows by COPY in the open transaction: ten times as fast as INSERT."""
    names = ", ".join(("journal", *COLUMNS, "previous", "hash"))
    driver = cast("psycopg.Connection", connection.connection.driver_connection)
    with driver.cursor() as cursor, cursor.copy(f"COPY handsfree.event ({names}) FROM STDIN") as copy:
        for row in batch:
            copy.write_row((journal, *row.cells.values(), row.previous, row.hash))


def _facts(path: Path, rows: Sequence[StoredEvent], station: str) -> dict[str, object]:
    """Return the shop's row about a journal as a whole, from its opening event."""
    first = rows[0].event
    opened = next((row.event for row in rows if row.cells["kind"] == Kind.OPENED.value), first)
    told = opened.draft.data
    return {
        "id": first.id,
        "engine": told.get("engine_name"),
        "plan": told.get("plan_name"),
        "plan_digest": told.get("plan_digest"),
        "who": told.get("who"),
        "bench": station,
        "file": storable(path.name),
    }


def _secrets(url: URL) -> list[str]:
    """Return the secrets of an address in every form in which a driver may write them, longest first."""
    told = [url.password, os.environ.get("PGPASSWORD"), *_several(url.query.get("password"))]
    words = [str(one) for one in told if one]
    return sorted({*words, *map(quote, words), *map(quote_plus, words)}, key=len, reverse=True)


def _parsed(where: str) -> URL:
    try:
        from sqlalchemy.engine import make_url
        from sqlalchemy.exc import ArgumentError
    except ImportError:
        raise ShareError(
            f"Sharing needs the packages SQLAlchemy and psycopg: {install_extra('share')}."
        ) from None
    try:
        url = make_url(where)
    except (ArgumentError, ValueError):
        url = None
    if url is None or url.get_backend_name() != "postgresql":
        raise ShareError(
            "The address of the shop's database isn't one of PostgreSQL; write it as "
            "postgresql://USER@HOST:PORT/DATABASE."
        )
    rest = where.partition("://")[2]
    user = rest.partition(":")[0].partition("/")[0]
    misplaced = rest.count("@") - user.count("@") > 1 or "@" in (url.database or "")
    if misplaced or not _HOST.fullmatch(url.host or ""):
        raise ShareError(  # no part of it is shown: it may belong to a password
            "The address of the shop's database can't be told apart: write a sign of its password that means "
            "something else there as %40 (for @), %2F (/), %3A (:), %3F (?), %23 (#) or %25 (%), or put the "
            "password into PGPASSWORD."
        )
    return _guarded(url.set(drivername="postgresql+psycopg"))


def _guarded(url: URL) -> URL:
    """Require an encrypted connection, except to this machine or if the address says otherwise."""
    if "sslmode" in url.query or os.environ.get("PGSSLMODE"):
        return url
    named = [url.host, *_several(url.query.get("host")), *_several(url.query.get("hostaddr"))]
    hosts = ",".join(name for name in named if name) or os.environ.get("PGHOST", "")
    away = any(host and not _HERE.fullmatch(host) for host in hosts.split(","))
    return url.update_query_dict({"sslmode": "require"}) if away else url


def _several(given: str | Sequence[str] | None) -> Sequence[str]:
    return [given] if isinstance(given, str) else given or []


def _connected(url: URL) -> tuple[Engine, tuple[Table, Table]]:
    try:
        import psycopg  # noqa: F401 - SQLAlchemy would notice its absence too late
        from sqlalchemy import MetaData, create_engine
    except ImportError:
        raise ShareError(
            f"Sharing needs the packages SQLAlchemy and psycopg: {install_extra('share')}."
        ) from None
    engine = create_engine(
        url,
        hide_parameters=True,  # keeps readings and people's names out of error texts
        pool_size=1,
        pool_pre_ping=True,
        connect_args={
            "connect_timeout": 10,
            "keepalives_idle": 10,
            "keepalives_interval": 5,
            "keepalives_count": 3,
            "tcp_user_timeout": 30_000,
            "application_name": "handsfree share",
            "options": "-c statement_timeout=60000 -c lock_timeout=60000",
        },
    )
    return engine, tables(MetaData())


def _passing(fault: BaseException | None) -> bool:
    """Return whether a fault is temporary: a broken connection, a server that is starting or stopping."""
    import psycopg

    state = getattr(fault, "sqlstate", None)
    if state is not None:
        return state[:2] in ("08", "40", "53", "57") or state == "55P03"
    broken = isinstance(fault, psycopg.OperationalError | psycopg.InterfaceError)
    return broken and not _LASTING.search(str(fault))
