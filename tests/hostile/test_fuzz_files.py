"""Whatever a file holds, reading it gives an answer or a refusal that names the file, and nothing else."""

from __future__ import annotations

import csv
import io
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from hypothesis import strategies as st

from spurplan.csvtext import csv_text
from spurplan.errors import Refused
from spurplan.occupancy.bands import read_bands
from spurplan.occupancy.expand import occupants_of
from spurplan.occupancy.station_list import import_list
from spurplan.occupancy.typical_levels import read_levels
from spurplan.planning.bench.bench_sheet import bench_sheet
from spurplan.planning.bench.readings import readings
from spurplan.planning.converter.crystals import read_stock
from spurplan.planning.cures.cure_list import read_cures
from spurplan.receiver.chain import compile_chains
from spurplan.receiver.file.reading import described_by, read_front, read_receiver
from spurplan.receiver.file.writing import write_receiver
from spurplan.reporting.data import csv_pieces
from tests.hostile import (
    ANY_TEXT,
    BAND_COLUMNS,
    LEVEL_COLUMNS,
    STOCK_COLUMNS,
    band_tables,
    damaged,
    examples,
    hold,
    tables,
    values,
)
from tests.receiver_strategies import receivers

HERE = Path(__file__).parents[1]
SETS = sorted((HERE / "receivers").glob("*.toml"))
DATA = HERE.parent / "spurplan" / "data"
FRONT = """\
rf_gain = "12 dB"
noise_figure = "4 dB"
gain = "6 dB"
pickup = "60 dB"
front_end = [ { passband = ["27 MHz", "30 MHz"], order = 3 }, { trap = "465 kHz", depth = "25 dB", q = 60 } ]
front_end_ceiling = "65 dB"
[mixer]
family = "jfet"
h2 = 30
"""


def one_of(texts: list[str]) -> st.SearchStrategy[str]:
    return st.sampled_from(texts)


def attempted(read: Callable[[], Any]) -> tuple[Refused | None, Any]:
    """The refusal and what was read, one of them None; any other error is the test's failure."""
    try:
        return None, read()
    except Refused as refusal:
        return refusal, None


def outcome(read: Callable[[Path], Any], path: Path, data: bytes) -> Any:
    """What reading gives; None for a refusal, whose faults name the file and can be printed."""
    path.write_bytes(data)
    told, found = attempted(lambda: read(path))
    if told is None:
        return found
    assert told.total >= len(told.faults) >= 1
    for fault in told.faults:
        assert path.name in fault.place or str(path.parent) in fault.place
        assert fault.rule
    told.text().encode("utf-8", "strict")
    return None


@examples(150, 20_000)
def test_a_damaged_receiver_file_gives_a_set_or_a_refusal(tmp_path: Path, count: int) -> None:
    """What is taken can be made into chains and written again."""

    def rule(data: bytes) -> None:
        found = outcome(read_receiver, tmp_path / "set.toml", data)
        if found is not None:
            compile_chains([(found, one) for one in found.ranges])
            write_receiver(found, tmp_path / "again.toml")
            assert read_receiver(tmp_path / "again.toml") == found

    for curve in (HERE / "receivers").glob("*.csv"):
        (tmp_path / curve.name).write_bytes(curve.read_bytes())
    hold(rule, count, damaged(one_of([path.read_text("utf-8") for path in SETS])))


@examples(40, 5_000)
def test_any_set_that_can_be_described_can_be_damaged(tmp_path: Path, count: int) -> None:
    """The same for sets with every kind of element, figures given or left out."""

    def rule(data: st.DataObject) -> None:
        path = tmp_path / "set.toml"
        write_receiver(data.draw(receivers()), path)
        text = path.read_text("utf-8")
        found = outcome(read_receiver, path, data.draw(damaged(st.just(text))))
        if found is not None:
            compile_chains([(found, one) for one in found.ranges])

    hold(rule, count, st.data())


@examples(300, 20_000)
def test_any_value_at_any_key_gives_a_set_or_a_refusal(count: int) -> None:
    """A value of any kind where another was meant is told, never tripped over."""

    def rule(data: st.DataObject) -> None:
        raw = tomllib.loads((HERE / "receivers" / "ferry_converter.toml").read_text("utf-8"))
        held: dict[str, Any] = raw
        while True:
            key = data.draw(st.sampled_from(sorted(held)))
            inner = held[key][0] if isinstance(held[key], list) and held[key] else held[key]
            if not isinstance(inner, dict) or data.draw(st.integers(0, 2)) == 0:
                held[key] = data.draw(values())
                break
            held = inner
        told, _ = attempted(lambda: described_by(raw, "set.toml"))
        if told is not None:
            assert told.faults
            assert all(one.place.startswith("set.toml") for one in told.faults)

    hold(rule, count, st.data())


