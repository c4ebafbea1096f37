"""Profiles of the property tests: `pytest --hypothesis-profile thorough` looks far longer."""

from __future__ import annotations

from hypothesis import settings

import assist  # noqa: F401  (before NumPy, which reads the number of its threads only once)

# No deadline: a busy machine is not a failure.
settings.register_profile("project", deadline=None)
settings.register_profile("thorough", deadline=None, max_examples=5000)
settings.load_profile("project")
