"""Settings of Standbook: one file, read from the environment, loud when something does not fit.

Environment: STANDBOOK_DATA (folder of the book), STANDBOOK_HOSTS (names this shop PC answers to, comma
separated), STANDBOOK_HTTPS (true behind a TLS proxy), STANDBOOK_DEBUG, STANDBOOK_TIME_ZONE, STANDBOOK_SIGNING_PASSPHRASE
(opens the keys that sheets are signed with; without it, the file signing-passphrase in the data folder does),
STANDBOOK_NIGHTLY (when the book backs itself up and checks itself, or off), STANDBOOK_BACKUPS (where to).
"""

import contextlib
import os
import secrets
import sys
from pathlib import Path

import environ

from builds.database import sqlite_options

BASE_DIR = Path(__file__).resolve().parent.parent
env = environ.Env()

TESTING = "pytest" in sys.modules
DATA_DIR = Path(env.str("STANDBOOK_DATA", default=str(BASE_DIR / "data")))
DEBUG = env.bool("STANDBOOK_DEBUG", default=False)
HTTPS = env.bool("STANDBOOK_HTTPS", default=False)


def _secret_key() -> str:
    """Read this book's own secret, making it on the first start; it never leaves the data folder."""
    if TESTING:
        return "only-for-tests-" + "x" * 50
    path = DATA_DIR / "secret-key"
    if not path.exists():
        DATA_DIR.mkdir(parents=True, exist_ok=True)
        # Written whole under another name and then linked: two first starts never see half a secret, or two.
        fresh = DATA_DIR / f".secret-key-{secrets.token_hex(8)}"
        fresh.touch(mode=0o600)
        fresh.write_text(secrets.token_urlsafe(64), encoding="ascii")
        with contextlib.suppress(FileExistsError):
            os.link(fresh, path)
        fresh.unlink()
    return path.read_text(encoding="ascii")


SECRET_KEY = _secret_key()
SIGNING_PASSPHRASE = env.str("STANDBOOK_SIGNING_PASSPHRASE", default="")
# Read where they are used, by builds/keeping/nights.py: what is wrong there is said by the check-up, in a sentence.
NIGHTLY = env.str("STANDBOOK_NIGHTLY", default="03:30")
BACKUPS = env.str("STANDBOOK_BACKUPS", default="")
ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]", *env.list("STANDBOOK_HOSTS", default=[])]
CSRF_TRUSTED_ORIGINS = [f"https://{host}" for host in ALLOWED_HOSTS] if HTTPS else []

INSTALLED_APPS = [
    "builds.apps.BuildsConfig",
    "valvetrain.apps.ValvetrainConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.forms",
    "django_htmx",
    "axes",
    "csp",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "simple_history.middleware.HistoryRequestMiddleware",
    "builds.middleware.RightsMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "builds.middleware.BookMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "builds.urls"
WSGI_APPLICATION = "builds.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "builds.context_processors.shop",
                "builds.context_processors.person",
            ],
            "builtins": ["builds.templatetags.measures"],
        },
    }
]

# The widgets' templates stand beside the pages.
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

DATABASES = {
    "default": {
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": DATA_DIR / "standbook.sqlite3",
        # A fresh connection costs more than the whole of a small request; the file is local.
        "CONN_MAX_AGE": None,
        "OPTIONS": sqlite_options(),
    }
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "builds.Person"
AUTHENTICATION_BACKENDS = ["axes.backends.AxesStandaloneBackend", "django.contrib.auth.backends.ModelBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "builds.passwords.NotLikeTheName",
        "OPTIONS": {"user_attributes": ["username", "name", "email"]},
    },
    {"NAME": "builds.passwords.LongEnough", "OPTIONS": {"min_length": 8}},
    {"NAME": "builds.passwords.NotCommon"},
]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
if TESTING:
    # Argon2 is slow on purpose; the tests make people by the hundred. One test checks the real hasher.
    PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
LOGIN_URL = "login"
LOGIN_REDIRECT_URL = "job-list"
LOGOUT_REDIRECT_URL = "login"

# A wrong password five times closes that name from that address for a quarter of an hour.
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = 0.25
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_TEMPLATE = "builds/locked_out.html"
AXES_VERBOSE = False

# A log-in ends twelve hours after its password, however busy it was: builds/sitting.py.
SESSION_COOKIE_AGE = 12 * 3600
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = HTTPS
SECURE_SSL_REDIRECT = HTTPS
SECURE_HSTS_SECONDS = 30 * 24 * 3600 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = HTTPS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if HTTPS else None
SECURE_CONTENT_TYPE_NOSNIFF = True
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'self'"],
        "img-src": ["'self'", "data:", "blob:"],
        "object-src": ["'none'"],
        "base-uri": ["'none'"],
        "form-action": ["'self'"],
        "frame-ancestors": ["'none'"],
    }
}
CSRF_FAILURE_VIEW = "builds.views.errors.stale_form"

LANGUAGE_CODE = "en-us"
TIME_ZONE = env.str("STANDBOOK_TIME_ZONE", default="UTC")
USE_I18N = False
USE_TZ = True
FORMAT_MODULE_PATH = "builds.formats"

STATIC_URL = "static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
STATIC_ROOT = DATA_DIR / "static"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    # Photos lie under no public address: a view hands them out to those who may see them.
    "photos": {
        "BACKEND": "builds.photos.storage.PhotoFolder",
        "OPTIONS": {"location": str(DATA_DIR / "photos")},
    },
    "staticfiles": {
        # Hashed names need collectstatic first, which tests and the debug server do not run.
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if TESTING or DEBUG
        else "whitenoise.storage.CompressedManifestStaticFilesStorage"
    },
}
WHITENOISE_USE_FINDERS = TESTING or DEBUG
WHITENOISE_AUTOREFRESH = DEBUG
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"
FIXTURE_DIRS = [BASE_DIR / "fixtures"]
DATA_UPLOAD_MAX_MEMORY_SIZE = 1_000_000
FILE_UPLOAD_HANDLERS = ["builds.photos.upload.PictureUploadHandler"]

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
