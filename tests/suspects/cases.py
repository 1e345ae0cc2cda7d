"""The cases of ``drawn.csv`` as the tool is asked them."""

from __future__ import annotations

import csv
import tempfile
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import spurplan
from spurplan.occupancy.bands import read_bands
from spurplan.planning.suspects.evidence import THIS_SET, Evidence, Proposed
from spurplan.planning.suspects.foremost import foremost
from spurplan.planning.suspects.suspects import Findings, RankedWay
from spurplan.receiver.description import Receiver
from tests.suspects.draw import RANGES_KHZ, SETS, drawn

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
        # a table without a row is none: one that no way leads to
        lines = ["low_khz,high_khz,service,mode,label,level", "900000,900001,fixed_mobile,,Elsewhere,"]
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


def cases_of(seed: int) -> Sequence[Case]:
    """Return as many cases, drawn anew."""
    return [Case({name: str(value) for name, value in row.items()}) for row in drawn(seed)]


# Another set whose dial is so far off still hears the station. [Hz]
ON_IT_HZ = 4_000
# What a page prints of the suspects at most.
PRINTED = 12
CAUSE = {
    "station": "the station itself", "neighbour": "neighbour", "overload": "overload", "own": "birdie",
    "cross-modulation": "cross-modulation", "transmitter harmonic": "transmitter harmonic",
}  # fmt: skip
RESPONSES = {
    "image": ("image", "second image"), "half-IF": ("half-IF",), "IF": ("IF breakthrough",),
    "oscillator harmonic": ("LO-harmonic",),
}  # fmt: skip


@dataclass(frozen=True)
class Outcome:
    """What became of one case.

    Attributes
    ----------
    ranks : tuple of int. Rank of the true way in: at first, after the test that is proposed, after the next
        one; 0 where it is no suspect.
    said : str. What was first after the first test.
    printed : bool. Whether the true way in was on the page then.
    """

    case: Case
    ranks: tuple[int, ...]
    said: str
    printed: bool

    @property
    def before(self) -> int:
        return self.ranks[0]

    @property
    def after(self) -> int:
        return self.ranks[1]


def first_observed(case: Case) -> dict[str, Any]:
    """Return what is observed at first, by the names of `Evidence`."""
    row = case.row
    known: dict[str, Any] = {}
    if row["heard_told"] == "1":
        known["heard"] = row["heard"]
    if row["strength"]:
        known["strength"] = row["strength"]
    if row["pitch_hz"] and known.get("heard") == "whistle":
        known["pitch_hz"] = round(float(row["pitch_hz"]))
    for test in row["told"].split():
        known |= shown(case, test)
    return known


def shown(case: Case, test: str) -> dict[str, Any]:
    """Return what a test of the file shows, by the names of `Evidence`; nothing where it shows nothing."""
    text = case.row[test]
    if text == "":
        return {}
    read: dict[str, Callable[[str], Any]] = {
        "pad_drop_db": float, "fading": _yes_no, "behind_others": _yes_no,
        "inverted": _is_one, "pitch_moves": _is_one,
    }  # fmt: skip
    return {test: read.get(test, str)(text)}


def _is_one(text: str) -> bool:
    return text == "1"


def _yes_no(text: str) -> str:
    return "yes" if text == "1" else "no"


# what the drawing calls a test, by the option that tells its outcome
_BY_OPTION = {
    "--moves": "moves", "--loudest": "loudest", "--pad-drop": "pad_drop_db", "--trimmer": "trimmer",
    "--fading": "fading", "--behind-others": "behind_others",
    "--inverted or --not-inverted": "inverted", "--aerial-off": "aerial_off", "--heard": "heard",
    "--pitch-moves or --pitch-stays": "pitch_moves",
}  # fmt: skip


def made(case: Case, proposed: Proposed, seen: Evidence) -> dict[str, Any]:
    """Return what the test shows that was proposed, as `Evidence` names it; {} where that is nothing."""
    more: dict[str, Any] = {}
    for test in proposed.test.parts or (proposed.test,):
        if test.listening is None:
            more |= shown(case, _BY_OPTION[test.option])
            continue
        same_set = test.listening is THIS_SET
        there, not_there = map(list, test.listening.on_and_off(seen))
        for hz in test.listen_hz:
            heard = _on_a_set(case, hz, len(there) + len(not_there), "same" if same_set else "other")
            (there if heard else not_there).append(hz)
        names = ("found_at", "not_at") if same_set else ("also_on", "not_on")
        more |= dict(zip(names, (tuple(there), tuple(not_there)), strict=True))
    return more


def _on_a_set(case: Case, hz: int, before: int, which: str) -> bool:
    """Return whether the same or another set hears it on a frequency, so many listened on before."""
    there = case.row["cause"] != "own" and abs(hz - case.station_hz) <= ON_IT_HZ
    # the harmonic is sent on the dial frequency too
    there |= case.row["cause"] == "transmitter harmonic" and abs(hz - case.dial_hz) <= ON_IT_HZ
    errs = "errs_each" if which == "other" else "same_set_errs_each"
    return (case.row[f"{which}_set_hears"] if there else case.row[errs][before]) == "1"


def is_true(case: Case, one: RankedWay) -> bool:
    """Whether a suspect is the true way in, on the frequency it is really on."""
    cause = case.row["cause"]
    if cause in CAUSE:
        if one.way.cause != CAUSE[cause]:
            return False
        return cause != "transmitter harmonic" or abs((one.listen_hz or 0) - case.station_hz) <= ON_IT_HZ
    if one.way.response not in RESPONSES[cause]:
        return False
    return abs((one.way.entry_hz or 0) - case.really_hz) <= ON_IT_HZ


def rank(case: Case, findings: Findings) -> int:
    """Return the rank of the true way in; 0 where it is no suspect."""
    return next((one.rank for one in findings.ranked if is_true(case, one)), 0)


def judge(cases: Iterable[Case], tests: int = 2) -> list[Outcome]:
    """Ask of each case what it is, make the test that is proposed, and ask again, `tests` times."""
    out = []
    with tempfile.TemporaryDirectory() as folder:
        for case in cases:
            bands = read_bands(case.bands(Path(folder)))
            nothing: Findings = spurplan.suspects(
                case.receiver(), bands=bands, frequency=case.dial_hz
            ).findings
            told_ = [nothing.with_evidence(**first_observed(case))]
            for _ in range(tests):
                told_.append(_with_next(case, told_[-1]))
            top = told_[1].ranked[0]
            said = top.way.response or top.way.cause
            ranks = tuple(rank(case, findings) for findings in told_)
            out.append(Outcome(case, ranks, said, _is_printed(case, told_[1])))
    return out


def _is_printed(case: Case, findings: Findings) -> bool:
    """Whether the true way in stands on the page."""
    ranked = findings.ranked
    shown = foremost([one.way.family for one in ranked], [one.weight for one in ranked], PRINTED)
    return any(is_true(case, ranked[at]) for at in shown)


def _with_next(case: Case, findings: Findings) -> Findings:
    """Return what is found after the test that is proposed; after the next one where that shows nothing."""
    for proposed in findings.tests:
        more = made(case, proposed, findings.seen)
        if more:
            return findings.with_evidence(**more)
    return findings
