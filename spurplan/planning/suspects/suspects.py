"""suspects: what is this that I hear on the dial? Ways in, likeliest first, and the test that would tell."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from spurplan import units
from spurplan.cautions import cautions_of
from spurplan.columns import NULL_INT, RANGE, Answer, Column, table_of
from spurplan.errors import Fault, Refused
from spurplan.occupancy.bands import Bands
from spurplan.planning.suspects.belonging import NobodyBelongs, nobody_belongs
from spurplan.planning.suspects.evidence import (
    Evidence,
    Proposed,
    Traits,
    Weights,
    contradicted,
    fits_of,
    made_tests,
    observed_words,
    proposed_tests,
)
from spurplan.planning.suspects.ways import NONE_OF_THESE, Setting, Way, Who, ways_in
from spurplan.planning.suspects.weights import figure
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import (
    BandsLike,
    ReceiverLike,
    Settings,
    as_bands,
    as_receiver,
    occupants_of,
    public_question,
    settings_from,
)
from spurplan.responses.birdies.birdies import birdies
from spurplan.responses.dial import dial
from spurplan.responses.intrusion_table import s_codes
from spurplan.responses.listening.judged import place_of
from spurplan.units import FrequencyLike

SUSPECT_COLUMNS = (
    RANGE,
    Column("rank", "int", "", False, "", "1 for the likeliest on its range"),
    Column(
        "cause", "text", "", False, "Cause",
        "intrusion, birdie, self-whistle, the station itself, neighbour, transmitter harmonic, "
        "intermodulation, cross-modulation or overload; none of these for what the set does not explain",
    ),
    Column(
        "label", "text", "", True, "Station or band",
        "who is likeliest by that way; null for somebody in no table, and for what the set makes itself",
    ),
    Column("service", "text", "", True, "", "its service"),
    Column("table", "text", "", True, "", "file it came from"),
    Column("row", "int", "", True, "", "its line there"),
    Column("others", "list", "", False, "", "who else of the tables may come by that way, likeliest first"),
    Column(
        "rf_hz", "int", "Hz", True, "Really on",
        "where it is sent, and where to listen for it; null for what the set makes itself",
    ),
    Column("dial_hz", "int", "Hz", False, "", "dial frequency at which it is heard"),
    Column("response", "text", "", True, "", "what the trade calls the route"),
    Column("equation", "text", "", True, "By way of", "the route as it is worked out"),
    Column("moves", "float", "", True, "", "how fast it moves with the dial, the wanted signal being 1"),
    Column("inverted", "bool", "", True, "", "whether its sideband is inverted; null for carriers, AM, FM"),
    Column("pad_db_per_db", "float", "", True, "", "decibels it falls for each decibel of pad"),
    Column("heard_dbm", "float", "dBm", True, "", "heard level of a middling one of that row"),
    Column("heard_s", "text", "", True, "Heard", "the same in S units"),
    Column("margin_db", "float", "dB", True, "", "heard level above the bar of hearing"),
    Column("grade", "text", "", True, "", "strong, audible or buried: a weak one is a suspect all the same"),
    Column("weight", "float", "", False, "Weight", "how likely it is, those of a range adding to 1"),
    Column("fits", "list", "", False, "Evidence", "how each observation sits with it"),
    Column("next_test", "text", "", True, "Would show", "what the test that tells most would show of it"),
)  # fmt: skip

TEST_COLUMNS = (
    Column("rank", "int", "", False, "", "1 for the one to make next"),
    Column("test", "text", "", False, "Test", "what to do"),
    Column("option", "text", "", False, "Tell it by", "the option that takes its outcome"),
    Column(
        "tells_bits", "float", "", False, "Tells (bit)",
        "how much it would tell: the expected fall of the entropy of the causes",
    ),
    Column(
        "right_after", "float", "", False, "Settles it",
        "how likely the cause that is first after it is the true one",
    ),
    Column("cost_bits", "float", "", False, "", "what its trouble is worth, taken off to rank it"),
)  # fmt: skip

WEIGHTS_TEXT = (
    "how common a cause is, how loud, and how often an observation is misread are estimates of "
    "suspicion.toml; a transmitter's harmonics are taken {:g} dB down"
)
NOT_CONSIDERED = "not considered one by one: interference made in the house, faults of the set"


@dataclass(frozen=True)
class RankedWay:
    """A way in as the evidence leaves it.

    Attributes
    ----------
    way : Way.
    who : Who. The likeliest who comes by it.
    others : labels of who else may, likeliest first.
    rank : int. 1 for the likeliest on its range.
    weight : float. How likely it is, those of a range adding to 1.
    fits : how each observation sits with it.
    fitting : bool. Whether none speaks against it.
    would_show : str or None. What the test that tells most would show of it.
    """

    way: Way
    who: Who
    others: tuple[str, ...]
    rank: int
    weight: float
    fits: tuple[str, ...]
    fitting: bool
    would_show: str | None

    @property
    def explained(self) -> bool:
        """Whether it is a way in, and does not stand for what the set does not explain."""
        return self.way.cause != NONE_OF_THESE

    @property
    def listen_hz(self) -> int | None:
        """Where it is sent; None for what is made in the set, and what nobody knows the place of. [Hz]"""
        hz: int | None = self.who.fields.get("rf_hz", self.way.entry_hz)
        return hz

    def record(self, settings: Settings) -> dict[str, Any]:
        """Return the fields of `suspects`."""
        way = self.way
        row: dict[str, Any] = {c.name: NULL_INT if c.kind == "int" else None for c in SUSPECT_COLUMNS}
        row |= {
            "range": way.range, "dial_hz": way.dial_hz, "response": way.response, "equation": way.equation,
            "moves": _known(way.moves), "inverted": way.inverted, "pad_db_per_db": _known(way.pad_db_per_db),
        }  # fmt: skip
        row |= {name: value for name, value in self.who.fields.items() if name in row}
        row["rf_hz"] = NULL_INT if self.listen_hz is None else self.listen_hz
        heard, margin = row["heard_dbm"], row["margin_db"]
        if heard is not None:
            row["heard_s"] = _s_word(heard, row["dial_hz"])
            loud = margin >= settings.audible_at
            row["grade"] = "strong" if margin >= settings.strong_at else "audible" if loud else "buried"
        return {
            **row, "rank": self.rank, "cause": way.cause, "others": list(self.others), "weight": self.weight,
            "fits": list(self.fits), "next_test": self.would_show,
        }  # fmt: skip


def _known(value: float) -> float | None:
    return None if math.isnan(value) else value


@dataclass(frozen=True)
class Findings:
    """The ways in at a dial setting, weighed by what was observed, and the tests not made yet.

    Attributes
    ----------
    seen : Evidence. What was observed.
    ranked : the ways in, range by range, the likeliest first.
    tests : the tests not made yet, the one that tells most for its trouble first.
    ways : the ways in of each range, as they are before anything is observed.
    nobody_belongs : NobodyBelongs or None. That nobody of the tables sends there what is heard; None
        where somebody does, nothing tells, or more was observed since the set was asked.
    """

    seen: Evidence
    ranked: tuple[RankedWay, ...]
    tests: tuple[Proposed, ...]
    ways: tuple[tuple[Way, ...], ...] = field(repr=False)
    nobody_belongs: NobodyBelongs | None = None

    def with_evidence(self, **more: Any) -> Findings:
        """Return what is found with more observed, or something else; names as in `Evidence`."""
        return weighed(self.ways, replace(self.seen, **more))

    @property
    def next_test(self) -> Proposed | None:
        """The test to make next; None where none would tell anything."""
        return self.tests[0] if self.tests else None

    def by_range(self) -> dict[str, list[RankedWay]]:
        """Return the ways in of each range."""
        ranges: dict[str, list[RankedWay]] = {}
        for ranked_way in self.ranked:
            ranges.setdefault(ranked_way.way.range, []).append(ranked_way)
        return ranges


@public_question
def suspects(
    receiver: ReceiverLike,
    *,
    frequency: FrequencyLike,
    bands: BandsLike = None,
    dial_error: FrequencyLike | None = None,
    moves: str | float | None = None,
    pad_drop: float | None = None,
    inverted: bool | None = None,
    trimmer: str | None = None,
    loudest: str | None = None,
    heard: str | None = None,
    strength: str | None = None,
    pitch: FrequencyLike | None = None,
    pitch_moves: bool | None = None,
    fading: str | None = None,
    aerial_off: str | None = None,
    also_on: FrequencyLike | Sequence[FrequencyLike] = (),
    not_on: FrequencyLike | Sequence[FrequencyLike] = (),
    found_at: FrequencyLike | Sequence[FrequencyLike] = (),
    not_at: FrequencyLike | Sequence[FrequencyLike] = (),
    behind_others: str | None = None,
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
    loudest : "here", "up", "down", "everywhere" or None. Where, the dial turned some kilohertz either way.
    heard : "am", "ssb", "cw", "digital", "carrier", "noise", "whistle" or None. What it sounds like.
    strength : str or None. How strong it is, as "S7" or "-80 dBm".
    pitch : int, str or None. Of a whistle. [Hz]
    pitch_moves : bool or None. Whether its pitch changes while the dial is turned.
    fading : "yes", "no" or None.
    aerial_off : "stays", "goes" or None. What it does when the aerial is taken off.
    also_on, not_on : frequencies on which another set has it, and has it not. [Hz]
    found_at, not_at : frequencies at which this set has the same, tuned there, and has it not. [Hz]
    behind_others : "yes", "no" or None. Whether other stations near by, tuned in, have it behind them.
    settings, options : see `Settings`.

    Returns
    -------
    Answer with the table `suspects`, range by range, one record a way in, whether or not a table has
    anybody there; the weights of a range add to 1, for the wave-change switch stands on one of them. The
    table `tests` has what has not been observed yet, the test that tells most for its trouble first.

    Raises
    ------
    Refused  as `dial`, and for evidence that means nothing.

    Notes
    -----
    The weight of a way goes with how common it is, times the sum over who may come by it (of one service
    the likeliest) of the chance that he is on the air, the chance that he is loud enough, and the chance
    of each observation. Somebody in no table may come by any way. All figures stand in `suspicion.toml`;
    they are estimates.
    """
    seen = Evidence(
        moves=moves,
        pad_drop_db=pad_drop,
        inverted=inverted,
        trimmer=trimmer,
        loudest=loudest,
        heard=heard,
        strength=strength,
        pitch_hz=None if pitch is None else units.hz(pitch, "--pitch"),
        pitch_moves=pitch_moves,
        fading=fading,
        aerial_off=aerial_off,
        also_on=_frequencies(also_on, "--also-on"),
        not_on=_frequencies(not_on, "--not-on"),
        found_at=_frequencies(found_at, "--found-at"),
        not_at=_frequencies(not_at, "--not-at"),
        behind_others=behind_others,
    )
    chosen = settings_from(settings, options)
    set_, tables = as_receiver(receiver, chosen), as_bands(bands)
    _on_the_dial(set_, seen)
    chosen = replace(chosen, ahead=())  # they stand ahead of the set already
    both = settings_from(chosen, {"skirts": True, "intermodulation": True})
    dial_answer = dial(set_, bands=tables, frequency=frequency, dial_error=dial_error, settings=both)
    on_ranges = _settings(set_, tables, chosen, dial_answer)
    by_range = [
        ways_in(setting, _birdies(set_, tables, chosen, setting), dial_answer.tables.get("pairs"))
        for setting in on_ranges
    ]
    findings = replace(weighed(by_range, seen), nobody_belongs=_nobody_belongs(seen, on_ranges, dial_answer))
    weights_text = WEIGHTS_TEXT.format(figure("there", "harmonic_down_db"))
    return Answer(
        receiver=dial_answer.receiver,
        settings={**dial_answer.settings, **observed_words(seen)},
        assumptions=(*dial_answer.assumptions, weights_text, NOT_CONSIDERED),
        cautions=cautions_of("suspects"),
        tables={
            "suspects": table_of(
                "suspects", SUSPECT_COLUMNS, [ranked_way.record(chosen) for ranked_way in findings.ranked]
            ),
            "tests": table_of("tests", TEST_COLUMNS, _tests(findings.tests)),
        },
        findings=findings,
    )


