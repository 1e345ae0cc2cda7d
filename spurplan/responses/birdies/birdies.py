"""birdies: what a set hears with no aerial, where a station beats with itself, what it radiates on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.cautions import cautions_of
from spurplan.columns import NULL_INT, RANGE, Answer, Column, table_of
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains, compile_chains
from spurplan.receiver.description import Receiver
from spurplan.responses import routes
from spurplan.responses.asking import (
    BandsLike,
    ReceiverLike,
    Settings,
    as_bands,
    as_receiver,
    hour_settings,
    loudest_typical_dbm,
    occupants_of,
    picked_ranges,
    public_question,
    settings_from,
)
from spurplan.responses.assumptions import SKIRTS_LEFT_OUT, assumptions_of, listed_share
from spurplan.responses.birdies import combinations, harmonics
from spurplan.responses.birdies.calibrator import false_marks
from spurplan.responses.birdies.oscillators import DETECTOR, ROLES, oscillators_in
from spurplan.responses.birdies.radiation import HIGHEST_HARMONIC, radiated
from spurplan.responses.birdies.self_whistles import Whistles, self_whistles
from spurplan.responses.grades import BURIED, GRADES
from spurplan.responses.pairs.records import made_together, with_together
from spurplan.responses.routes import target_names

Ints = npt.NDArray[np.int64]
Record = dict[str, Any]

SELF_WHISTLE = "self-whistle"
POSSIBLE, WORKED_OUT = "possible", "worked out"

BIRDIE_COLUMNS = (
    RANGE,
    Column(
        "set_dial_hz", "int", "Hz", True, "",
        "what the main dial of the set shows at exact_dial_hz, where that is not the signal's frequency",
    ),
    Column("dial_low_hz", "int", "Hz", False, "Dial from", "first dial frequency on which it is received"),
    Column("dial_high_hz", "int", "Hz", False, "Dial to", "last dial frequency on which it is"),
    Column(
        "exact_dial_hz", "int", "Hz", True, "Exactly at",
        "dial frequency nearest to where the equation holds; unknown where it holds nowhere on the range",
    ),
    Column(
        "kind", "text", "", False, "Kind",
        "oscillators, crystal, variable (one that another is premixed of), BFO, internal, IF harmonic (of "
        "a station, in the detector) or self-whistle",
    ),
    Column("equation", "text", "", False, "Equation", "what meets there, as it is worked out"),
    Column("order", "int", "", False, "Order", "sum of the harmonics, which is how they rank"),
    Column(
        "harmonic", "int", "", True, "", "which harmonic of one oscillator by itself; unknown for all else"
    ),
    Column(
        "certainty", "text", "", False, "Certainty",
        "possible: how loud depends on shielding nobody has measured; worked out: the levels say so",
    ),
    Column("moves", "float", "", True, "Moves", "how fast it moves with the dial, the wanted signal being 1"),
    Column(
        "beat_hz", "int", "Hz", True, "Beat",
        "pitch with the BFO, or with a station in the middle of the passband, of what stays while the dial "
        "moves; of a self-whistle the beat with the station in `label` when that is tuned in; unknown where "
        "it runs through zero at exact_dial_hz",
    ),
    Column(
        "beat_hz_per_hz", "float", "", False, "Beat moves",
        "how many hertz the beat changes for each hertz of dial: a self-whistle's with its station staying",
    ),
    Column(
        "below_station_db", "float", "dB", True, "Below the station",
        "how far a self-whistle is below the station it spoils; where none is listed, below one of the "
        "loudest typical level",
    ),
    Column("heard_dbm", "float", "dBm", True, "Heard", "heard level of the whistle of that station"),
    Column("margin_db", "float", "dB", True, "Margin", "that above the noise floor"),
    Column("grade", "text", "", True, "Grade", "strong, audible or buried; unknown where the level is"),
    Column(
        "through_ceiling", "bool", "", True, "",
        "whether a self-whistle gets past a filter only by stray coupling; unknown for the others",
    ),
    Column(
        "label", "text", "", True, "Station or band",
        "the strongest that is wanted on that stretch of dial; unknown where none is listed, and for birdies",
    ),
    Column("service", "text", "", True, "", "its service"),
    Column("table", "text", "", True, "", "file it came from"),
    Column("row", "int", "", True, "", "its line there, the head being line 1"),
)  # fmt: skip

RADIATES_COLUMNS = (
    RANGE,
    Column("oscillator", "text", "", False, "Oscillator", "LO, or LO1, LO2 ... in signal order"),
    Column("harmonic", "int", "", False, "Harmonic", "1 for the oscillator itself"),
    Column("low_hz", "int", "Hz", False, "From", "lowest frequency it is on within the row of the table"),
    Column("high_hz", "int", "Hz", False, "To", "highest frequency it is on within the row"),
    Column("dial_low_hz", "int", "Hz", False, "Dial from", "first dial frequency at which it is there"),
    Column("dial_high_hz", "int", "Hz", False, "Dial to", "last dial frequency at which it is there"),
    Column("label", "text", "", True, "Station or band", "whose frequencies they are"),
    Column("service", "text", "", False, "Service", "its service"),
    Column("table", "text", "", False, "", "file it came from"),
    Column("row", "int", "", False, "", "its line there, the head being line 1"),
)  # fmt: skip


@public_question
def birdies(
    receiver: ReceiverLike,
    *,
    bands: BandsLike = None,
    settings: Settings | None = None,
    **options: Any,
) -> Answer:
    """Return what a set hears by itself, and what it radiates on.

    Parameters
    ----------
    receiver : Receiver, or path of a receiver file.
    bands : Bands, path, several paths, or None for the shipped tables.
    settings, options : see `Settings`.

    Returns
    -------
    Answer with the tables `birdies` (places where combinations of its oscillators, or the
    station tuned in by another way, come into the passband; simplest first, self-whistles
    that pass a filter only by stray coupling last) and `radiates`; with
    ``intermodulation`` also `pairs` and `triples`.

    Raises
    ------
    Refused  for a bad file or option.
    """
    chosen = settings_from(settings, options)
    set_ = as_receiver(receiver, chosen)
    picked = picked_ranges(set_, chosen.range)
    occupants = occupants_of(set_, as_bands(bands), chosen)
    groups = compile_chains([(set_, range_) for range_ in picked])
    place = {range_.name: number for number, range_ in enumerate(picked)}
    records = [record for chains in groups for record in _birdies(set_, chains)]
    records += [record for chains in groups for record in _whistles(set_, chains, occupants, chosen)]
    records.sort(
        key=lambda r: (
            bool(r["through_ceiling"]), r["order"], r["below_station_db"] or 0.0, place[r["range"]],
            r["dial_low_hz"], r["dial_high_hz"], r["equation"],
        )
    )  # fmt: skip
    sweeps = [record for chains in groups for record in _radiates(chains, occupants)]
    sweeps.sort(
        key=lambda r: (
            place[r["range"]],
            r["harmonic"],
            r["oscillator"],
            r["low_hz"],
            r["high_hz"],
            r["label"],
        )
    )
    # whatever beats does so inside the passband: this question knows no skirts
    assumptions = assumptions_of(
        set_, replace(chosen, skirts=False), groups, occupants, listed_share(occupants)
    )
    assumed = [line for line in assumptions if line != SKIRTS_LEFT_OUT]
    region = chosen.region if chosen.region is not None else set_.region
    answer = Answer(
        receiver=set_.name,
        settings={
            **chosen.plain(),
            **hour_settings(set_, chosen),
            "region": region,
            "total_order": harmonics.TOTAL_ORDER,
        },
        assumptions=(*_said(set_), *assumed),
        cautions=cautions_of("birdies"),
        tables={
            "birdies": table_of("birdies", BIRDIE_COLUMNS, records),
            "radiates": table_of("radiates", RADIATES_COLUMNS, sweeps),
        },
        findings=false_marks(set_, picked),
    )
    return with_together(answer, groups, occupants, chosen, made_together(groups, occupants, chosen))


def _said(receiver: Receiver) -> list[str]:
    """Return what these lists take for granted beside what every answer does."""
    order = harmonics.TOTAL_ORDER
    assumptions = [
        f"combinations of oscillators up to a total order of {order}, harmonics of one up to the {order}th, "
        "of a calibrator or clock by itself as high as the dial and the IFs need (up to the "
        f"{harmonics.MOST_HARMONICS:,}th): higher ones are not looked for",
        "sums of a BFO, calibrator or clock with harmonics of one mixing oscillator are looked at, with two "
        "of these at once, or with each other, not",
        "how loud a birdie is depends on shielding nobody has measured: all are possible, none sure",
        "of combinations that meet on one place of the dial the simplest is listed",
        f"oscillators are taken to radiate up to harmonic {HIGHEST_HARMONIC}; how far is not known",
    ]
    if receiver.bfo is None:
        assumptions.append(
            "the set has no BFO: pitches are beats with a station in the middle of the passband"
        )
    if not receiver.internal:
        assumptions.append(
            "no other oscillator in the box is described: calibrators and clocks are [[internal]]"
        )
    return assumptions


def _birdies(receiver: Receiver, chains: Chains) -> list[Record]:
    oscillators = oscillators_in(receiver, chains)
    heard, made = harmonics.self_heard(chains, oscillators)
    if not len(heard):
        return []
    factors, target = made.factors[heard.combination], made.target[heard.combination]
    meets_bfo = made.meets_bfo[heard.combination]
    targets = target_names(chains.conversions)
    moves = harmonics.moves(chains, heard, target)
    middle = (heard.dial_low_hz + heard.dial_high_hz) // 2
    off = harmonics.at_detector_hz(chains, heard, target, middle)
    exact = _exact_dial_hz(chains, heard, receiver, meets_bfo)
    bfo_hz = 0 if receiver.bfo is None else receiver.bfo.offset_hz
    # the latest to join says what it is: the detector before another oscillator, that before a mixing one
    role = np.where(factors != 0, oscillators.role[None], -1).max(axis=1)
    set_dial = chains.set_dial_hz(heard.candidate, np.where(exact == NULL_INT, middle, exact))
    out = []
    for i in range(len(heard)):
        equation = combinations.equation(
            oscillators.names, tuple(factors[i].tolist()), targets[target[i]], bool(meets_bfo[i])
        )
        against = 0 if role[i] == DETECTOR else bfo_hz
        used = np.abs(factors[i][factors[i] != 0])
        alone = len(used) == 1 and not meets_bfo[i]
        out.append(
            _record(
                chains, int(heard.candidate[i]), int(heard.dial_low_hz[i]), int(heard.dial_high_hz[i]),
                exact_dial_hz=int(exact[i]), set_dial_hz=int(set_dial[i]), kind=ROLES[role[i]],
                equation=equation, order=int(made.order[heard.combination[i]]),
                harmonic=int(used[0]) if alone else NULL_INT, certainty=POSSIBLE,
                moves=float(moves[i]), beat_hz=round(abs(off[i] - against)) if heard.a[i] == 0 else None,
                beat_hz_per_hz=abs(float(moves[i])),
            )
        )  # fmt: skip
    return out


def _exact_dial_hz(
    chains: Chains, heard: harmonics.SelfHeard, receiver: Receiver, meets_bfo: npt.NDArray[np.bool_]
) -> Ints:
    """Return where each equation holds, shape (G,); `NULL_INT` where it does nowhere on the range.

    Notes
    -----
    A harmonic that meets the BFO's does so where the product is as far off the middle
    of the IF as the BFO is.
    """
    offset = 0 if receiver.bfo is None else receiver.bfo.offset_hz
    shifted = heard.replace(b=np.where(meets_bfo, heard.b - offset * heard.h, heard.b))
    exact = shifted.exact_dial_hz()
    inside = (exact >= chains.low_hz[heard.candidate]) & (exact <= chains.high_hz[heard.candidate])
    return np.where(inside, exact, NULL_INT)


def _whistles(receiver: Receiver, chains: Chains, occupants: Occupants, settings: Settings) -> list[Record]:
    lines, whistles = self_whistles(chains, occupants, settings, loudest_typical_dbm(receiver))
    moves = routes.moves(chains, lines, whistles.line)
    order = routes.order_of(lines, whistles.line)
    grade = whistles.grade(settings.strong_at, settings.audible_at)
    exact = harmonics.SelfHeard(
        whistles.line,
        whistles.line,
        whistles.dial_low_hz,
        whistles.dial_high_hz,
        whistles.a,
        whistles.b,
        whistles.h,
    ).exact_dial_hz()
    out = []
    for i in range(len(whistles)):
        v = int(lines.candidate[whistles.line[i]])
        at = int(exact[i]) if chains.low_hz[v] <= exact[i] <= chains.high_hz[v] else NULL_INT
        candidate, dial = np.array([v]), np.array([whistles.loudest_dial_hz[i] if at == NULL_INT else at])
        out.append(
            _record(
                chains, v, int(whistles.dial_low_hz[i]), int(whistles.dial_high_hz[i]),
                exact_dial_hz=at, set_dial_hz=int(chains.set_dial_hz(candidate, dial)[0]), kind=SELF_WHISTLE,
                equation=routes.equation(routes.steps_of(lines, int(whistles.line[i]))), order=int(order[i]),
                certainty=WORKED_OUT, moves=float(moves[i]), beat_hz=_station_beat_hz(whistles, i, occupants),
                beat_hz_per_hz=abs(float(moves[i]) - 1.0),
                below_station_db=float(whistles.below_station_db[i]),
                through_ceiling=bool(whistles.through_ceiling[i]),
                **_station_of(whistles, i, occupants, int(grade[i])),
            )
        )  # fmt: skip
    return out


def _station_beat_hz(whistles: Whistles, i: int, occupants: Occupants) -> int | None:
    """Return the beat of a whistle where one frequency is what is wanted, or where it does not change."""
    who, a, b, h = int(whistles.occupant[i]), int(whistles.a[i]), int(whistles.b[i]), int(whistles.h[i])
    if a == 0:
        return round(abs(b) / h)
    if who < 0 or occupants.low_hz[who] != occupants.high_hz[who]:
        return None
    return round(abs(a * int(occupants.low_hz[who]) + b) / h)


def _station_of(whistles: Whistles, i: int, occupants: Occupants, grade: int) -> Record:
    """Return the fields about the station a whistle spoils; none where none is listed."""
    who = int(whistles.occupant[i])
    if who < 0:
        return {}
    assert BURIED <= grade < len(GRADES)
    return {
        "heard_dbm": float(whistles.station_dbm[i] - whistles.below_station_db[i]),
        "margin_db": float(whistles.margin_db[i]),
        "grade": GRADES[grade],
        **occupants.record(who),
    }


def _record(chains: Chains, candidate: int, low_hz: int, high_hz: int, **known: Any) -> Record:
    """Return one record: what is not given is unknown."""
    record: Record = dict.fromkeys((column.name for column in BIRDIE_COLUMNS), None)
    record["harmonic"] = NULL_INT
    record |= known
    record |= {
        "range": chains.names[int(chains.name_code[candidate])],
        "dial_low_hz": low_hz,
        "dial_high_hz": high_hz,
    }
    shown = known["exact_dial_hz"] if known["exact_dial_hz"] != NULL_INT else None
    if shown is None or known["set_dial_hz"] == shown:
        record["set_dial_hz"] = NULL_INT
    return record


def _radiates(chains: Chains, occupants: Occupants) -> Sequence[Record]:
    radiation = radiated(chains, occupants)
    oscillator = (
        ("LO",) if chains.conversions == 1 else tuple(f"LO{i + 1}" for i in range(chains.conversions))
    )
    return [
        {
            "range": chains.names[int(chains.name_code[int(radiation.candidate[i])])],
            "oscillator": oscillator[int(radiation.conversion[i])],
            "harmonic": int(radiation.harmonic[i]),
            "low_hz": int(radiation.low_hz[i]),
            "high_hz": int(radiation.high_hz[i]),
            "dial_low_hz": int(radiation.dial_low_hz[i]),
            "dial_high_hz": int(radiation.dial_high_hz[i]),
            **occupants.record(int(radiation.occupant[i])),
        }
        for i in range(len(radiation))
    ]


__all__ = ["BIRDIE_COLUMNS", "RADIATES_COLUMNS", "birdies"]
