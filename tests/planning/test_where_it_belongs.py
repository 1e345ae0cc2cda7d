"""A station that belongs on the dial, with a pointer that may be off, is told with its frequency."""

from __future__ import annotations

from pathlib import Path

import pytest

import spurplan
from spurplan.receiver.file.reading import parse_receiver
from spurplan.receiver.file.starter import starter_text
from spurplan.reporting.views import suspects as page


@pytest.mark.parametrize(("station_khz", "named"), [(7200, True), (7080, False)])
def test_it_is_named_where_the_pointer_is_off(tmp_path: Path, station_khz: int, named: bool) -> None:
    """Where the pointer stands on it there is nothing to add."""
    table = tmp_path / "one.csv"
    table.write_text(
        "low_khz,high_khz,service,mode,label,level\n"
        f"{station_khz},{station_khz},broadcast,am,Harbour light,S9+20\n",
        "utf-8",
    )
    set_ = parse_receiver(starter_text(("6 MHz", "8 MHz"), "470 kHz", bfo=True), "set")
    answer = spurplan.suspects(
        set_, frequency="7.08 MHz", bands=str(table), dial_error="125 kHz", moves="with", trimmer="same"
    )
    said = page.view(answer).heading[0]
    assert "There by the tables: Harbour light" in said
    assert ("on 7.2 MHz" in said) is named
