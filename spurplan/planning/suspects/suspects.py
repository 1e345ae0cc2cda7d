"""suspects: what is this that I hear on the dial? Causes, most likely first, and the test that would tell."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from spurplan.cautions import cautions_of
from spurplan.columns import NULL_INT, RANGE, Answer, Column, table_of
from spurplan.occupancy.bands import Bands
from spurplan.occupancy.occupants import Occupants
from spurplan.planning.suspects.evidence import (
    NO_TRAITS,
    Evidence,
    Traits,
    best_test,
    contradicted,
    fits_of,
    weigh,
)
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import (
    BandsLike,
    ReceiverLike,
    Settings,
    as_bands,
    as_receiver,
    occupants_of,
    own_arithmetic,
    settings_from,
)
from spurplan.responses.birdies.birdies import birdies
from spurplan.responses.birdies.oscillators import INTERNAL, ROLES
from spurplan.responses.folding import fold, kind_of
from spurplan.responses.intrusion_table import s_codes
from spurplan.responses.levels import bar_dbm
from spurplan.responses.questions import dial

# a carrier between two sidebands, or one that is keyed, sounds the same turned round
NO_ONE_SIDEBAND = ("am", "fm", "cw", "beacon")
SUSPECT_COLUMNS = (
    RANGE,
    Column("rank", "int", "", False, "", "1 for the likeliest on its range"),
    Column(
        "cause", "text", "", False, "Cause",
        "intrusion, birdie, self-whistle, the station itself, neighbour, "
        "transmitter harmonic or intermodulation; not listed, where none of these fits what was observed",
    ),
    Column("label", "text", "", True, "Station or band", "the occupant; null for what the set makes itself"),
    Column("service", "text", "", True, "", "its service"),
    Column("table", "text", "", True, "", "file it came from"),
    Column("row", "int", "", True, "", "its line there"),
    Column("rf_hz", "int", "Hz", True, "Really on", "where it is sent; null for what the set makes itself"),
    Column("dial_hz", "int", "Hz", False, "", "dial frequency at which it is heard loudest"),
    Column("response", "text", "", True, "", "what the trade calls the route"),
    Column("equation", "text", "", True, "By way of", "the route as it is worked out"),
    Column("moves", "float", "", True, "", "how fast it moves with the dial, the wanted signal being 1"),
    Column("inverted", "bool", "", True, "", "whether its sideband is inverted; null for carriers, AM, FM"),
    Column("pad_db_per_db", "float", "", True, "", "decibels it falls for each decibel of pad"),
    Column("heard_dbm", "float", "dBm", True, "", "heard level; unknown for birdies"),
    Column("heard_s", "text", "", True, "Heard", "the same in S units"),
    Column("margin_db", "float", "dB", True, "", "heard level above the floor"),
    Column("grade", "text", "", True, "", "strong, audible or buried"),
    Column("weight", "float", "", False, "Weight", "how likely it is, those of a range adding to 1"),
    Column("fits", "list", "", False, "Evidence", "how each observation sits with it"),
    Column("next_test", "text", "", True, "Would show", "what the test that tells most would show of it"),
)  # fmt: skip

NOT_LISTED = "not listed"
# How common each cause is before anything is known: estimates from practice, not from a source.
PRIOR = {
    "the station itself": 3.0,
    "intrusion": 1.0,
    "neighbour": 0.7,
    "self-whistle": 0.5,
    "birdie": 0.3,
    "transmitter harmonic": 0.1,
    "intermodulation": 0.2,
    # where everything above is contradicted: a source in the house, a fault, a station in no table
    NOT_LISTED: 0.3,
}
# So far below the floor a suspect is e times less likely; well above it all are as likely. [dB]
MARGIN_SCALE_DB = 6.0
# Each order more makes a birdie this much rarer [est].
BIRDIE_RARER = 0.75
# Harmonics a transmitter is assumed to let out, and how far down. [dB]
TRANSMITTER_HARMONICS = range(2, 6)
TRANSMITTER_DOWN_DB = 50.0
# A dial error alone may widen what is received until it holds the dial frequency: so far off it does.
WHISTLE_WITHIN_HZ = 100_000
# Pairs of stations worth naming: beyond these the loudest say it.
MOST_PAIRS = 20
# How far below the floor, and how many, where nothing that is heard fits what was observed.
BURIED_WITHIN_DB = 40.0
MOST_BURIED = 5
WEIGHTS_TEXT = (
    "weights rest on estimates of how common a cause is, how loud, and how often an observation is "
    f"misread; a transmitter's harmonics are taken {TRANSMITTER_DOWN_DB:g} dB down"
)
NOT_CONSIDERED = (
    "not considered: interference made in the house, atmospheric noise, faults of the set, "
    "stations in no table in use"
)


@dataclass(frozen=True)
class Suspect:
    """One cause with what it predicts; `fields` are those of the table that it knows."""

    cause: str
    prior: float
    traits: Traits
    fields: Mapping[str, Any]

    @property
    def range(self) -> str:
        """The range it is heard on."""
        return str(self.fields["range"])


@dataclass(frozen=True)
class Weighed:
    """A suspect as the evidence leaves it.

    Attributes
    ----------
    suspect : Suspect.
    rank : int. 1 for the likeliest on its range.
    weight : float. How likely it is, those of a range adding to 1.
    fits : how each observation sits with it.
    would_show : str or None. What the test that tells most would show of it.
    """

    suspect: Suspect
    rank: int
    weight: float
    fits: tuple[str, ...]
    would_show: str | None

    @property
    def listed(self) -> bool:
        """Whether it is somebody, and does not stand for what is in no table."""
        return self.suspect.cause != NOT_LISTED

    @property
    def who(self) -> str:
        """The station, or what the set makes itself."""
        fields = self.suspect.fields
        return str(fields.get("label") or fields.get("equation") or "the set itself")

    def record(self) -> dict[str, Any]:
        """Return the fields of `suspects`."""
        unknown: dict[str, Any] = {c.name: NULL_INT if c.kind == "int" else None for c in SUSPECT_COLUMNS}
        return {
            **unknown,
            **self.suspect.fields,
            "rank": self.rank,
            "cause": self.suspect.cause,
            "pad_db_per_db": float(self.suspect.traits.pad_db_per_db),
            "weight": self.weight,
            "fits": list(self.fits),
            "next_test": self.would_show,
        }


@dataclass(frozen=True)
class Findings:
    """What was found.

    Attributes
    ----------
    seen : Evidence. What was observed.
    ranked : the suspects, range by range, the likeliest first.
    next_test : str or None. The test that would tell most.
    """

    seen: Evidence
    ranked: tuple[Weighed, ...]
    next_test: str | None

    def by_range(self) -> dict[str, list[Weighed]]:
        """Return the suspects of each range."""
        ranges: dict[str, list[Weighed]] = {}
        for one in self.ranked:
            ranges.setdefault(one.suspect.range, []).append(one)
        return ranges


@own_arithmetic
def suspects(
    receiver: ReceiverLike,
    bands: BandsLike = None,
    frequency: int | str = "",
    *,
    dial_error: int | str | None = None,
    moves: str | float | None = None,
    pad_drop: float | None = None,
    inverted: bool | None = None,
    trimmer: str | None = None,
    settings: Settings | None = None,
    **options: Any,
) -> Answer:
    """Return what may be heard at a dial setting, most likely first.

    Parameters
    ----------
    receiver, bands, frequency, dial_error : as in `dial`.
    moves : "with", "against", "twice", "not", a number, or None. How it moves with the dial.
    pad_drop : float or None. How far it falls with a 10 dB pad at the aerial. [dB]
    inverted : bool or None. Whether its sideband is inverted.
    trimmer : "up", "down", "same" or None. Which way the front end must be tuned to peak it.
    settings, options : see `Settings`; signals on the skirts and pairs of stations are looked at in
        any case.

    Returns
    -------
    Answer with the table `suspects`, range by range; the weights of a range add to 1, for the
    wave-change switch stands on one of them.

    Raises
    ------
    Refused  as `dial`, and for evidence that means nothing.

    Notes
    -----
    The weight of a suspect goes with p / (1 + exp(-m/6 dB)) times the chance of each observation if it
    is the cause; p says how common its cause is, m is its margin over the floor. What is further below
    the floor than 6 dB is no suspect, unless an observation speaks against each that is left: then the
    loudest of those below it that fit are listed, and one that stands for what is in no table. All of
    these are estimates.
    """
    seen = Evidence(
        moves=None if moves is None else str(moves),
        pad_drop_db=pad_drop,
        inverted=inverted,
        trimmer=trimmer,
    )
    chosen = settings_from(settings, options)
    set_, tables = as_receiver(receiver, chosen), as_bands(bands)
    chosen = replace(chosen, ahead=())  # they stand ahead of the set already
    found = dial(
        set_,
        tables,
        frequency,
        dial_error=dial_error,
        settings=_with(chosen, skirts=True, intermodulation=True),
    )
    window = _window(set_, found)
    gathered = [
        *_arrivals(found),
        *_own(set_, tables, chosen, window),
        *_harmonics(set_, occupants_of(set_, tables, chosen), chosen, window),
        *_products(found),
    ]
    by_range = {place.range: [one for one in gathered if one.range == place.range] for place in window}
    unexplained = [
        place
        for place in window
        if by_range[place.range] and all(contradicted(one.traits, seen) for one in by_range[place.range])
    ]
    if unexplained:
        buried = _buried(set_, tables, frequency, dial_error, chosen, seen)
        for place in unexplained:
            own = [one for one in buried if one.range == place.range][:MOST_BURIED]
            by_range[place.range] += [*own, _not_listed(place)]
    findings = _ranked([suspected for suspected in by_range.values() if suspected], seen)
    return Answer(
        receiver=found.receiver,
        settings={**found.settings, "moves": seen.moves, "pad_drop_db": seen.pad_drop_db,
                  "inverted": inverted, "trimmer": trimmer, "next_test": findings.next_test,
                  "fitting": not unexplained},
        assumptions=(*_next_text(findings.next_test), *found.assumptions, WEIGHTS_TEXT, NOT_CONSIDERED),
        cautions=cautions_of("suspects"),
        tables={
            "suspects": table_of("suspects", SUSPECT_COLUMNS, [one.record() for one in findings.ranked])
        },
        findings=findings,
    )  # fmt: skip


def _with(settings: Settings, **changes: Any) -> Settings:
    return settings_from(settings, changes)


def _next_text(test: str | None) -> list[str]:
    return [] if test is None else [f"the test that would tell most: {test}"]


@dataclass(frozen=True)
class Window:
    """A stretch of dial on one range."""

    range: str
    low_hz: int
    high_hz: int


def _window(receiver: Receiver, found: Answer) -> list[Window]:
    """Return what the pointer may mean, on each range asked about that holds the setting."""
    centre = int(found.settings["frequency_hz"])
    off = int(found.settings["dial_error_hz"] or 0)
    chosen = found.settings["range"]
    return [
        Window(r.name, max(centre - off, r.low_hz), min(centre + off, r.high_hz))
        for r in receiver.ranges
        if r.low_hz <= centre <= r.high_hz and chosen in (None, r.name)
    ]


def loudness_prior(margin_db: float) -> float:
    """Return how a margin over the floor weighs: 1 well above, falling off below. (0, 1)"""
    if math.isnan(margin_db):
        return 0.5
    return 1.0 / (1.0 + math.exp(-margin_db / MARGIN_SCALE_DB))


def _arrivals(found: Answer) -> Iterator[Suspect]:
    """Yield intruders, neighbours and the station itself; rows that say the same as one."""
    for name in ("intrusions", "on_frequency"):
        table = found.tables[name]
        folded, _ = fold(table, by_station=True, loudest=True)
        for record in folded.records():
            if record["margin_db"] < -MARGIN_SCALE_DB:
                continue
            yield _arrival(record, on_frequency=name == "on_frequency")


def _buried(
    receiver: Receiver, bands: Bands, frequency: int | str, dial_error: int | str | None,
    settings: Settings, seen: Evidence,
) -> list[Suspect]:  # fmt: skip
    """Return what should be buried and still fits what was observed, the loudest first."""
    asked = _with(settings, everything=True, skirts=False, intermodulation=False)
    table = dial(receiver, bands, frequency, dial_error=dial_error, settings=asked).tables["intrusions"]
    margin = table["margin_db"]
    near = table.take(np.flatnonzero((margin < -MARGIN_SCALE_DB) & (margin > -BURIED_WITHIN_DB)))
    folded, _ = fold(near, by_station=True, loudest=True)
    found = [_arrival(record, on_frequency=False) for record in folded.records()]
    fitting = [one for one in found if not contradicted(one.traits, seen)]
    return sorted(fitting, key=lambda one: -one.prior)


def _not_listed(place: Window) -> Suspect:
    """Return what stands for all that no table and no figure of the set can know of."""
    return Suspect(NOT_LISTED, PRIOR[NOT_LISTED], NO_TRAITS, {"range": place.range, "dial_hz": place.low_hz})


def _arrival(record: Mapping[str, Any], *, on_frequency: bool) -> Suspect:
    cause = "the station itself" if on_frequency else "intrusion"
    if not on_frequency and record["response"] == "wanted":
        cause = "neighbour"
    rf_hz = (record["rf_low_hz"] + record["rf_high_hz"]) // 2
    dial_hz = record["loudest_dial_hz"]
    crosses = record["rf_low_hz"] <= dial_hz <= record["rf_high_hz"]
    if cause == "intrusion" and crosses and abs(rf_hz - dial_hz) < WHISTLE_WITHIN_HZ:
        cause = "self-whistle"
    fields = {
        **{name: record[name] for name in (
            "range", "label", "service", "table", "row", "response", "equation", "moves", "pad_db_per_db",
            "heard_dbm", "heard_s", "margin_db", "grade",
        )},
        "rf_hz": rf_hz, "dial_hz": dial_hz,
        "inverted": None if record["mode"] in NO_ONE_SIDEBAND else record["inverted"],
    }  # fmt: skip
    moves = math.nan if record["moves"] is None else record["moves"]
    traits = Traits(moves, record["pad_db_per_db"], fields["inverted"], _trimmer(rf_hz, dial_hz))
    return Suspect(cause, PRIOR[cause] * loudness_prior(record["margin_db"]), traits, fields)


def _trimmer(rf_hz: int, dial_hz: int) -> str:
    """Return which way the circuits must be tuned to peak a signal: beyond 1 % it shows."""
    if abs(rf_hz - dial_hz) <= 0.01 * dial_hz:
        return "same"
    return "up" if rf_hz > dial_hz else "down"


def _own(receiver: Receiver, bands: Bands, settings: Settings, window: Sequence[Window]) -> Iterator[Suspect]:
    """Yield what the set's own oscillators put there."""
    for place in window:
        asked = _with(settings, range=place.range, intermodulation=False)
        answer = birdies(receiver, bands, settings=asked)
        table = answer.tables["birdies"]
        here = (table["dial_low_hz"] <= place.high_hz) & (table["dial_high_hz"] >= place.low_hz)
        for record in table.take(np.flatnonzero(here)).records():
            if record["kind"] == "self-whistle":
                continue  # it arrives as an intrusion of the station itself, and is listed so
            prior = PRIOR["birdie"] * _commonness(record)
            moves = math.nan if record["moves"] is None else record["moves"]
            fields = {
                "range": place.range, "equation": record["equation"], "moves": record["moves"],
                "response": record["kind"], "pad_db_per_db": 0.0,
                "dial_hz": min(max(record["dial_low_hz"], place.low_hz), place.high_hz),
            }  # fmt: skip
            yield Suspect("birdie", prior, Traits(moves, 0.0, None, "same"), fields)


