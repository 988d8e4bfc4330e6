"""The way by which a reminder goes out: the notification library, where it is installed, within narrow bounds."""

from __future__ import annotations

import importlib.util
import logging
import socket
import warnings
from functools import cache
from ipaddress import IPv6Address, ip_address
from types import ModuleType
from typing import Literal, Protocol, cast
from urllib.parse import parse_qsl, urlsplit

from django.conf import settings

from thawline.services.people import CannotError

LONGEST = 500
# Ways that act on this computer itself, run a program of it, or read a file of it.
_HERE = frozenset(
    {
        "blink1", "dbus", "deltachat", "fcm", "file", "glib", "gnome", "growl", "kde", "macosx", "qt", "smpp", "smpps",
        "syslog", "vapid", "windows",
    }
)  # fmt: skip
# What in an address names a file.
_FILES = ("file", "template", "pgp", "cert", "config", "attach", "path_to")
# Where one hosting company keeps a server's own secrets beside the addresses of the link.
_SECRETS = ip_address("fd00:ec2::254")
_TIMEOUT = 20  # seconds, for all of one message
_TOLD = "This is not an address for reminders. It begins with its kind and ://, as mailto:// for e-mail."
Offered = Literal["yes", "missing", "off"]


class _Way(Protocol):
    """What the library makes of an address."""

    protocol: object
    secure_protocol: object

    def url(self, *, privacy: bool) -> str: ...


def offered() -> Offered:
    """Whether reminders can be sent: `missing` without the library, `off` where whoever runs the server wants none."""
    if not getattr(settings, "REMINDERS", True):
        return "off"
    return "yes" if importlib.util.find_spec("apprise") is not None else "missing"


def checked(address: str) -> str:
    """The address itself; raises `CannotError` where nothing can, or may, be sent to it."""
    address = address.strip()
    if not address or len(address) > LONGEST or not address.isprintable() or "://" not in address:
        raise CannotError(_TOLD)
    _service(address)
    return address


def masked(address: str) -> str:
    """The address without its secrets, nor its path: many services have their key there."""
    scheme = address.partition("://")[0]
    try:
        host = urlsplit(str(_service(address).url(privacy=True))).netloc
    except (CannotError, ValueError):
        host = ""
    return f"{scheme}://{host}/…"


def send(address: str, title: str, body: str) -> bool:
    """Send one message; whether the service took it. Neither address nor text is logged."""
    if offered() != "yes":
        return False
    apprise = _library()
    try:
        ways, way = apprise.Apprise(asset=_asset(apprise)), _service(address)
        if any(_leads_to_secrets(host) for host in _hosts(way)):
            return False
        ways.add(way)
        return bool(ways.notify(title=title, body=body, body_format=apprise.NotifyFormat.TEXT))
    except CannotError:
        return False
    except Exception:  # noqa: BLE001  (any of a hundred services' own faults is told as one: it was not sent)
        return False


@cache
def _library() -> ModuleType:
    with warnings.catch_warnings():
        # What its many services load is none of our code.
        warnings.simplefilter("ignore", DeprecationWarning)
        import apprise  # noqa: PLC0415  (an extra, and slow to load)

        apprise.Apprise.instantiate("json://localhost/", suppress_exceptions=True)
    # Its messages may name an address.
    logging.getLogger("apprise").setLevel(logging.CRITICAL + 1)
    return apprise


def _asset(apprise: ModuleType) -> object:
    return apprise.AppriseAsset(
        app_id="Thawline", app_desc="Thawline", app_url="", image_url_mask="", image_path_mask="", plugin_paths=[],
        storage_mode=apprise.PersistentStoreMode.MEMORY, secure_logging=True, allow_templates=False,
        http_redirects=False, pgp_autogen=False, pem_autogen=False, service_timeout=_TIMEOUT,
    )  # fmt: skip


def _service(address: str) -> _Way:
    """The library's own object for an address; raises `CannotError`."""
    _refuse_local(address)
    if offered() != "yes":
        raise CannotError("Reminders cannot be sent from this server.")
    apprise = _library()
    try:
        found = apprise.Apprise.instantiate(address, asset=_asset(apprise), suppress_exceptions=True)
    except Exception as fault:
        raise CannotError(_TOLD) from fault
    if found is None or _schemes(found) & _HERE or any(_metadata(host) for host in _hosts(found)):
        raise CannotError(_TOLD)
    return cast("_Way", found)


def _refuse_local(address: str) -> None:
    try:
        parts = urlsplit(address)
    except ValueError as fault:
        raise CannotError(_TOLD) from fault
    if _metadata(parts.hostname or ""):
        raise CannotError(_TOLD)
    named = {name.strip().casefold() for name, _ in parse_qsl(parts.query, keep_blank_values=True)}
    if parts.scheme.casefold() in _HERE or any(part in name for name in named for part in _FILES):
        raise CannotError("That way uses files or programs of this server, which reminders may not.")


def _hosts(way: _Way) -> list[str]:
    """The computers that the library would call, as far as it took them from the address."""
    found = (getattr(way, name, None) for name in ("host", "smtp_host"))
    return [one for one in found if isinstance(one, str) and one]


def _metadata(host: str) -> bool:
    """Whether it is an address of this link alone, where hosting companies keep a server's own secrets."""
    host = host.strip("[]").rstrip(".").partition("%")[0]
    try:
        # What the system takes for an address, such as 2852039166 or 0xa9fea9fe, is one.
        text = socket.inet_ntoa(socket.inet_aton(host)) if ":" not in host else host
        found = ip_address(text)
    except (OSError, ValueError):
        return False
    inner = found.ipv4_mapped if isinstance(found, IPv6Address) else None
    return (inner or found).is_link_local or found == _SECRETS


def _leads_to_secrets(host: str) -> bool:
    """Whether the name leads to such an address, as it is looked up now."""
    try:
        found = socket.getaddrinfo(host.strip("[]"), None, type=socket.SOCK_STREAM)
    except (OSError, ValueError):
        return False
    return any(_metadata(str(one[4][0])) for one in found)


def _schemes(found: _Way) -> set[str]:
    names: set[str] = set()
    for given in (found.protocol, found.secure_protocol):
        names |= {given} if isinstance(given, str) else set(given) if isinstance(given, list | tuple | set) else set()
    return names
