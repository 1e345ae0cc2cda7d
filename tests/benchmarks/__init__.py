"""Measured ratios, none of them a timed test: ``python -m tests.benchmarks`` prints them all.

`suspects` and `readings` measure how right an answer is instead of how fast, and
print by themselves: ``python -m tests.benchmarks.suspects``.
"""
