"""Makes a folder for a memory stick: the installer and all packages for a named system and its Pythons."""

from __future__ import annotations

import argparse
import ensurepip
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from packaging.markers import Marker

ROOT = Path(__file__).resolve().parents[2]
HERE = Path(__file__).resolve().parent
LOCK = ROOT / "demo" / "locks" / "requirements.lock"
PYTHONS = ("3.11", "3.12", "3.13", "3.14")

_LINUX = {"sys_platform": "linux", "platform_system": "Linux", "os_name": "posix"}
_WINDOWS = {"sys_platform": "win32", "platform_system": "Windows", "os_name": "nt"}
_MAC = {"sys_platform": "darwin", "platform_system": "Darwin", "os_name": "posix"}


def _manylinux(machine: str) -> list[str]:
    """Return the names of wheels that Linux with glibc 2.28 takes (Debian 10, Ubuntu 20.04 and later)."""
    return [*(f"manylinux_2_{minor}_{machine}" for minor in range(28, 4, -1)), f"manylinux2014_{machine}"]


SYSTEMS: dict[str, tuple[dict[str, str], list[str]]] = {
    "linux-x86_64": (_LINUX | {"platform_machine": "x86_64"}, _manylinux("x86_64")),
    "linux-arm64": (_LINUX | {"platform_machine": "aarch64"}, _manylinux("aarch64")),
    "windows-x86_64": (_WINDOWS | {"platform_machine": "AMD64"}, ["win_amd64"]),
    "macos-arm64": (_MAC | {"platform_machine": "arm64"}, ["macosx_14_0_arm64"]),
}
"""Of each system: what markers are judged by, and the names of its wheels."""


def wanted(lock: str, system: str, python: str) -> str:
    """Return the pins of a lock that a system and a Python need, without their markers."""
    facts = SYSTEMS[system][0] | {
        "python_version": python,
        "python_full_version": f"{python}.0",
        "implementation_name": "cpython",
        "platform_python_implementation": "CPython",
        "extra": "",
    }
    kept = []
    for pin in re.findall(r"^[A-Za-z0-9].*(?:\n[ \t].*)*", lock, re.MULTILINE):
        head, rest = re.fullmatch(r"([^\n\\]*)(.*)", pin, re.DOTALL).groups()  # type: ignore[union-attr]
        requirement, _, marker = head.partition(";")
        if not marker.strip() or Marker(marker.strip()).evaluate(facts):
            kept.append(f"{requirement.strip()} {rest}")
    return "\n".join([*kept, ""])


def bundle(system: str, pythons: list[str], out: Path) -> None:
    """Write the folder."""
    wheels = out / "wheels"
    wheels.mkdir(parents=True, exist_ok=True)
    for python in pythons:
        print(f"== wheels for {system}, Python {python}", flush=True)
        with tempfile.TemporaryDirectory() as aside:
            pins = Path(aside) / "pins.txt"
            pins.write_text(wanted(LOCK.read_text("utf-8"), system, python), encoding="utf-8")
            platforms = [part for name in SYSTEMS[system][1] for part in ("--platform", name)]
            pip(
                *("download", "--quiet", "--no-deps", "--only-binary=:all:", "--require-hashes"),
                *("--dest", str(wheels), "--requirement", str(pins), *platforms),
                *("--python-version", python, "--implementation", "cp"),
            )
    print("== the program and its model", flush=True)
    for name in ("pip-*.whl",):  # some systems' Python has none
        for own in (Path(ensurepip.__file__).parent / "_bundled").glob(name):
            shutil.copy(own, wheels)
    run([sys.executable, ROOT / "demo" / "model.py", wheels])
    run([sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", wheels])
    for name in ("installer.py", "install.sh", "install.command", "install.cmd"):
        shutil.copy(HERE / name, out)
    shutil.copy(LOCK, out / "requirements.lock")
    shutil.copy(ROOT / "NOTICE", out)
    shutil.copy(ROOT / "LICENSE", out)
    size = sum(path.stat().st_size for path in out.rglob("*") if path.is_file()) / 1e6
    print(f'"{out}" is ready ({size:.0f} MB): copy it to a stick, and there start install.', flush=True)


def pip(*arguments: str) -> None:
    """Run pip."""
    run([sys.executable, "-m", "pip", "--disable-pip-version-check", *arguments])


def run(command: list[str | Path]) -> None:
    """Run a program of the project's, or end."""
    done = subprocess.run([str(part) for part in command], cwd=ROOT, stdout=subprocess.DEVNULL, check=False)
    if done.returncode:
        sys.exit("The bundle could not be made; the reason is above.")


def main() -> None:
    """Make the bundle that the command line names."""
    parser = argparse.ArgumentParser(prog="demo/bundle", description=__doc__)
    parser.add_argument("system", choices=SYSTEMS, metavar="SYSTEM", help=", ".join(SYSTEMS))
    parser.add_argument(
        "--python", action="append", choices=PYTHONS, help="only for this one; may be repeated"
    )
    parser.add_argument("--to", type=Path, metavar="FOLDER")
    options = parser.parse_args()
    out = options.to or ROOT / "demo" / "out" / f"handsfree-{options.system}"
    bundle(options.system, options.python or list(PYTHONS), out.absolute())


if __name__ == "__main__":
    main()
