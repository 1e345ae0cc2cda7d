"""The cases of ``drawn.csv`` as the tool is asked them."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from spurplan.receiver.description import Receiver
from tests.suspects.draw import RANGES_KHZ, SETS

DRAWN = Path(__file__).with_name("drawn.csv")


@dataclass(frozen=True)
class Case:
    """One case; `row` is its line of the file, by column."""

    row: dict[str, str]

    @property
    def dial_hz(self) -> int:
        return int(self.row["dial_khz"]) * 1_000

    @property
    def really_hz(self) -> float:
        return float(self.row["really_khz"]) * 1_000.0

    @property
    def station_hz(self) -> float:
        """Where the transmitter is that is heard."""
        return float(self.row["station_khz"]) * 1_000.0

    @property
    def ambiguous(self) -> bool:
        return int(self.row["open_ways"]) >= 2

    def receiver(self) -> Receiver:
        return receiver_of(self.row["set"])

    def bands(self, folder: Path) -> Path:
        """Write the tables of the case."""
        path = folder / f"air{self.row['case']}.csv"
        lines = ["low_khz,high_khz,service,mode,label,level"]
        lines += [row.replace(":", ",") for row in self.row["air"].split(";") if row]
        path.write_text("\n".join(lines) + "\n", "utf-8")
        return path


def receiver_of(name: str) -> Receiver:
    """Return one of the sets the cases are drawn for."""
    ifs, injection, circuits, q, calibrator = SETS[name]
    conversions = [
        {"injection": injection if i == 0 else "high", "if_hz": hz, "filter": {"bandwidth_hz": 6_000}}
        for i, hz in enumerate(ifs)
    ]
    ranges = [
        {
            "name": str(i), "low_hz": low * 1_000, "high_hz": high * 1_000,
            "front_end": [{"circuits": circuits, "q": float(q)}],
        }
        for i, (low, high) in enumerate(RANGES_KHZ, start=1)
    ]  # fmt: skip
    internal = [{"name": "calibrator", "frequency_hz": calibrator}] if calibrator else []
    return Receiver.from_dict(
        {"name": name, "region": 1, "conversions": conversions, "ranges": ranges, "internal": internal}
    )


def drawn_cases() -> Sequence[Case]:
    """Return the cases of the file."""
    with DRAWN.open(encoding="utf-8", newline="") as file:
        return [Case(row) for row in csv.DictReader(file)]