def _frequencies(values: Sequence[FrequencyLike] | FrequencyLike, place: str) -> tuple[int, ...]:
    """Return frequencies from several, or from one by itself. [Hz]"""
    listed = values if units.several(values) else (values,)
    return tuple(units.hz(value, place) for value in listed)


def _on_the_dial(receiver: Receiver, seen: Evidence) -> None:
    """Refuse places at which the set cannot have been tuned."""
    faults = [
        Fault(place, "is on no range of this set", units.hz_text(hz), "say where the set was tuned")
        for place, several in (("--found-at", seen.found_at), ("--not-at", seen.not_at))
        for hz in several
        if not any(range_.low_hz <= hz <= range_.high_hz for range_ in receiver.ranges)
    ]
    if faults:
        raise Refused(faults)


def _birdies(receiver: Receiver, bands: Bands, settings: Settings, setting: Setting) -> Any:
    chosen = settings_from(settings, {"range": setting.range, "intermodulation": False})
    return birdies(receiver, bands=bands, settings=chosen).tables["birdies"]


def _settings(receiver: Receiver, bands: Bands, chosen: Settings, dial_answer: Answer) -> list[Setting]:
    """Return the setting on each range asked about that holds it."""
    centre = int(dial_answer.settings["frequency_hz"])
    off = int(dial_answer.settings["dial_error_hz"] or 0)
    occupants = occupants_of(receiver, bands, chosen)
    presence = place_of(receiver, occupants, chosen).air(chosen.activity).presence
    dial_spans_hz = tuple((range_.low_hz, range_.high_hz) for range_ in receiver.ranges)
    out = []
    for range_ in receiver.ranges:
        if not range_.low_hz <= centre <= range_.high_hz or chosen.range not in (None, range_.name):
            continue
        chains = compile_chains([(receiver, range_)])[0]
        window = chains.tuned_to(
            np.array([max(centre - off, range_.low_hz)]), np.array([min(centre + off, range_.high_hz)])
        )
        out.append(
            Setting(
                range_.name, window, centre, occupants, presence, receiver.antenna_gain_db,
                chosen.lo_order, chosen.rf_order, dial_spans_hz,
            )
        )  # fmt: skip
    return out


