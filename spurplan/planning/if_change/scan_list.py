"""A scan as a list: the best IFs, each a place of its own, and the usual ones, judged as proposals are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from spurplan.columns import Column, Table, table_of
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.decision import GAMBLE, Comparison, choose, compare, verdict
from spurplan.planning.if_change.costs import coils_too_wide_hz, effort_of, estimates, range_around
from spurplan.planning.if_change.other_ifs import with_ifs
from spurplan.planning.if_change.proposal_table import SHARE_COLUMNS, shares_record
from spurplan.planning.if_change.proposals import Asked
from spurplan.planning.if_change.scan import Axis, Scan, best_of
from spurplan.planning.if_change.usual import filter_made, usual_at
from spurplan.planning.outlook import Together
from spurplan.planning.reason import Reason
from spurplan.receiver.description import Receiver
from spurplan.responses.image_rejection import image_rejection_db
from spurplan.units import hz_text, parse_level, s_text, share_text

SCAN_COLUMNS = (
    Column("rank", "int", "", False, "Rank", "1 for the IF with which most of the dial is usable"),
    Column("if_hz", "int", "Hz", False, "IF", "the last IF"),
    Column("verdict", "text", "", True, "It is", "against the present IF, all ranges together"),
    *SHARE_COLUMNS,
    Column("image_rejection_db", "float", "dB", True, "Image", "least image rejection on any range"),
    Column("effort", "float", "", True, "Effort", "evenings it takes [est]"),
    Column("usual", "text", "", True, "Used in", "where this IF is usual"),
    Column("reasons", "list", "", False, "Why", "what stands against it, what it loses, what speaks for it"),
)

BEST = 12
# What spoils less of a range is not worth a word.
LEAST_SPOILT = 0.01
MOST_REASONS = 4


class Why(StrEnum):
    """What a reason is about."""

    present = "the set as it is"
    objection = "why nobody would build it"
    spoilt = "what spoils it"
    on_it = "who stands on it"
    coils = "what the present coils would pass"
    filters = "filters"


@dataclass(frozen=True)
class Scanned:
    """One IF of a scan that is worth showing.

    Attributes
    ----------
    rank : int. 1 for the one with which most of the dial is usable.
    together : Together. What becomes of the ranges.
    before : float. Usable part of them as the set is.
    gain : Comparison or None. Against the present IF; None for that one.
    image_rejection_db : float or None. Least on any range. [dB]
    effort : float. Evenings.
    usual : str or None. Where it is usual.
    reasons : what stands against it, what it loses, what speaks for it.
    """

    rank: int
    if_hz: int
    together: Together
    before: float
    gain: Comparison | None
    image_rejection_db: float | None
    effort: float
    usual: str | None
    reasons: tuple[Reason, ...]

    @property
    def usable(self) -> float:
        """Usable part of all ranges."""
        return self.together.usable

    @property
    def unknown(self) -> float:
        """Part of them of which the tables cannot tell."""
        return self.together.unknown

    @property
    def present(self) -> bool:
        """Whether it is the set as it is."""
        return self.gain is None

    @property
    def word(self) -> str | None:
        """What it is worth: one of the five of `decision.verdict`."""
        return None if self.gain is None else verdict(self.gain)

    @property
    def objected(self) -> bool:
        """Whether nobody would build it."""
        return any(reason.about is Why.objection for reason in self.reasons)

    @property
    def merit(self) -> tuple[float, float, int]:
        """What sorts IFs: what is usable, then the image, then the lower IF."""
        image = 0.0 if self.image_rejection_db is None else -self.image_rejection_db
        return -round(self.usable, 4), image, self.if_hz

    def record(self) -> dict[str, object]:
        """Return the fields of `SCAN_COLUMNS`."""
        return {
            "rank": self.rank,
            "if_hz": self.if_hz,
            "verdict": self.word,
            **shares_record(self.before, self.usable, self.gain),
            "unknown_share": self.unknown,
            "unlisted_share": self.together.unlisted,
            "image_rejection_db": self.image_rejection_db,
            "effort": self.effort,
            "usual": self.usual,
            "reasons": [why.text for why in self.reasons],
        }


def scan_list(scan: Scan, axis: Axis, receiver: Receiver, occupants: Occupants) -> tuple[Scanned, ...]:
    """Return the best IFs and the usual ones of a scan, the best first; none where none can be had.

    Parameters
    ----------
    scan : Scan of that axis.
    axis, receiver, occupants : as the scan was asked.
    """
    if not scan.built.any():
        return ()
    best = scan.if_hz[best_of(scan, BEST)].tolist()
    usual = [hz for hz in scan.if_hz[scan.built.any(axis=1)].tolist() if usual_at(hz) is not None]
    shown = np.array(sorted({*best, *usual, *axis.present_hz}), dtype=np.int64)
    judged = axis.together(shown)
    # ranges may have IFs of their own: each as it is
    own = [own_axis.together(np.array(sorted(own_axis.present_hz)))[0] for own_axis in _each(axis)]
    present = Together(judged[0].width_hz, tuple(together.outlooks[0] for together in own))
    images = _images_db(axis, shown)
    listed = [
        _scanned(if_hz, together, present, image, axis, receiver, occupants)
        for if_hz, together, image in zip(shown.tolist(), judged, images, strict=True)
    ]
    listed.sort(key=lambda scanned_if: scanned_if.merit)
    return tuple(replace(scanned_if, rank=rank) for rank, scanned_if in enumerate(listed, start=1))


def pick_of(listed: Sequence[Scanned]) -> int | None:
    """Return the IF of a scan that a builder would take; None where the list is empty. [Hz]

    Notes
    -----
    What is worth its evenings by `decision.choose` of those that somebody would build; else the best of
    them, so that it is said what it comes to.
    """
    able = [
        scanned_if
        for scanned_if in listed
        if not scanned_if.objected and not scanned_if.present and scanned_if.word != GAMBLE
    ]
    if not able:
        return next((scanned_if.if_hz for scanned_if in listed if not scanned_if.present), None)
    present = next((scanned_if for scanned_if in listed if scanned_if.present), None)
    if present is not None:
        number = choose(
            [scanned_if.together.worlds for scanned_if in able],
            [scanned_if.effort for scanned_if in able],
            present.together.worlds,
        ).recommended
        if number is not None:
            return able[number].if_hz
    return able[0].if_hz


def scan_table(listed: Sequence[Scanned]) -> Table:
    """Return a scan as records."""
    return table_of("scan", SCAN_COLUMNS, [scanned_if.record() for scanned_if in listed])


def _each(axis: Axis) -> list[Axis]:
    return [
        Axis((range_,), (chain,), axis.place, axis.settings, axis.cover)
        for range_, chain in zip(axis.ranges, axis.chains, strict=True)
    ]


def _images_db(axis: Axis, if_hz: npt.NDArray[np.int64]) -> list[float | None]:
    """Return the least image rejection of each IF on any range; None where there is no image. [dB]"""
    rejection_db = np.array([image_rejection_db(with_ifs(chain, if_hz))[0] for chain in axis.chains])
    least = np.where(np.isnan(rejection_db), np.inf, rejection_db).min(axis=0)
    return [None if np.isinf(least_db) else float(least_db) for least_db in least]


def _scanned(
    if_hz: int,
    together: Together,
    present: Together,
    image_db: float | None,
    axis: Axis,
    receiver: Receiver,
    occupants: Occupants,
) -> Scanned:
    unchanged = axis.present_hz == {if_hz}
    before = (max(axis.present_hz), max(int(chain.bandwidth_hz[0]) for chain in axis.chains))
    coils = coils_too_wide_hz(if_hz, before)
    made = filter_made(if_hz, before[1], estimates()["coils"]["filter_width"])
    known = usual_at(if_hz)
    reasons = {
        Why.present: ["the present IF"] if if_hz in axis.present_hz else [],
        Why.objection: [] if unchanged else _objections(if_hz, together, axis, receiver),
        Why.spoilt: _spoilt(together, axis),
        Why.on_it: _on_it(if_hz, before[1], occupants),
        Why.coils: []
        if coils is None
        else [f"coils of the present Q pass {hz_text(round(coils, -2))}, too wide"],
        Why.filters: ["filters are made for it"] if made else [],
    }
    return Scanned(
        rank=0,
        if_hz=if_hz,
        together=together,
        before=present.usable,
        gain=None if unchanged else compare(together.worlds, present.worlds),
        image_rejection_db=image_db,
        effort=0.0 if unchanged else effort_of(Asked(if_hz=if_hz), too_wide=coils is not None),
        usual=None if known is None else known.used_in,
        reasons=tuple(Reason(about, text) for about, texts in reasons.items() for text in texts),
    )


def _objections(if_hz: int, together: Together, axis: Axis, receiver: Receiver) -> list[str]:
    # behind a first IF the last one is out of reach of the front end
    ahead = any(chain.conversions == 1 for chain in axis.chains)
    around = range_around(receiver, if_hz, [range_.name for range_ in axis.ranges]) if ahead else None
    phrases = [] if around is None else [f"lies inside range {around.name}"]
    missing = [range_.name for range_, out in zip(axis.ranges, together.outlooks, strict=True) if out is None]
    return phrases + ([f"can not be had on range {', '.join(missing)}"] if missing else [])


def _spoilt(together: Together, axis: Axis) -> list[str]:
    """Say who takes most of which range by which way in, most dial first."""
    every = [
        (loss.share * out.finding.width_hz, range_.name, loss)
        for range_, out in zip(axis.ranges, together.outlooks, strict=True)
        if out is not None
        for loss in out.finding.losses
        if loss.share >= LEAST_SPOILT
    ]
    every.sort(key=lambda entry: -entry[0])
    return [
        f"{share_text(loss.share)} of range {name} lost to {loss.label} by {loss.response}"
        for _, name, loss in every[:MOST_REASONS]
    ]


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
