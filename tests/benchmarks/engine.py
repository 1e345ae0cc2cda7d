"""The engine against the alternatives: join, candidates, pruning, grading, whole answers.

python -m tests.benchmarks.engine
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

import spurplan
from spurplan.occupancy.bands import read_bands
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.engine import respond
from spurplan.responses.grades import grade_hits
from spurplan.responses.join import join
from spurplan.responses.levels import AirBudget
from spurplan.responses.lines import Lines, enumerate_lines, product_steps
from spurplan.responses.settings import Settings
from tests.benchmarks.measuring import median_s, medians_s, peak_mb

Ints = npt.NDArray[np.int64]
DEMOS = Path(__file__).parents[2] / "demos"


def rows(count: int, seed: int = 1) -> Occupants:
    """Return a table at random, half spots, half bands of 1 kHz to 1 MHz, 0.1-108 MHz."""
    rng = np.random.default_rng(seed)
    low = np.sort(rng.integers(100_000, 108_000_000, count))
    width = np.where(rng.random(count) < 0.5, 0, 10 ** rng.uniform(3, 6, count)).astype(np.int64)
    none = np.zeros(count)
    return Occupants(
        low_hz=low, high_hz=low + width, level_dbm=rng.uniform(-100, -20, count),
        level_from=none.astype(np.uint8), service=none.astype(np.int16), label=none.astype(np.int32),
        mode=(none - 1).astype(np.int8), region=none.astype(np.int16), table=none.astype(np.int16),
        row=np.arange(count).astype(np.int32), narrow=none.astype(bool), services=("broadcast",),
        labels=("somebody",), modes=(), regions=("W",), tables=("random",),
    )  # fmt: skip


def set_of(conversions: int, low_hz: int, high_hz: int) -> Receiver:
    """Return a set with one, two or three conversions."""
    ifs = {1: [455_000], 2: [1_600_000, 455_000], 3: [45_000_000, 9_000_000, 455_000]}[conversions]
    steps = [
        {"injection": "high", "if_hz": hz, "filter": {"bandwidth_hz": 6_000 if hz == 455_000 else 20_000}}
        for hz in ifs
    ]
    tuning = {"name": "1", "low_hz": low_hz, "high_hz": high_hz, "front_end": [{"circuits": 2, "q": 60.0}]}
    return Receiver.model_validate({"name": "bench", "conversions": steps, "ranges": [tuning]})


def chains_of(receiver: Receiver) -> Chains:
    return compile_chains([(receiver, r) for r in receiver.ranges])[0]


def grid_join(lines: Lines, occupants: Occupants, step_hz: int = 1_000) -> int:
    """Return how many (line, dial, occupant) meet on a grid, by width class: the best method on a grid."""
    low, high = occupants.low_hz, occupants.high_hz
    classes = np.frexp((high - low).astype(np.float64))[1]
    members = [np.flatnonzero(classes == c) for c in np.unique(classes)]
    dial = np.arange(int(lines.dial_low_hz[0]), int(lines.dial_high_hz[0]) + 1, step_hz)
    met = 0
    for line in range(len(lines)):
        p, q, r, d = (int(getattr(lines, n)[0][line]) for n in ("p", "q", "r", "d"))
        half = abs(r) * int(lines.reach_hz[line]) / 2
        from_hz, to_hz = (p * dial + q - half) / d, (p * dial + q + half) / d
        for member in members:
            wide = int((high - low)[member].max())
            first = np.searchsorted(low[member], from_hz - wide, side="left")
            last = np.searchsorted(low[member], to_hz, side="right")
            count = np.maximum(last - first, 0)
            at = np.repeat(np.arange(len(dial)), count)
            place = np.arange(len(at)) - np.repeat(np.cumsum(count) - count, count) + np.repeat(first, count)
            met += int((high[member][place] >= from_hz[at]).sum())
    return met


def show_join() -> None:
    occupants = rows(2_000)
    lines = enumerate_lines(chains_of(set_of(1, 500_000, 30_000_000)), 10, 5)
    hits = join(lines, occupants)
    columns = [np.arange(len(hits), dtype=np.int64) for _ in range(10)]
    times = medians_s(
        {
            "join": lambda: join(lines, occupants),
            "ten columns": lambda: [column + 1 for column in columns],
        },
        31,
    )
    grid = median_s(lambda: grid_join(lines, occupants), 1)
    print(f"join, {len(lines)} lines x 2,000 rows, dial 0.5-30 MHz: {len(hits):,} stretches")
    print(f"  {times['join'] * 1e3:.2f} ms; writing ten int64 columns of that length")
    written, gridded = times["join"] / times["ten columns"], grid / times["join"]
    print(f"  {times['ten columns'] * 1e3:.2f} ms: ratio {written:.2f} (wanted 3 at most)")
    print(f"  1 kHz grid by width classes {grid * 1e3:.0f} ms: ratio {gridded:.0f} (wanted 100 at least)")


def show_candidates() -> None:
    occupants = rows(2_000)
    settings = Settings()
    receiver = set_of(2, 7_000_000, 7_450_000)
    one = chains_of(receiver)
    many = one.take(np.zeros(1_000, dtype=np.int64))
    many = replace(many, osc_b=many.osc_b + np.arange(1_000)[:, None] * 1_000)
    times = medians_s(
        {
            "one call": lambda: respond(many, occupants, settings),
            "calls": lambda: [respond(many.take(np.array([k])), occupants, settings) for k in range(100)],
        },
        3,
    )
    each = times["calls"] * 10
    print(
        f"1,000 candidates in one call {times['one call']:.3f} s, in 1,000 calls {each:.2f} s (100 timed): "
        f"ratio {each / times['one call']:.1f} (wanted 10 at least)"
    )


def show_pruning() -> None:
    occupants = rows(2_000)
    chains = chains_of(set_of(3, 3_000_000, 30_000_000))
    budget = AirBudget(chains, occupants, 0.0, drop=True, steps=product_steps(15, 7))
    took = median_s(lambda: enumerate_lines(chains, 15, 7, budget=budget), 5)
    lines = enumerate_lines(chains, 15, 7, budget=budget)
    print(
        f"three conversions, orders 15 and 7, pruned to {len(lines)} lines: {took * 1e3:.1f} ms (wanted 20)"
    )


def show_grading() -> None:
    occupants = rows(2_000)
    chains = chains_of(set_of(1, 500_000, 30_000_000))
    budget = AirBudget(chains, occupants, 0.0, drop=False, steps=product_steps(10, 5))
    lines = enumerate_lines(chains, 10, 5, budget=budget)
    hits = join(lines, occupants)
    some = hits.take(np.random.default_rng(3).permutation(len(hits))[:20_000])
    times = medians_s(
        {
            "join": lambda: join(lines, occupants),
            "all": lambda: grade_hits(chains, lines, occupants, some),
            "heard": lambda: grade_hits(chains, lines, occupants, some, keep_buried=False),
        },
        5,
    )
    print(
        f"grading 20,000 stretches {times['all'] * 1e3:.1f} ms, the heard ones {times['heard'] * 1e3:.1f} ms;"
    )
    print(
        f"  the join that gave {len(hits):,} {times['join'] * 1e3:.1f} ms: "
        f"ratio {times['all'] / times['join']:.1f} and {times['heard'] / times['join']:.1f} (5 at most)"
    )


def show_demos() -> None:
    bands = read_bands(None)
    for demo in ("boathouse", "lockkeeper"):
        path = DEMOS / demo / "set.toml"
        took = median_s(lambda path=path: spurplan.ranges(path, bands), 5)
        print(f"ranges of {demo} on all shipped tables {took:.3f} s (wanted 0.5)")


def main() -> None:
    before = peak_mb()
    show_join()
    print(f"  peak memory above the imports {peak_mb() - before:.0f} MB")
    show_candidates()
    show_pruning()
    show_grading()
    show_demos()


if __name__ == "__main__":
    main()
