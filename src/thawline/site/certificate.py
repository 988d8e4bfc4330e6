"""The household's own certificate authority, and the certificate with which its server answers."""

from __future__ import annotations

import contextlib
import ipaddress
import os
import re
import secrets
import socket
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import NamedTuple

from cryptography import x509
from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from thawline.site.folder import Folder

Address = ipaddress.IPv4Address | ipaddress.IPv6Address
Network = ipaddress.IPv4Network | ipaddress.IPv6Network

AUTHORITY_DAYS = 3652
SERVER_DAYS = 396  # browsers refuse more than 398
RENEW_DAYS = 30
EARLY = timedelta(hours=1)  # a phone's clock may be a little behind

LOCAL_NAMES = ("localhost", "127.0.0.1", "::1")
# Names that nobody on the open internet can own. Whoever gets hold of the authority's key can imitate no other site.
HOME_DOMAINS = ("localhost", "local", "home.arpa", "internal", "lan")
HOME_NETWORKS: tuple[Network, ...] = tuple(
    ipaddress.ip_network(text)
    for text in (
        "127.0.0.0/8",
        "10.0.0.0/8",
        "172.16.0.0/12",
        "192.168.0.0/16",
        "169.254.0.0/16",
        "::1/128",
        "fc00::/7",
        "fe80::/10",
    )
)
# Asking which of our addresses would be used towards these sends nothing.
_PROBES = ("192.0.2.1", "10.254.254.254", "172.31.254.254", "192.168.254.254", "2001:db8::1", "fd00::1")
_HOST_NAME = re.compile(
    r"(?=.{1,253}\Z)(?:[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?\.)*[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?"
)


class CertificateError(Exception):
    """The certificates cannot be made or used; the text says what to do."""


class Paths(NamedTuple):
    """Where the certificates and their keys lie."""

    ca: Path
    ca_key: Path
    server: Path
    server_key: Path

    @classmethod
    def of(cls, folder: Folder) -> Paths:
        base = folder.path / "https"
        return cls(base / "ca.pem", base / "ca-key.pem", base / "server.pem", base / "server-key.pem")


class _Authority(NamedTuple):
    certificate: x509.Certificate
    key: ec.EllipticCurvePrivateKey


def ensure(folder: Folder, names: Sequence[str], *, now: datetime, own: Sequence[str] | None = None) -> Paths:
    """Make what is missing and renew what runs out; `own` replaces `own_names()`; raises `CertificateError`."""
    paths = Paths.of(folder)
    given = [_clean(name) for name in names]
    mine = own_names() if own is None else own
    try:
        folder.make()
        paths.ca.parent.mkdir(mode=0o700, exist_ok=True)
        authority = _authority(paths, [*given, *mine], now)
        wanted = _wanted(authority.certificate, given, mine, paths)
        if not _still_good(paths, authority, wanted, now):
            _issue(paths, authority, wanted, now)
        _only_for_owner(paths)
    except OSError as fault:
        raise CertificateError(f"{fault.filename or paths.ca.parent}: {fault.strerror or fault}.") from fault
    return paths


def fingerprint(certificate: Path) -> str:
    """The SHA-256 of a certificate, in groups of four, for a person to compare; raises `CertificateError`."""
    try:
        digest = x509.load_pem_x509_certificate(certificate.read_bytes()).fingerprint(hashes.SHA256())
    except (OSError, ValueError) as fault:
        raise CertificateError(f"{certificate} cannot be read as a certificate.") from fault
    text = digest.hex().upper()
    return " ".join(text[at : at + 4] for at in range(0, len(text), 4))


def own_names() -> list[str]:
    """This computer's name, its name in `.local`, and its addresses on the home network."""
    host = socket.gethostname().lower().rstrip(".")
    short = host.partition(".")[0]
    names = [name for name in (host, short, f"{short}.local") if _HOST_NAME.fullmatch(name)]
    return list(dict.fromkeys([*names, *(str(address) for address in home_addresses())]))


def home_addresses() -> list[Address]:
    """This computer's addresses on the home network, without loopback and link-local ones; sends nothing."""
    found: dict[Address, None] = {}
    for text in (*map(_towards, _PROBES), *_by_name()):
        with contextlib.suppress(ValueError):
            found[ipaddress.ip_address(text)] = None
    return [
        address
        for address in found
        if not address.is_loopback and not address.is_link_local and _within(address, HOME_NETWORKS)
    ]


