"""Measurements that anyone can rerun: `python -m tests.benchmarks.NAME`."""

import assist  # noqa: F401  (before NumPy: it keeps small linear algebra on one thread)
