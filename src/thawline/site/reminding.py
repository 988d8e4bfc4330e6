"""Reminders of a home server: once a minute what is due to be told goes out to those who want it."""

from __future__ import annotations

import logging
import threading
from typing import Self

from django.db import DatabaseError, connection

from thawline.faces.reminder_words import message
from thawline.services import present, reminders, reminders_way

EVERY = 60  # seconds
FINISH = 5

_log = logging.getLogger(__name__)


class Reminders:
    """Looks while the context lasts. No fault of it stops the server; nothing is sent where nobody set it up."""

    def __init__(self, every: float = EVERY) -> None:
        self._every = every
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._run, name="reminders", daemon=True)

    def __enter__(self) -> Self:
        if reminders_way.offered() == "yes":
            self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stopped.set()
        if self._thread.is_alive():
            self._thread.join(FINISH)

    def _run(self) -> None:
        try:
            while not self._stopped.wait(self._every):
                once()
        finally:
            connection.close()


def once() -> int:
    """Look once; how many messages went out."""
    try:
        return reminders.tick(message, now=present.now())
    except DatabaseError as fault:
        # A full disk or a busy database; the next look tries again.
        _log.debug("No reminders: %s", type(fault).__name__)
        connection.close()
        return 0
