"""Serving the web application to the phones of a household, over http or https."""

from __future__ import annotations

import errno
import logging
import os
import re
import signal
import socket
import ssl
import sys
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, nullcontext
from datetime import UTC, datetime
from typing import Any, Self
from wsgiref.types import WSGIApplication

from cheroot.errors import FatalSSLAlert
from cheroot.server import HeaderReader, HTTPConnection, HTTPRequest
from cheroot.ssl.builtin import BuiltinSSLAdapter
from cheroot.wsgi import Server

from thawline.site import certificate
from thawline.site.authority import address, helper_application
from thawline.site.certificate import CertificateError, Paths, is_loopback, is_wildcard, names_to_open
from thawline.site.folder import Folder

THREADS = 20  # a family's phones; a request in slow reading holds one of them
TIMEOUT = 15  # seconds: for a stalled read or write, and for a connection at rest
CONNECTIONS = 200  # at rest at one time
HEADER_BYTES = 32_768
BODY_BYTES = 20_000_000
FINISH = 4  # seconds: for running requests when stopping
GIVE_UP = 10  # seconds: after which stopping waits no more
LOOK_AGAIN = 3600  # seconds

_log = logging.getLogger(__name__)
_HOST_LINE = re.compile(rb"^Host:[ \t]*([A-Za-z0-9._:\[\]-]+)[ \t]*\r?$", re.IGNORECASE | re.MULTILINE)


class ServingError(Exception):
    """The server cannot start; one line says why and what to do."""


class _Adapter(BuiltinSSLAdapter):
    """TLS whose handshake is left to the connection: in the accepting thread one slow phone would stop all others."""

    def wrap(self, sock: socket.socket) -> tuple[ssl.SSLSocket, dict[str, str]]:
        try:
            wrapped = self.context.wrap_socket(sock, server_side=True, do_handshake_on_connect=False)
        except (OSError, ValueError) as fault:
            sock.close()
            raise FatalSSLAlert(*fault.args) from fault
        return wrapped, {"wsgi.url_scheme": "https", "HTTPS": "on"}


class _Headers(HeaderReader):  # the library's own class for this fails on every request
    # "X_Forwarded_Proto" must not pass for the header that only a proxy may set.
    def _allow_header(self, key_name: bytes) -> bool:
        return b"_" not in key_name


class _Request(HTTPRequest):
    header_reader = _Headers()


class _Connection(HTTPConnection):
    RequestHandlerClass = _Request
    begun = greeted = False

    def communicate(self) -> bool:
        """Take the next step on a connection that has something to read; whether to keep it."""
        if self.greeted or self.server.ssl_adapter is None:
            return bool(super().communicate())  # type: ignore[no-untyped-call]
        self.socket.settimeout(0)
        try:
            if not self.begun and socket.socket.recv(self.socket, 1, socket.MSG_PEEK) != b"\x16":  # opens TLS
                self._point_to_https()
                return False
            self.begun = True
            self.socket.do_handshake()
        except ssl.SSLWantReadError:
            return True
        except OSError:
            return False
        finally:
            self.socket.settimeout(self.server.timeout)
        self.greeted = True
        return True

    def _point_to_https(self) -> None:
        found = _HOST_LINE.search(socket.socket.recv(self.socket, 4096))
        start = b"308 Permanent Redirect\r\nLocation: https://%b/" % found[1] if found else b"400 Bad Request"
        end = b"\r\nCache-Control: no-store\r\nContent-Length: 0\r\nConnection: close\r\n\r\n"
        socket.socket.sendall(self.socket, b"HTTP/1.1 " + start + end)


