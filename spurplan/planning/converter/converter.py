"""converter: which crystal for a converter in front of the set."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan import units
from spurplan.cautions import cautions_of
from spurplan.columns import NULL_INT, Answer, Coded, Column, Table
from spurplan.errors import Fault, Refused
from spurplan.occupancy.bands import in_tables
from spurplan.planning.converter import candidates as ways
from spurplan.planning.converter.candidates import SIDES, Candidates, Cover
from spurplan.planning.converter.crystals import USUAL_PPM, Crystal, together
from spurplan.planning.converter.explain import explained
from spurplan.planning.converter.figures import HARMONICS, MIXED_ORDER, figures_of
from spurplan.planning.converter.findings import Findings
from spurplan.planning.converter.handling import READINGS, estimates, handling_of
from spurplan.planning.converter.points import TERMS, points_of
from spurplan.planning.converter.question import (
    About,
    FrontLike,
    Question,
    StockLike,
    as_about,
    as_covers,
    as_front,
    as_step,
    as_stock,
    crystals_of,
    front_text,
    named_crystals,
)
from spurplan.planning.converter.ranking import dial_rule, ordered
from spurplan.planning.converter.reasons import Reasons, no_place
from spurplan.planning.outlook import place_of
from spurplan.planning.tally import NOBODY, Progress
from spurplan.receiver.doubts import columns_left_alone
from spurplan.receiver.mixers import compile_mixer
from spurplan.responses.asking import (
    BandsLike,
    ReceiverLike,
    Settings,
    SpanLike,
    as_bands,
    as_receiver,
    hour_settings,
    in_set,
    occupants_of,
    picked_ranges,
    public_question,
    settings_from,
)
from spurplan.responses.assumptions import assumptions_of, listed_share
from spurplan.responses.grades import GRADES
from spurplan.units import FrequencyLike, checked_progress, hz_text

Ints = npt.NDArray[np.int64]

CANDIDATE_COLUMNS = (
    Column("rank", "int", "", False, "Rank", "place among the candidates for one cover, 1 for the best"),
    Column("possible", "bool", "", False, "Possible", "whether it can be used as it stands"),
    Column(
        "in_tune", "bool", "", False, "In tune",
        "whether the set tunes the whole cover, and where --tune says if that was asked",
    ),
    Column(
        "crystal_hz", "int", "Hz", True, "Crystal", "frequency marked on the crystal; null for the set alone"
    ),
    Column("multiplier", "int", "", True, "Times", "times which it is multiplied; null for the set alone"),
    Column(
        "injected_hz", "int", "Hz", True, "Injected",
        "what the converter's mixer gets; null for the set alone",
    ),
    Column(
        "side", "text", "", False, "Side",
        "where that stands to the signal: below, above, or sum; alone for the set without a converter",
    ),
    Column("dial_rule", "text", "", False, "Dial rule", "how to read the dial of the set"),
    Column("range", "text", "", True, "Range", "range of the set that tunes the IF; unknown where none does"),
    Column("cover_low_hz", "int", "Hz", False, "Cover", "lowest signal frequency that can be tuned"),
    Column("cover_high_hz", "int", "Hz", False, "Cover to", "highest signal frequency that can be tuned"),
    Column("set_low_hz", "int", "Hz", True, "Tunable IF", "lowest tunable IF"),
    Column("set_high_hz", "int", "Hz", True, "Tunable IF to", "highest tunable IF"),
    Column("lost_hz", "int", "Hz", False, "Lost", "part of the cover that can not be tuned"),
    Column("image_rejection_db", "float", "dB", True, "Image", "of the first image, worst over the cover"),
    Column(
        "second_image_rejection_db", "float", "dB", True, "2nd image",
        "of the set's image, worst over the cover",
    ),
    Column(
        "straight_in_label", "text", "", True, "Straight in",
        "the loudest that gets past the converter on the tunable IF",
    ),
    Column("straight_in_dbm", "float", "dBm", True, "Straight in", "its heard level"),
    Column(
        "usable_share", "float", "", True, "Usable",
        "mean chance on a busy evening that a setting can be listened to",
    ),
    Column("usable_low", "float", "", True, "Usable from", "least of it in eight worlds of ten"),
    Column("usable_high", "float", "", True, "Usable to", "most of it in eight worlds of ten"),
    Column("forward", "bool", "", False, "Forward", "whether the dial runs with the signal"),
    Column(
        "reading", "text", "", False, "Reading",
        "how what is added on the dial reads: round, half, or odd megahertz",
    ),
    Column("spread_khz_mm", "float", "kHz/mm", True, "Scale", "mean spread of the set's scale [est]"),
    Column("drift_hz", "float", "Hz", True, "Drift", "of all oscillators in the first hour [est]"),
    Column(
        "impurity_db", "float", "dB", True, "Impurity",
        "the worst other line of a multiplied injection under it [est]; null where nothing is multiplied",
    ),
    Column("points", "float", "", True, "Points", "what the order goes by: the sum of the points below"),
    Column("usable_points", "float", "", True, "", "a hundred for the whole cover usable"),
    Column("backwards_points", "float", "", False, "", "taken off for a dial that runs backwards [est]"),
    Column("reading_points", "float", "", False, "", "taken off for an odd reading [est]"),
    Column("scale_points", "float", "", True, "", "taken off for a coarse scale [est]"),
    Column("drift_points", "float", "", True, "", "taken off for drift [est]"),
    Column("multiplier_points", "float", "", False, "", "taken off for a multiplier [est]"),
    Column("sum_points", "float", "", False, "", "taken off for mixing the sum [est]"),
    Column(
        "unheard_share", "float", "", True, "Nothing heard",
        "part of what can be tuned on which nothing is heard",
    ),
    Column(
        "unknown_share", "float", "", True, "Unknown",
        "part of it where nothing is heard, but an image lies beyond the tables and a strong one would be",
    ),
    Column(
        "unlisted_share", "float", "", True, "",
        "part of it besides where the tables list hardly anybody who could come in by an image; the shares "
        "are worked out as if nobody were there",
    ),
    Column(
        "worst_label", "text", "", True, "Worst intruder",
        "the intruder with the greatest margin; unknown where none is heard",
    ),
    Column("worst_grade", "text", "", True, "Grade", "its grade"),
    Column("worst_margin_db", "float", "dB", True, "Margin", "its margin over the floor"),
    Column("whistles", "int", "", True, "Whistles", "places where a station beats with itself"),
    Column("birdies", "int", "", True, "Birdies", "places where the crystal is heard"),
    Column("reading_error_hz", "int", "Hz", False, "Dial error", "what the crystal's tolerance makes of it"),
    Column("reasons", "list", "", False, "Why", "why it stands where it stands, and what is against it"),
    Column("order", "text", "", True, "", "what to tell whoever cuts it, and what that means on the dial"),
)  # fmt: skip


@public_question
def converter(
    receiver: ReceiverLike,
    *,
    cover: SpanLike | Sequence[SpanLike],
    bands: BandsLike = None,
    stock: StockLike = None,
    crystal: FrequencyLike | Sequence[FrequencyLike] = (),
    step: FrequencyLike | None = None,
    explain: FrequencyLike | None = None,
    front: FrontLike = None,
    tune: SpanLike | None = None,
    progress: Progress | None = None,
    settings: Settings | None = None,
    **options: Any,
) -> Answer:
    """Return which crystal serves best for a converter in front of a set, and why.

    Parameters
    ----------
    receiver : Receiver, or path of a receiver file.
    bands : Bands, path, several paths, or None for the shipped tables.
    cover : (low, high), "LOW:HIGH", or several of them: what is to be received. [Hz]
    stock : path of a list of crystals (CSV: freq_mhz, mode, tolerance_ppm, note), or crystals;
        the list that comes with the package where no crystal is named at all.
    crystal : frequency of a crystal, or several, beside the list. [Hz]
    step : every multiple of it that brings a whole cover into some range: crystals to order. [Hz]
    explain : a crystal about which to say everything: its candidates alone, every intrusion
        and every birdie of the best of them; "7MHz times 2 above" is about that way of using it. [Hz]
    front : Front, path of a file that describes the converter, or None for two tuned
        circuits of the default Q ahead of a valve mixer.
    tune : (low, high), "LOW:HIGH" or None: where on the set the whole cover is to be tuned. What does not
        bring it there comes behind all that do. [Hz]
    progress : called with (candidates done, candidates in all), or None.
    settings, options : see `Settings`; `range` names the one range that may serve.

    Returns
    -------
    Answer with the table `candidates`, the set without a converter among them; with
    `explain` also `ways_in` (the ways in that matter most, and who is on them),
    `intrusions` and `birdies` of the best candidate for each cover. Its `findings` are `Findings`.

    Raises
    ------
    Refused  for a bad file, a cover or a frequency that makes no sense, and where no
        crystal brings a cover into a range of the set: each with its reason.
    """
    checked_progress(progress)
    chosen = settings_from(settings, options)
    set_ = as_receiver(receiver, chosen)
    known = as_bands(bands)
    covers = as_covers(cover, in_tables(known))
    named = named_crystals(crystal, in_tables(known))
    about = as_about(explain, in_tables(known))
    step_hz = None if step is None else units.hz(step, "--step", as_step())
    serving = picked_ranges(set_, chosen.range)
    tune_hz = None if tune is None else units.span_hz(tune, "--tune", in_set(set_))
    held, unread = as_stock(stock)
    if stock is not None and held is not None:
        held = _at_hand(held)
    named = _at_hand(named)
    crystals = crystals_of(held, named, step_hz, covers, serving)
    # a crystal that is to be explained is compared with the others, whether it is among them or not
    crystals = together([crystals, () if about is None else (about.crystal,)])
    converter_front = as_front(front)
    question = Question(
        receiver=set_,
        covers=covers,
        crystals=crystals,
        ranges=set_.ranges,
        serving=serving,
        front=converter_front,
        place=place_of(set_, occupants_of(set_, known, chosen), chosen),
        settings=chosen,
        before=ways.prototypes(set_, set_.ranges, converter_front),
        tune=tune_hz,
        about=about,
    )
    findings = _found(question, named, progress)
    tables = {"candidates": _candidate_table(findings)}
    if about is not None:
        tables["candidates"] = tables["candidates"].take(findings.listed)
        best = [candidate.number for _, candidate in findings.per_cover() if candidate is not None]
        tables |= explained(question, findings.candidates, np.array(best, dtype=np.int64))
    return Answer(
        receiver=set_.name,
        settings={
            **chosen.plain(),
            **hour_settings(set_, chosen),
            "region": chosen.region if chosen.region is not None else set_.region,
            "cover": [list(pair) for pair in covers],
            "stock": _stock_name(stock, bool(named) or step_hz is not None),
            "crystal": [xtal.frequency_hz for xtal in named],
            "step": step_hz,
            "explain": None if about is None else about.crystal.frequency_hz,
            "tune": None if tune_hz is None else list(tune_hz),
            "front": str(front) if isinstance(front, str | Path) else None,
        },
        assumptions=(*unread, *_assumed(findings, front)),
        cautions=cautions_of("converter"),
        tables=tables,
        findings=findings,
    )


def _found(question: Question, named: Sequence[Crystal], progress: Progress | None) -> Findings:
    about = [] if question.about is None else [question.about.crystal]
    unordered = ways.candidates(question.covers, question.crystals, question.serving, (*named, *about))
    _refuse_without_place(question, unordered, named, about)
    number = np.array([question.ranges.index(own_range) for own_range in question.serving], dtype=np.int64)
    range_ = np.where(unordered.placed, number[unordered.range], ways.NOWHERE)
    unordered = Candidates.concat(
        [unordered.replace(range=range_), ways.alone(question.covers, question.ranges)]
    )
    figures = figures_of(
        unordered, question.crystals, question.before, question.place, question.settings, progress
    )
    handling = handling_of(unordered, question.receiver, question.ranges, question.before)
    points = points_of(unordered, figures.usable_share, handling)
    pointed_hz = {crystal.frequency_hz for crystal in (*named, *about)}
    pointed_at = np.array(
        [crystal.frequency_hz in pointed_hz for crystal in question.crystals], dtype=np.bool_
    )
    of_pointed = pointed_at[unordered.crystal] & ~unordered.alone
    chosen, figures, ranking = ordered(unordered, figures, handling, points, of_pointed, question.tune)
    reasons = Reasons(
        chosen,
        figures,
        ranking,
        question.covers,
        question.ranges,
        question.occupants,
        compile_mixer(question.front.mixer),
        question.settings.lo_order,
        question.tune,
    )
    findings = Findings(question, chosen, figures, ranking, reasons)
    _refuse_other_way(findings)
    return findings


def _refuse_other_way(findings: Findings) -> None:
    """Refuse a way of using a crystal that serves for no cover.

    Raises
    ------
    Refused  naming the ways in which it does.
    """
    about = findings.question.about
    if about is None or (about.multiplier, about.side) == (None, None):
        return
    if any(candidate is not None for _, candidate in findings.per_cover()):
        return
    whole = replace(findings, question=replace(findings.question, about=About(about.crystal)))
    serving = np.flatnonzero(whole.meant & whole.candidates.placed).tolist()
    words = dict.fromkeys(
        f"{candidate.crystal_text} {candidate.side}" for candidate in map(whole.candidate, serving)
    )
    times = "" if about.multiplier in (None, 1) else f" times {about.multiplier}"
    side = "" if about.side is None else f" {SIDES[about.side]}"
    value = f"{hz_text(about.crystal.frequency_hz)}{times}{side}"
    raise Refused(Fault("--explain", "serves for no cover", value, f"it serves as {', '.join(words)}"))


def _refuse_without_place(
    question: Question, chosen: Candidates, named: Sequence[Crystal], about: Sequence[Crystal]
) -> None:
    """Refuse crystals that were named and stand inside a cover, or serve for none.

    Raises
    ------
    Refused  naming for each crystal and cover what it would need; and where the crystals
        of a list are all of no use.
    """
    pointed_at = [("--crystal", crystal) for crystal in named] + [("--explain", crystal) for crystal in about]
    frequency = np.array([question.crystals[i].frequency_hz for i in chosen.crystal.tolist()], dtype=np.int64)
    faults = []
    for place, crystal in pointed_at:
        as_it_is = chosen.placed & (frequency == crystal.frequency_hz) & (chosen.multiplier == 1)
        inside = [cover for cover in question.covers if cover[0] <= crystal.frequency_hz <= cover[1]]
        # multiplied it might serve, with its fundamental as a carrier in the middle of the cover
        if inside and not as_it_is.any():
            faults += [_inside(place, crystal, cover) for cover in inside]
    serve = set(frequency[chosen.placed].tolist())
    if not faults:
        hopeless = [pair for pair in pointed_at if pair[1].frequency_hz not in serve]
        faults = [
            Fault(
                place,
                f"is of no use: {no_place(crystal.frequency_hz, cover)}",
                hz_text(crystal.frequency_hz),
                _tunes(question),
            )
            for place, crystal in hopeless
            if place == "--explain" or not serve
            for cover in question.covers
        ]
    if not faults and not serve:
        spans = ", ".join(f"{hz_text(low)} to {hz_text(high)}" for low, high in question.covers)
        rule = f"hold none that brings {spans} into a range of the set"
        faults = [Fault("crystals", rule, remedy="see what could be ordered with --step 100kHz")]
    if faults:
        raise Refused(faults)


def _inside(place: str, crystal: Crystal, cover: Cover) -> Fault:
    low, high = cover
    sums = f"{hz_text(low + crystal.frequency_hz)} to {hz_text(high + crystal.frequency_hz)}"
    rule = (
        f"stands inside the cover, {hz_text(low)} to {hz_text(high)}: a difference has no IF there, "
        f"and no range of the set holds the sum, {sums}"
    )
    remedy = f"take one below {hz_text(low)} or above {hz_text(high)}"
    return Fault(place, rule, hz_text(crystal.frequency_hz), remedy)


def _tunes(question: Question) -> str:
    spans = ", ".join(f'"{r.name}" {hz_text(r.low_hz)} to {hz_text(r.high_hz)}' for r in question.serving)
    return f"the set tunes {spans}"


def _at_hand(crystals: Iterable[Crystal]) -> tuple[Crystal, ...]:
    return tuple(replace(crystal, at_hand=True) for crystal in crystals)


def _stock_name(stock: StockLike, others: bool) -> str | None:
    if isinstance(stock, str | Path):
        return str(stock)
    return "common crystals" if stock is None and not others else None


def _assumed(findings: Findings, front: FrontLike) -> list[str]:
    question, chosen = findings.question, findings.candidates
    assumptions = [front_text(front)] if front is None else list(columns_left_alone(question.front))
    used = {int(i) for i in chosen.crystal[~chosen.alone]}
    if any(question.crystals[i].tolerance_ppm is None for i in used):
        assumptions.append(f"crystals without a stated tolerance are within {USUAL_PPM:g} ppm")
    scale, drift = estimates()["scale"], estimates()["drift"]
    assumptions.append(
        "judged on a busy evening; points for handling, scale and drift are estimates: a scale of "
        f"{scale['length']:g} mm, free-running oscillators {drift['free_running']:g} ppm and crystals "
        f"{drift['crystal']:g} ppm in the first hour, {question.before.circuits} tuned "
        f"circuit{'' if question.before.circuits == 1 else 's'} behind a multiplier"
    )
    assumptions.append(
        f"birdies are counted from the first {HARMONICS} harmonics of the crystal or, with the set's "
        f"oscillators, up to a total order of {MIXED_ORDER}"
    )
    assumptions += [
        f"dial rules are for a dial that reads right; that of range {range_.name} shows "
        f"{hz_text(abs(range_.dial_offset_hz))} too {'much' if range_.dial_offset_hz > 0 else 'little'}"
        for range_ in question.ranges
        if range_.dial_offset_hz
    ]
    ((_, chains),) = ways.chains_of(
        chosen.take(np.flatnonzero(chosen.placed & ~chosen.alone)[:1]), question.before
    )
    own = assumptions_of(
        question.receiver, question.settings, [chains], question.occupants, listed_share(question.occupants)
    )
    return [*assumptions, *own]


def _candidate_table(findings: Findings) -> Table:
    """Return the candidates in the order in which they are offered."""
    question, chosen, figures = findings.question, findings.candidates, findings.figures
    every = np.arange(len(chosen))
    placed = chosen.placed
    set_low, set_high = chosen.set_hz
    crystals = question.crystals
    rules = [
        dial_rule(side, y) for side, y in zip(chosen.side.tolist(), chosen.injected_hz.tolist(), strict=True)
    ]
    labels = _Labels(question)
    ranking, alone = findings.ranking, chosen.alone
    handling, points = ranking.handling, ranking.points
    values: dict[str, Any] = {
        "rank": ranking.rank,
        "possible": ranking.possible,
        "in_tune": ranking.in_tune,
        "crystal_hz": np.array(
            [NULL_INT if i == ways.NO_CRYSTAL else crystals[i].frequency_hz for i in chosen.crystal.tolist()],
            dtype=np.int64,
        ),
        "multiplier": np.where(alone, NULL_INT, chosen.multiplier),
        "injected_hz": np.where(alone, NULL_INT, chosen.injected_hz),
        "side": Coded(chosen.side, SIDES),
        "dial_rule": Coded(every, rules),
        "range": Coded(chosen.range, [range_.name for range_ in question.ranges]),
        "cover_low_hz": chosen.low_hz,
        "cover_high_hz": chosen.high_hz,
        "set_low_hz": np.where(placed & ~alone, set_low, NULL_INT),
        "set_high_hz": np.where(placed & ~alone, set_high, NULL_INT),
        "lost_hz": chosen.lost_hz,
        "forward": handling.forward,
        "reading": Coded(handling.reading, READINGS),
        "spread_khz_mm": handling.spread_khz_mm,
        "drift_hz": handling.drift_hz,
        "impurity_db": handling.impurity_db,
        "points": points.total,
        **{f"{term}_points": getattr(points, term) for term in TERMS},
        "straight_in_label": labels.of(figures.straight_in),
        "worst_label": labels.of(figures.worst),
        "worst_grade": Coded(np.where(figures.worst == NOBODY, -1, figures.worst_grade), GRADES),
        "order": _orders(findings, every),
        "reasons": Coded(
            every, [[why.text for why in findings.reasons.of(number)] for number in every.tolist()]
        ),
    }
    for name in (
        "image_rejection_db", "second_image_rejection_db", "straight_in_dbm", "unheard_share",
        "unknown_share", "unlisted_share", "usable_share", "usable_low", "usable_high", "worst_margin_db",
        "whistles", "birdies", "reading_error_hz",
    ):  # fmt: skip
        values[name] = getattr(figures, name)
    return Table("candidates", CANDIDATE_COLUMNS, values)


def _orders(findings: Findings, every: Ints) -> Coded:
    orders = [findings.order_of(number) for number in every.tolist()]
    known = [order is not None for order in orders]
    return Coded(np.where(known, every, -1), ["" if order is None else order.text for order in orders])


class _Labels:
    """Labels of occupants as codes: the words are those of the occupants that are named."""

    def __init__(self, question: Question) -> None:
        self.occupants = question.occupants

    def of(self, numbers: Ints) -> Coded:
        used, codes = np.unique(numbers, return_inverse=True)
        words = ["" if n == NOBODY else self.occupants.label_of(n) for n in used.tolist()]
        return Coded(np.where(numbers == NOBODY, -1, codes.reshape(-1)), words)
