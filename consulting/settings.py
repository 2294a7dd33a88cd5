"""Settings of the site. Everything that differs between installations comes from the environment or `.env`.

A value that is missing or cannot be read stops start-up with a message that names the variable.
"""

from __future__ import annotations

import os
import re
import secrets
from pathlib import Path

import environ
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

from consulting.log_config import logging_config

BASE_DIR = Path(__file__).resolve().parent.parent

if (BASE_DIR / ".env").is_file():
    environ.Env.read_env(BASE_DIR / ".env")

VAR_DIR = Path(os.environ.get("VAR_DIR") or BASE_DIR / "var")
"""What this machine keeps beside the program: the SQLite file, and when the last archive was written."""

YES, NO = ("true", "yes", "on", "1"), ("false", "no", "off", "0", "")


def flag(name: str, default: bool) -> bool:
    """A yes-or-no variable; anything else is refused rather than read as no."""
    raw = os.environ.get(name)
    if raw is None:
        return default
    if raw.strip().lower() in YES:
        return True
    if raw.strip().lower() in NO:
        return False
    raise ImproperlyConfigured(f"{name}: {raw!r} is neither yes nor no; write {name}=true or {name}=false")


def names(name: str, default: list[str]) -> list[str]:
    """A comma-separated variable."""
    raw = os.environ.get(name)
    return default if raw is None else [part.strip() for part in raw.split(",") if part.strip()]


def number(name: str, default: int) -> int:
    """A whole number, zero or more."""
    raw = os.environ.get(name, "").strip() or str(default)
    if not (raw.isascii() and raw.isdigit()):
        raise ImproperlyConfigured(f"{name}: {raw!r} is no whole number; write {name}={default}")
    return int(raw)


SECRET_FILES: list[Path] = []
"""Files that secrets were read from."""


def secret(name: str) -> str:
    """A variable, or what stands in the file that NAME_FILE names; empty for neither."""
    value, file = os.environ.get(name, ""), os.environ.get(f"{name}_FILE", "")
    if not file:
        return value
    if value:
        raise ImproperlyConfigured(f"{name} and {name}_FILE: both are given; leave one of them out")
    try:
        value = Path(file).read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise ImproperlyConfigured(f"{name}_FILE: {file} cannot be read ({error})") from None
    if not value:
        raise ImproperlyConfigured(f"{name}_FILE: {file} is empty")
    SECRET_FILES.append(Path(file))
    return value


def secret_key(demo: bool) -> str:
    """SECRET_KEY of at least 50 characters; the demo makes one and keeps it in var/."""
    key = secret("SECRET_KEY")
    if not key and demo:
        VAR_DIR.mkdir(exist_ok=True)
        kept = VAR_DIR / "demo_secret_key"
        if not kept.exists():
            kept.write_text(secrets.token_urlsafe(64))
            kept.chmod(0o600)
        key = kept.read_text()
    if len(key) < 50:
        problem = "is missing" if not key else f"has {len(key)} characters"
        raise ImproperlyConfigured(
            f"SECRET_KEY: {problem}; give at least 50 random characters, for example from "
            "python -c 'import secrets; print(secrets.token_urlsafe(64))'"
        )
    return key


def database(name: str, raw: str) -> dict[str, object]:
    """An address as Django wants it; SQLite gets write-ahead log, IMMEDIATE transactions and patience."""
    try:
        config = environ.Env.db_url_config(raw)
    except (ValueError, KeyError, ImproperlyConfigured) as error:
        raise ImproperlyConfigured(f"{name}: cannot be read ({error})") from None
    engine = config.get("ENGINE", "")
    if engine == "django.db.backends.sqlite3":
        config["OPTIONS"] = {
            "transaction_mode": "IMMEDIATE",
            "timeout": 20,
            "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA foreign_keys=ON",
        }
    elif engine == "django.db.backends.postgresql":
        config["ENGINE"] = "consulting.postgres"
        config.setdefault("CONN_MAX_AGE", 60)
        config["CONN_HEALTH_CHECKS"] = True
    else:
        raise ImproperlyConfigured(f"{name}: must begin with sqlite:/// or postgres://")
    return config


def replica(primary: dict[str, object]) -> dict[str, object] | None:
    """REPLICA_URL, which reads that may be a moment old are asked of; None where there is none."""
    raw = secret("REPLICA_URL")
    if not raw:
        return None
    config = database("REPLICA_URL", raw)
    if config["ENGINE"] != "consulting.postgres" or primary["ENGINE"] != config["ENGINE"]:
        raise ImproperlyConfigured("REPLICA_URL: only PostgreSQL has a replica; leave it out with SQLite")
    return config | {"OPTIONS": {"connect_timeout": 2}, "TEST": {"MIRROR": "default"}}


