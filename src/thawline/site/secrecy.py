"""Keeping secret addresses out of the log."""

from __future__ import annotations

import logging
import re

# What follows these is a key: an invitation, a calendar's address.
_SECRET = re.compile(r"((?:/|%2F)(?:join|calendar)(?:/|%2F))[A-Za-z0-9_=-]{8,}", re.IGNORECASE)


def hidden(text: str) -> str:
    """A line without the secrets of its addresses."""
    return _SECRET.sub(r"\1…", text)


class HideSecrets(logging.Filter):
    """Takes secrets out of what is written to the log."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Rewrite the record where it holds one; always true."""
        said = record.getMessage()
        if said != (shown := hidden(said)):
            record.msg, record.args = shown, ()
        return True
