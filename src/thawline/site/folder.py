"""The folder in which a household's data lies: the database, the secret key, certificates."""

from __future__ import annotations

import os
import secrets
from pathlib import Path
from typing import NamedTuple


class Folder(NamedTuple):
    """Where the data lies; made on first use, for its owner's eyes only."""

    path: Path

    @classmethod
    def from_environment(cls) -> Folder:
        """`THAWLINE_HOME`, else the user's data folder."""
        chosen = os.environ.get("THAWLINE_HOME")
        if chosen:
            return cls(Path(chosen).expanduser().absolute())
        base = os.environ.get("XDG_DATA_HOME") or "~/.local/share"
        return cls(Path(base).expanduser().absolute() / "thawline")

    @property
    def database(self) -> Path:
        return self.path / "thawline.sqlite3"

    def make(self) -> None:
        """Make the folder where it is not there yet; raises `OSError`."""
        self.path.mkdir(mode=0o700, parents=True, exist_ok=True)


def secret_key(folder: Folder) -> str:
    """The key that signs cookies: from the environment, else made once and kept in the folder."""
    given = os.environ.get("THAWLINE_SECRET_KEY")
    if given:
        return given
    path = folder.path / "secret-key"
    try:
        return path.read_text(encoding="ascii")
    except FileNotFoundError:
        folder.make()
    key = secrets.token_urlsafe(50)
    try:
        # Exclusive: of two processes that start at once, both must end up with one key.
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="ascii") as file:
            file.write(key)
    except FileExistsError:
        return path.read_text(encoding="ascii")
    return key