def is_loopback(host: str) -> bool:
    """Whether only this computer can reach what listens there."""
    if host.lower() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def is_wildcard(host: str) -> bool:
    """Whether it stands for all addresses of this computer."""
    try:
        return ipaddress.ip_address(host).is_unspecified
    except ValueError:
        return False


def names_to_open(host: str) -> list[str]:
    """Under which names a server that listens at `host` is found; the first is the best one to hand on."""
    if not is_wildcard(host):
        return [host]
    both = ipaddress.ip_address(host).version == 6
    addresses = [str(address) for address in home_addresses() if both or address.version == 4]
    named = [name for name in own_names() if name.endswith(".local")]
    return [*addresses, *named, "localhost"]


def _towards(probe: str) -> str:
    family = socket.AF_INET6 if ":" in probe else socket.AF_INET
    try:
        with socket.socket(family, socket.SOCK_DGRAM) as sock:
            sock.connect((probe, 9))
            return str(sock.getsockname()[0])
    except OSError:
        return ""


def _by_name() -> list[str]:
    try:
        return [str(entry[4][0]) for entry in socket.getaddrinfo(socket.gethostname(), None)]
    except (OSError, UnicodeError):
        return []


def _within(address: Address, networks: Iterable[Network]) -> bool:
    return any(address in network for network in networks)


def _clean(name: str) -> str:
    """A name or address as certificates write it."""
    with contextlib.suppress(ValueError):
        return str(ipaddress.ip_address(name))
    try:
        ascii_name = name.strip().rstrip(".").lower().encode("idna").decode("ascii")
    except UnicodeError:
        ascii_name = ""
    if not _HOST_NAME.fullmatch(ascii_name):
        raise CertificateError(f"“{name}” is neither a host name nor an address.")
    return ascii_name


def _general(name: str) -> x509.DNSName | x509.IPAddress:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)


# The authority


def _authority(paths: Paths, names: Sequence[str], now: datetime) -> _Authority:
    if not paths.ca.exists() and not paths.ca_key.exists():
        return _new_authority(paths, names, now)
    authority = _read_authority(paths)
    until = authority.certificate.not_valid_after_utc
    if now >= until:
        raise CertificateError(
            f"The household's authority ran out on {until:%d %B %Y}. Move {paths.ca.parent} away, start again, "
            "and install the new one on each phone."
        )
    return authority


def _read_authority(paths: Paths) -> _Authority:
    try:
        certificate = x509.load_pem_x509_certificate(paths.ca.read_bytes())
        key = serialization.load_pem_private_key(paths.ca_key.read_bytes(), password=None)
        certificate.verify_directly_issued_by(certificate)
    except FileNotFoundError as fault:
        raise _damaged(paths, f"{Path(fault.filename).name} is missing") from fault
    except (ValueError, TypeError, UnsupportedAlgorithm, InvalidSignature) as fault:
        raise _damaged(paths, "a file cannot be read") from fault
    if not isinstance(key, ec.EllipticCurvePrivateKey) or key.public_key() != certificate.public_key():
        raise _damaged(paths, "key and certificate do not belong together")
    return _Authority(certificate, key)


def _damaged(paths: Paths, what: str) -> CertificateError:
    return CertificateError(
        f"The household's authority in {paths.ca.parent} is damaged: {what}. Put ca.pem and ca-key.pem back from a "
        "backup. Without one, move the folder away, start again, and install the new authority on each phone."
    )


