"""Hypothesis: the same examples on every run; `HYPOTHESIS_PROFILE=wide` looks further."""

import os

from hypothesis import settings

settings.register_profile("steady", max_examples=60, deadline=None, derandomize=True, database=None)
settings.register_profile("wide", max_examples=1500, deadline=None, database=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "steady"))