def _nobody_belongs(
    seen: Evidence, on_ranges: Sequence[Setting], dial_answer: Answer
) -> NobodyBelongs | None:
    off_hz = int(dial_answer.settings["dial_error_hz"] or 0)
    region: int | None = dial_answer.settings.get("region")
    first = on_ranges[0]
    return nobody_belongs(seen.heard, first.dial_hz, off_hz, first.occupants, region)


def _tests(tests: Sequence[Proposed]) -> list[dict[str, Any]]:
    return [
        {
            "rank": rank, "test": proposal.test.name, "option": proposal.test.option,
            "tells_bits": proposal.tells_bits,
            "right_after": proposal.right_after,
            "cost_bits": proposal.test.cost_bits,
        }
        for rank, proposal in enumerate(tests, start=1)
    ]  # fmt: skip


def _s_word(dbm: float, dial_hz: int) -> str:
    coded = s_codes(np.array([dbm]), np.array([dial_hz], dtype=np.int64))
    return str(coded.words[int(coded.codes[0])])


@dataclass(frozen=True)
class Posterior:
    """One way in, and how likely each who may come by it is after the evidence."""

    way: Way
    weight: tuple[float, ...]

    @property
    def order(self) -> list[int]:
        """Who, the likeliest first."""
        return sorted(range(len(self.weight)), key=lambda i: -self.weight[i])

    @property
    def counted(self) -> list[int]:
        """The likeliest of each service, staying put or not: rows of one band are the same people."""
        first: dict[tuple[str, bool], int] = {}
        for i in self.order:
            who = self.way.who[i]
            first.setdefault((who.service, who.traits.moves == 0.0), i)
        return list(first.values())

    @property
    def total(self) -> float:
        return sum(self.weight[i] for i in self.counted)


