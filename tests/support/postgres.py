"""A real PostgreSQL server for tests: made in a temporary folder, on a free port of this machine only.

Debian's package `postgresql`. PostgreSQL refuses to run as root: then it runs as the user `postgres`.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from tests.support.ports import free_port

USER, PASSWORD = "bench", "s3cret/word@x"


def programs() -> Path | None:
    """Return the folder of the newest installed server's programs, or None."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[4]))
    if found:
        return found[-1].parent
    initdb = shutil.which("initdb")
    return Path(initdb).parent if initdb else None


class Server:
    """A server that can be stopped, killed and started again."""

    def __init__(self) -> None:
        bin_folder = programs()
        assert bin_folder is not None
        self._bin = bin_folder
        self.folder = Path(tempfile.mkdtemp(prefix="handsfree-pg-"))
        self._root = os.geteuid() == 0
        if self._root:
            shutil.chown(self.folder, "postgres", "postgres")
        self.port = free_port()
        password = self.folder / "password"
        password.write_text(PASSWORD)
        password.chmod(0o644)
        self._run(
            "initdb", "-D", str(self.folder / "data"), "-U", USER, "-A", "scram-sha-256",
            "--pwfile", str(password), "-E", "UTF8", "--locale", "C", "--no-sync",
        )  # fmt: skip
        password.unlink()
        self.start()

    def _run(self, program: str, *arguments: str) -> None:
        command = [str(self._bin / program), *arguments]
        if self._root:
            command = ["runuser", "-u", "postgres", "--", *command]
        with (self.folder / "tests.log").open("ab") as log:
            subprocess.run(command, check=True, stdout=log, stderr=log, cwd="/", timeout=60)

    def start(self) -> None:
        """Start it and wait until it answers."""
        # a killed server still finds what it gave to the system; only a killed machine would need more
        quick = "-c fsync=off -c full_page_writes=off"
        options = f"-p {self.port} -k {self.folder} -c listen_addresses=127.0.0.1 {quick}"
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-w", "-o", options, "start")

    def stop(self, how: str = "fast") -> None:
        """Stop it: "fast" breaks connections off, "immediate" is like pulling the plug."""
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-w", "-m", how, "stop")

    def close(self) -> None:
        """Stop it for good and remove its folder."""
        subprocess.run(
            [*(["runuser", "-u", "postgres", "--"] if self._root else []),
             str(self._bin / "pg_ctl"), "-D", str(self.folder / "data"), "-m", "immediate", "stop"],
            check=False, capture_output=True, cwd="/",
        )  # fmt: skip
        shutil.rmtree(self.folder, ignore_errors=True)

    def address(self, database: str = "postgres", password: str = PASSWORD) -> str:
        """Return the URL of a database of this server."""
        from urllib.parse import quote

        return f"postgresql://{USER}:{quote(password, safe='')}@127.0.0.1:{self.port}/{database}"


def share_many(where: str, paths: list[Path], bench: str) -> None:
    """Run a bench in a process of its own; exits with the trouble, if any."""
    from handsfree.journal import Shop, share

    shop = Shop(where, patience_s=30)
    outcomes = share(shop, paths, station=bench)
    shop.close()
    if any(outcome.trouble for outcome in outcomes):
        raise SystemExit("; ".join(outcome.trouble or "" for outcome in outcomes))
