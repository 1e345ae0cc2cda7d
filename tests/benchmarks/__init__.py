"""Scripts that print measured ratios; none is a timed test.

Run one as ``python -m tests.benchmarks.engine`` from the top folder.
"""
