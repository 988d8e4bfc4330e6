"""Django's settings: what differs from the defaults, and why. Everything a household may change comes from Folder."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import dj_database_url

from thawline.site.folder import Folder, secret_key

FOLDER = Folder.from_environment()
DEBUG = False
SECRET_KEY = secret_key(FOLDER)
ALLOWED_HOSTS = os.environ.get("THAWLINE_HOSTS", "*").split(",")
CSRF_TRUSTED_ORIGINS = [origin for origin in os.environ.get("THAWLINE_ORIGINS", "").split(",") if origin]

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "thawline.faces.web",  # before allauth, whose pages it replaces
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.usersessions",
    "django_htmx",
    "thawline.records.accounts",
    "thawline.records.ledger",
]

MIDDLEWARE = [
    "thawline.faces.web.middleware.headers",  # first, so that style sheets and faults have them, too
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.middleware.gzip.GZipMiddleware",
    "thawline.faces.web.middleware.faults",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "thawline.faces.web.middleware.household",
]

ROOT_URLCONF = "thawline.site.urls"
WSGI_APPLICATION = "thawline.site.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "thawline.faces.web.context.everywhere",
            ],
        },
    },
]

if os.environ.get("DATABASE_URL"):
    _DATABASE: Any = dj_database_url.config(conn_max_age=60)
else:
    _DATABASE = {
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": FOLDER.database,
        "CONN_MAX_AGE": None,
        "OPTIONS": {
            # Immediate: a transaction that reads and then writes must not find the file locked half-way.
            "transaction_mode": "IMMEDIATE",
            "timeout": 10,
            "init_command": (
                "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;PRAGMA foreign_keys=ON;PRAGMA secure_delete=ON;"
            ),
        },
    }
DATABASES = {"default": _DATABASE}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# The count of failed sign-ins has to outlive a restart and be shared by processes.
CACHES = {
    "default": {
        "BACKEND": "django.core.cache.backends.db.DatabaseCache",
        "LOCATION": "thawline_cache",
        # Past this, counts are dropped before their time: tries under many names must not undo the lock of one.
        "OPTIONS": {"MAX_ENTRIES": 100_000},
    }
}

# Who signs in

AUTH_USER_MODEL = "accounts.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "web:now"
LOGOUT_REDIRECT_URL = "account_login"
ACCOUNT_ADAPTER = "thawline.faces.web.account.Adapter"
ACCOUNT_LOGIN_METHODS = {"username"}
ACCOUNT_SIGNUP_FIELDS = ["username*", "password1*"]
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_EMAIL_NOTIFICATIONS = False
ACCOUNT_SESSION_REMEMBER = True
ACCOUNT_LOGOUT_ON_PASSWORD_CHANGE = False
ACCOUNT_RATE_LIMITS = {"login": "30/m/ip", "login_failed": "10/m/ip,5/5m/key", "change_password": "5/m/user"}

# A passkey stands in for a password; it is no second step after one (see the adapters).
MFA_ADAPTER = "thawline.faces.web.account.PasskeyAdapter"
MFA_SUPPORTED_TYPES = ["webauthn"]
MFA_PASSKEY_LOGIN_ENABLED = True
MFA_WEBAUTHN_USER_VERIFICATION = "required"

# A phone stays signed in for months; each is listed and can be signed out.
SESSION_COOKIE_AGE = 180 * 24 * 3600
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_NAME = "thawline_session"
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True  # forms carry the token; no script reads the cookie
CSRF_COOKIE_NAME = "thawline_csrf"
# What a page says once must not need the database: the page that tells of a full disk shows it, too.
MESSAGE_STORAGE = "django.contrib.messages.storage.cookie.CookieStorage"
CSRF_FAILURE_VIEW = "thawline.faces.web.errors.csrf_failed"

# Plain http stays possible on the home network; `thawline serve --https` sets this.
HTTPS = os.environ.get("THAWLINE_HTTPS") == "1"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = HTTPS
if os.environ.get("THAWLINE_BEHIND_PROXY") == "1":
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    ALLAUTH_TRUSTED_PROXY_COUNT = 1
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

LANGUAGE_CODE = "en-gb"
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"
LOCALE_PATHS = [Path(__file__).parent.parent / "faces" / "web" / "locale"]

# Reminders reach out to the services that members name; a server for many households may want none of that.
REMINDERS = os.environ.get("THAWLINE_REMINDERS") != "0"

STATIC_URL = "/static/"
STATIC_ROOT = FOLDER.path / "static"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "thawline.faces.web.assets.Assets"},
}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = False
WHITENOISE_ALLOW_ALL_ORIGINS = False

DATA_UPLOAD_MAX_MEMORY_SIZE = 5_000_000
DATA_UPLOAD_MAX_NUMBER_FIELDS = 6_000  # five hundred rows of existing stock, with their fields

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s: %(message)s"}},
    "filters": {"secrets": {"()": "thawline.site.secrecy.HideSecrets"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line", "filters": ["secrets"]}},
    "loggers": {name: {"filters": ["secrets"]} for name in ("django.request", "django.security.csrf")},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
