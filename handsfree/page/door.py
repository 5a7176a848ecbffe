"""Who gets in: a pass that is good once, the cookie that it buys, where a request may come from.

A browser exchanges the pass that the bench shows for a cookie, and a new pass is made for the next browser.
This holds on the same machine too, since other users and programs reach its loopback address as well. A page
from elsewhere can make a browser send requests here: its Origin gives it away, and a foreign name that was
pointed at this machine is refused by the Host header.

Also the certificate for other machines. Browsers hand a microphone only to a page that came over TLS or from
the machine itself, and no authority signs for an address inside a shop. So this machine is its own authority:
a tablet is told once to trust it, and goes on trusting when the address changes. What it may sign for is
limited to names and addresses of private networks, so that a stolen key harms no other site.
"""

from __future__ import annotations

import contextlib
import importlib.util
import ipaddress
import re
import secrets
import socket
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from handsfree.errors import HandsfreeError, install_extra
from handsfree.files import make_private_folder, write_whole

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
    from cryptography.x509 import Certificate, CertificateBuilder, DNSName, IPAddress, KeyUsage, Name

MOST_TRIES, TRIES_S = 10, 60.0
"""So many wrong passes in so many seconds; then none is looked at until they are that old."""

_LETTERS = "23456789abcdefghjkmnpqrstuvwxyz"  # none that looks like another
_PASS_LETTERS = 12  # 59 bits, and ten tries a minute
_HOSTS = re.compile(r"[A-Za-z0-9.:\[\]_-]{1,255}")
_OWN_DOMAINS = (".local", ".lan", ".home.arpa", ".internal")  # no stranger can register a name in these


