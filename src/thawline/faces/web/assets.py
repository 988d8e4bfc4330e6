"""How style sheets and scripts are named: by content where they were collected, plainly while they are worked on."""

from __future__ import annotations

from whitenoise.storage import CompressedManifestStaticFilesStorage


class Assets(CompressedManifestStaticFilesStorage):  # type: ignore[misc]  # ships no types
    """Names carry a hash, so that a phone may keep them; without a manifest the plain name serves."""

    manifest_strict = False