class _Server(Server):
    ConnectionClass = _Connection
    max_request_header_size = HEADER_BYTES
    max_request_body_size = BODY_BYTES
    keep_alive_conn_limit = CONNECTIONS

    def __init__(self, host: str, port: int, application: WSGIApplication) -> None:
        super().__init__((host, port), application, THREADS, "thawline")
        self.request_queue_size, self.timeout, self.shutdown_timeout = 64, TIMEOUT, FINISH

    @staticmethod
    def bind_socket(socket_: socket.socket, bind_addr: tuple[str, int]) -> socket.socket:
        try:
            socket_.bind(bind_addr)
        except OSError as fault:
            socket_.close()
            raise ServingError(_why(fault, *bind_addr[:2])) from fault
        return socket_

    def process_conn(self, conn: HTTPConnection) -> None:
        """Let a new connection wait for its first byte at rest: browsers open some that they never use."""
        if conn.last_used is not None:
            super().process_conn(conn)
        elif self.can_add_keepalive_connection:
            self.put_conn(conn)
        else:
            conn.close()

    def error_log(self, msg: str = "", level: int = logging.INFO, traceback: bool = False) -> None:
        # A phone that goes out of reach is no fault of ours.
        gone = isinstance(sys.exception(), (ssl.SSLError, ConnectionError, TimeoutError))
        _log.log(logging.DEBUG if gone else level, "%s", msg, exc_info=traceback)


def _why(fault: OSError, host: str, port: int) -> str:
    if fault.errno == errno.EADDRINUSE:
        return f"Port {port} is in use. Stop what uses it, or choose another with --port."
    if fault.errno in (errno.EACCES, errno.EPERM):
        return f"No permission to use port {port}. Choose one above 1023 with --port."
    if fault.errno in (errno.EADDRNOTAVAIL, errno.EAFNOSUPPORT):
        return f"This computer has no address {host}. Choose another with --host."
    return f"Cannot listen at {host}, port {port}: {fault.strerror or fault}."


class _Part:
    """One listening server in a thread of its own. Its threads are daemons, so that none can hold up the end."""

    def __init__(self, server: _Server) -> None:
        self.server = server
        self._fault: Exception | None = None
        self._prepared = threading.Event()
        self.thread = threading.Thread(target=self._run, name="serving", daemon=True)

    def start(self) -> None:
        self.thread.start()
        self._prepared.wait()
        if self._fault is not None:
            raise self._fault

    @property
    def port(self) -> int:
        return int(self.server.bind_addr[1])

    def _run(self) -> None:
        try:
            self.server.prepare()
        except Exception as fault:  # noqa: BLE001 - handed over to the thread that starts us
            self._fault = fault
            return
        finally:
            self._prepared.set()
        self.server.serve()


class Running:
    """A server that answers; leaving the context stops it, after the requests that are under way."""

    def __init__(self, host: str, main: _Part, helper: _Part | None = None) -> None:
        self.port = main.port
        self.http_port = None if helper is None else helper.port
        self.fingerprint = ""
        self._beyond = not is_loopback(host)
        self._names = names_to_open(host)
        self._parts = [main] if helper is None else [main, helper]
        self._stopped = threading.Event()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    @property
    def alive(self) -> bool:
        return all(part.thread.is_alive() for part in self._parts)

    @property
    def addresses(self) -> list[str]:
        """Where to open it; the first is the best one to hand on."""
        scheme = "http" if self.http_port is None else "https"
        return [address(scheme, name, self.port) for name in self._names]

    def stop(self) -> None:
        """Stop listening, finish what is under way; waits some seconds at most."""
        self._stopped.set()
        stoppers = [threading.Thread(target=part.server.stop, daemon=True) for part in self._parts]
        for stopper in stoppers:
            stopper.start()
        end = time.monotonic() + GIVE_UP
        for thread in (*stoppers, *(part.thread for part in self._parts)):
            thread.join(max(0, end - time.monotonic()))

    def notice(self) -> list[str]:
        """What to tell the person who started it, line by line."""
        lines = ["Thawline answers at:", *(f"  {address}" for address in self.addresses)]
        if self.http_port is not None:
            lines += [
                "Each phone needs the household's authority once. Open on it:",
                f"  {address('http', self._names[0], self.http_port)}/",
                "Its SHA-256 fingerprint, to compare before it is trusted:",
                f"  {self.fingerprint}",
            ]
        elif self._beyond:
            lines.append("This is plain http: others on this network can read what is sent. --https changes that.")
        return [*lines, "Ctrl-C stops it."]

    def keep_certified(self, renew: Callable[[], Paths]) -> None:
        """Look again from time to time: an address may change and a certificate run out while we serve."""
        while not self._stopped.wait(LOOK_AGAIN):
            try:
                paths = renew()
                self._parts[0].server.ssl_adapter.context.load_cert_chain(paths.server, paths.server_key)
            except (CertificateError, OSError) as fault:
                _log.warning("The certificate could not be renewed: %s", fault)


