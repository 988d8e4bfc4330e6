"""The settings under which tests and type checks run: nothing is written outside a temporary folder."""

from __future__ import annotations

import os
import tempfile

os.environ.setdefault("THAWLINE_SECRET_KEY", "only-for-tests")
os.environ["THAWLINE_HOME"] = f"{tempfile.gettempdir()}/thawline-tests"

from thawline.site.settings import *  # noqa: F403

(FOLDER.path / "static").mkdir(parents=True, exist_ok=True)  # noqa: F405

# Quick and weak: passwords in tests guard nothing.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
