"""A scan as a list: the best IFs, each a place of its own, and the usual ones, with what spoils each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from spurplan.columns import Column, Table, table_of
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.if_change.other_ifs import with_ifs
from spurplan.planning.if_change.scan import Scan
from spurplan.planning.if_change.usual import filters_near, usual_at
from spurplan.planning.judging import Reason, Reception, receptions_of, way_of
from spurplan.planning.tally import outstanding
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Range, Receiver
from spurplan.responses.asking import Settings, loudest_typical_dbm
from spurplan.responses.engine import respond
from spurplan.responses.grades import AUDIBLE
from spurplan.responses.records import Response, intruding
from spurplan.responses.summary import covered_hz
from spurplan.units import hz_text, parse_level, percent_text, s_text

Ints = npt.NDArray[np.int64]

SCAN_COLUMNS = (
    Column("rank", "int", "", False, "Rank", "1 for the IF that leaves most of the dial clear"),
    Column("if_hz", "int", "Hz", False, "IF", "the last IF"),
    Column("clear_share", "float", "", False, "Clear", "clear part (0 to 1) of all ranges asked about"),
    Column(
        "unknown_share", "float", "", False, "Unknown",
        "part where nothing is heard, but an image lies beyond the tables",
    ),
    Column(
        "worst_margin_db", "float", "dB", True, "Margin",
        "margin of the worst intruder on any range; unknown where none is heard",
    ),
    Column("image_rejection_db", "float", "dB", True, "Image", "least image rejection on any range"),
    Column("usual", "text", "", True, "Used in", "where this IF is usual"),
    Column("reasons", "list", "", False, "Why", "what spoils it, most first, and what speaks for it"),
)  # fmt: skip

BEST = 12
# An IF is a place of its own where none this near is better.
NEIGHBOUR_SHARE = 0.03
# Shares this near are as good.
AS_GOOD = 0.002
# What spoils less of a range is not worth a word.
LEAST_SPOILT = 0.003
MOST_REASONS = 4


class Why(StrEnum):
    """What a reason is about."""

    present = "the set as it is"
    spoilt = "what spoils it"
    trouble = "where it can not be had"
    on_it = "who stands on it"
    as_good = "how far it may be off"
    filters = "filters"


@dataclass(frozen=True)
class Scanned:
    """One IF of a scan that is worth showing.

    Attributes
    ----------
    rank : int. 1 for the one that leaves most of the dial clear.
    usual : str or None. Where it is usual.
    reasons : what spoils it, most first, and what speaks for it.
    """

    rank: int
    if_hz: int
    clear_share: float
    unknown_share: float
    worst_margin_db: float | None
    image_rejection_db: float | None
    usual: str | None
    reasons: tuple[Reason, ...]

    @property
    def present(self) -> bool:
        """Whether it is the set as it is."""
        return any(reason.about is Why.present for reason in self.reasons)

    @property
    def merit(self) -> tuple[float, float, int]:
        """What sorts IFs: what is clear, then the image, then the lower IF."""
        image = 0.0 if self.image_rejection_db is None else -self.image_rejection_db
        return -round(self.clear_share, 9), image, self.if_hz


@dataclass(frozen=True)
class Spoiler:
    """One way in on one range, and how much it spoils.

    Attributes
    ----------
    range_name, by, label : str.
    share : float. Of that range.
    hz : int. [Hz]
    """

    range_name: str
    by: str
    label: str
    share: float
    hz: int

    @property
    def said(self) -> str:
        """What spoils how much of what."""
        return f"{percent_text(self.share)} % of range {self.range_name} lost to {self.label} by {self.by}"


def scan_list(
    scan: Scan, receiver: Receiver, picked: Sequence[Range], occupants: Occupants, settings: Settings
) -> tuple[Scanned, ...]:
    """Return the best IFs and the usual ones of a scan, the best first; none where none can be had.

    Parameters
    ----------
    scan : Scan of that set.
    receiver, picked, occupants, settings : as the scan was asked.
    """
    if not scan.built.any():
        return ()
    best = best_of(scan)
    chains = [compile_chains([(receiver, one)])[0] for one in picked]
    present = {int(chain.if_hz[0]) for chain in chains}
    width_hz = max(int(chain.bandwidth_hz[0]) for chain in chains)
    usual = [at for at, hz in enumerate(scan.if_hz.tolist()) if usual_at(hz) is not None or hz in present]
    shown = np.array(sorted({*best, *usual}), dtype=np.int64)
    looked = [
        _looked_at(scan, shown, chain, one.name, at, occupants, settings, loudest_typical_dbm(receiver))
        for at, (chain, one) in enumerate(zip(chains, picked, strict=True))
    ]
    listed = []
    for row, at in enumerate(shown.tolist()):
        if_hz = int(scan.if_hz[at])
        receptions = [judged[row] for judged, _ in looked]
        there = [reception for reception in receptions if reception is not None]
        known = usual_at(if_hz)
        reasons = {
            Why.present: ["the present IF"] if if_hz in present else [],
            Why.spoilt: _spoilt([spoilers[row] for _, spoilers in looked]),
            Why.trouble: _trouble(scan, at, picked, receptions),
            Why.on_it: _on_it(if_hz, width_hz, occupants),
            Why.as_good: _as_good(scan, at) if at in best else [],
            Why.filters: ["filters are made for it"] if filters_near(if_hz) else [],
        }
        listed.append(
            Scanned(
                rank=0,
                if_hz=if_hz,
                clear_share=float(scan.clear_share[at]),
                unknown_share=float(scan.unknown_share[at]),
                worst_margin_db=max(
                    (one.worst.margin_db for one in there if one.worst is not None), default=None
                ),
                image_rejection_db=min(
                    (one.image_rejection_db for one in there if one.image_rejection_db is not None),
                    default=None,
                ),
                usual=None if known is None else known.used_in,
                reasons=tuple(Reason(about, text) for about, texts in reasons.items() for text in texts),
            )
        )
    listed.sort(key=lambda one: one.merit)
    return tuple(replace(one, rank=rank) for rank, one in enumerate(listed, start=1))


def scan_table(listed: Sequence[Scanned]) -> Table:
    """Return a scan as records."""
    records = [
        {**{c.name: getattr(one, c.name) for c in SCAN_COLUMNS}, "reasons": [why.text for why in one.reasons]}
        for one in listed
    ]
    return table_of("scan", SCAN_COLUMNS, records)


def best_of(scan: Scan) -> list[int]:
    """Return the best IFs, the best first: of those near each other one, of equals the lowest."""
    share = scan.clear_share
    ifs = scan.if_hz
    low = np.searchsorted(ifs, ifs * (1.0 - NEIGHBOUR_SHARE))
    high = np.searchsorted(ifs, ifs * (1.0 + NEIGHBOUR_SHARE), side="right")
    found: list[int] = []
    taken = np.zeros(len(ifs), dtype=bool)
    for at in np.lexsort((ifs, -np.round(share, 9))).tolist():
        if len(found) == BEST:
            break
        if taken[at] or not scan.built[at].any() or share[low[at] : high[at]].max() > share[at]:
            continue
        found.append(at)
        first, last = _plateau(scan, at)
        taken[min(first, low[at]) : max(last + 1, high[at])] = True
    return found


def _plateau(scan: Scan, at: int) -> tuple[int, int]:
    """Return the first and last of the IFs around one that are as good."""
    bad = np.flatnonzero(scan.clear_share < scan.clear_share[at] - AS_GOOD)
    after = int(np.searchsorted(bad, at))
    first = int(bad[after - 1]) + 1 if after else 0
    return first, int(bad[after]) - 1 if after < len(bad) else len(scan.if_hz) - 1


def _as_good(scan: Scan, at: int) -> list[str]:
    """Say how far an IF may be off and still be as good."""
    first, last = _plateau(scan, at)
    if last == first:
        return []
    return [f"as good from {hz_text(int(scan.if_hz[first]))} to {hz_text(int(scan.if_hz[last]))}"]


def _looked_at(
    scan: Scan, shown: Ints, chain: Chains, name: str, at: int, occupants: Occupants, settings: Settings,
    loudest_dbm: float,
) -> tuple[list[Reception | None], list[list[Spoiler]]]:  # fmt: skip
    """Return how a range fares with each IF shown, and what spoils it; None where it can not be had."""
    judged: list[Reception | None] = [None] * len(shown)
    spoilers: list[list[Spoiler]] = [[] for _ in shown]
    able = np.flatnonzero(scan.built[shown, at])
    if not len(able):
        return judged, spoilers
    chains = with_ifs(chain, scan.if_hz[shown[able]])
    # who lies inside a band as loud as himself changes neither margins nor shares to speak of
    telling = occupants.take(outstanding(occupants, chain))
    response = intruding(respond(chains, telling, settings))
    for row, reception, found in zip(
        able.tolist(),
        receptions_of(response, settings, loudest_dbm),
        spoilers_of(response, name),
        strict=True,
    ):
        judged[row], spoilers[row] = reception, found
    return judged, spoilers


def spoilers_of(response: Response, range_name: str) -> list[list[Spoiler]]:
    """Return what spoils each candidate's dial, one entry a way in, most first."""
    chains, lines, graded = response.chains, response.lines, response.graded
    heard = np.flatnonzero(graded.grade >= AUDIBLE)
    covered = covered_hz(
        graded.line[heard], graded.dial_low_hz[heard], graded.dial_high_hz[heard], len(lines)
    )
    # the stretch with the greatest margin of a line speaks for it
    order = heard[np.lexsort((-graded.margin_db[heard], graded.line[heard]))]
    first = order[np.append(True, np.diff(graded.line[order]) != 0)] if len(order) else order
    out: list[list[Spoiler]] = [[] for _ in range(len(chains))]
    for stretch in first.tolist():
        line = int(graded.line[stretch])
        v = int(lines.candidate[line])
        width = int(chains.high_hz[v] - chains.low_hz[v] + 1)
        if covered[line] < LEAST_SPOILT * width:
            continue
        way = way_of(response, stretch)
        share = covered[line] / width
        out[v].append(Spoiler(range_name, way.by, way.label, float(share), int(covered[line])))
    return [sorted(found, key=lambda one: -one.hz) for found in out]


