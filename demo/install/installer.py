"""Installs and removes handsfree for one person, without a terminal's commands; needs only Python 3.11.

    python installer.py install [--to FOLDER] [--no-icon]
    python installer.py uninstall [--to FOLDER]

From a folder that `demo/bundle` made it needs no network: all packages lie in `wheels` beside this file.
Otherwise it is in handsfree's source, and pip fetches what the locks name. The program goes into an
environment of its own; plans and journals go into the folder `handsfree` of the user, which is never removed
without being asked for.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import venv
from pathlib import Path

HERE = Path(__file__).resolve().parent
WHEELS = HERE / "wheels"
SOURCE = HERE.parents[1]
MARK = "installed-by-handsfree"
"""A file in the program's folder: no folder without it is ever removed."""

WINDOWS, MAC = sys.platform == "win32", sys.platform == "darwin"
START = ["-m", "handsfree.cli", "front"]
"""What the icon starts: the front page in the browser."""


def program_folder() -> Path:
    """Return the usual folder of the program on this system."""
    if WINDOWS:
        return Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local")) / "handsfree-program"
    if MAC:
        return Path.home() / "Library" / "Application Support" / "handsfree-program"
    return Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share") / "handsfree-program"


def work_folder() -> Path:
    """Return the folder of the user's plans and journals."""
    return Path.home() / "handsfree"


def python_of(folder: Path) -> Path:
    """Return the environment's Python."""
    return folder / ("Scripts/python.exe" if WINDOWS else "bin/python")


# ---- install


def install(folder: Path, *, icon: bool) -> None:
    """Install into a folder, and make icons that start and remove the program."""
    if folder.exists() and not (folder / MARK).exists() and any(folder.iterdir()):
        stop(f'"{folder}" holds something else; name another folder with --to')
    say(f'Installing handsfree into "{folder}"; this takes a minute or two.')
    folder.mkdir(parents=True, exist_ok=True)
    (folder / MARK).write_text(
        "handsfree's installer made this folder and may remove it.\n", encoding="utf-8"
    )
    bundled = sorted(WHEELS.glob("pip-*.whl"))
    venv.create(folder, clear=False, with_pip=not bundled, symlinks=not WINDOWS)
    if WHEELS.is_dir():
        offline = ["--no-index", "--find-links", str(WHEELS)]
        pip(folder, bundled, *offline, "--require-hashes", "--requirement", str(HERE / "requirements.lock"))
        pip(folder, bundled, "--no-index", "--no-deps", *map(str, sorted(WHEELS.glob("handsfree_*.whl"))))
    else:
        lock = SOURCE / "demo" / "locks" / "requirements.lock"
        pip(folder, bundled, "--require-hashes", "--requirement", str(lock))
        with tempfile.TemporaryDirectory() as aside:
            run([python_of(folder), SOURCE / "demo" / "model.py", aside], "the model could not be made")
            pip(folder, bundled, "--no-index", "--no-deps", *map(str, Path(aside).glob("*.whl")))
        pip(folder, bundled, "--no-index", "--no-deps", "--no-build-isolation", str(SOURCE))
    shutil.copy(__file__, folder / "installer.py")
    work_folder().mkdir(exist_ok=True)
    run([python_of(folder), "-m", "handsfree.cli", "--version"], "the program doesn't start")
    if icon:
        for path in make_icons(folder):
            say(f"To start or remove it: {path}")
    say(f'Done. Plans and journals go into "{work_folder()}".')


def pip(folder: Path, bundled: list[Path], *arguments: str) -> None:
    """Run pip in the environment; a bundle brings a pip of its own, since some systems have none."""
    env = {**os.environ, **({"PYTHONPATH": str(bundled[-1])} if bundled else {})}
    # What is used is compiled at its first start: that spares a third of the time, and space.
    usual = ["-m", "pip", "--disable-pip-version-check", "install", "--quiet", "--no-compile"]
    run([python_of(folder), *usual, *arguments], "pip could not install; it says why above", env)


def run(command: list[str | Path], fault: str, env: dict[str, str] | None = None) -> None:
    """Run a program, or stop with one sentence."""
    if subprocess.run([str(part) for part in command], env=env, check=False).returncode:
        stop(fault)


# ---- icons


def icon_paths() -> list[Path]:
    """Return where the icons that start and remove the program are."""
    if WINDOWS:
        menu = Path(os.environ.get("APPDATA", Path.home())) / "Microsoft/Windows/Start Menu/Programs"
        return [menu / "handsfree.lnk", menu / "Remove handsfree.lnk"]
    if MAC:
        return [Path.home() / "Desktop" / f"{name}.command" for name in ("handsfree", "Remove handsfree")]
    menu = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share") / "applications"
    return [menu / "handsfree.desktop", menu / "handsfree-remove.desktop"]


