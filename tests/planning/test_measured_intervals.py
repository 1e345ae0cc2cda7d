"""Intervals of what was measured: in the file, in every share, and in the next day's readings."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import spurplan
from spurplan.errors import Refused
from spurplan.planning.bench.fit import fitted
from spurplan.planning.bench.save import proposed
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.changes import with_added_elements, with_fitted, with_front_end
from spurplan.receiver.description import Circuits, Receiver
from spurplan.receiver.file.writing import receiver_toml
from spurplan.receiver.selectivity import Varied
from tests.planted import predicted_db, read, sheet_of, valve_set

W_HZ, X_HZ = 18_000_000.0, 18_930_000.0


def loss_db(receiver: Receiver, **figures: float) -> float:
    chains = compile_chains([(receiver, receiver.ranges[0])])[0]
    return float(chains.selectivity[0][0].varied(Varied(**figures)).loss_db(X_HZ, W_HZ))


def test_what_was_measured_varies_by_its_own_interval() -> None:
    """A Q of 55 to 65 is 4.3 % off, one sigma, not 20; a ceiling of 64 to 68 dB 1.02 dB, not 6."""
    set_ = valve_set(q=60.0, ceiling=66.0)
    measured = with_fitted(
        set_, range_name="4", q_interval=(55.0, 65.0), front_end_ceiling_interval_db=(64.0, 68.0)
    )
    own = math.log(65.0 / 55.0) / (2 * 1.96)
    assert own == pytest.approx(0.0426, abs=1e-4)
    by_q = loss_db(measured, q_factor=1.2, q_spread=0.2)
    assert by_q == pytest.approx(loss_db(set_, q_factor=1.0 + own), abs=1e-9)
    by_ceiling = loss_db(measured, ceiling_db=-6.0, ceiling_spread_db=6.0)
    # what gets past everything varies as ever: 40 dB further down
    assert by_ceiling == pytest.approx(loss_db(set_, ceiling_db=-4.0 / (2 * 1.96)), abs=1e-4)
    # nothing was measured of the other, and no spread is no change
    assert loss_db(set_, q_factor=1.2, q_spread=0.2) == pytest.approx(loss_db(set_, q_factor=1.2), abs=1e-9)
    assert loss_db(measured) == loss_db(set_)


def test_shares_are_narrower_once_the_set_is_measured() -> None:
    """The part of a share's interval that the set's own figures make goes with their intervals."""
    set_ = spurplan.read_receiver(Path(__file__).parents[1] / "receivers" / "boathouse.toml")
    measured = set_
    for one in set_.ranges:
        ceiling = one.front_end_ceiling_db
        measured = with_fitted(
            measured, range_name=one.name, q_interval=(54.9, 55.1),
            front_end_ceiling_interval_db=(ceiling - 0.1, ceiling + 0.1),
        )  # fmt: skip
    before, after = (
        next(r for r in spurplan.ranges(s).tables["ranges"].records() if r["range"] == "4")
        for s in (set_, measured)
    )
    assert after["usable_share"] == pytest.approx(before["usable_share"], abs=0.05)
    widths = [r["usable_high"] - r["usable_low"] for r in (before, after)]
    assert widths[1] < widths[0]


def test_the_second_day_begins_where_the_first_ended() -> None:
    """Two sheets of two days, one after the other: the intervals of both, near those of one fit of both."""
    described, truth = valve_set(q=70.0, ceiling=70.0), valve_set(q=60.0, ceiling=64.0)
    lines = sheet_of(described)
    values = predicted_db(truth, lines)
    rng = np.random.default_rng(12)
    first, second = (read(lines, values + rng.normal(size=len(values))) for _ in range(2))
    one = fitted(described, first)
    keys = [figure.key for figure in one.model.figures]
    saved = proposed(described, one, dict.fromkeys(keys), [])
    assert saved.ranges[0].q_interval is not None
    two = fitted(saved, second)
    both = fitted(described, [*first, *(replace(r, number=r.number + 100) for r in second)])
    # in the middle of the range, which is what the file keeps of a Q
    for kind in (("q", "4", 1), ("ceiling", "4")):
        j = [figure.key for figure in both.model.figures].index(kind)
        apart = abs(two.fit.at[j] - both.fit.at[j])
        assert apart < 0.7 * both.fit.deviation(j), kind
        assert two.fit.deviation(j) < 0.85 * one.fit.deviation(j), kind


@pytest.mark.parametrize(
    "change",
    [
        lambda set_: with_front_end(set_, elements=[Circuits(circuits=1)]),
        lambda set_: with_added_elements(set_, elements=[Circuits(circuits=1)]),
    ],
    ids=["another front end", "a circuit more"],
)
def test_other_coils_are_not_what_was_measured(change: Any) -> None:
    """With another front end the interval of the Q goes; that of the stray coupling, left as it is, stays."""
    set_ = with_fitted(
        valve_set(), range_name="4", q_interval=(55.0, 65.0), front_end_ceiling_interval_db=(64.0, 68.0)
    )
    changed = change(set_).ranges[0]
    assert changed.q_interval is None
    assert changed.front_end_ceiling_interval_db == (64.0, 68.0)


def test_intervals_are_written_and_read_again(tmp_path: Path) -> None:
    """As keys of their range; ends that do not rise are refused with their place."""
    set_ = with_fitted(
        valve_set(), range_name="4", q_interval=(55.0, 65.0), front_end_ceiling_interval_db=(64.0, 68.0)
    )
    path = tmp_path / "set.toml"
    path.write_text(receiver_toml(set_, str(path), None), "utf-8")
    assert 'front_end_ceiling_interval = ["64 dB", "68 dB"]' in path.read_text("utf-8")
    again = spurplan.read_receiver(path).ranges[0]
    assert (again.q_interval, again.front_end_ceiling_interval_db) == ((55.0, 65.0), (64.0, 68.0))
    path.write_text(path.read_text("utf-8").replace('["64 dB", "68 dB"]', '["68 dB", "64 dB"]'), "utf-8")
    with pytest.raises(Refused, match=r"front_end_ceiling_interval: \"68 to 64\" does not rise"):
        spurplan.read_receiver(path)
