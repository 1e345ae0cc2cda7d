"""What holds of the judgement whatever the set: random sets, random bands, random stations."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from spurplan.occupancy.bands import read_bands
from spurplan.occupancy.expand import occupants_of
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings
from spurplan.responses.listening.arrivals import Dials
from spurplan.responses.listening.judged import SETTINGS
from spurplan.responses.listening.presence import Presence, present
from spurplan.responses.listening.share import Air, Shares, shares
from spurplan.responses.listening.worlds import Spreads, Worlds, shipped_spreads

STRANGER_DBM = -33.0
SEEDS = range(12)
NOTHING = 1e-9

Change = Callable[[Presence], Presence]


@cache
def shipped() -> Occupants:
    return occupants_of(read_bands(None), region=1)


def random_set(seed: int) -> dict[str, Any]:
    """Return a set of one range: one conversion or two, any front end, mode and mixer."""
    rng = np.random.default_rng(seed)
    low = float(rng.uniform(2, 18))
    first = {"injection": "high", "if": "1650 kHz", "filter": {"bandwidth": "15 kHz"}}
    second = {"crystal": "1195 kHz", "if": "455 kHz", "filter": {"bandwidth": "6 kHz"}}
    single = {"injection": "high", "if": "465 kHz", "filter": {"bandwidth": "6 kHz"}}
    conversions = [single] if rng.random() < 0.6 else [first, second]
    family = str(rng.choice(["valve_multiplicative", "dual_gate_mosfet", "diode_ring", "bipolar"]))
    for conversion in conversions:
        conversion["mixer"] = {"family": family}
    return {
        "name": "at random",
        "environment": str(rng.choice(["rural", "quiet_rural", "residential"])),
        "noise_figure": f"{rng.uniform(5, 30):.1f} dB",
        "mode": str(rng.choice(["am", "ssb", "cw"])),
        "wanted": str(rng.choice(["weak", "fair", "good"])),
        "conversion": conversions,
        "range": [
            {
                "name": "1",
                "coverage": [f"{low:.3f} MHz", f"{low * rng.uniform(1.2, 1.7):.3f} MHz"],
                "front_end": [{"circuits": int(rng.integers(1, 4)), "q": float(rng.uniform(30, 90))}],
                "front_end_ceiling": f"{rng.uniform(40, 80):.1f} dB",
            }
        ],
    }


@dataclass(frozen=True)
class Asked:
    """One question of the properties below."""

    contents: dict[str, Any]
    occupants: Occupants | None = None
    change: Change | None = None
    spreads: Spreads | None = None
    worlds: Worlds | None = None
    count: int = 300

    def shares(self) -> Shares:
        receiver = Receiver.from_dict(self.contents)
        chains = compile_chains([(receiver, receiver.ranges[0])])[0]
        occupants = self.occupants if self.occupants is not None else shipped()
        presence = present(occupants, 1, "typical")
        if self.change is not None:
            presence = self.change(presence)
        return shares(
            chains,
            Air(occupants, presence, STRANGER_DBM),
            Settings(),
            Dials(chains.low_hz, chains.high_hz, self.count),
            self.worlds or Worlds(),
            self.spreads or shipped_spreads(),
        )


def of_service(code: int, change: Change) -> Change:
    """Return a change of one service alone."""

    def changed(before: Presence) -> Presence:
        here, after = shipped().service == code, change(before)
        columns = {
            name: np.where(here, getattr(after, name), getattr(before, name))
            for name in ("per_hz", "chance", "median_dbm", "most_dbm")
        }
        return before.replace(**columns)

    return changed


MORE: dict[str, Change] = {
    "levels": lambda p: p.replace(median_dbm=p.median_dbm + 4, most_dbm=p.most_dbm + 4),
    "numbers": lambda p: p.replace(per_hz=p.per_hz * 1.7),
    "chances": lambda p: p.replace(chance=np.minimum(p.chance * 1.4, 1.0)),
}


@pytest.mark.parametrize("more", MORE)
def test_usable_never_rises_with_what_is_on_the_air(more: str) -> None:
    """Of all services or of one; and it does fall somewhere."""
    fell = 0
    for seed in SEEDS:
        contents = random_set(seed)
        before = Asked(contents).shares()
        code = seed % len(shipped().services)
        for change in (MORE[more], of_service(code, MORE[more])):
            after = Asked(contents, change=change).shares()
            assert after.usable[0] <= before.usable[0] + NOTHING
            fell += after.usable[0] < before.usable[0] - 1e-6
    assert fell


def test_a_deafer_set_is_never_more_usable() -> None:
    """Noise of its own added, nothing is gained; and with enough of it much is lost."""
    for seed in SEEDS:
        contents = random_set(seed)
        usable = [
            Asked(contents | {"noise_figure": f"{figure} dB"}).shares().usable[0]
            for figure in (5, 15, 25, 40, 60)
        ]
        assert all(np.diff(usable) <= NOTHING)
        assert usable[-1] < usable[0]


def test_all_parts_make_one_and_clear_is_the_least_of_usable() -> None:
    """Whatever the set."""
    for seed in SEEDS:
        told = Asked(random_set(seed)).shares()
        parts = told.usable + told.unknown + told.dead + told.noise + told.intruders
        np.testing.assert_allclose(parts, 1.0, atol=1e-12)
        assert told.usable[0] >= told.clear[0] - NOTHING


def test_no_spreads_no_interval_and_seeds_differ() -> None:
    """Without spreads a point; with them two seeds are not the same worlds."""
    differ = 0
    for seed in SEEDS:
        contents = random_set(seed)
        point = Asked(contents, spreads=shipped_spreads().times(0.0)).shares()
        # what is on or off as a whole is no spread but a chance
        if not point.decided_by[0]:
            assert np.ptp(point.worlds) == pytest.approx(0.0, abs=1e-9)
        first, second = (Asked(contents, worlds=Worlds(number)).shares() for number in (1, 2))
        differ += bool((first.worlds != second.worlds).any())
    assert differ == len(SEEDS)


@pytest.mark.long
def test_the_settings_looked_at_are_as_good_as_forty_thousand() -> None:
    """Within a quarter of a point of what is as good as the exact edges."""
    for seed in SEEDS[:4]:
        contents = random_set(seed)
        few, many = (Asked(contents, count=count).shares() for count in (SETTINGS, 40_000))
        for part in ("usable", "clear", "unknown", "dead", "noise", "intruders"):
            assert getattr(few, part)[0] == pytest.approx(getattr(many, part)[0], abs=0.0025), part


def test_one_station_never_takes_more_than_its_chance(tmp_path: Path) -> None:
    """What is usable without it is usable while it is off the air, whatever its level."""
    path = tmp_path / "one.csv"
    taken = []
    for seed in SEEDS[:4]:
        contents = random_set(seed)
        frame = "1,2,ism,far below,\n900000,900001,ism,far above,\n"
        head = "low_khz,high_khz,service,label,level\n"
        without, there = (
            Asked(contents, occupants=_table(path, head + frame + row)).shares()
            for row in ("", "450,30000,broadcast,everywhere,30 dBm\n")
        )
        assert there.usable[0] >= 0.1 * without.usable[0] - 1e-6
        taken.append(there.usable[0] - 0.1 * without.usable[0])
    # strong enough, it takes all but that
    assert min(taken) < 0.01


def _table(path: Path, text: str) -> Occupants:
    path.write_text(text, encoding="utf-8")
    return occupants_of(read_bands(path), region=1)
