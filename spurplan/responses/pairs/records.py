"""Pairs of stations as records: the columns of `pairs`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from spurplan.columns import NULL_INT, RANGE, Answer, Coded, Column, Table, Values, alphabetical
from spurplan.occupancy.occupants import LEVEL_FROM, Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.asking import Settings
from spurplan.responses.grades import GRADES
from spurplan.responses.intrusion_table import HEARD_COLUMNS, s_codes, stacked
from spurplan.responses.levels import floor_dbm
from spurplan.responses.pairs.heard import Pairs, intermodulation
from spurplan.responses.pairs.intermodulation import PRODUCTS
from spurplan.responses.pairs.triples import STRONGEST, STRONGEST_IN_SHARES, Triples, three_at_once
from spurplan.responses.pairs.words import equation_of, lands_on, moved_by_dial


def _station(number: int) -> tuple[Column, ...]:
    n, frequency_hz = number, f"f{number}_hz"
    whose = "its frequency; of a band, the one that makes it loudest"
    return (
        Column(f"label_{n}", "text", "", True, f"Station {n}", f"the occupant with f{n}"),
        Column(frequency_hz, "int", "Hz", False, f"f{n}", whose),
        Column(f"service_{n}", "text", "", False, "", "its service"),
        Column(f"table_{n}", "text", "", False, "", "file it came from"),
        Column(f"row_{n}", "int", "", False, "", "its line there, the head being line 1"),
        Column(f"antenna_{n}_dbm", "float", "dBm", False, "", "its level at the terminals"),
        Column(f"level_from_{n}", "text", "", False, "", "that level is from: table, option, sky or assumed"),
    )


Ints = npt.NDArray[np.int64]
_OF_STATIONS = {column.name for number in (1, 2) for column in _station(number)}

PAIR_COLUMNS = (
    RANGE,
    Column(
        "set_dial_hz", "int", "Hz", True, "",
        "what the main dial of the set shows at loudest_dial_hz, where that is not the signal's frequency",
    ),
    Column("dial_low_hz", "int", "Hz", False, "Dial from", "first dial frequency on which it is heard"),
    Column("dial_high_hz", "int", "Hz", False, "Dial to", "last dial frequency on which it is"),
    Column("product", "text", "", False, "Product", "f1 + f2, f1 - f2 or 2 f1 - f2"),
    Column(
        "lands_on", "text", "", False, "Lands on",
        "what it is taken for: the dial frequency, an image, an IF by name, or what is mixed otherwise",
    ),
    Column("made_in", "int", "", False, "", "the mixer in which it arises, 1 the first"),
    Column("equation", "text", "", False, "", "how it comes to the last IF"),
    Column("order", "int", "", False, "Order", "of the product"),
    *_station(1),
    *_station(2),
    *HEARD_COLUMNS,
    Column("grade", "text", "", False, "Grade", "strong, audible or buried, where it is loudest"),
    Column("loudest_dial_hz", "int", "Hz", False, "", "dial frequency at which the levels are quoted"),
    Column("moves", "float", "", False, "Moves", "how fast it moves with the dial, the wanted being 1"),
    Column("pad_db_per_db", "int", "", False, "", "decibels it falls for each decibel of pad at the aerial"),
)  # fmt: skip

NOT_LOOKED_AT = (
    "what two or three stations make together was not looked at, and is in no share; --intermodulation does"
)
INTERMODULATION_ASSUMED = (
    "intermodulation of two stations: f1 + f2, f1 - f2 and 2 f1 - f2 by the intercepts of the mixers, on "
    "every route of first order, none made ahead of the first mixer; any two that may be on the air are "
    "taken to be there at once"
)


def three_assumed(strongest: int) -> str:
    """Say of how many stations the products of three were looked at."""
    return (
        f"intermodulation of three stations: f1 + f2 - f3 of the {strongest} strongest at each mixer that "
        f"have one frequency, converted alike before it; in shares of the {STRONGEST_IN_SHARES} strongest"
    )


@dataclass(frozen=True)
class Together:
    """What two and three stations make heard on some chains."""

    pairs: Pairs
    triples: Triples


def made_together(
    groups: Sequence[Chains], occupants: Occupants, settings: Settings
) -> list[Together] | None:
    """Return what two and three stations make heard on some chains; None where that was not asked for.

    Raises
    ------
    Refused  when there are more than a million pairs.
    """
    if not settings.intermodulation:
        return None
    return [
        Together(intermodulation(chains, occupants, settings), three_at_once(chains, occupants, settings))
        for chains in groups
    ]


def with_together(
    answer: Answer,
    groups: Sequence[Chains],
    occupants: Occupants,
    settings: Settings,
    made: Sequence[Together] | None,
) -> Answer:
    """Return an answer with what two and three stations make heard on some chains, or that nobody looked.

    Parameters
    ----------
    made : what `made_together` says of these chains.
    """
    if made is None:
        return replace(answer, assumptions=(*answer.assumptions, NOT_LOOKED_AT))
    strongest = min((one.triples.strongest for one in made), default=STRONGEST)
    return replace(
        answer,
        assumptions=(*answer.assumptions, INTERMODULATION_ASSUMED, three_assumed(strongest)),
        tables={
            **answer.tables,
            "pairs": pair_table(groups, occupants, settings, [one.pairs for one in made]),
            "triples": triple_table(groups, occupants, settings, [one.triples for one in made]),
        },
    )


def pair_table(
    groups: Sequence[Chains], occupants: Occupants, settings: Settings, made: Sequence[Pairs]
) -> Table:
    """Return what pairs of stations make heard on some chains as the table `pairs`, loudest first."""
    parts = [_values(chains, occupants, pairs, settings) for chains, pairs in zip(groups, made, strict=True)]
    values: dict[str, Values] = {
        column.name: stacked([part[column.name] for part in parts]) for column in PAIR_COLUMNS
    }
    keys = [alphabetical(values[name]) for name in _SORTED_BY[::-1]]
    order = np.lexsort([*keys, -np.round(np.asarray(values["heard_dbm"]), 6)])
    return Table("pairs", PAIR_COLUMNS, values).take(order)


# the loudest first; of equals the simplest, then as the dial and the tables have them
_SORTED_BY = (
    "order", "dial_low_hz", "dial_high_hz", "f1_hz", "f2_hz", "label_1", "label_2",
    "table_1", "row_1", "table_2", "row_2",
)  # fmt: skip


def _values(chains: Chains, occupants: Occupants, pairs: Pairs, settings: Settings) -> dict[str, Values]:
    dial = pairs.loudest_dial_hz
    set_dial = chains.set_dial_hz(pairs.candidate, dial)
    lands, equation, moves = _of_routes(chains, pairs)
    values: dict[str, Values] = {
        "range": Coded(chains.name_code[pairs.candidate], chains.names),
        "set_dial_hz": np.where(set_dial == dial, NULL_INT, set_dial),
        "dial_low_hz": pairs.dial_low_hz,
        "dial_high_hz": pairs.dial_high_hz,
        "product": Coded(pairs.product, tuple(product.text for product in PRODUCTS)),
        "lands_on": lands,
        "made_in": pairs.routes.mixer[pairs.route] + 1,
        "equation": equation,
        "order": pairs.order,
        "heard_dbm": pairs.heard_dbm,
        "heard_s": s_codes(pairs.heard_dbm, dial),
        "floor_dbm": floor_dbm(chains, pairs.candidate, dial),
        "margin_db": pairs.margin_db,
        "grade": Coded(pairs.grade(settings.strong_at, settings.audible_at), GRADES),
        "loudest_dial_hz": dial,
        "moves": moves,
        "pad_db_per_db": pairs.order,
    }
    for number, who, at in ((1, pairs.first, pairs.f1_hz), (2, pairs.second, pairs.f2_hz)):
        values |= _of_station(number, occupants, who, at)
    return values


def _of_station(number: int, occupants: Occupants, who: Ints, at_hz: Ints) -> dict[str, Values]:
    return {
        f"label_{number}": Coded(occupants.label[who].astype(np.int64), occupants.labels),
        f"f{number}_hz": at_hz,
        f"service_{number}": Coded(occupants.service[who].astype(np.int64), occupants.services),
        f"table_{number}": Coded(occupants.table[who].astype(np.int64), occupants.tables),
        f"row_{number}": occupants.row[who].astype(np.int64),
        f"antenna_{number}_dbm": occupants.level_dbm[who],
        f"level_from_{number}": Coded(occupants.level_from[who].astype(np.int64), LEVEL_FROM),
    }


def _of_routes(
    chains: Chains, pairs: Pairs | Triples, *, three: bool = False
) -> tuple[Coded, Coded, npt.NDArray[np.float64]]:
    """Return what each lands on, its equation, and how it moves with the dial; each route worded once."""
    used, first, back = np.unique(pairs.route, return_index=True, return_inverse=True)
    lands, equations, moves = [], [], []
    for route, at in zip(used.tolist(), first.tolist(), strict=True):
        v = int(pairs.candidate[at])
        lands.append(lands_on(chains, v, pairs.routes, route))
        equations.append(equation_of(chains, pairs.routes, route, three=three))
        moves.append(moved_by_dial(chains, v, pairs.routes, route))
    words = [Coded(back.astype(np.int64), tuple(texts)) for texts in (lands, equations)]
    return words[0], words[1], np.array(moves, dtype=np.float64)[back]


TRIPLE_COLUMNS = (
    *(column for column in PAIR_COLUMNS if column.name not in _OF_STATIONS),
    *(column for number in (1, 2, 3) for column in _station(number)),
)


def triple_table(
    groups: Sequence[Chains], occupants: Occupants, settings: Settings, made: Sequence[Triples]
) -> Table:
    """Return what three stations make heard on some chains as the table `triples`, loudest first."""
    parts = [
        _values_of_three(chains, occupants, triples, settings)
        for chains, triples in zip(groups, made, strict=True)
    ]
    values: dict[str, Values] = {
        column.name: stacked([part[column.name] for part in parts]) for column in TRIPLE_COLUMNS
    }
    names = ("dial_low_hz", "dial_high_hz", "f1_hz", "f2_hz", "f3_hz", "label_1", "label_2", "label_3")
    keys = [alphabetical(values[name]) for name in names[::-1]]
    order = np.lexsort([*keys, -np.round(np.asarray(values["heard_dbm"]), 6)])
    return Table("triples", TRIPLE_COLUMNS, values).take(order)


def _values_of_three(
    chains: Chains, occupants: Occupants, triples: Triples, settings: Settings
) -> dict[str, Values]:
    dial = triples.loudest_dial_hz
    set_dial = chains.set_dial_hz(triples.candidate, dial)
    lands, equation, moves = _of_routes(chains, triples, three=True)
    third = np.full(len(triples), 3, dtype=np.int64)
    values: dict[str, Values] = {
        "range": Coded(chains.name_code[triples.candidate], chains.names),
        "set_dial_hz": np.where(set_dial == dial, NULL_INT, set_dial),
        "dial_low_hz": triples.dial_low_hz,
        "dial_high_hz": triples.dial_high_hz,
        "product": Coded(third * 0, ("f1 + f2 - f3",)),
        "lands_on": lands,
        "made_in": triples.routes.mixer[triples.route] + 1,
        "equation": equation,
        "order": third,
        "heard_dbm": triples.heard_dbm,
        "heard_s": s_codes(triples.heard_dbm, dial),
        "floor_dbm": floor_dbm(chains, triples.candidate, dial),
        "margin_db": triples.margin_db,
        "grade": Coded(triples.grade(settings.strong_at, settings.audible_at), GRADES),
        "loudest_dial_hz": dial,
        "moves": moves,
        "pad_db_per_db": third,
    }
    for number, who in ((1, triples.first), (2, triples.second), (3, triples.third)):
        values |= _of_station(number, occupants, who, occupants.low_hz[who])
    return values
