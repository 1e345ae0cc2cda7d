"""Ranges as records: how much of each is clear or unknown, its worst intruder, what spoils it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.columns import NULL_INT, RANGE, Column, Table, table_of
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.description import Range
from spurplan.responses.asking import Settings
from spurplan.responses.beyond import Beyond, beyond_tables
from spurplan.responses.counting import count_intrusions, counts, loudest_of
from spurplan.responses.dead_dial import unusable
from spurplan.responses.division_of_dial import unknown_stretches
from spurplan.responses.image_rejection import image_heard_from_dbm, image_rejection_db
from spurplan.responses.intrusion_table import Response, intrusion_table
from spurplan.responses.listening.dial_words import range_word
from spurplan.responses.listening.findings import (
    BY_SEVERAL,
    UNNAMED,
    Loss,
    Loudest,
    RangeFinding,
    SettingFinding,
)
from spurplan.responses.listening.unlisted import unlisted
from spurplan.responses.pairs.heard import Pairs
from spurplan.responses.pairs.records import Together
from spurplan.responses.pairs.triples import Triples
from spurplan.responses.routes import response_name, steps_of, wanted_of
from spurplan.rows import alike

Ints = npt.NDArray[np.int64]

RANGE_COLUMNS = (
    RANGE,
    Column("low_hz", "int", "Hz", False, "From", "lowest dial frequency"),
    Column("high_hz", "int", "Hz", False, "To", "highest dial frequency"),
    Column(
        "usable_share", "float", "", False, "Usable",
        "mean chance (0 to 1) that a setting can be listened to, at the hour asked about",
    ),
    Column("usable_low", "float", "", False, "from", "what it exceeds in nine worlds of ten"),
    Column("usable_high", "float", "", False, "to", "what it exceeds in one world of ten"),
    Column(
        "busy_share", "float", "", False, "Busy", "the same as `usable_share` on a busy evening"
    ),
    Column(
        "word", "text", "", False, "",
        "what can be believed of it on a busy evening: believe (but for a little), check (much is unknown; "
        "for its image), don't before a test, or unknown",
    ),
    Column(
        "weak_image_low_hz", "int", "Hz", True, "", "first setting where S9 on an image is heard strong"
    ),
    Column("weak_image_high_hz", "int", "Hz", True, "", "last such setting"),
    Column(
        "clear_share", "float", "", False, "Clear",
        "part of the range that can be listened to whatever is on the air, as far as the tables reach",
    ),
    Column(
        "unknown_share", "float", "", False, "Unknown",
        "part of it where a strong station beyond the tables would be heard as an image",
    ),
    Column(
        "unlisted_share", "float", "", False, "",
        "part of it besides where a strong station on an image would be heard of which no table tells, where "
        "the tables list hardly anybody on the images; the shares are worked out as if nobody were there",
    ),
    Column("dead_share", "float", "", False, "", "part of it within a bandwidth of an IF of the set"),
    Column(
        "lost_to_noise", "float", "", False, "To noise",
        "part of it where the wanted signal goes under in the noise; usable, unknown, dead and what is lost "
        "to noise and to intruders add to 1",
    ),
    Column("lost_to_intruders", "float", "", False, "To intruders", "part of it that intruders spoil"),
    Column("wanted_dbm", "float", "dBm", False, "", "level of the wanted signal in the middle of the range"),
    Column("decided_by", "list", "", False, "", "stations on whose being on the air much of it hangs"),
    Column(
        "intruders", "int", "", False, "Intruders",
        "stations and bands heard, once for each way in; with intermodulation products of two and three, too",
    ),
    Column("strong", "int", "", False, "Strong", "stations and bands heard strong, once for each way in"),
    Column("audible", "int", "", False, "Audible", "those heard audible at best, likewise"),
    Column(
        "buried", "int", "", True, "",
        "those buried throughout, likewise; unknown unless everything is asked for",
    ),
    Column(
        "worst_label", "text", "", True, "Worst intruder",
        "the intruder that spoils most of it at the hour asked about; where none does, the loudest",
    ),
    Column("worst_response", "text", "", True, "By way of", "the route it comes by"),
    Column("worst_dial_hz", "int", "Hz", True, "On the dial", "where it is heard loudest"),
    Column("worst_margin_db", "float", "dB", True, "Margin", "its margin over the bar of hearing there"),
    Column(
        "image_rejection_db", "float", "dB", True, "Least image rejection",
        "least rejection of the first mixer's image anywhere on the range",
    ),
    Column("image_rejection_dial_hz", "int", "Hz", True, "", "where it is least"),
    Column(
        "image_heard_from_dbm", "float", "dBm", True, "Image heard from",
        "weakest station, at the aerial, that is audible as an image somewhere on the range",
    ),
    Column("dead_low_hz", "int", "Hz", True, "Dead from", "dial spoilt by an IF inside the range"),
    Column("dead_high_hz", "int", "Hz", True, "Dead to", "its other end"),
)  # fmt: skip


UNKNOWN_COLUMNS = (
    RANGE,
    Column("dial_low_hz", "int", "Hz", False, "Dial from", "first dial frequency of the stretch"),
    Column("dial_high_hz", "int", "Hz", False, "Dial to", "last dial frequency of the stretch"),
    Column(
        "margin_db", "float", "dB", False, "Up to",
        "greatest margin over the floor that a strong station in no table could have there",
    ),
)  # fmt: skip


def range_tables(
    picked: Sequence[Range],
    responses: Sequence[Response],
    findings: Mapping[str, RangeFinding],
    busy: Mapping[str, RangeFinding],
    settings: Settings,
    loudest_dbm: float,
    made: Sequence[Together] | None = None,
) -> dict[str, Table]:
    """Return the tables `ranges`, one record a range, and `unknown`, one a stretch, in the order of the set.

    Parameters
    ----------
    picked : the ranges asked for.
    responses : what intrudes on them.
    findings : what becomes of each, by its name.
    busy : the same on a busy evening.
    settings : Settings.
    loudest_dbm : float. Level taken for a station the tables know nothing of. [dBm]
    made : what two and three stations make heard, of each response; None where nobody looked.
    """
    rows: dict[str, dict[str, Any]] = {}
    unknown: dict[str, list[dict[str, Any]]] = {range_.name: [] for range_ in picked}
    for number, response in enumerate(responses):
        chains, lines, graded = response.chains, response.lines, response.graded
        beyond = beyond_tables(chains, response.occupants, settings, loudest_dbm)
        by_grade = counts(lines, response.occupants, graded, len(chains))
        foremost = [
            next(iter(findings[chains.names[int(code)]].losses), None) for code in chains.name_code.tolist()
        ]
        worst = _stretches_of(response, foremost)
        rejection, rejection_dial = image_rejection_db(chains)
        heard_from = image_heard_from_dbm(chains) + settings.audible_at
        spoilt_low, spoilt_high = unusable(chains)
        worst_rows = intrusion_rows(response, worst)
        if made is not None:
            by_grade = by_grade + counts_together(response.occupants, made[number], settings, len(chains))
            worst_rows = _by_several(worst_rows, response.occupants, made[number], foremost)
        for v in range(len(chains)):
            name = chains.names[int(chains.name_code[v])]
            finding, evening = findings[name], busy[name]
            weak = evening.weak_image
            rows[name] = {
                "low_hz": int(chains.low_hz[v]),
                "high_hz": int(chains.high_hz[v]),
                "usable_share": finding.usable,
                "usable_low": finding.usable_low,
                "usable_high": finding.usable_high,
                "busy_share": evening.usable,
                "word": range_word(evening),
                "weak_image_low_hz": NULL_INT if weak is None else weak.low_hz,
                "weak_image_high_hz": NULL_INT if weak is None else weak.high_hz,
                "clear_share": finding.clear,
                "unknown_share": finding.unknown,
                "unlisted_share": evening.unlisted,
                "dead_share": finding.dead,
                "lost_to_noise": finding.noise,
                "lost_to_intruders": finding.intruders,
                "wanted_dbm": finding.wanted_dbm,
                "decided_by": list(finding.decided_by),
                "intruders": int(by_grade[v, 1] + by_grade[v, 2]),
                "strong": int(by_grade[v, 2]),
                "audible": int(by_grade[v, 1]),
                "buried": int(by_grade[v, 0]) if settings.everything else NULL_INT,
                **worst_rows[v],
                "image_rejection_db": float(rejection[v]),
                "image_rejection_dial_hz": NULL_INT if np.isnan(rejection[v]) else int(rejection_dial[v]),
                "image_heard_from_dbm": float(heard_from[v]),
                "dead_low_hz": int(spoilt_low[v]),
                "dead_high_hz": int(spoilt_high[v]),
            }
        untold = unlisted(chains, response.occupants, settings, loudest_dbm).open
        open_ = unknown_stretches(
            chains, Beyond.concat([beyond, untold]), response.occupants, settings, loudest_dbm,
            gaps=len(untold) > 0,
        )  # fmt: skip
        for v, low, high, margin in zip(
            open_.candidate.tolist(), open_.dial_low_hz.tolist(), open_.dial_high_hz.tolist(),
            open_.margin_db.tolist(), strict=True,
        ):  # fmt: skip
            name = chains.names[int(chains.name_code[v])]
            unknown[name].append(
                {"range": name, "dial_low_hz": low, "dial_high_hz": high, "margin_db": margin}
            )
    records = [{"range": r.name, **rows[r.name]} for r in picked]
    return {
        "ranges": table_of("ranges", RANGE_COLUMNS, records),
        "unknown": table_of(
            "unknown", UNKNOWN_COLUMNS, [record for some in unknown.values() for record in some]
        ),
    }


def loudest_by_range(responses: Sequence[Response]) -> dict[str, Loudest]:
    """Return who is heard loudest on each range by one station alone, by its name; none where nobody is."""
    out = {}
    for response in responses:
        chains = response.chains
        rows = intrusion_rows(response, loudest_of(response.lines, response.graded, len(chains)))
        for code, fields in zip(chains.name_code.tolist(), rows, strict=True):
            if fields["worst_response"] is not None:
                out[chains.names[int(code)]] = Loudest(
                    fields["worst_response"], fields["worst_label"] or UNNAMED, fields["worst_margin_db"]
                )
    return out


def counts_together(occupants: Occupants, made: Together, settings: Settings, candidates: int) -> Ints:
    """Return how many products of two and three of each grade each candidate has, shape (V, 3)."""
    rows = int(occupants.row.max(initial=0)) + 1
    own = occupants.table.astype(np.int64) * rows + occupants.row
    pairs, triples = made.pairs, made.triples
    strong_at, audible_at = settings.strong_at, settings.audible_at
    of_two = count_intrusions(
        pairs.candidate, pairs.route, own[pairs.first], own[pairs.second],
        pairs.grade(strong_at, audible_at), candidates,
    )  # fmt: skip
    return of_two + count_intrusions(
        triples.candidate, triples.route, alike(own[triples.first], own[triples.second]), own[triples.third],
        triples.grade(strong_at, audible_at), candidates,
    )  # fmt: skip


def _stretches_of(response: Response, foremost: Sequence[Loss | None]) -> Ints:
    """Return the stretch on which each candidate's foremost intruder is loudest, shape (V,); -1 for none.

    Notes
    -----
    Where nobody spoils anything it is the loudest of all; none where it takes two stations.
    """
    chains, lines, graded = response.chains, response.lines, response.graded
    out = loudest_of(lines, graded, len(chains))
    candidate = lines.candidate[graded.line]
    for v, loss in enumerate(foremost):
        if loss is None:
            continue
        here = np.flatnonzero(candidate == v)
        wanted = wanted_of(chains, v)
        named = {
            line: response_name(steps_of(lines, line), wanted) for line in set(graded.line[here].tolist())
        }
        its = [
            row
            for row in here.tolist()
            if named[int(graded.line[row])] == loss.response
            and (response.occupants.label_of(int(graded.occupant[row])) or UNNAMED) == loss.label
        ]
        if its:
            out[v] = max(its, key=lambda row: (float(graded.margin_db[row]), -int(graded.dial_low_hz[row])))
    return out


def _by_several(
    worst: list[dict[str, Any]], occupants: Occupants, made: Together, foremost: Sequence[Loss | None]
) -> list[dict[str, Any]]:
    """Return the fields `worst_...` of each candidate, of a product of two or three where that is foremost.

    Notes
    -----
    Where nobody spoils anything it is the louder of one station alone and of several.
    """
    pairs, triples = made.pairs, made.triples
    of_two = pairs.first, pairs.second
    of_three = triples.first, triples.second, triples.third
    out = list(worst)
    for v, (fields, loss) in enumerate(zip(worst, foremost, strict=True)):
        if loss is not None and loss.response != BY_SEVERAL:
            continue
        label = None if loss is None else loss.label
        found = (
            _loudest_of_several(occupants, pairs, of_two, v, label),
            _loudest_of_several(occupants, triples, of_three, v, label),
        )
        heard = [one for one in found if one is not None]
        if not heard:
            continue
        best = max(heard, key=lambda one: float(one["worst_margin_db"]))
        if loss is not None or not best["worst_margin_db"] <= fields["worst_margin_db"]:
            out[v] = best
    return out


def _loudest_of_several(
    occupants: Occupants, products: Pairs | Triples, who: Sequence[Ints], v: int, label: str | None
) -> dict[str, Any] | None:
    """Return the fields `worst_...` of the loudest product of a candidate; of those of a label, if any."""
    margin = products.margin_db
    own = np.flatnonzero(products.candidate == v)
    if not len(own):
        return None
    if label is not None:
        its = np.array([(occupants.label_of(one) or UNNAMED) == label for one in range(len(occupants))])
        named = own[its[who[0][own]]]
        own = named if len(named) else own
    row = int(own[np.argmax(margin[own])])
    names = [occupants.label_of(int(one[row])) or UNNAMED for one in who]
    return {
        "worst_label": " with ".join(names), "worst_response": BY_SEVERAL,
        "worst_dial_hz": int(products.loudest_dial_hz[row]), "worst_margin_db": float(margin[row]),
    }  # fmt: skip


SETTING_COLUMNS = (
    RANGE,
    Column("dial_hz", "int", "Hz", False, "Dial", "the setting"),
    Column(
        "usable_chance", "float", "", False, "Usable",
        "chance (0 to 1) that it can be listened to at the hour asked about",
    ),
    Column("wanted_dbm", "float", "dBm", False, "Wanted", "level of the wanted signal"),
    Column("state", "text", "", True, "", "unknown, dead or deaf, where it is that whoever is on the air; "
           "unlisted where the chance is of those listed alone"),
)  # fmt: skip


def setting_table(findings: Sequence[SettingFinding]) -> Table:
    """Return the table `dial`, one record a range that holds the setting."""
    records = [
        {
            "range": finding.range,
            "dial_hz": finding.dial_hz,
            "usable_chance": finding.usable_chance,
            "wanted_dbm": finding.wanted_dbm,
            "state": finding.state or None,
        }
        for finding in findings
    ]
    return table_of("dial", SETTING_COLUMNS, records)


def intrusion_rows(response: Response, which: np.ndarray[Any, Any]) -> list[dict[str, Any]]:
    """Return the fields `worst_...` of one stretch of each candidate; -1 for none.

    Parameters
    ----------
    response : Response.
    which : int64, shape (V,). Index of a stretch, or -1.
    """
    empty: dict[str, Any] = {
        "worst_label": None, "worst_response": None, "worst_dial_hz": NULL_INT, "worst_margin_db": np.nan,
    }  # fmt: skip
    rows = np.flatnonzero(which >= 0)
    out = [dict(empty) for _ in range(len(which))]
    for v in rows.tolist():
        record = intrusion_table("worst", [response.take(which[v : v + 1])]).records()[0]
        out[v] = {
            "worst_label": record["label"],
            "worst_response": record["response"],
            "worst_dial_hz": record["loudest_dial_hz"],
            "worst_margin_db": record["margin_db"],
        }
    return out
