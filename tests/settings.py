"""Settings of the tests: the site's own, with cheap passwords, mail kept in memory and no HTTPS."""

import os

os.environ.setdefault("SECRET_KEY", "only for the tests: only for the tests: only for the tests")
os.environ.setdefault("HTTPS", "false")
os.environ.setdefault("EMAIL_URL", "memorymail://")
os.environ.setdefault("REQUEST_LOG", "false")

from consulting.settings import *  # noqa: E402, F403

ALLOWED_HOSTS = ["testserver", "localhost", "127.0.0.1"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES["staticfiles"] = {  # noqa: F405
    "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = True
EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
# A browser keeps its connection to the live server open; the one to the database must not stay with it.
DATABASES["default"]["CONN_MAX_AGE"] = 0  # noqa: F405
