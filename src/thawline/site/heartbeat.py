"""The heartbeat of a home server: once a minute it is noted that it runs, so that a silence can be asked about."""

from __future__ import annotations

import logging
import threading
import time
from typing import Self

from django.db import DatabaseError, connection

from thawline.services import present, pulse

EVERY = 60  # seconds
# Seconds: in which a computer without a clock of its own has asked others for the time.
FRESH = 1800
FINISH = 5

_log = logging.getLogger(__name__)


class Heartbeat:
    """Beats while the context lasts; leaving it notes that the stop was ordered. No fault of it stops the server."""

    def __init__(self, every: float = EVERY) -> None:
        self._every = every
        self._stopped = threading.Event()
        self._began = time.monotonic()
        self._thread = threading.Thread(target=self._run, name="heartbeat", daemon=True)

    def __enter__(self) -> Self:
        if pulse.felt():
            self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stopped.set()
        if not self._thread.is_alive():
            return
        self._thread.join(FINISH)
        try:
            pulse.stopping(present.now())
        except DatabaseError as fault:
            _log.warning("It could not be noted that the server was told to stop: %s", fault)

    def _run(self) -> None:
        try:
            while True:
                self._beat()
                if self._stopped.wait(self._every):
                    return
        finally:
            connection.close()

    def _beat(self) -> None:
        try:
            pulse.beat(present.now(), fresh=time.monotonic() - self._began < FRESH)
        except DatabaseError as fault:
            # A full disk or a busy database; the next beat tries again.
            _log.debug("No heartbeat: %s", fault)
            connection.close()
