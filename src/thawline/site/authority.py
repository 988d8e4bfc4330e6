"""The small answer beside https: it hands out the household's authority, and sends everything else to https."""

from __future__ import annotations

import html
import re
from collections.abc import Iterable
from urllib.parse import quote
from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

CA_PATH = "/thawline-ca.pem"
_NONE = "default-src 'none'; frame-ancestors 'none'"
_HOST = re.compile(r"(\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9._-]+)(?::[0-9]+)?")


def address(scheme: str, name: str, port: int) -> str:
    """An address to open, without the port where it goes without saying."""
    shown = f"[{name}]" if ":" in name and not name.startswith("[") else name
    return f"{scheme}://{shown}" if port == {"http": 80, "https": 443}[scheme] else f"{scheme}://{shown}:{port}"


def helper_application(authority: bytes, https_port: int) -> WSGIApplication:
    """What hands out the household's authority, and sends everything else to https."""

    def application(environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        path = environ.get("PATH_INFO", "")
        reading = environ["REQUEST_METHOD"] in ("GET", "HEAD")
        host = _HOST.fullmatch(environ.get("HTTP_HOST", ""))
        headers = [
            ("Cache-Control", "no-store"),
            ("X-Content-Type-Options", "nosniff"),
            ("Content-Security-Policy", _NONE),
        ]
        if reading and path == CA_PATH:
            status, kind, body = "200 OK", "application/x-x509-ca-cert", authority
        elif host is None:
            status, kind, body = "400 Bad Request", "text/plain; charset=utf-8", b"No host was named.\n"
        elif reading and path == "/":
            status, kind = "200 OK", "text/html; charset=utf-8"
            body = _PAGE.format(path=CA_PATH, there=html.escape(address("https", host[1], https_port))).encode()
        else:
            status, kind, body = "308 Permanent Redirect", "text/plain; charset=utf-8", b""
            rest = quote(path.encode("latin-1"), safe="/-._~!$&'()*+,;=:@")
            query = f"?{environ['QUERY_STRING']}" if environ.get("QUERY_STRING") else ""
            headers.append(("Location", f"{address('https', host[1], https_port)}{rest}{query}"))
        start_response(status, [*headers, ("Content-Type", kind), ("Content-Length", str(len(body)))])
        return [] if environ["REQUEST_METHOD"] == "HEAD" else [body]

    return application


# The fingerprint is not on the page: whoever could swap the file on its way could swap the page as well.
_PAGE = """<!doctype html>
<html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>Thawline: the household's authority</title>
<h1>Once for each phone</h1>
<ol>
<li><a href="{path}">Fetch the household's authority</a>.</li>
<li>Open it in the phone's settings and compare its SHA-256 fingerprint with the one that Thawline printed when it
started. If they differ, remove it. If they agree, install it and trust it for web pages.</li>
<li>Then open <a href="{there}">{there}</a>.</li>
</ol>
"""