def _spoilt(found: Sequence[Sequence[Spoiler]]) -> list[str]:
    every = sorted((one for lot in found for one in lot), key=lambda one: -one.hz)
    return [one.said for one in every[:MOST_REASONS]]


def _on_it(if_hz: int, width_hz: int, occupants: Occupants) -> list[str]:
    """Name the loudest on an IF, where it is strong: leads and chassis bring it past any front end."""
    on_it = np.flatnonzero(
        (2 * occupants.low_hz <= 2 * if_hz + width_hz)
        & (2 * occupants.high_hz >= 2 * if_hz - width_hz)
        & (occupants.level_dbm >= parse_level("S9").dbm(if_hz))
    )
    if not len(on_it):
        return []
    loudest = int(on_it[np.argmax(occupants.level_dbm[on_it])])
    level = s_text(float(occupants.level_dbm[loudest]), if_hz)
    return [f"{occupants.label_of(loudest)} stands on it, {level}"]


def _trouble(
    scan: Scan, at: int, picked: Sequence[Range], receptions: Sequence[Reception | None]
) -> list[str]:
    """Say where an IF can not be had, and what it makes unusable."""
    said = []
    missing = [one.name for number, one in enumerate(picked) if not scan.built[at, number]]
    if missing:
        said.append(f"can not be had on range {', '.join(missing)}")
    for one, reception in zip(picked, receptions, strict=True):
        if reception is None or reception.unusable_low_hz is None or reception.unusable_high_hz is None:
            continue
        span = f"{hz_text(reception.unusable_low_hz)} to {hz_text(reception.unusable_high_hz)}"
        said.append(f"range {one.name} unusable from {span}")
    return said
