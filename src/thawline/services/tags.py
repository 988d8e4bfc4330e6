"""The address on a label: which household's container it is, in as few characters as a small QR code can carry."""

from __future__ import annotations

import base64
import re
from typing import NamedTuple
from urllib.parse import quote, unquote, urlsplit
from uuid import UUID

from thawline.records.ledger.models import Household
from thawline.records.ledger.store import DatabaseStore

_BYTES = 5
_TAG = re.compile(r"[A-Z2-7]{8}", re.ASCII)
_PATH = re.compile(r"/l/([a-z2-7]{8})/([^/]{1,600})/?", re.ASCII | re.IGNORECASE)
_LONGEST = 2000


class Read(NamedTuple):
    """What stands on a label: the household's tag, None where only a code was read; and the container's code."""

    tag: str | None
    code: str


def tag_of(store: DatabaseStore) -> str:
    """A household's tag: eight characters, made of its id, not secret."""
    return base64.b32encode(UUID(store.key).bytes[:_BYTES]).decode()


def household_ids(tag: str) -> list[UUID]:
    """The ids of the households with that tag: one, as good as always; none for a tag that is none."""
    if not _TAG.fullmatch(tag.upper()):
        return []
    head = base64.b32decode(tag.upper())
    rest = 16 - _BYTES
    low, high = UUID(bytes=head + b"\0" * rest), UUID(bytes=head + b"\xff" * rest)
    return list(Household.objects.filter(pk__gte=low, pk__lte=high).values_list("pk", flat=True))


def address(base: str, store: DatabaseStore, code: str) -> str:
    """What the QR code of a container's label says; `base` such as `https://thawline.lan:8600`.

    All in capitals where the code is, so that the QR code can use its denser alphabet: scheme, host and our paths
    do not tell capitals from small letters.
    """
    plain = code.isascii() and code.isalnum() and code == code.upper()
    text = f"{base.rstrip('/')}/l/{tag_of(store)}/{quote(code, safe='')}"
    return text.upper() if plain else text


def read(text: str) -> Read | None:
    """What a person typed, or a QR code says: an address of a label, or a code alone; None where it is neither."""
    text = text.strip()
    if not text or len(text) > _LONGEST or "\0" in text:
        return None
    found = _PATH.fullmatch(urlsplit(text).path) if "/" in text else None
    if found is not None:
        return Read(found[1].upper(), unquote(found[2]))
    return Read(None, text) if len(text) <= 200 and "://" not in text else None