DEMO = flag("COVERSTEAD_DEMO", False)
"""The invented practice on this machine: localhost only, no HTTPS, mail printed to the terminal."""
DEBUG = flag("DEBUG", False)
HTTPS = flag("HTTPS", not (DEBUG or DEMO))
"""Cookies over HTTPS only, plain requests sent on to HTTPS, browsers told to remember that."""

SECRET_KEY = secret_key(DEMO)
ALLOWED_HOSTS = names("ALLOWED_HOSTS", ["localhost", "127.0.0.1", "[::1]"])
CSRF_TRUSTED_ORIGINS = names("CSRF_TRUSTED_ORIGINS", [])

INSTALLED_APPS = [
    "consulting.apps.ConsultingConfig",
    "sites.apps.SitesConfig",
    "plans.apps.PlansConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "django.forms",
    "django_htmx",
    "csp",
    "allauth",
    "allauth.account",
    "allauth.mfa",
]

MIDDLEWARE = [
    "consulting.logs.RequestLog",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "consulting.sessions.SessionsAge",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "consulting.account_forms.RefusedForms",
    "consulting.reading.ReadersLanguage",
]

ROOT_URLCONF = "consulting.urls"
WSGI_APPLICATION = "consulting.wsgi.application"
CSRF_FAILURE_VIEW = "consulting.views.errors.csrf_failure"

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
                "consulting.navigation.navigation",
            ],
            "builtins": ["consulting.templatetags.held"],
        },
    },
]
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

DATABASE_URL = secret("DATABASE_URL") or f"sqlite:///{VAR_DIR / 'coverstead.sqlite3'}"
DATABASES = {"default": database("DATABASE_URL", DATABASE_URL)}
REPLICA_SECONDS = number("REPLICA_SECONDS", 5)
"""So long after a write a browser reads what it wrote; a replica that is further behind is not asked."""
if REPLICA := replica(DATABASES["default"]):
    DATABASES["replica"] = REPLICA
    DATABASE_ROUTERS = ["consulting.replica.Router"]
    MIDDLEWARE.insert(MIDDLEWARE.index("csp.middleware.CSPMiddleware"), "consulting.replica.ReadsAside")
CACHES = {
    # Shared between processes, so that a limit on log-ins counts them all.
    "default": {
        "BACKEND": "django.core.cache.backends.db.DatabaseCache",
        "LOCATION": "cache",
        # Beyond this the oldest go, and with them what they counted.
        "OPTIONS": {"MAX_ENTRIES": 20_000},
    },
}

AUTH_USER_MODEL = "consulting.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "home"

ACCOUNT_ADAPTER = "consulting.accounts.AccountAdapter"
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*"]
ACCOUNT_SIGNUP_FORM_CLASS = "consulting.accounts.NameOnSignup"
ACCOUNT_EMAIL_VERIFICATION = "mandatory"
ACCOUNT_EMAIL_VERIFICATION_BY_CODE_ENABLED = True
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
ACCOUNT_EMAIL_NOTIFICATIONS = True
ACCOUNT_LOGOUT_REDIRECT_URL = "account_login"
ACCOUNT_CHANGE_EMAIL = True
ACCOUNT_LOGIN_ON_PASSWORD_RESET = True
ACCOUNT_SESSION_REMEMBER = True
ACCOUNT_REAUTHENTICATION_TIMEOUT = 15 * 60
ACCOUNT_RATE_LIMITS = {"login_failed": "10/m/ip,5/300s/key"}
ACCOUNT_FORMS = {
    "login": "consulting.account_forms.Login",
    "signup": "consulting.account_forms.SignUp",
    "add_email": "consulting.account_forms.AddEmail",
    "change_password": "consulting.account_forms.ChangePassword",
    "set_password": "consulting.account_forms.SetPassword",
    "reset_password": "consulting.account_forms.ResetPassword",
    "reset_password_from_key": "consulting.account_forms.ResetPasswordByKey",
    "reauthenticate": "consulting.account_forms.Reauthenticate",
    "confirm_login_code": "consulting.account_forms.ConfirmLoginCode",
    "confirm_email_verification_code": "consulting.account_forms.ConfirmEmailCode",
    "change_email": "consulting.account_forms.ChangeEmail",
}
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_PASSKEY_LOGIN_ENABLED = True
MFA_TOTP_ISSUER = "Coverstead"
MFA_TOTP_TOLERANCE = 1
MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN = DEMO
MFA_FORMS = {
    "authenticate": "consulting.account_forms.SecondStep",
    "reauthenticate": "consulting.account_forms.SecondStepAgain",
    "activate_totp": "consulting.account_forms.ActivateCodes",
    "add_webauthn": "consulting.account_forms.AddKey",
    "edit_webauthn": "consulting.account_forms.NameKey",
    "authenticate_webauthn": "consulting.account_forms.SecondStepByKey",
    "login_webauthn": "consulting.account_forms.LoginByKey",
    "reauthenticate_webauthn": "consulting.account_forms.ReauthenticateByKey",
}