def make_icons(folder: Path) -> list[Path]:
    """Make the icons, and return their paths."""
    removal = [str(folder / "installer.py"), "uninstall", "--to", str(folder)]
    for path, name, arguments in zip(
        icon_paths(), ("handsfree", "Remove handsfree"), (START, removal), strict=True
    ):
        path.parent.mkdir(parents=True, exist_ok=True)
        python = python_of(folder)
        if path.stem.endswith(("remove", "Remove handsfree")):
            python = Path(sys._base_executable or sys.executable)  # type: ignore[attr-defined] - outlives its environment
        if WINDOWS:
            shortcut(path, python, arguments)
        elif MAC:
            path.write_text(command_file(python, arguments), encoding="utf-8")
            path.chmod(0o755)
        else:
            path.write_text(desktop_entry(name, python, arguments), encoding="utf-8")
    return icon_paths()


def desktop_entry(name: str, python: Path, arguments: list[str]) -> str:
    """Return a menu entry of Linux desktops. Source: Desktop Entry Specification 1.5, from memory."""
    words = " ".join(_desktop_quoted(word) for word in [str(python), *arguments])
    return (
        f"[Desktop Entry]\nType=Application\nName={name}\nComment=Say or key a bench measurement\n"
        f"Exec={words}\nPath={work_folder()}\nTerminal=true\nCategories=Utility;\n"
    )


def _desktop_quoted(word: str) -> str:
    for letter in ("\\", '"', "`", "$"):
        word = word.replace(letter, "\\" + letter)
    return '"' + word.replace("\\", "\\\\").replace("%", "%%") + '"'


def command_file(python: Path, arguments: list[str]) -> str:
    """Return a script that macOS starts by a double click."""
    import shlex

    return f"#!/bin/sh\ncd {shlex.quote(str(work_folder()))}\nexec {shlex.join([str(python), *arguments])}\n"


def shortcut(path: Path, python: Path, arguments: list[str]) -> None:
    """Make a link in Windows' start menu; the values go by environment variables, so that none is code."""
    script = (
        "$link = (New-Object -ComObject WScript.Shell).CreateShortcut($env:LINK); "
        "$link.TargetPath = $env:TARGET; $link.Arguments = $env:ARGUMENTS; "
        "$link.WorkingDirectory = $env:FOLDER; $link.Save()"
    )
    values = {"LINK": path, "TARGET": python, "FOLDER": work_folder()}
    env = {**os.environ, **{name: str(value) for name, value in values.items()}}
    env["ARGUMENTS"] = subprocess.list2cmdline(arguments)
    run(["powershell", "-NoProfile", "-Command", script], "the menu entry could not be made", env)


# ---- uninstall


def uninstall(folder: Path) -> None:
    """Remove the program; ask before anything is removed that a person made."""
    if not (folder / MARK).exists():
        stop(f'handsfree isn\'t installed in "{folder}"; name its folder with --to')
    own = [path for path in own_folders(folder) if path.is_dir()]
    shutil.rmtree(folder)
    for path in icon_paths():
        path.unlink(missing_ok=True)
    say("The program is removed.")
    for path in own:
        if agreed(
            f'"{path}" holds what it learned of your voice and entries not yet in a journal. Delete it?'
        ):
            shutil.rmtree(path)
    logs = sorted(work_folder().rglob("*.journal")) if work_folder().is_dir() else []
    count = "a journal" if len(logs) == 1 else f"{len(logs)} journals"
    if logs and agreed(f'"{work_folder()}" holds {count}, your only log. Delete that folder?'):
        shutil.rmtree(work_folder())
    elif work_folder().is_dir():
        say(f'Your plans and journals stay in "{work_folder()}".')


def own_folders(folder: Path) -> list[Path]:
    """Return the user's folders of the program: data and state."""
    asked = (
        "import platformdirs as p; "
        "print(p.user_data_path('handsfree', False)); print(p.user_state_path('handsfree', False))"
    )
    told = subprocess.run([str(python_of(folder)), "-c", asked], capture_output=True, text=True, check=False)
    return [Path(line) for line in dict.fromkeys(told.stdout.splitlines())]


def agreed(question: str) -> bool:
    """Ask; only the whole word "delete" agrees, and without a person nobody does."""
    try:
        return input(f'{question} Type "delete" to do that, or press Enter to keep it: ').strip() == "delete"
    except EOFError:
        return False


def say(line: str) -> None:
    """Print a line."""
    print(line, flush=True)


def stop(line: str) -> None:
    """End with one sentence."""
    sys.exit(f"handsfree: {line}")


def main() -> None:
    """Do what the command line says."""
    if sys.version_info < (3, 11):  # noqa: UP036 - it runs on whatever Python is there
        stop("Python 3.11 or later is needed; install one from your system's shop or package manager")
    parser = argparse.ArgumentParser(description="Installs and removes handsfree.")
    parser.add_argument("action", choices=("install", "uninstall"), nargs="?", default="install")
    parser.add_argument("--to", type=Path, default=program_folder(), metavar="FOLDER")
    parser.add_argument("--no-icon", action="store_true")
    options = parser.parse_args()
    if options.action == "install":
        install(options.to.absolute(), icon=not options.no_icon)
    else:
        uninstall(options.to.absolute())


if __name__ == "__main__":
    main()
