"""Secrets that stand in an address: made at random, given once, and kept as their digest alone."""

from __future__ import annotations

import hashlib
import secrets

_BYTES = 32
LENGTH = 43  # characters that so many bytes become


def made() -> str:
    """A new secret, fit for an address."""
    return secrets.token_urlsafe(_BYTES)


def digest(secret: str) -> str:
    """What is kept of it, and looked up by (SHA-256)."""
    return hashlib.sha256(secret.encode()).hexdigest()