def _posterior(way: Way, seen: Evidence) -> Posterior:
    made = made_tests(seen, way.dial_hz)
    weight = [
        way.prior * who.chance * math.prod(test.chance(who.traits, shown) for test, shown in made)
        for who in way.who
    ]
    return Posterior(way, tuple(weight))


def weighed(by_range: Sequence[Sequence[Way]], seen: Evidence) -> Findings:
    """Return the ways of each range by weight after the evidence, and the tests that would tell."""
    stood = [[_posterior(way, seen) for way in ways] for ways in by_range]
    tests = proposed_tests([_weights(ways) for ways in stood], seen) if stood else []
    ranked: list[RankedWay] = []
    for ways in stood:
        total = sum(posterior.total for posterior in ways)
        ordered = sorted(ways, key=lambda posterior: -posterior.total)
        ranked += [
            _ranked_way(posterior, rank, total, seen, tests[0] if tests else None)
            for rank, posterior in enumerate(ordered, start=1)
        ]
    return Findings(seen, tuple(ranked), tuple(tests), tuple(map(tuple, by_range)))


def _weights(ways: Sequence[Posterior]) -> Weights:
    rows = [
        (cause, posterior.weight[i], posterior.way.who[i].traits)
        for cause, posterior in enumerate(ways)
        for i in posterior.counted
    ]
    weight = np.array([weight for _, weight, _ in rows])
    traits: list[Traits] = [traits for _, _, traits in rows]
    return Weights(weight / weight.sum(), traits, np.array([cause for cause, _, _ in rows], dtype=np.int64))


def _ranked_way(
    posterior: Posterior, rank: int, total: float, seen: Evidence, test: Proposed | None
) -> RankedWay:
    who = [posterior.way.who[i] for i in posterior.order]
    first = who[0]
    labels = dict.fromkeys(other.label for other in who[1:] if other.label not in (None, first.label))
    dial_hz = posterior.way.dial_hz
    return RankedWay(
        way=posterior.way,
        who=first,
        others=tuple(label for label in labels if label is not None),
        rank=rank,
        weight=posterior.total / total,
        fits=tuple(fits_of(first.traits, seen, dial_hz)),
        fitting=not contradicted(first.traits, seen, dial_hz),
        would_show=None if test is None else test.test.expects(first.traits),
    )