def _commonness(birdie: Mapping[str, Any]) -> float:
    """Return how common a birdie is, the simplest being 1 or a little more [est].

    Notes
    -----
    A calibrator or clock is a comb, made to be heard on its high harmonics: of a narrow pulse they
    fall with their number at most. Everything else is rarer with each order.
    """
    if birdie["kind"] == ROLES[INTERNAL] and birdie["harmonic"] is not None:
        return 1.0 / float(birdie["harmonic"])
    return float(BIRDIE_RARER ** (birdie["order"] - 2))


def _harmonics(
    receiver: Receiver, occupants: Occupants, settings: Settings, window: Sequence[Window]
) -> Iterator[Suspect]:
    """Yield harmonics of transmitters that are heard on the dial setting."""
    by_name = {r.name: r for r in receiver.ranges}
    for place in window:
        chains = compile_chains([(receiver, by_name[place.range])])[0]
        half = int(chains.bandwidth_hz[0]) // 2
        low, high = place.low_hz - half, place.high_hz + half
        every = np.zeros(len(occupants), dtype=np.int64)
        bar = bar_dbm(chains, every, every + place.low_hz, occupants.sound, occupants.width_hz)
        level = occupants.level_dbm - TRANSMITTER_DOWN_DB
        heard = level - bar >= settings.audible_at
        for k in TRANSMITTER_HARMONICS:
            meets = (k * occupants.low_hz <= high) & (k * occupants.high_hz >= low)
            for i in np.flatnonzero(meets & heard).tolist():
                margin = float(level[i] - bar[i])
                hz = max(int(occupants.low_hz[i]), -(-low // k))
                fields = {
                    "range": place.range, **occupants.record(i),
                    "rf_hz": hz, "dial_hz": min(max(k * hz, place.low_hz), place.high_hz),
                    "response": "transmitter harmonic", "equation": f"RF = {k} f", "moves": 1.0,
                    "inverted": False, "pad_db_per_db": 1.0, "heard_dbm": float(level[i]),
                    "heard_s": _s_word(float(level[i]), place.low_hz), "margin_db": margin,
                    "grade": "strong" if margin >= settings.strong_at else "audible",
                }  # fmt: skip
                prior = PRIOR["transmitter harmonic"] * loudness_prior(margin)
                yield Suspect("transmitter harmonic", prior, Traits(1.0, 1.0, False, "same"), fields)


def _s_word(dbm: float, dial_hz: int) -> str:
    coded = s_codes(np.array([dbm]), np.array([dial_hz], dtype=np.int64))
    return str(coded.words[int(coded.codes[0])])


def _products(found: Answer) -> Iterator[Suspect]:
    """Yield products of two stations, where the answer has them, the loudest of each range.

    Notes
    -----
    A band inside a band makes the same product with the same partner again: pairs of the same
    services share what is known of the cause before anything is observed.
    """
    if "pairs" not in found.tables:
        return
    pairs = found.tables["pairs"]
    # of pairs with the same names the loudest, which comes first
    _, first = np.unique(kind_of(pairs, ("label_1", "label_2", *_SAME_PRODUCT)), return_index=True)
    pairs = pairs.take(np.sort(first))
    of_range = kind_of(pairs, ("range",))
    loudest = [np.flatnonzero(of_range == one)[:MOST_PAIRS] for one in range(of_range.max(initial=-1) + 1)]
    pairs = pairs.take(np.sort(np.concatenate(loudest)) if loudest else np.zeros(0, dtype=np.int64))
    product = kind_of(pairs, _SAME_PRODUCT)
    shares = np.bincount(product)[product]
    for record, share in zip(pairs.records(), shares.tolist(), strict=True):
        fields = {
            **{name: record[name] for name in (
                "range", "moves", "pad_db_per_db", "heard_dbm", "heard_s", "margin_db", "grade",
            )},
            "label": f"{record['label_1']} with {record['label_2']}",
            "dial_hz": record["loudest_dial_hz"], "response": "intermodulation",
            "equation": record["equation"],
        }  # fmt: skip
        prior = PRIOR["intermodulation"] * loudness_prior(record["margin_db"]) / share
        traits = Traits(record["moves"], float(record["pad_db_per_db"]), None, "same")
        yield Suspect("intermodulation", prior, traits, fields)


_SAME_PRODUCT = ("range", "service_1", "service_2", "product", "lands_on")


def _ranked(by_range: Sequence[Sequence[Suspect]], seen: Evidence) -> Findings:
    """Return the suspects of each range by weight after the evidence, and the test that would tell most."""
    traits = [[suspect.traits for suspect in some] for some in by_range]
    weights = [
        weigh(np.array([suspect.prior for suspect in some]), own, seen)
        for some, own in zip(by_range, traits, strict=True)
    ]
    test = best_test(list(zip(weights, traits, strict=True)), seen) if by_range else None
    ranked = [
        Weighed(
            suspect=some[i],
            rank=rank,
            weight=float(weight[i]),
            fits=tuple(fits_of(some[i].traits, seen)),
            would_show=None if test is None else test.expects(some[i].traits),
        )
        for some, weight in zip(by_range, weights, strict=True)
        for rank, i in enumerate(np.lexsort((np.arange(len(weight)), -weight)).tolist(), start=1)
    ]
    return Findings(seen, tuple(ranked), None if test is None else test.name)
