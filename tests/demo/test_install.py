"""The installer, the bundle for a memory stick and the model's wheel, without a network."""

import hashlib
import importlib.util
import io
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from tests.support.program import ROOT

pytestmark = pytest.mark.quick


def program(name):
    path = ROOT / "demo" / name
    spec = importlib.util.spec_from_file_location(f"demo_{path.stem}", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def installer(tmp_path, monkeypatch):
    found = program("install/installer.py")
    for name in ("HOME", "XDG_DATA_HOME", "XDG_STATE_HOME"):
        monkeypatch.setenv(name, str(tmp_path / name))
    work = found.work_folder()
    work.mkdir(parents=True)
    (work / "monday.journal").touch()
    return found


def installed(installer, tmp_path):
    folder = tmp_path / "program"
    (folder / "bin").mkdir(parents=True)
    (folder / "bin" / "python").symlink_to(sys.executable)
    (folder / installer.MARK).touch()
    return folder


LOCK = """# made
both==1.0 ; sys_platform != 'win32' \\
    --hash=sha256:aa \\
    --hash=sha256:bb
    # via somebody
old==2.0 ; python_full_version < '3.12' \\
    --hash=sha256:cc
pad==3.0 ; platform_machine == 'x86_64' and sys_platform == 'linux' \\
    --hash=sha256:dd
plain==4.0 \\
    --hash=sha256:ee
"""


@pytest.mark.parametrize(
    ("system", "python", "names"),
    [
        ("linux-x86_64", "3.11", ["both", "old", "pad", "plain"]),
        ("linux-arm64", "3.12", ["both", "plain"]),
        ("windows-x86_64", "3.11", ["old", "plain"]),
        ("macos-arm64", "3.13", ["both", "plain"]),
    ],
)
def test_bundle_holds_what_its_system_needs_and_with_its_hashes(system, python, names):
    pins = program("install/bundle.py").wanted(LOCK, system, python)
    assert [line.partition("==")[0] for line in pins.splitlines() if "==" in line] == names
    assert pins.count("--hash=sha256:") == len(names) + ("both" in names)
    assert ";" not in pins


def package(tmp_path, content):
    """A package that carries a model's files, as its makers publish it."""
    path = tmp_path / "theirs.whl"
    model = program("model.py").entry()
    source = model["package"].replace("-", "_")
    with zipfile.ZipFile(path, "w") as archive:
        for file in model["file"]:
            archive.writestr(f"{source}/{file['path']}", content)
        archive.writestr(f"{source}/libunused.so", b"x")
        archive.writestr(f"{source}-{model['version']}.dist-info/licenses/LICENSE", b"MIT")
    return path


def test_models_wheel_holds_the_model_and_its_licence_alone_and_pip_takes_it(tmp_path, monkeypatch):
    made = program("model.py")
    known = made.entry()
    digest = hashlib.sha256(b"weights").hexdigest()
    entry = known | {"file": [file | {"sha256": digest} for file in known["file"]]}
    monkeypatch.setattr(made, "entry", lambda: entry)
    wheel = made.make_wheel(package(tmp_path, b"weights"), tmp_path)
    names = zipfile.ZipFile(wheel).namelist()
    assert not [name for name in names if "unused" in name]
    assert [name for name in names if name.endswith("licenses/LICENSE")]
    pip = [sys.executable, "-m", "pip", "install", "--quiet", "--no-index", "--no-deps", "--target"]
    subprocess.run([*pip, tmp_path / "site", wheel], check=True, timeout=120)
    for file in entry["file"]:
        assert (tmp_path / "site" / entry["taken"] / file["path"]).read_bytes() == b"weights"


def test_file_that_is_not_the_models_makes_no_wheel(tmp_path):
    with pytest.raises(SystemExit, match="isn't the file that was wanted"):
        program("model.py").make_wheel(package(tmp_path, b"other"), tmp_path)
    assert not list(tmp_path.glob("handsfree*"))


@pytest.mark.parametrize("answer", ["", "y\n", "no\n"])
def test_uninstall_keeps_journals_unless_told_in_a_whole_word(installer, tmp_path, monkeypatch, answer):
    folder = installed(installer, tmp_path)
    monkeypatch.setattr("sys.stdin", io.StringIO(answer))
    installer.uninstall(folder)
    assert not folder.exists()
    assert (installer.work_folder() / "monday.journal").exists()


def test_uninstall_deletes_journals_when_told(installer, tmp_path, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO("delete\n" * 4))
    installer.uninstall(installed(installer, tmp_path))
    assert not installer.work_folder().exists()


def test_folder_that_the_installer_did_not_make_is_left_alone(installer, tmp_path):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letter.txt").touch()
    for action in (installer.uninstall, lambda folder: installer.install(folder, icon=False)):
        with pytest.raises(SystemExit, match="name"):
            action(tmp_path / "mine")
    assert (tmp_path / "mine" / "letter.txt").exists()


@pytest.mark.skipif(sys.platform != "linux", reason="menu entries of Linux")
def test_menu_entries_start_the_program_and_its_removal(installer, tmp_path):
    """Source: quoting in Exec of the Desktop Entry Specification 1.5, from memory."""
    folder = installed(installer, tmp_path)
    start, remove = installer.make_icons(folder)
    text = start.read_text("utf-8")
    assert f'Exec="{folder}/bin/python" "-m" "handsfree.cli" "front"\n' in text
    assert f"Path={installer.work_folder()}\n" in text
    assert '"uninstall"' in remove.read_text("utf-8")
    assert str(folder / "bin") not in remove.read_text("utf-8")  # it removes that Python
    assert '"a\\\\$b%%c"' in installer.desktop_entry("x", Path("a$b%c"), [])


def test_command_for_macos_quotes_its_paths(installer):
    text = installer.command_file(Path("/Users/a b/python"), ["-m", "handsfree.cli"])
    assert text.endswith("exec '/Users/a b/python' -m handsfree.cli\n")
