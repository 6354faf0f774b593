"""Settings for every test."""

import os

from hypothesis import settings

# the same examples in every run: a red run is then about the change, not about luck
settings.register_profile("steady", deadline=None, max_examples=60, derandomize=True)
settings.register_profile("search", deadline=None, max_examples=1000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "steady"))

# commands of the tests draw their figures alone: tests that run side by side have no processor to spare
os.environ.setdefault("RIMMODEL_PROCESSES", "1")
