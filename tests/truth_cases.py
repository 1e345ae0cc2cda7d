"""Ranges of sets on which the judgement's short cut is held against worlds drawn station by station."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from spurplan.occupancy.bands import read_bands
from spurplan.occupancy.expand import occupants_of
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import Settings, loudest_typical_dbm
from spurplan.responses.listening.arrivals import Dials
from spurplan.responses.listening.presence import present
from spurplan.responses.listening.share import Air, Shares, shares
from spurplan.responses.listening.worlds import Worlds, shipped_spreads
from tests.oracle.truth import Dial, Truth

ROOT = Path(__file__).parents[1]
SETTINGS, DRAWN_SETTINGS, WORLDS = 1_000, 200, 2_000


@dataclass(frozen=True)
class Case:
    """One range of a set, with its table beside the shipped ones and what is listened to.

    Attributes
    ----------
    file : str. Of the set, below the top of the repository.
    number : int. Which range.
    table : str. Beside the shipped tables, in the same folder; "" for none.
    options : dict. Keys of the receiver file.
    """

    file: str
    number: int = 0
    table: str = ""
    options: dict[str, str] = field(default_factory=dict)

    @property
    def name(self) -> str:
        said = " ".join(self.options.values())
        return f"{Path(self.file).parent.name}/{Path(self.file).stem} range {self.number + 1} {said}".strip()

    @property
    def contents(self) -> dict[str, Any]:
        return tomllib.loads((ROOT / self.file).read_text("utf-8")) | self.options

    @property
    def receiver(self) -> Receiver:
        return Receiver.from_dict(self.contents)

    @property
    def antenna_gain_db(self) -> float:
        return float(self.contents.get("antenna_gain", "0 dB").split()[0])

    @property
    def stranger_dbm(self) -> float:
        return loudest_typical_dbm(self.receiver)

    def occupants(self) -> Occupants:
        tables = ["shipped", (ROOT / self.file).with_name(self.table)] if self.table else None
        return occupants_of(read_bands(tables), region=1, antenna_gain_db=self.antenna_gain_db)

    def chains(self) -> Chains:
        receiver = self.receiver
        return compile_chains([(receiver, receiver.ranges[self.number])])[0]

    def air(self) -> Air:
        occupants = self.occupants()
        presence = present(occupants, 1, "typical", self.antenna_gain_db)
        return Air(occupants, presence, self.stranger_dbm)

    def cheap(self) -> Shares:
        """Return what the package says."""
        chains = self.chains()
        dials = Dials(chains.low_hz, chains.high_hz, SETTINGS)
        return shares(chains, self.air(), Settings(), dials, Worlds(), shipped_spreads(), with_clear=False)

    def drawn(self, worlds: int, seed: int = 1) -> Truth:
        """Return what becomes of the range in so many drawn worlds."""
        dial = Dial(
            self.contents,
            self.number,
            self.occupants(),
            settings=DRAWN_SETTINGS,
            stranger_dbm=self.stranger_dbm,
        )
        return dial.run(worlds, seed)


BOATHOUSE, FERRY = "demos/boathouse/set.toml", "tests/receivers/ferry_converter.toml"
HERE = "tests/situations"
CASES = (
    *(Case(BOATHOUSE, number) for number in range(4)),
    *(Case(FERRY, number) for number in range(2)),
    Case(f"{HERE}/local_if.toml", table="local_if.csv"),
    Case(f"{HERE}/short_aerial.toml", options={"wanted": "-90 dBm"}),
    Case(f"{HERE}/fm.toml", table="fm.csv"),
    Case(f"{HERE}/nothing_wrong.toml", options={"mode": "cw"}),
    Case(f"{HERE}/nothing_wrong.toml", options={"mode": "ssb"}),
    Case(f"{HERE}/mw_on_if.toml", table="mw_on_if.csv"),
    Case(f"{HERE}/one_circuit.toml"),
    Case(f"{HERE}/one_circuit.toml", options={"mode": "ssb", "wanted": "weak"}),
    Case(f"{HERE}/deaf.toml", options={"wanted": "-102 dBm"}),
    Case(f"{HERE}/cb_next_door.toml", table="cb_next_door.csv"),
    Case(f"{HERE}/city.toml", options={"wanted": "-90 dBm"}),
)


@dataclass(frozen=True)
class Compared:
    """One case both ways."""

    case: Case
    cheap: Shares
    drawn: Truth

    @property
    def share_error(self) -> float:
        return float(self.cheap.usable[0]) - self.drawn.mean

    @property
    def ends_error(self) -> tuple[float, float]:
        """By how much the 10 and 90 % ends are off."""
        ends, drawn = self.cheap.interval(), self.drawn.interval()
        return float(ends[0][0]) - drawn[0], float(ends[1][0]) - drawn[1]

    @property
    def decided(self) -> bool:
        """Whether one emission decides, so that no interval is said."""
        return bool(self.cheap.decided_by[0])

    def parts_error(self) -> float:
        """Return the greatest error of what is lost to each cause."""
        drawn = self.drawn
        cheap = self.cheap
        pairs = [
            (cheap.unknown, drawn.unknown),
            (cheap.dead, drawn.dead),
            (cheap.noise, drawn.noise),
            (cheap.intruders, drawn.intruders),
        ]
        return float(np.max([abs(float(own[0]) - other) for own, other in pairs]))


def compared(case: Case, worlds: int = WORLDS) -> Compared:
    """Return a case both ways."""
    return Compared(case, case.cheap(), case.drawn(worlds))
