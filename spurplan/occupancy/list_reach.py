"""Whether a list's frequencies are where its services are: the tables that ship, and what is above them."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.band_rows import SERVICES
from spurplan.occupancy.bands import read_bands
from spurplan.tomlfile import shipped_toml
from spurplan.units import span_hz

Hz = npt.NDArray[np.int64]
# said of a frequency it says nothing
EVERYWHERE = "fixed_mobile"

Bools = npt.NDArray[np.bool_]


@cache
def _stretches() -> dict[str, tuple[Hz, Hz]]:
    """Return the stretches of each service, apart and ascending; "" for all together. [Hz]"""
    bands = read_bands(None)
    low, high = bands.extent()
    besides = shipped_toml("list_heads.toml")["besides"]
    by_service: dict[str, list[tuple[int, int]]] = {}
    for service in SERVICES:
        rows = bands.service == bands.services.index(service)
        by_service[service] = list(zip(low[rows].tolist(), high[rows].tolist(), strict=True))
        by_service[service] += [span_hz(text, f"besides.{service}") for text in besides.get(service, ())]
    # where anything at all may be says next to nothing of a service that nobody knows
    by_service[""] = [
        span for service, spans in by_service.items() if service != EVERYWHERE for span in spans
    ]
    return {service: _apart(spans) for service, spans in by_service.items()}


def _apart(spans: Sequence[tuple[int, int]]) -> tuple[Hz, Hz]:
    """Return the low and high edges of what some spans cover together."""
    edges = np.array(sorted(spans), np.int64).reshape(-1, 2)
    low, high = edges[:, 0], np.maximum.accumulate(edges[:, 1])
    begins = np.flatnonzero(np.r_[True, low[1:] > high[:-1]])
    return low[begins], high[np.r_[begins[1:] - 1, len(low) - 1]]


def in_bands(services: Sequence[str], hz: Hz) -> Bools:
    """Return which frequencies lie in a band of their service; of one unknown, in any band. [Hz]"""
    out = np.zeros(len(hz), np.bool_)
    for service, rows in _by_service(services).items():
        low, high = _stretches()[service]
        at = np.searchsorted(low, hz[rows], side="right") - 1
        out[rows] = (at >= 0) & (hz[rows] <= high[np.maximum(at, 0)])
    return out


def beyond_reach(services: Sequence[str], hz: Hz) -> Bools:
    """Return which frequencies lie below the lowest or above the highest band of their service. [Hz]"""
    out = np.zeros(len(hz), np.bool_)
    for service, rows in _by_service(services).items():
        low, high = _stretches()[service]
        if service:
            out[rows] = (hz[rows] < low[0]) | (hz[rows] > high[-1])
    return out


def reach_hz(service: str) -> tuple[int, int]:
    """Return the lowest and highest frequency of a service. [Hz]"""
    low, high = _stretches()[service]
    return int(low[0]), int(high[-1])


def services_by_bands(hz: Hz) -> list[tuple[str, int]]:
    """Return (service, how many frequencies its bands hold), most first, of equals the narrowest. [Hz]"""

    def held(service: str) -> tuple[int, float]:
        low, high = _stretches()[service]
        return int(in_bands([service] * len(hz), hz).sum()), -float((high - low).sum())

    services = [service for service in SERVICES if service != EVERYWHERE]
    return [(service, held(service)[0]) for service in sorted(services, key=held, reverse=True)]


def _by_service(services: Sequence[str]) -> dict[str, npt.NDArray[np.intp]]:
    known = set(SERVICES)
    names = np.array([service if service in known else "" for service in services], dtype=object)
    return {name: np.flatnonzero(names == name) for name in dict.fromkeys(names.tolist())}
