"""Measurements; none of them is a test. `python -m tests.benchmarks` runs those of the engine."""
