"""Measurements that anyone can repeat: ``python -m tests.benchmarks.NAME``.

Each prints its figure beside a baseline measured in the same run. None is a test, and no test
asserts a time.
"""
