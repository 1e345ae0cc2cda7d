"""Timing for the scripts in this folder: medians, and ratios taken within one run."""

from __future__ import annotations

import resource
import statistics
import time
import tracemalloc
from collections.abc import Callable
from typing import Any


def median_s(work: Callable[[], Any], runs: int = 9) -> float:
    """Return the median time of a call after one that is not counted. [s]"""
    work()
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def medians_s(works: dict[str, Callable[[], Any]], runs: int = 9) -> dict[str, float]:
    """Return the medians of several calls made in turn, so that a drift of the machine hits all. [s]"""
    times: dict[str, list[float]] = {name: [] for name in works}
    for work in works.values():
        work()
    for _ in range(runs):
        for name, work in works.items():
            start = time.perf_counter()
            work()
            times[name].append(time.perf_counter() - start)
    return {name: statistics.median(values) for name, values in times.items()}


def peak_mb() -> float:
    """Return the peak memory of this process so far. [MB]"""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def growth(sizes: list[int], times: list[float]) -> float:
    """Return the exponent of time against size, by least squares on logarithms."""
    import numpy as np

    return float(np.polyfit(np.log(sizes), np.log(times), 1)[0])


def peak_mb_of(work: Callable[[], Any]) -> float:
    """Return the most memory a call holds above what there was before it. [MB]

    Notes
    -----
    As Python and numpy ask for it; never timed, as keeping account slows a call down.
    """
    work()
    tracemalloc.start()
    try:
        work()
        return tracemalloc.get_traced_memory()[1] / 2**20
    finally:
        tracemalloc.stop()
