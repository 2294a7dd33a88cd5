"""Where what happens is written: one JSON object a line on the error stream, and in files of a folder."""

from __future__ import annotations

from pathlib import Path
from typing import Any

OURS = ("consulting", "sites", "plans")


def logging_config(*, plain: bool, requests: bool, folder: str) -> dict[str, Any]:
    """For Django's LOGGING. `plain` is for someone who reads along; `requests` writes a line for each.

    `folder` gets errors.log and slow_queries.log, which may be moved away at any time.
    """
    handlers: dict[str, dict[str, Any]] = {
        "stream": {"class": "logging.StreamHandler", "formatter": "plain" if plain else "json"}
    }
    if folder:
        for name, level in (("errors", "ERROR"), ("slow_queries", "WARNING")):
            handlers[name] = {
                "class": "logging.handlers.WatchedFileHandler",
                "filename": str(Path(folder) / f"{name}.log"),
                "formatter": "json",
                "level": level,
                "delay": True,
            }
    loggers: dict[str, dict[str, Any]] = {name: {"level": "INFO"} for name in OURS}
    # The site's own line for each request says what Django's would, without the address as it was typed.
    loggers["django.request"] = {"level": "ERROR"}
    loggers["django.server"] = {"level": "INFO" if plain else "ERROR"}
    # Whoever serves a HEAD cuts off the page that was made for it, and says so each time.
    loggers["gunicorn.http.wsgi"] = {"level": "ERROR"}
    loggers["consulting.requests"] = {"level": "INFO" if requests else "ERROR"}
    if folder:
        loggers["consulting.queries"] = {"handlers": ["slow_queries"]}
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "json": {"()": "consulting.logs.JsonLines"},
            "plain": {"()": "consulting.logs.PlainLines"},
        },
        "handlers": handlers,
        "loggers": loggers,
        "root": {"handlers": ["stream", *(["errors"] if folder else [])], "level": "WARNING"},
    }
