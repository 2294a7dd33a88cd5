import gc
import os

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "consulting.settings")
application = get_wsgi_application()


def settle() -> None:
    """Load all views, and spare the collector what lives as long as the process."""
    get_resolver().reverse_dict  # noqa: B018  reads every address once
    gc.collect()
    gc.freeze()
    gc.set_threshold(10_000, 10, 3)


settle()
