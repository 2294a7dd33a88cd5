"""The tests' settings, but with mail that goes out and connections that are kept, as on an installation."""

from tests.settings import *  # noqa: F403
from tests.settings import DATABASES, MAIL

EMAIL_BACKEND = MAIL["EMAIL_BACKEND"]
if DATABASES["default"]["ENGINE"] == "consulting.postgres":
    DATABASES["default"]["CONN_MAX_AGE"] = 60
