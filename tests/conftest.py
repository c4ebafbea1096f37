"""Profiles of the property tests: `pytest --hypothesis-profile thorough` looks far longer."""

from __future__ import annotations

import os

from hypothesis import settings

from assist.base.system.libraries import prepare_process

prepare_process()  # before NumPy, which reads the number of its threads only once
# In English, whatever the computer speaks; a test of another language says so.
os.environ["LC_ALL"] = "C"

# No deadline: a busy machine is not a failure.
settings.register_profile("project", deadline=None)
settings.register_profile("thorough", deadline=None, max_examples=5000)
settings.load_profile("project")
