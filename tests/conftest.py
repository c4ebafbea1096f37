"""Profiles of the property tests: `pytest --hypothesis-profile thorough` looks far longer."""

from __future__ import annotations

from hypothesis import settings

# No deadline: a busy machine is not a failure.
settings.register_profile("project", deadline=None)
settings.register_profile("thorough", deadline=None, max_examples=5000)
settings.load_profile("project")
