#!/usr/bin/env python
"""Runs the site's commands."""

import os
import secrets
import sys

NEEDS_NO_KEY = {"plan_job", "reckon"}
"""Commands that sign nothing and serve nothing: they get a key for the length of the run."""

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "consulting.settings")
    if NEEDS_NO_KEY.intersection(sys.argv[1:2]):
        os.environ.setdefault("SECRET_KEY", secrets.token_urlsafe(64))
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)
