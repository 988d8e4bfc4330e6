"""Serving at home: who may be listened to, certificates, and a server that stays reachable and stops in order."""

from __future__ import annotations

import contextlib
import http.client
import ipaddress
import os
import shutil
import signal
import socket
import ssl
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from wsgiref.types import StartResponse, WSGIEnvironment

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.x509 import verification

from thawline.site import serving
from thawline.site.certificate import CertificateError, Paths, ensure, fingerprint, is_loopback
from thawline.site.folder import Folder
from thawline.site.serving import Running, ServingError, serve, start

pytestmark = pytest.mark.timeout(60)

NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)
OWN = ["kitchen", "kitchen.local", "192.168.7.20"]


def application(environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
    body = f"{environ['wsgi.url_scheme']} {environ.get('HTTP_X_FORWARDED_PROTO', '-')}".encode()
    start_response("200 OK", [("Content-Type", "text/plain"), ("Content-Length", str(len(body)))])
    return [body]


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    return Folder(tmp_path / "home")


@contextlib.contextmanager
def running(folder: Folder, *, https: bool, **other: str) -> Iterator[Running]:
    host = other.get("host", "127.0.0.1")
    with start(application, host=host, port=0, folder=folder, https=https, owner_exists=lambda: True) as server:
        yield server


@pytest.fixture
def secured(folder: Folder) -> Iterator[Running]:
    with running(folder, https=True) as server:
        yield server


def trusting(folder: Folder) -> ssl.SSLContext:
    """What a phone knows that has only the household's authority installed."""
    return ssl.create_default_context(cafile=str(Paths.of(folder).ca))


def get(connection: http.client.HTTPConnection, path: str = "/") -> http.client.HTTPResponse:
    with contextlib.closing(connection):
        connection.request("GET", path)
        response = connection.getresponse()
        response.msg["Body"] = response.read().decode("latin-1").replace("\n", " ")
        return response


def plain(port: int | None) -> http.client.HTTPConnection:
    assert port is not None
    return http.client.HTTPConnection("127.0.0.1", port, timeout=5)


def read(path: Path) -> x509.Certificate:
    return x509.load_pem_x509_certificate(path.read_bytes())


def names_in(path: Path) -> set[str]:
    names = read(path).extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return {str(name.value) for name in names}


# What the certificates are. Sections of RFC 5280 are named from memory.


def test_the_authority_signs_for_the_home_and_nothing_else(folder: Folder) -> None:
    ca = read(ensure(folder, ["thawline.example"], now=NOW, own=OWN).ca)
    basic = ca.extensions.get_extension_for_class(x509.BasicConstraints)  # 4.2.1.9
    assert basic.critical and basic.value == x509.BasicConstraints(ca=True, path_length=0)
    usage = ca.extensions.get_extension_for_class(x509.KeyUsage)  # 4.2.1.3
    assert usage.critical and usage.value.key_cert_sign and not usage.value.digital_signature
    limits = ca.extensions.get_extension_for_class(x509.NameConstraints)  # 4.2.1.10: critical
    permitted = {str(tree.value) for tree in limits.value.permitted_subtrees or ()}
    assert limits.critical
    assert {"local", "home.arpa", "kitchen", "thawline.example", "192.168.0.0/16", "fc00::/7"} <= permitted
    assert ca.subject == ca.issuer  # 4.1.2.4, 4.1.2.6: self-issued
    assert 0 < ca.serial_number < 2**159  # 4.1.2.2: positive, at most 20 octets
    assert timedelta(days=3650) < ca.not_valid_after_utc - ca.not_valid_before_utc < timedelta(days=3660)


def test_the_server_certificate_keeps_the_profile(folder: Folder) -> None:
    paths = ensure(folder, ["thawline.home.arpa"], now=NOW, own=OWN)
    ca, server = read(paths.ca), read(paths.server)
    wanted = {"localhost", "127.0.0.1", "::1", *OWN, "thawline.home.arpa"}
    assert names_in(paths.server) == wanted  # 4.2.1.6
    assert server.not_valid_after_utc - server.not_valid_before_utc <= timedelta(days=397)  # 4.1.2.5
    extensions = server.extensions
    assert not extensions.get_extension_for_class(x509.BasicConstraints).value.ca  # 4.2.1.9
    assert extensions.get_extension_for_class(x509.KeyUsage).value.digital_signature  # 4.2.1.3
    assert list(extensions.get_extension_for_class(x509.ExtendedKeyUsage).value) == [  # 4.2.1.12
        x509.oid.ExtendedKeyUsageOID.SERVER_AUTH
    ]
    signer = extensions.get_extension_for_class(x509.AuthorityKeyIdentifier).value.key_identifier  # 4.2.1.1
    assert signer == ca.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value.digest  # 4.2.1.2


@pytest.mark.parametrize("name", ["localhost", "kitchen.local", "192.168.7.20", "::1"])
def test_a_second_reader_agrees_with_the_chain(folder: Folder, name: str) -> None:
    paths = ensure(folder, [], now=NOW, own=OWN)
    try:
        subject: x509.DNSName | x509.IPAddress = x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        subject = x509.DNSName(name)
    builder = verification.PolicyBuilder().store(verification.Store([read(paths.ca)])).time(NOW)
    chain = builder.build_server_verifier(subject).verify(read(paths.server), [])
    assert chain[-1] == read(paths.ca)


@pytest.mark.skipif(shutil.which("openssl") is None, reason="openssl is not here")
def test_openssl_agrees_with_the_chain(folder: Folder) -> None:
    paths = ensure(folder, [], now=NOW, own=OWN)
    command = [shutil.which("openssl") or "", "verify", "-x509_strict", "-purpose", "sslserver"]
    moment = ["-attime", str(int(NOW.timestamp())), "-CAfile", str(paths.ca)]
    for check in (["-verify_hostname", "kitchen.local"], ["-verify_ip", "192.168.7.20"]):
        done = subprocess.run(
            [*command, *moment, *check, str(paths.server)], capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr
    wrong = [*command, *moment, "-verify_hostname", "other.local", str(paths.server)]
    assert subprocess.run(wrong, capture_output=True, check=False).returncode != 0


def test_the_authority_cannot_speak_for_the_open_internet(folder: Folder, monkeypatch: pytest.MonkeyPatch) -> None:
    paths = ensure(folder, [], now=NOW, own=OWN)
    monkeypatch.setattr("thawline.site.certificate._may_sign", lambda *_: True)  # a thief asks nobody
    ensure(folder, ["shop.example"], now=NOW, own=OWN)
    builder = verification.PolicyBuilder().store(verification.Store([read(paths.ca)])).time(NOW)
    with pytest.raises(verification.VerificationError):
        builder.build_server_verifier(x509.DNSName("shop.example")).verify(read(paths.server), [])


def test_only_the_owner_reads_keys(folder: Folder) -> None:
    paths = ensure(folder, [], now=NOW, own=OWN)
    assert paths.ca.parent.stat().st_mode & 0o777 == 0o700
    paths.ca_key.chmod(0o644)
    ensure(folder, [], now=NOW, own=OWN)
    assert [path.stat().st_mode & 0o777 for path in (paths.ca_key, paths.server_key)] == [0o600, 0o600]
    assert sorted(path.name for path in paths.ca.parent.iterdir()) == sorted(path.name for path in paths)


def test_the_fingerprint_is_the_sha_256_in_groups(folder: Folder) -> None:
    ca = ensure(folder, [], now=NOW, own=OWN).ca
    groups = fingerprint(ca).split(" ")
    assert [len(group) for group in groups] == [4] * 16
    assert bytes.fromhex("".join(groups)) == read(ca).fingerprint(hashes.SHA256())


# When they are renewed


@pytest.mark.parametrize(("days", "renewed"), [(0, False), (365, False), (367, True), (800, True), (-2, True)])
def test_the_server_certificate_is_renewed_in_its_last_thirty_days(folder: Folder, days: int, renewed: bool) -> None:
    paths = ensure(folder, [], now=NOW, own=OWN)
    before, ca = paths.server.read_bytes(), paths.ca.read_bytes()
    ensure(folder, [], now=NOW + timedelta(days=days), own=OWN)
    assert (paths.server.read_bytes() != before) is renewed
    assert paths.ca.read_bytes() == ca


@pytest.mark.parametrize("change", ["given", "own", "server", "server_key", "other_key"])
def test_what_is_missing_or_does_not_fit_is_made_anew(folder: Folder, change: str, tmp_path: Path) -> None:
    paths = ensure(folder, [], now=NOW, own=OWN)
    before, ca = paths.server.read_bytes(), paths.ca.read_bytes()
    if change == "server":
        paths.server.unlink()
    elif change == "server_key":
        paths.server_key.write_bytes(b"")
    elif change == "other_key":
        shutil.copy(paths.ca_key, paths.server_key)
    given = ["milk.local"] if change == "given" else []
    own = [*OWN, "10.0.0.9"] if change == "own" else OWN
    ensure(folder, given, now=NOW, own=own)
    assert paths.server.read_bytes() != before
    assert {*given, *own} <= names_in(paths.server)
    assert paths.ca.read_bytes() == ca


def test_a_name_no_longer_needed_renews_nothing(folder: Folder) -> None:
    paths = ensure(folder, ["milk.local"], now=NOW, own=OWN)
    before = paths.server.read_bytes()
    ensure(folder, [], now=NOW, own=OWN)
    assert paths.server.read_bytes() == before


def test_a_computer_renamed_keeps_its_authority(folder: Folder) -> None:
    ensure(folder, [], now=NOW, own=OWN)
    paths = ensure(folder, [], now=NOW, own=["study", "study.local"])
    assert "study.local" in names_in(paths.server) and "study" not in names_in(paths.server)


@pytest.mark.parametrize("change", ["no key", "no certificate", "garbage", "other key"])
def test_a_damaged_authority_is_never_replaced(folder: Folder, change: str, tmp_path: Path) -> None:
    paths = ensure(folder, [], now=NOW, own=OWN)
    if change == "no key":
        paths.ca_key.unlink()
    elif change == "no certificate":
        paths.ca.unlink()
    elif change == "garbage":
        paths.ca.write_bytes(b"-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n")
    else:
        shutil.copy(paths.server_key, paths.ca_key)
    before = {path.name: path.read_bytes() for path in paths.ca.parent.iterdir()}
    with pytest.raises(CertificateError, match=r"is damaged: .*backup.*move the folder away"):
        ensure(folder, [], now=NOW, own=OWN)
    assert {path.name: path.read_bytes() for path in paths.ca.parent.iterdir()} == before
    with pytest.raises(ServingError, match="is damaged"), running(folder, https=True):
        pass


def test_an_authority_that_ran_out_says_so(folder: Folder) -> None:
    ensure(folder, [], now=NOW, own=OWN)
    with pytest.raises(CertificateError, match=r"ran out on .* 2036"):
        ensure(folder, [], now=NOW + timedelta(days=3700), own=OWN)


def test_a_name_beyond_the_authority_is_refused_with_what_to_do(folder: Folder) -> None:
    ensure(folder, [], now=NOW, own=OWN)
    with pytest.raises(CertificateError, match=r"may not speak for thawline\.example"):
        ensure(folder, ["thawline.example"], now=NOW, own=OWN)


@pytest.mark.parametrize("name", ["", "two words", "*.local", "a..b", "under_score", "-x", "x" * 64])
def test_what_is_no_name_is_refused(folder: Folder, name: str) -> None:
    with pytest.raises(CertificateError, match="neither a host name nor an address"):
        ensure(folder, [name], now=NOW, own=OWN)


# Over the wire


@pytest.mark.parametrize("name", ["127.0.0.1", "localhost"])
def test_a_phone_with_the_authority_accepts_the_server(folder: Folder, secured: Running, name: str) -> None:
    with (
        socket.create_connection(("127.0.0.1", secured.port), timeout=5) as raw,
        trusting(folder).wrap_socket(raw, server_hostname=name) as tls,
    ):
        assert tls.version() in {"TLSv1.2", "TLSv1.3"}
        tls.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")
        answer = b"".join(iter(lambda: tls.recv(4096), b""))
    assert answer.startswith(b"HTTP/1.1 200 ") and answer.endswith(b"https -")


def test_a_phone_accepts_no_other_name_and_none_without_the_authority(folder: Folder, secured: Running) -> None:
    for context, name in ((trusting(folder), "other.local"), (ssl.create_default_context(), "localhost")):
        with (
            socket.create_connection(("127.0.0.1", secured.port), timeout=5) as raw,
            pytest.raises(ssl.SSLCertVerificationError),
        ):
            context.wrap_socket(raw, server_hostname=name)


def test_old_tls_is_refused(secured: Running) -> None:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
    context.set_ciphers("ALL:@SECLEVEL=0")
    with pytest.warns(DeprecationWarning, match="TLSv1"):
        context.minimum_version = ssl.TLSVersion.TLSv1
    with pytest.warns(DeprecationWarning, match="TLSv1"):
        context.maximum_version = ssl.TLSVersion.TLSv1_1
    with (
        socket.create_connection(("127.0.0.1", secured.port), timeout=5) as raw,
        pytest.raises((ssl.SSLError, ConnectionError)),
    ):
        context.wrap_socket(raw)


def test_plain_http_at_the_https_port_is_sent_to_https(secured: Running) -> None:
    response = get(plain(secured.port), "/board")
    assert (response.status, response.msg["Location"]) == (308, f"https://127.0.0.1:{secured.port}/")


def test_the_helper_hands_out_the_authority_and_points_to_https(folder: Folder, secured: Running) -> None:
    response = get(plain(secured.http_port), "/thawline-ca.pem")
    assert response.msg["Content-Type"] == "application/x-x509-ca-cert"
    assert response.msg["Body"] == Paths.of(folder).ca.read_text().replace("\n", " ")
    page = get(plain(secured.http_port))
    there = f"https://127.0.0.1:{secured.port}"
    assert page.status == 200 and f'href="{there}"' in page.msg["Body"] and "fingerprint" in page.msg["Body"]
    moved = get(plain(secured.http_port), "/history/%C3%A4?day=2%202")
    assert (moved.status, moved.msg["Location"]) == (308, f"{there}/history/%C3%A4?day=2%202")


def test_the_helper_shows_neither_keys_nor_the_application(secured: Running) -> None:
    for path in ("/ca-key.pem", "/thawline-ca.pem/", "/../ca-key.pem", "/a//else.example/"):
        response = get(plain(secured.http_port), path)
        assert response.status == 308
        assert response.msg["Location"].startswith(f"https://127.0.0.1:{secured.port}/")


def test_the_helper_repeats_no_strange_host(secured: Running) -> None:
    with contextlib.closing(plain(secured.http_port)) as connection:
        connection.request("GET", "/", headers={"Host": '"><script>'})
        assert connection.getresponse().status == 400


def test_a_header_with_an_underscore_does_not_pass_for_the_proxys(folder: Folder) -> None:
    with running(folder, https=False) as server, contextlib.closing(plain(server.port)) as connection:
        connection.request("GET", "/", headers={"X_Forwarded_Proto": "https"})
        assert connection.getresponse().read() == b"http -"


def test_the_notice_names_addresses_and_the_fingerprint(folder: Folder, secured: Running) -> None:
    text = "\n".join(secured.notice())
    assert f"https://127.0.0.1:{secured.port}" in text and f"http://127.0.0.1:{secured.http_port}/" in text
    assert fingerprint(Paths.of(folder).ca) in text


def test_a_renewed_certificate_is_taken_up_while_serving(
    folder: Folder, secured: Running, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(serving, "LOOK_AGAIN", 0.05)
    asked = threading.Event()

    def renew() -> Paths:
        asked.set()
        return ensure(folder, ["milk.local"], now=datetime.now(UTC))

    thread = threading.Thread(target=secured.keep_certified, args=(renew,))
    thread.start()
    assert asked.wait(5)
    time.sleep(0.2)
    with (
        socket.create_connection(("127.0.0.1", secured.port), timeout=5) as raw,
        trusting(folder).wrap_socket(raw, server_hostname="milk.local"),
    ):
        pass
    secured.stop()
    thread.join(5)
    assert not thread.is_alive()


# Who may be listened to


@pytest.mark.parametrize(
    ("host", "loopback"),
    [
        ("127.0.0.1", True),
        ("127.9.9.9", True),
        ("::1", True),
        ("localhost", True),
        ("LocalHost", True),
        ("0.0.0.0", False),  # noqa: S104 - the point of the row
        ("::", False),
        ("192.168.7.20", False),
        ("::ffff:192.168.7.20", False),
        ("localhost.example", False),
        ("127.1", False),
        ("", False),
    ],
)
def test_beyond_this_computer_only_with_a_password(folder: Folder, host: str, loopback: bool) -> None:
    assert is_loopback(host) is loopback
    if not loopback:
        with pytest.raises(ServingError, match=r"Set a password first: open http://127\.0\.0\.1:8765 on this computer"):
            start(application, host=host, port=8765, folder=folder, https=True, owner_exists=lambda: False)
        assert not folder.path.exists()


def test_on_this_computer_no_password_is_needed(folder: Folder) -> None:
    with start(application, host="localhost", port=0, folder=folder, https=False, owner_exists=lambda: False) as server:
        assert get(plain(server.port)).msg["Body"] == "http -"


def test_all_addresses_with_a_password(folder: Folder) -> None:
    with running(folder, https=False, host="0.0.0.0") as server:  # noqa: S104 - the point of the test
        assert get(plain(server.port)).status == 200
        assert f"http://localhost:{server.port}" in server.addresses
        assert any("plain http" in line for line in server.notice())


# What goes wrong at the start


def test_a_port_in_use_is_named(folder: Folder) -> None:
    with running(folder, https=False) as server, pytest.raises(ServingError, match=f"Port {server.port} is in use"):
        start(application, host="127.0.0.1", port=server.port, folder=folder, https=False, owner_exists=lambda: True)


def test_where_the_helpers_port_is_in_use_nothing_stays_behind(folder: Folder) -> None:
    with running(folder, https=False) as server:
        taken, busy = server.port, threading.active_count()
        with pytest.raises(ServingError, match=f"Port {taken} is in use"):
            start(
                application,
                host="127.0.0.1",
                port=0,
                http_port=taken,
                folder=folder,
                https=True,
                owner_exists=lambda: True,
            )
        end = time.monotonic() + 5
        while threading.active_count() > busy and time.monotonic() < end:
            time.sleep(0.05)
        assert threading.active_count() <= busy


@pytest.mark.parametrize(
    ("host", "port", "says"),
    [
        ("no such host", 0, "no address of this computer"),
        (" ", 0, "no address of this computer"),
        ("192.0.2.7", 0, "This computer has no address"),
        ("127.0.0.1", 70_000, "There is no port 70000"),
        ("127.0.0.1", -1, "There is no port -1"),
    ],
)
def test_a_host_or_port_that_cannot_be(folder: Folder, host: str, port: int, says: str) -> None:
    with pytest.raises(ServingError, match=says) as caught:
        start(application, host=host, port=port, folder=folder, https=False, owner_exists=lambda: True)
    assert "\n" not in str(caught.value)


def test_no_permission_is_said_in_one_line() -> None:
    text = serving._why(PermissionError(13, "Permission denied"), "127.0.0.1", 80)
    assert text == "No permission to use port 80. Choose one above 1023 with --port."


def test_a_folder_that_cannot_be_written_is_named(folder: Folder) -> None:
    folder.path.write_text("a file in its place")
    with pytest.raises(ServingError, match="home"), running(folder, https=True):
        pass


# Many phones, slow phones


@pytest.mark.parametrize("https", [False, True])
@pytest.mark.parametrize("kind", ["kept alive", "never used", "greeted"])
def test_thirty_idle_connections_hold_nobody_up(folder: Folder, https: bool, kind: str) -> None:
    with running(folder, https=https) as server, contextlib.ExitStack() as stack:
        opened: Callable[[], http.client.HTTPConnection] = lambda: http.client.HTTPConnection(  # noqa: E731
            "127.0.0.1", server.port, timeout=5
        )
        if https and kind != "never used":
            context = trusting(folder)
            opened = lambda: http.client.HTTPSConnection("127.0.0.1", server.port, timeout=5, context=context)  # noqa: E731
        for _ in range(30):
            idle = stack.enter_context(contextlib.closing(opened()))
            idle.connect()
            if kind == "kept alive":
                idle.request("GET", "/")
                answer = idle.getresponse()
                assert answer.read() and not answer.will_close
        begun = time.monotonic()
        newcomer = (
            http.client.HTTPSConnection("127.0.0.1", server.port, timeout=5, context=trusting(folder))
            if https
            else opened()
        )
        assert get(newcomer).status == 200
        assert time.monotonic() - begun < 1


def test_an_unfinished_greeting_holds_nobody_up(folder: Folder, secured: Running) -> None:
    with contextlib.ExitStack() as stack:
        for _ in range(30):
            half = stack.enter_context(socket.create_connection(("127.0.0.1", secured.port), timeout=5))
            half.sendall(b"\x16\x03\x01")
        begun = time.monotonic()
        secure = http.client.HTTPSConnection("127.0.0.1", secured.port, timeout=5, context=trusting(folder))
        assert get(secure).msg["Body"] == "https -"
        assert time.monotonic() - begun < 1


@pytest.mark.parametrize("sent", [b"", b"GET / HT", b"POST / HTTP/1.1\r\nHost: a\r\nContent-Length: 9\r\n\r\nhalf"])
def test_a_phone_that_goes_away_is_no_fault(
    folder: Folder, secured: Running, caplog: pytest.LogCaptureFixture, sent: bytes
) -> None:
    with (
        socket.create_connection(("127.0.0.1", secured.port), timeout=5) as raw,
        trusting(folder).wrap_socket(raw, server_hostname="localhost") as tls,
    ):
        tls.sendall(sent)
    secured.stop()
    assert [record.getMessage() for record in caplog.records if record.name == "thawline.site.serving"] == []


def test_a_request_in_pieces_is_read_as_one(folder: Folder, secured: Running) -> None:
    with (
        socket.create_connection(("127.0.0.1", secured.port), timeout=5) as raw,
        trusting(folder).wrap_socket(raw, server_hostname="localhost") as tls,
    ):
        for piece in (b"GET / HT", b"TP/1.1\r\nHost: a\r\nConn", b"ection: close\r\n\r\n"):
            tls.sendall(piece)
            time.sleep(0.1)
        assert b"".join(iter(lambda: tls.recv(4096), b"")).endswith(b"https -")


def test_too_much_is_refused(folder: Folder) -> None:
    with running(folder, https=False) as server:
        for path, headers in (("/", {"X-Long": "x" * 40_000}), ("/", {"Content-Length": "30000000"})):
            with contextlib.closing(plain(server.port)) as connection:
                connection.request("GET", path, headers=headers)
                assert connection.getresponse().status == 413


# The end

SCRIPT = """
import sys, time
from pathlib import Path
from thawline.site.folder import Folder
from thawline.site.serving import serve

def application(environ, start_response):
    print("begun", flush=True)
    time.sleep(1.5)
    start_response("200 OK", [("Content-Length", "4")])
    return [b"done"]

serve(application, host="127.0.0.1", port=int(sys.argv[2]), folder=Folder(Path(sys.argv[1])), https=False,
      owner_exists=lambda: False, say=lambda line: print(line, flush=True))
print("ended in order", flush=True)
"""


def free_port() -> int:
    with socket.socket() as sock:
        sock.bind(("127.0.0.1", 0))
        return int(sock.getsockname()[1])


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_stops_it_after_the_running_request(folder: Folder, number: signal.Signals) -> None:
    port = free_port()
    with subprocess.Popen(
        [sys.executable, "-W", "error", "-c", SCRIPT, str(folder.path), str(port)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "LISTEN_PID": "1"},
    ) as process:
        try:
            assert process.stdout is not None
            assert any("Ctrl-C" in line for line in iter(process.stdout.readline, ""))
            with contextlib.closing(plain(port)) as connection:
                connection.request("GET", "/")
                assert process.stdout.readline() == "begun\n"
                begun = time.monotonic()
                process.send_signal(number)
                assert connection.getresponse().read() == b"done"
            rest, faults = process.communicate(timeout=5)
        finally:
            process.kill()
    assert time.monotonic() - begun < 5
    assert (process.returncode, faults) == (0, "")
    assert rest.startswith("Stopping.") and rest.endswith("ended in order\n")


def test_a_request_that_never_ends_cannot_hold_up_the_end(folder: Folder, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(serving, "FINISH", 0.2)
    monkeypatch.setattr(serving, "GIVE_UP", 1)
    begun, release = threading.Event(), threading.Event()

    def stuck(environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        begun.set()
        release.wait(20)
        return application(environ, start_response)

    server = start(stuck, host="127.0.0.1", port=0, folder=folder, https=False, owner_exists=lambda: True)
    with socket.create_connection(("127.0.0.1", server.port), timeout=5) as sock:
        sock.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\n\r\n")
        assert begun.wait(5)
        since = time.monotonic()
        server.stop()
        assert time.monotonic() - since < 3
        release.set()


def test_handlers_of_signals_are_given_back(folder: Folder) -> None:
    before = [signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)]
    said: list[str] = []

    def say(line: str) -> None:
        said.append(line)
        if line.startswith("Ctrl-C"):
            signal.raise_signal(signal.SIGTERM)

    serve(application, host="127.0.0.1", port=0, folder=folder, https=False, owner_exists=lambda: False, say=say)
    assert said[-1].startswith("Stopping.")
    assert [signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)] == before
