"""Fetching a model: over the network once, checked byte by byte, unpacked whole or not at all."""

from __future__ import annotations

import errno
import hashlib
import http.client
import shutil
import stat
import tempfile
import urllib.error
import urllib.parse
import urllib.request
import zipfile
from pathlib import Path
from typing import IO

from handsfree.errors import ModelError
from handsfree.hear.models import FetchedModel, is_model

_TIMEOUT_S = 30.0
_PIECE = 1 << 16
_LARGEST_UNPACKED = 20  # times the size of the zip file; the English model unpacks to under twice it
_RANGE_REFUSED = 416


def fetch(model: FetchedModel, timeout_s: float = _TIMEOUT_S) -> Path:
    """Fetch a model into its folder, unless it is there, and give the folder.

    Shows a progress bar on a terminal. What was fetched before a break is kept, and the next call goes on
    from there. The folder appears only when everything in it is right.

    Raises:
        ModelError: when there is no network, the bytes aren't those that are wanted, or the disk is full.
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
    """Bring `part` to its full size, from where it is."""
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
    """Append what comes to the first `have` bytes of `part`, and give how many there are then."""
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
    """Unpack into a folder aside, and move it to its place when all is there."""
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
    """Refuse an archive with anything outside the model's own folder, with links, or far too large."""
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
