"""Sets and air at random, at the frequencies of real receivers: one range each, one conversion."""

from __future__ import annotations

from typing import Any

import numpy as np

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.description import Receiver
from spurplan.schema import described

Generator = np.random.Generator

FAMILIES = ("valve_multiplicative", "valve_additive", "bipolar", "jfet", "diode_ring", "single_balanced_rf")


def _hz(value: float) -> str:
    return f"{int(value)} Hz"


def element(rng: Generator, low_hz: int, high_hz: int) -> dict[str, Any]:
    """Return an element of a front end."""
    kind = rng.choice(["circuits", "pair", "passband", "trap", "curve"], p=[0.5, 0.2, 0.1, 0.1, 0.1])
    q: Any = int(rng.integers(10, 250))
    if rng.random() < 0.3:
        middle = (low_hz + high_hz) // 2
        q = [[_hz(hz), int(rng.integers(20, 150))] for hz in (low_hz, middle, high_hz)]
    if kind == "circuits":
        return {"circuits": int(rng.integers(1, 4)), "q": q}
    if kind == "pair":
        return {"coupled_pair": round(float(rng.uniform(0.5, 2.5)), 2), "q": q}
    if kind == "passband":
        return {"passband": [_hz(low_hz * 0.9), _hz(high_hz * 1.1)], "order": int(rng.integers(1, 5))}
    if kind == "trap":
        place = rng.uniform(low_hz * 0.6, high_hz * 1.8)
        return {"trap": _hz(place), "depth": f"{rng.uniform(10, 50):.1f} dB", "q": int(rng.integers(10, 200))}
    knots = np.sort(rng.uniform(low_hz * 0.3, high_hz * 3, 5)).astype(int)
    return {"curve": [[_hz(hz), f"{rng.uniform(0, 40):.1f} dB"] for hz in knots]}


def receiver(rng: Generator) -> Receiver:
    """Return a set with one range and one conversion, of any kind."""
    low = int(rng.integers(500_000, 20_000_000))
    high = low + int(rng.integers(20_000, 12_000_000))
    injection = str(rng.choice(["high", "low"], p=[0.75, 0.25]))
    one: dict[str, Any] = {
        "name": "1",
        "coverage": [_hz(low), _hz(high)],
        "rf_gain": f"{rng.uniform(0, 30):.1f} dB",
        "front_end_ceiling": f"{rng.uniform(40, 90):.1f} dB",
    }
    if rng.random() < 0.9:
        one["front_end"] = [element(rng, low, high) for _ in range(int(rng.integers(0, 3)))]
    return described(
        Receiver,
        {
            "name": "at random",
            "environment": str(rng.choice(["city", "rural", "quiet_rural"])),
            "noise_figure": f"{rng.uniform(3, 25):.1f} dB",
            "conversion": [
                {
                    "injection": injection,
                    "if": _hz(low // 2),
                    "oscillator_harmonic": int(rng.choice([1, 1, 1, 2, 3])),
                    "mixer": {"family": str(rng.choice(FAMILIES))},
                    "filter": {
                        "bandwidth": _hz(rng.choice([300, 501, 2_400, 6_000, 6_001, 30_000])),
                        "shape_factor": round(float(rng.uniform(1.2, 5.0)), 2),
                        "ultimate": f"{rng.uniform(40, 90):.1f} dB",
                    },
                }
            ],
            "range": [one],
        },
        "at random",
    )


def occupants(rng: Generator, number: int = 60) -> Occupants:
    """Return spots, narrow and wide bands of a few levels or of a level each."""
    low = np.exp(rng.uniform(np.log(100e3), np.log(150e6), number)).astype(np.int64)
    width = np.exp(rng.uniform(0, np.log(2e6), number)).astype(np.int64)
    high = np.where(rng.random(number) < 0.3, low, low + width)
    level = rng.choice([-33.0, -43.0, -53.0, -73.0], number)
    if rng.random() < 0.5:
        level = rng.uniform(-90.0, -10.0, number)
    order = np.lexsort((high, low))
    zeros = np.zeros(number, dtype=np.int64)
    return Occupants(
        low_hz=low[order], high_hz=high[order], level_dbm=level[order], level_from=zeros.astype(np.uint8),
        service=zeros.astype(np.int16), label=np.arange(number, dtype=np.int32), mode=zeros.astype(np.int8),
        region=(zeros - 1).astype(np.int16), table=zeros.astype(np.int16),
        row=np.arange(2, number + 2, dtype=np.int32), sound=(rng.random(number) < 0.5).astype(np.int8),
        width_hz=rng.choice(np.array([500, 2_700, 150_000], dtype=np.int32), number),
        spot=np.zeros(number, dtype=np.bool_),
        hours_share=np.full(number, -1.0),
        raster_hz=np.zeros(number, dtype=np.int64),
        services=("broadcast",), labels=tuple(f"station {n}" for n in range(number)), modes=("am",),
        regions=(), tables=("random.csv",), reach=(int(low.min()), int(high.max())),
    )  # fmt: skip


def ifs(rng: Generator, made: Receiver, number: int) -> np.ndarray[Any, np.dtype[np.int64]]:
    """Return IFs that the set could have, ascending."""
    one = made.ranges[0]
    last = made.conversions[0].filter
    assert last is not None
    top = one.low_hz - 1 if made.conversions[0].injection == "low" else 2 * one.high_hz
    low = max(last.bandwidth_hz, 20_000)
    return np.sort(np.exp(rng.uniform(np.log(low), np.log(top), number)).astype(np.int64))