def serve(
    application: WSGIApplication,
    *,
    host: str,
    port: int,
    folder: Folder,
    https: bool,
    names: Sequence[str] = (),
    http_port: int | None = None,
    owner_exists: Callable[[], bool],
    say: Callable[[str], None],
    while_serving: AbstractContextManager[object] | None = None,
) -> None:
    """Serve until a signal says stop, from the main thread; ports as in `start`; raises `ServingError`.

    `while_serving` is entered once the server answers, and left when it is told to stop.
    """
    asked = threading.Event()
    before = {number: signal.signal(number, lambda *_: asked.set()) for number in _orders()}
    try:
        with start(
            application,
            host=host,
            port=port,
            folder=folder,
            https=https,
            names=names,
            http_port=http_port,
            owner_exists=owner_exists,
        ) as running:
            for line in running.notice():
                say(line)
            with while_serving or nullcontext():
                while not asked.wait(1):
                    if not running.alive:
                        raise ServingError("The server stopped by itself; its messages say why. Start it again.")
            # From here on a second signal ends the process at once.
            _restore(before)
            say("Stopping. Requests under way are finished first.")
    finally:
        _restore(before)


def _orders() -> list[signal.Signals]:
    """The signals by which a server is told to stop; a terminal that is closed, unless it was to outlive that."""
    found = [signal.SIGINT, signal.SIGTERM]
    hangup = getattr(signal, "SIGHUP", None)
    if hangup is not None and signal.getsignal(hangup) != signal.SIG_IGN:
        found.append(hangup)
    return found


def _restore(handlers: dict[signal.Signals, Any]) -> None:
    for number, handler in handlers.items():
        signal.signal(number, handler)


def start(
    application: WSGIApplication,
    *,
    host: str,
    port: int,
    folder: Folder,
    https: bool,
    names: Sequence[str] = (),
    http_port: int | None = None,
    owner_exists: Callable[[], bool],
) -> Running:
    """Start serving; port 0 is any free one, `http_port` is 80 beside 443, else the next; raises `ServingError`."""
    for number in (port, http_port or 0):
        if not 0 <= number <= 65535:
            raise ServingError(f"There is no port {number}. Choose one from 1024 to 65535 with --port.")
    if not is_loopback(host) and not owner_exists():
        raise ServingError(f"Set a password first: open http://127.0.0.1:{port} on this computer.")
    address = _resolve(host, port)
    # A socket handed over by a service manager would pass by the check above.
    os.environ.pop("LISTEN_PID", None)
    main = _Part(_Server(address, port, application))
    if not https:
        _start(main)
        return Running(host, main)
    needed = [*names] if is_loopback(host) or is_wildcard(host) else [*names, host]

    def renew() -> Paths:
        return certificate.ensure(folder, needed, now=datetime.now(UTC))

    try:
        paths = renew()
        main.server.ssl_adapter = _tls(paths)
    except (CertificateError, OSError) as fault:
        raise ServingError(str(fault)) from fault
    _start(main)
    beside = {0: 0, 443: 80, 65535: 65534}.get(port, port + 1) if http_port is None else http_port
    helper = _Part(_Server(address, beside, helper_application(paths.ca.read_bytes(), main.port)))
    try:
        _start(helper)
    except ServingError:
        main.server.stop()
        raise
    running = Running(host, main, helper)
    running.fingerprint = certificate.fingerprint(paths.ca)
    threading.Thread(target=running.keep_certified, args=(renew,), name="certificate", daemon=True).start()
    return running


def _start(part: _Part) -> None:
    host, port = part.server.bind_addr
    try:
        part.start()
    except OSError as fault:
        raise ServingError(_why(fault, host, port)) from fault


def _tls(paths: Paths) -> _Adapter:
    adapter = _Adapter(str(paths.server), str(paths.server_key))
    adapter.context.minimum_version = ssl.TLSVersion.TLSv1_2
    adapter.context.set_alpn_protocols(["http/1.1"])
    return adapter


def _resolve(host: str, port: int) -> str:
    if host.lower() == "localhost":
        return "127.0.0.1"
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM) if host.strip() else []
    except (OSError, UnicodeError):
        found = []
    if not found:
        raise ServingError(f"“{host}” is no address of this computer. Choose another with --host.")
    return str(found[0][4][0])
