"""Whether the tests see a fault: one small change of the program at a time, and the tests run on it.

``python -m tests.mutation join`` makes the changes of one module of the core, runs its quick tests on each
and the wide ones on what those let pass. What no test sees and `explained.toml` does not explain is a
survivor: a missing test, or a fault.
"""