def _new_authority(paths: Paths, names: Sequence[str], now: datetime) -> _Authority:
    key = ec.generate_private_key(ec.SECP256R1())
    # The four digits tell this authority from an older one in a phone's list.
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Thawline household {secrets.token_hex(2)}")])
    public = key.public_key()
    certificate = (
        _builder(subject, subject, public, now, now + timedelta(days=AUTHORITY_DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(authority=True), critical=True)
        .add_extension(x509.NameConstraints(_permitted(names), None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(public), critical=False)
        .sign(key, hashes.SHA256())
    )
    _write(paths.ca_key, _key_bytes(key), 0o600)
    _write(paths.ca, certificate.public_bytes(serialization.Encoding.PEM), 0o644)
    return _Authority(certificate, key)


def _permitted(names: Sequence[str]) -> list[x509.GeneralName]:
    domains, networks = list(HOME_DOMAINS), list(HOME_NETWORKS)
    for name in names:
        try:
            address = ipaddress.ip_address(name)
        except ValueError:
            if not _within_domains(name, domains):
                domains.append(name)
        else:
            if not _within(address, networks):
                networks.append(ipaddress.ip_network(address))
    return [*(x509.DNSName(domain) for domain in domains), *(x509.IPAddress(network) for network in networks)]


def _within_domains(name: str, domains: Iterable[str]) -> bool:
    return any(name == domain or name.endswith(f".{domain}") for domain in domains)


# The server's certificate


def _wanted(ca: x509.Certificate, given: Sequence[str], own: Sequence[str], paths: Paths) -> list[str]:
    """What the server's certificate must name; one name that the authority may not sign would spoil all of it."""
    try:
        subtrees = ca.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees
    except x509.ExtensionNotFound:
        subtrees = None
    for name in given:
        if not _may_sign(subtrees, name):
            raise CertificateError(
                f"The household's authority may not speak for {name}: it was made without that name. Move "
                f"{paths.ca.parent} away, start again with the name, and install the new authority on each phone."
            )
    signable = [name for name in own if _may_sign(subtrees, name)]
    return list(dict.fromkeys([*LOCAL_NAMES, *signable, *given]))


def _may_sign(subtrees: Sequence[x509.GeneralName] | None, name: str) -> bool:
    if subtrees is None:
        return True
    try:
        address = ipaddress.ip_address(name)
    except ValueError:
        return _within_domains(name, (tree.value for tree in subtrees if isinstance(tree, x509.DNSName)))
    trees = (tree.value for tree in subtrees if isinstance(tree, x509.IPAddress))
    return _within(address, (tree for tree in trees if isinstance(tree, Network)))


def _still_good(paths: Paths, authority: _Authority, wanted: Sequence[str], now: datetime) -> bool:
    try:
        certificate = x509.load_pem_x509_certificate(paths.server.read_bytes())
        key = serialization.load_pem_private_key(paths.server_key.read_bytes(), password=None)
        certificate.verify_directly_issued_by(authority.certificate)
        names = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except (FileNotFoundError, ValueError, TypeError, UnsupportedAlgorithm, InvalidSignature, x509.ExtensionNotFound):
        return False
    in_time = certificate.not_valid_before_utc <= now <= certificate.not_valid_after_utc - timedelta(days=RENEW_DAYS)
    complete = {_general(name) for name in wanted} <= set(names)
    return in_time and complete and key.public_key() == certificate.public_key()


def _issue(paths: Paths, authority: _Authority, names: Sequence[str], now: datetime) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    public = key.public_key()
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Thawline server")])
    until = min(now + timedelta(days=SERVER_DAYS), authority.certificate.not_valid_after_utc)
    signer = authority.certificate.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
    certificate = (
        _builder(subject, authority.certificate.subject, public, now, until)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(authority=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName([_general(name) for name in names]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(public), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(signer), critical=False)
        .sign(authority.key, hashes.SHA256())
    )
    # A stop between the two leaves a pair that does not match, which the next start replaces.
    _write(paths.server_key, _key_bytes(key), 0o600)
    _write(paths.server, certificate.public_bytes(serialization.Encoding.PEM), 0o644)


# Parts of both


def _builder(
    subject: x509.Name, issuer: x509.Name, public: ec.EllipticCurvePublicKey, now: datetime, until: datetime
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(public)
        .serial_number(x509.random_serial_number())
        .not_valid_before((now - EARLY).replace(microsecond=0))
        .not_valid_after(until.replace(microsecond=0))
    )


def _usage(*, authority: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not authority,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=authority,
        crl_sign=authority,
        encipher_only=False,
        decipher_only=False,
    )


def _key_bytes(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )


def _write(path: Path, content: bytes, mode: int) -> None:
    """Write all of a file or nothing of it."""
    draft = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    try:
        with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        draft.replace(path)
    finally:
        draft.unlink(missing_ok=True)


def _only_for_owner(paths: Paths) -> None:
    """Close key files that a copy or a restored backup left open to others."""
    for path in (paths.ca_key, paths.server_key):
        if path.stat().st_mode & 0o077:
            path.chmod(0o600)