@examples(100, 8_000)
def test_a_damaged_front_file_gives_a_front_or_a_refusal(tmp_path: Path, count: int) -> None:
    def rule(data: bytes) -> None:
        outcome(read_front, tmp_path / "front.toml", data)

    hold(rule, count, damaged(st.just(FRONT)))


@examples(200, 25_000)
def test_a_band_table_gives_stations_with_levels_or_a_refusal(tmp_path: Path, count: int) -> None:
    """Each row that is taken lies where it says, and none is lost."""

    def rule(data: bytes) -> None:
        found = outcome(lambda path: read_bands([path]), tmp_path / "mine.csv", data)
        if found is None:
            return
        here = occupants_of(found)
        assert np.isfinite(here.level_dbm).all()
        assert (here.low_hz <= here.high_hz).all()
        assert (here.low_hz >= 0).all()

    texts = [path.read_text("utf-8") for path in (HERE.parent / "bandplans").glob("*.csv")]
    heads = ["".join(text.splitlines(keepends=True)[:8]) for text in texts]
    hold(rule, count, band_tables() | band_tables(astray=1) | tables(BAND_COLUMNS) | damaged(one_of(heads)))


@examples(100, 8_000)
def test_a_level_table_gives_levels_or_a_refusal(tmp_path: Path, count: int) -> None:
    """With any level table that is taken, every station of the shipped tables has a level."""
    bands = read_bands(None)

    def rule(data: bytes) -> None:
        found = outcome(read_levels, tmp_path / "levels.csv", data)
        assert found is None or np.isfinite(occupants_of(bands, levels=found).level_dbm).all()

    text = (DATA / "typical_levels.csv").read_text("utf-8")
    hold(rule, count, tables(LEVEL_COLUMNS) | damaged(st.just(text)))


@examples(100, 8_000)
def test_a_stock_list_gives_crystals_or_a_refusal(tmp_path: Path, count: int) -> None:
    def rule(data: bytes) -> None:
        for crystal in outcome(read_stock, tmp_path / "stock.csv", data) or ():
            assert crystal.frequency_hz > 0
            assert crystal.mode in ("fundamental", "3rd", "5th")

    text = "".join((DATA / "stock_crystals.csv").read_text("utf-8").splitlines(keepends=True)[:12])
    hold(rule, count, tables(STOCK_COLUMNS) | damaged(st.just(text)))


@examples(100, 8_000)
def test_a_file_of_cures_gives_cures_or_a_refusal(tmp_path: Path, count: int) -> None:
    def rule(data: bytes) -> None:
        for cure in outcome(read_cures, tmp_path / "cures.toml", data) or ():
            assert np.isfinite(cure.effort)

    blocks = (DATA / "cures.toml").read_text("utf-8").split("[[cure]]")[1:]
    hold(
        rule,
        count,
        damaged(st.lists(st.sampled_from(blocks), max_size=3).map(lambda b: "[[cure]]".join(["", *b]))),
    )


@examples(20, 6_000)
def test_a_log_gives_figures_or_a_refusal(tmp_path: Path, count: int) -> None:
    """A sheet filled in with anything, and damaged: the figures are numbers or unknown."""
    described = read_receiver(HERE / "receivers" / "boathouse.toml")
    sheet = "".join(csv_pieces(bench_sheet(described, range="4", points=1).first))
    header, *rows = csv.reader(io.StringIO(sheet))
    column = header.index("reading")
    written = st.sampled_from(["", "40", "55.5", "30 dB", "> 60", "-3", "14.21 MHz", "+80"]) | ANY_TEXT

    @st.composite
    def filled_in(draw: st.DrawFn) -> str:
        usual = draw(st.sampled_from(["", "40", "x"]))
        lines = [
            [*row[:column], usual if draw(st.booleans()) else draw(written), *row[column + 1 :]]
            for row in rows
        ]
        return csv_text(header, lines)

    def rule(data: bytes) -> None:
        found = outcome(lambda path: readings(described, log=path), tmp_path / "log.csv", data)
        assert found is None or "NaN" not in str(found.to_dict())

    hold(
        rule,
        count,
        damaged(filled_in()) | filled_in().map(lambda text: text.encode("utf-8", "surrogatepass")),
    )


@examples(100, 8_000)
def test_an_imported_list_gives_a_table_that_reads_or_a_refusal(tmp_path: Path, count: int) -> None:
    """What an import writes is a band table; every row is taken or told of."""
    columns = {"low": "low_khz", "high": "high_khz", "label": "label", "service": "service", "level": "level"}

    def rule(data: bytes) -> None:
        found = outcome(lambda path: import_list(path, columns=columns), tmp_path / "list.csv", data)
        if found is not None:
            assert found.taken >= 1
            made = tmp_path / "made.csv"
            made.write_text(found.text, "utf-8", newline="")
            assert len(read_bands([made])) == found.taken

    hold(rule, count, band_tables() | tables(BAND_COLUMNS))