DEFAULT_FROM_EMAIL = os.environ.get("DEFAULT_FROM_EMAIL", "Coverstead <no-reply@localhost>")
SERVER_EMAIL = DEFAULT_FROM_EMAIL
EMAIL_URL = secret("EMAIL_URL")
try:
    MAIL = environ.Env.email_url_config(
        EMAIL_URL or ("consolemail://" if DEMO or DEBUG else "smtp://localhost:25")
    )
except (ValueError, KeyError, ImproperlyConfigured) as error:
    raise ImproperlyConfigured(f"EMAIL_URL: cannot be read ({error})") from None
if MAIL["EMAIL_BACKEND"].endswith(".console.EmailBackend"):
    MAIL["EMAIL_BACKEND"] = "consulting.printed_mail.EmailBackend"
vars().update(MAIL)
SITE_ADDRESS = os.environ.get("SITE_ADDRESS", "").rstrip("/")
"""Where the site is reached, for links in letters that no request asks for; without it they have none."""
if SITE_ADDRESS and not re.fullmatch(r"https?://[A-Za-z0-9.\-\[\]:]+", SITE_ADDRESS):
    raise ImproperlyConfigured(
        f"SITE_ADDRESS: {SITE_ADDRESS!r} is no address; write it such as https://plans.example.org"
    )
EMAIL_TIMEOUT = 30
"""Seconds that a mail server may be silent."""

LANGUAGE_CODE = "en-us"
TIME_ZONE = "UTC"
USE_TZ = True
USE_I18N = True
LANGUAGES = [("en-us", "English"), ("es", "Spanish"), ("es-mx", "Spanish, with a decimal point")]
"""What a browser may ask for where nobody is signed in."""
READERS_MANNER = "plans.manners.reading"
LOCALE_PATHS = [BASE_DIR / "locale"]

STATIC_URL = "static/"
STATIC_ROOT = BASE_DIR / "static-collected"
STATICFILES_DIRS = [BASE_DIR / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
WHITENOISE_USE_FINDERS = DEBUG

TILE_HOSTS = names("TILE_HOSTS", [])
"""The only hosts that a practice may name for map tiles; empty for any."""

DATA_UPLOAD_MAX_MEMORY_SIZE = 2_500_000
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2_000

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF],
        "font-src": [SELF],
        "connect-src": [SELF],
        "form-action": [SELF],
        "base-uri": [SELF],
        "frame-ancestors": [NONE],
    }
}
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_AGE = 14 * 24 * 3600
"""From a person's last day here; `consulting.sessions` moves it on, and ends every session in time."""
CSRF_COOKIE_HTTPONLY = True
SECURE_REDIRECT_EXEMPT = [r"^health/$", r"^ready/$"]
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = HTTPS
SECURE_HSTS_SECONDS = 31_536_000 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = HTTPS
BEHIND_PROXY = flag("BEHIND_PROXY", False)
if BEHIND_PROXY:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    ALLAUTH_TRUSTED_PROXY_COUNT = 1

SLOW_QUERY_MS = number("SLOW_QUERY_MS", 200)
"""A query that takes longer is written down, without its values; 0 for none."""
LOG_DIR = os.environ.get("LOG_DIR", "")
if LOG_DIR and not os.access(LOG_DIR, os.W_OK):
    raise ImproperlyConfigured(f"LOG_DIR: {LOG_DIR} is no folder that the site may write to")
LOGGING = logging_config(
    plain=DEMO or DEBUG, requests=flag("REQUEST_LOG", not (DEMO or DEBUG)), folder=LOG_DIR
)
