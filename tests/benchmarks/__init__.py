"""Measurements that anyone can rerun: `python -m tests.benchmarks.NAME`."""

from assist.base.system.libraries import prepare_process

prepare_process()  # before NumPy, which reads the number of its threads only once