class Door:
    """Access control for requests.

    Args:
        host: the server's host name or address.
        announce: receives each new pass, to show it at the bench.
        secure: the server speaks TLS.
        clock: monotonic seconds.
    """

    def __init__(
        self,
        host: str,
        announce: Callable[[str], object],
        *,
        secure: bool = False,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.local = is_loopback(host)
        self._host = host.strip("[]").lower()
        self._scheme = "https" if secure else "http"
        self._announce = announce
        self._clock = clock
        self._pass = ""
        self._wrong: list[float] = []
        self._cookies: set[bytes] = set()
        self._renew()

    def knows(self, host: str, origin: str | None) -> bool:
        """Return whether a request is for this server, and comes from its own page or from no page.

        Args:
            host: its Host header. A foreign page can't make a browser send this machine's.
            origin: its Origin header, if any: it must be the page's own.
        """
        if not _HOSTS.fullmatch(host):
            return False
        try:
            name = urlsplit(f"//{host}").hostname or ""
            if origin is not None:
                parts = urlsplit(origin)
                if parts.scheme != self._scheme or parts.netloc != host:
                    return False
        except ValueError:  # unmatched brackets, and the like
            return False
        return self._is_ours(name.lower())

    def admits(self, host: str, origin: str | None, cookie: str | None) -> bool:
        """Return whether a request is admitted; `cookie`: the value of our cookie, if any."""
        offered = (cookie or "").encode(errors="surrogatepass")
        return self.knows(host, origin) and any(
            secrets.compare_digest(offered, each) for each in self._cookies
        )

    def spend(self, offered: str) -> str | None:
        """Exchange the current pass for a cookie, once; return None for a wrong pass.

        Raises:
            HandsfreeError: too many wrong passes came in the last minute.
        """
        now = self._clock()
        self._wrong = [at for at in self._wrong if at > now - TRIES_S]
        if len(self._wrong) >= MOST_TRIES:
            raise HandsfreeError("too many wrong passes; wait a minute, then take the one shown at the bench")
        plain = re.sub(r"[\s-]", "", offered).lower()
        if not secrets.compare_digest(plain.encode(errors="surrogatepass"), self._pass.encode()):
            self._wrong.append(now)
            return None
        cookie = secrets.token_urlsafe(24)
        self._cookies.add(cookie.encode())
        self._renew()
        return cookie

    def _is_ours(self, name: str) -> bool:
        """Return whether a host name is this server's: no stranger's name leads here by rebinding."""
        if self.local:
            return is_loopback(name)
        with contextlib.suppress(ValueError):
            ipaddress.ip_address(name)
            return True  # a number isn't looked up, so nobody can point it elsewhere
        own = socket.gethostname().lower()
        return name in {self._host, own, "localhost"} or name in {f"{own}{end}" for end in _OWN_DOMAINS}

    def _renew(self) -> None:
        self._pass = "".join(secrets.choice(_LETTERS) for _ in range(_PASS_LETTERS))
        self._announce(self._pass)


def is_loopback(host: str) -> bool:
    """Return whether a host name or address is reachable from this machine only.

    >>> is_loopback("localhost"), is_loopback("127.0.0.1"), is_loopback("::1"), is_loopback("0.0.0.0")
    (True, True, True, False)
    """
    if host == "localhost":
        return True
    with contextlib.suppress(ValueError):
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    return False


def address_of(text: str) -> tuple[str, int]:
    """Return the host and port in HOST:PORT.

    Raises:
        HandsfreeError: the text has another form.

    >>> address_of("127.0.0.1:8123"), address_of("[::1]:80")
    (('127.0.0.1', 8123), ('::1', 80))
    """
    host, colon, port = text.rpartition(":")
    if not colon or not host or not re.fullmatch("[0-9]{1,5}", port) or not 0 < int(port) < 65536:
        raise HandsfreeError(f'"{text}" is no address for --web; write HOST:PORT, such as 127.0.0.1:8123')
    return host.strip("[]"), int(port)


# ---- the certificate

_AUTHORITY_DAYS, _SERVER_DAYS = 3650, 397  # browsers refuse a longer life of a server's
_RENEW_DAYS = 30
_PRIVATE_NETWORKS = (
    *("10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "100.64.0.0/10", "127.0.0.0/8"),
    *("fc00::/7", "fe80::/10", "::1/128"),
)
"""Source: RFC 1918, RFC 3927, RFC 6598, RFC 4193, RFC 4291."""


def own_names(host: str) -> list[str]:
    """Return the names and addresses under which others may reach a server bound to `host`.

    Those that the authority may not vouch for are left out: with one of them, clients would refuse them all.
    """
    name = socket.gethostname().lower()
    found = [
        name,
        f"{name}.local",
        own_address() if _is_any(host) else host.lower(),
        "localhost",
        "127.0.0.1",
    ]
    return [each for each in dict.fromkeys(found) if each == name or _is_private(each)]


def _is_private(name: str) -> bool:
    try:
        address = ipaddress.ip_address(name)
    except ValueError:
        return name == "localhost" or name.endswith(".local")
    return any(address in ipaddress.ip_network(each) for each in _PRIVATE_NETWORKS)


def own_address() -> str:
    """Return this machine's address in its own network, or nothing; no packet is sent."""
    with contextlib.closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as probe:
        try:
            probe.connect(
                ("192.0.2.1", 9)
            )  # only chooses a way out. Source: RFC 5737, an address for examples
            return str(probe.getsockname()[0])
        except OSError:
            return ""


def _is_any(host: str) -> bool:
    with contextlib.suppress(ValueError):
        return ipaddress.ip_address(host).is_unspecified
    return False


@dataclass(frozen=True, slots=True)
class CertificateFiles:
    """Files of a server's certificate with its chain, its key, and its authority's certificate."""

    chain: Path
    key: Path
    authority: Path


def certificate_for(names: Sequence[str], folder: Path, now: datetime) -> CertificateFiles:
    """Return a certificate for these names, made by this machine's own authority where needed.

    Args:
        names: host names and addresses.
        folder: where it is kept, private.
        now: with its time zone.

    Raises:
        HandsfreeError: it can't be made or kept, or the package for it isn't installed.
    """
    if importlib.util.find_spec("cryptography") is None:
        raise HandsfreeError(f"a page for other machines needs a certificate; {install_extra('web')}")
    made = CertificateFiles(folder / "server.pem", folder / "server-key.pem", folder / "authority.pem")
    try:
        make_private_folder(folder)
        if not _still_good(made, names, now):
            _issue(made, folder / "authority-key.pem", names, now)
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or fault
        raise HandsfreeError(
            f"the page's certificate in \"{folder}\" can't be used: {reason}; move that folder away"
        ) from fault
    return made


def _still_good(made: CertificateFiles, names: Sequence[str], now: datetime) -> bool:
    from cryptography import x509

    if not all(path.exists() for path in (made.chain, made.key, made.authority)):
        return False
    server = x509.load_pem_x509_certificates(made.chain.read_bytes())[0]
    known = server.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    here = {*known.get_values_for_type(x509.DNSName), *map(str, known.get_values_for_type(x509.IPAddress))}
    return here == set(names) and server.not_valid_after_utc > now + timedelta(days=_RENEW_DAYS)


def _issue(made: CertificateFiles, authority_key: Path, names: Sequence[str], now: datetime) -> None:
    """Sign a new certificate, by a new authority if there is none.

    Raises:
        OSError, ValueError: it can't be kept, or what is kept is damaged.
    """
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.hazmat.primitives.serialization import load_pem_private_key
    from cryptography.x509.oid import ExtendedKeyUsageOID

    authority = None
    if made.authority.exists() and authority_key.exists():
        authority = x509.load_pem_x509_certificate(made.authority.read_bytes())
    if authority is not None and authority.subject == _name(_title()):  # else this machine has a new name
        key = load_pem_private_key(authority_key.read_bytes(), None)
        if not isinstance(key, ec.EllipticCurvePrivateKey):
            raise ValueError("another kind of key")
    else:
        key = ec.generate_private_key(ec.SECP256R1())
        authority = _authority(key, now)
        write_whole(authority_key, _pem(key), private=True)
        write_whole(made.authority, _pem(authority), private=True)
    own = ec.generate_private_key(ec.SECP256R1())
    server = (
        _begun(names[0], authority.subject, own, now, _SERVER_DAYS)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.SubjectAlternativeName([_alternative(name) for name in names]), critical=False)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    write_whole(made.key, _pem(own), private=True)
    write_whole(made.chain, _pem(server) + _pem(authority), private=True)


def _authority(key: EllipticCurvePrivateKey, now: datetime) -> Certificate:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes

    allowed = [
        *(x509.IPAddress(ipaddress.ip_network(each)) for each in _PRIVATE_NETWORKS),
        *(x509.DNSName(each) for each in (socket.gethostname().lower(), "local", "localhost")),
    ]
    return (
        _begun(_title(), None, key, now, _AUTHORITY_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(x509.NameConstraints(allowed, None), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )


def _begun(
    title: str, issuer: Name | None, key: EllipticCurvePrivateKey, now: datetime, days: int
) -> CertificateBuilder:
    from cryptography import x509

    subject = _name(title)
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer or subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))  # a tablet's clock may be behind
        .not_valid_after(now + timedelta(days=days))
    )


def _title() -> str:
    return f"handsfree on {socket.gethostname().lower()}"


def _name(title: str) -> Name:
    from cryptography import x509
    from cryptography.x509.oid import NameOID

    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, title[:60])])


def _usage(*, signs: bool) -> KeyUsage:
    from cryptography import x509

    return x509.KeyUsage(
        digital_signature=not signs,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs,
        crl_sign=signs,
        encipher_only=False,
        decipher_only=False,
    )


def _alternative(name: str) -> DNSName | IPAddress:
    from cryptography import x509

    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _pem(thing: EllipticCurvePrivateKey | Certificate) -> bytes:
    from cryptography import x509
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    if isinstance(thing, x509.Certificate):
        return thing.public_bytes(Encoding.PEM)
    return thing.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
