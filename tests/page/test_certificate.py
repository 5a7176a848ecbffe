"""The certificate for other machines: OpenSSL, by way of Python's ssl, is the judge of it."""

import asyncio
import contextlib
import socket
import ssl
import stat
import threading
from datetime import UTC, datetime, timedelta

import pytest

from handsfree.errors import HandsfreeError
from handsfree.page.door import certificate_for, own_names
from tests.page.conftest import free_port

pytest.importorskip("cryptography")

OWN = socket.gethostname().lower()
NAMES = [OWN, f"{OWN}.local", "192.168.7.9", "localhost", "127.0.0.1"]
NOW = datetime.now(UTC)


def greeted(made, name):
    """Have a server with this certificate greeted under a name by a client that trusts its authority."""
    theirs = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    theirs.load_cert_chain(made.chain, made.key)
    mine = ssl.create_default_context(cafile=str(made.authority))
    here, there = socket.socketpair()

    def serve():
        with contextlib.suppress(OSError), theirs.wrap_socket(there, server_side=True) as server:
            server.recv(1)

    thread = threading.Thread(target=serve)
    thread.start()
    try:
        with mine.wrap_socket(here, server_hostname=name) as client:
            return client.version()
    finally:
        here.close()
        thread.join(timeout=30)
        there.close()


@pytest.fixture
def made(tmp_path):
    return certificate_for(NAMES, tmp_path / "page", NOW)


@pytest.mark.parametrize("name", NAMES)
def test_a_client_that_trusts_the_authority_accepts_each_name(made, name):
    assert greeted(made, name) == "TLSv1.3"


def test_a_client_accepts_no_other_name(made):
    with pytest.raises(ssl.SSLCertVerificationError):
        greeted(made, "elsewhere.local")


def test_the_authority_can_vouch_for_no_name_of_the_internet(tmp_path):
    """Even with its key: RFC 5280, 4.2.1.10."""
    made = certificate_for([*NAMES, "example.test"], tmp_path / "page", NOW)
    with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree"):
        greeted(made, "example.test")


def test_an_address_of_the_internet_neither(tmp_path):
    made = certificate_for([*NAMES, "203.0.113.5"], tmp_path / "page", NOW)
    with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree"):
        greeted(made, "203.0.113.5")


@pytest.mark.parametrize("host", ["203.0.113.5", "bench.example.test", "8.8.8.8"])
def test_a_name_that_it_may_not_vouch_for_spoils_none_of_the_others(tmp_path, host):
    names = own_names(host)
    assert host not in names
    assert greeted(certificate_for(names, tmp_path / "page", NOW), "127.0.0.1")


def test_a_private_address_is_vouched_for():
    assert "192.168.7.9" in own_names("192.168.7.9")


def test_files_are_for_their_owner_alone(made):
    folder = made.chain.parent
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert {stat.S_IMODE(path.stat().st_mode) for path in folder.iterdir()} == {0o600}


def test_it_is_kept_and_renewed_by_the_same_authority(made, tmp_path):
    authority, chain = made.authority.read_bytes(), made.chain.read_bytes()
    certificate_for(NAMES, tmp_path / "page", NOW)
    assert made.chain.read_bytes() == chain
    certificate_for(NAMES[1:], tmp_path / "page", NOW)
    assert made.chain.read_bytes() != chain
    renewed = made.chain.read_bytes()
    certificate_for(NAMES[1:], tmp_path / "page", NOW + timedelta(days=380))
    assert made.chain.read_bytes() != renewed
    assert made.authority.read_bytes() == authority


def test_a_machine_with_a_new_name_is_a_new_authority(made, tmp_path, monkeypatch):
    authority = made.authority.read_bytes()
    monkeypatch.setattr(socket, "gethostname", lambda: "renamed")
    again = certificate_for(["renamed", "127.0.0.1"], tmp_path / "page", NOW)
    assert again.authority.read_bytes() != authority
    assert greeted(again, "renamed")


def test_a_damaged_one_is_one_sentence(made, tmp_path):
    made.chain.write_bytes(b"nonsense")
    with pytest.raises(HandsfreeError, match=r"certificate in .* can't be used: .*; move that folder away"):
        certificate_for(NAMES, tmp_path / "page", NOW)


def test_a_server_for_other_machines_speaks_tls_and_hands_its_authority_out(tmp_path, monkeypatch):
    aiohttp = pytest.importorskip("aiohttp")
    from handsfree.page import Site

    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    passes = []
    with (
        contextlib.closing(Site(f"0.0.0.0:{free_port()}")) as site,
        site.serve(passes.append),
    ):
        trusting = ssl.create_default_context(cafile=str(tmp_path / "handsfree" / "page" / "authority.pem"))

        async def visit():
            async with aiohttp.ClientSession(cookie_jar=aiohttp.CookieJar(unsafe=True)) as session:
                base = f"https://127.0.0.1:{site.port}"
                async with session.get(f"{base}/trust/handsfree.crt", ssl=trusting) as answer:
                    kept = await answer.text()
                async with session.post(f"{base}/enter", json={"pass": passes[-1]}, ssl=trusting) as answer:
                    return kept, answer.status, answer.cookies[site.cookie]

        kept, status, cookie = asyncio.run(visit())
        lines = site.invitation("abcdefghjkmn", drawn=True)
    assert kept.startswith("-----BEGIN CERTIFICATE-----")
    assert "PRIVATE" not in kept
    assert status == 200
    assert cookie["secure"]
    assert lines[0].startswith("page for the next browser: https://")
    assert lines[1].endswith("type the pass abcd-efgh-jkmn")
    assert len({len(line) for line in lines[2:]}) == 1
    assert own_names("0.0.0.0")[0] == socket.gethostname().lower()  # noqa: S104
