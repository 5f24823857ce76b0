"""The one settings file. What varies between machines comes typed from `config.env`."""

from __future__ import annotations

import os
import secrets
import sqlite3
from pathlib import Path
from typing import Any

from config.catalogues import compiled_catalogues
from config.env import CHECKOUT, EnvironmentRefused, read_environment

try:
    ENV = read_environment()
except EnvironmentRefused as refused:
    raise SystemExit(str(refused)) from None

DATA_DIR = ENV.data_dir
DEMO = ENV.demo
PUBLIC_URL = ENV.public_url


def _kept_secret_key(data_dir: Path) -> str:
    """The key of this DATA_DIR, made at first use and readable by its owner alone."""
    path = data_dir / "secret_key"
    data_dir.mkdir(parents=True, exist_ok=True)
    try:
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return path.read_text()
    with os.fdopen(descriptor, "w") as file:
        file.write(secrets.token_urlsafe(64))
    return path.read_text()


SECRET_KEY = ENV.secret_key or _kept_secret_key(DATA_DIR)
DEBUG = False
ALLOWED_HOSTS = ["127.0.0.1", "localhost", "[::1]", ENV.public_host]
CSRF_TRUSTED_ORIGINS = [PUBLIC_URL]
SECURE_COOKIES = PUBLIC_URL.startswith("https://")
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_COOKIES
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if SECURE_COOKIES else None
SECURE_HSTS_SECONDS = 31_536_000 if SECURE_COOKIES else 0
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
AUTH_USER_MODEL = "staff.User"
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign-in"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

INSTALLED_APPS = [
    "staff",
    "safety",
    "config.desk.DeskConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.forms",
    "rest_framework",
    "knox",
    "drf_spectacular",
    "drf_spectacular_sidecar",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "staff.doors.page.SignInFirst",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]

# Nothing on a page comes from another host.
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'self'"],
        "style-src": ["'self'"],
        "img-src": ["'self'", "data:"],
        "object-src": ["'none'"],
        "base-uri": ["'none'"],
        "form-action": ["'self'"],
        "frame-ancestors": ["'none'"],
    }
}

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [CHECKOUT / "config" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "config.context.shell",
            ],
        },
    }
]

# Fields are laid out by config/templates/django/forms/field.html.
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

# SQLite before these versions can lose pages in WAL mode when several processes write (its WAL-reset bug).
_WAL_IS_SAFE = sqlite3.sqlite_version_info >= (3, 51, 3)
_SQLITE_OPTIONS: dict[str, Any] = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 30,
    "init_command": f"PRAGMA journal_mode={'WAL' if _WAL_IS_SAFE else 'DELETE'}; PRAGMA synchronous=FULL",
}
DATABASES = {"default": ENV.database}
if ENV.embedded:
    DATABASES["default"]["OPTIONS"] = _SQLITE_OPTIONS
    DATABASES["default"]["TEST"] = {"NAME": str(DATA_DIR / f"test-{os.getpid()}.sqlite3")}
else:
    DATABASES["default"] |= {"CONN_MAX_AGE": 60, "CONN_HEALTH_CHECKS": True}

PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in ("UserAttributeSimilarityValidator", "MinimumLengthValidator", "CommonPasswordValidator")
]

LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English")]
# What referral letters are written in; a translation of their words stands in config/locale for each but English.
LETTER_LANGUAGES = ["en", "fr", "es"]
LOCALE_PATHS = [compiled_catalogues(CHECKOUT / "config" / "locale", DATA_DIR / "locale")]
FORMAT_MODULE_PATH = ["config.formats"]
USE_TZ = True
TIME_ZONE = "UTC"

STATIC_URL = "static/"
STATICFILES_DIRS = [CHECKOUT / "config" / "static"]
# WhiteNoise serves the files where they stand: nothing to collect.
WHITENOISE_USE_FINDERS = True
# A staff list of thousands of rows fits; a file bigger than this is refused by name before it is read.
IMPORT_MAX_BYTES = 5 * 1024 * 1024
# Certificates and letters: outside the web root, served by one view to whoever may read the record.
CERTIFICATE_DIR = DATA_DIR / "certificates"
CERTIFICATE_MAX_BYTES = 5 * 1024 * 1024
DATA_UPLOAD_MAX_MEMORY_SIZE = 6 * 1024 * 1024
# A briefing ticks everybody of a site in one form; that of who came has five fields a person, a thousand people at most.
DATA_UPLOAD_MAX_NUMBER_FIELDS = 10_000

PHONE_WORKER = ENV.phone_worker
# Opens /metrics; None: there is no such page.
METRICS_KEY = ENV.metrics_key

SMTP_URL = ENV.smtp_url
MAIL_FROM = ENV.mail_from
SMTP_TIMEOUT_SECONDS = 20
# How long a worker may hold a notice before another takes it over; more than the mail server may take.
NOTICE_LEASE_SECONDS = 105
# The first wait after a temporary failure; it doubles from there.
NOTICE_RETRY_SECONDS = 30
DEFAULT_FROM_EMAIL = ENV.mail_from

# Where `ring` finds the app, so that no package imports config.
WAKE_UP_APP = "config.celery.app"
CELERY_BROKER_URL = ENV.redis_url or "filesystem://localhost"
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_TASK_PUBLISH_RETRY = False
CELERY_TIMEZONE = "UTC"
_BROKER_FOLDER = DATA_DIR / "broker"
CELERY_BROKER_TRANSPORT_OPTIONS: dict[str, Any] = (
    # Redelivers what a killed worker held within seconds; the tick makes even a lost message harmless.
    {
        "visibility_timeout": 30,
        "unacked_restore_interval": 1,
        "unacked_restore_throttle": 1,
        "socket_timeout": 10,
        "socket_connect_timeout": 2,
    }
    if ENV.redis_url
    else {
        "data_folder_in": str(_BROKER_FOLDER / "queue"),
        "data_folder_out": str(_BROKER_FOLDER / "queue"),
        "control_folder": str(_BROKER_FOLDER / "control"),
        "polling_interval": 0.1,
    }
)
CELERY_BEAT_SCHEDULE = {
    "tick": {"task": "safety.tick", "schedule": 30.0, "options": {"expires": 25}},
}

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["knox.auth.TokenAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "staff.doors.api_errors.one_shape",
    "DEFAULT_PAGINATION_CLASS": None,
    "UNAUTHENTICATED_USER": "django.contrib.auth.models.AnonymousUser",
}
REST_KNOX = {"TOKEN_TTL": None, "AUTH_HEADER_PREFIX": "Token"}
SPECTACULAR_SETTINGS = {
    "TITLE": "Three-Fifteen",
    "DESCRIPTION": (
        "Keeps dog vaccination teams safe from rabies. Local health authorities and clinicians decide "
        "treatment; this program keeps dates and reminds; never wait for it."
    ),
    "VERSION": "1",
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "SERVE_INCLUDE_SCHEMA": False,
    # Choices stand where they are used instead of under made-up names.
    "POSTPROCESSING_HOOKS": [],
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["stderr"], "level": ENV.log_level},
    # It tells at length which letters of a letter's names it embeds.
    "loggers": {"fontTools": {"level": "WARNING"}},
}
