"""Sideband and Morse with a set without a beat oscillator: said wherever one of them is asked about."""

from __future__ import annotations

from pathlib import Path

import pytest

import spurplan
from spurplan.receiver.file.reading import parse_receiver
from spurplan.receiver.file.starter import starter_text
from spurplan.reporting.layout import View
from spurplan.reporting.views.converter import view


@pytest.mark.parametrize(
    ("mode", "bfo", "wanted"),
    [("ssb", False, True), ("cw", False, True), ("ssb", True, False), ("am", False, False)],
)
def test_a_mode_that_needs_a_bfo_says_so(mode: str, bfo: bool, wanted: bool) -> None:
    """An envelope detector alone makes nothing of them (common practice)."""
    set_ = parse_receiver(starter_text(("14 MHz", "14.4 MHz"), "470 kHz", bfo=bfo), "set")
    answer = spurplan.dial(set_, frequency="14.2 MHz", mode=mode)
    told = [text for text in answer.assumptions if "[bfo]" in text]
    assert [mode in text for text in told] == [True] * wanted


def converter_page(mode: str, stock: str, folder: Path) -> View:
    drawer = folder / "drawer.csv"
    drawer.write_text(f"freq_mhz\n{stock}", "utf-8")
    set_ = parse_receiver(starter_text(("4.8 MHz", "5.3 MHz"), "470 kHz"), "set")
    return view(spurplan.converter(set_, cover="14MHz:14.35MHz", stock=drawer, mode=mode))


@pytest.mark.parametrize(("mode", "wanted"), [("ssb", True), ("am", False)])
def test_a_converter_needs_it_as_well(mode: str, wanted: bool, tmp_path: Path) -> None:
    """In the lines above the table."""
    page = converter_page(mode, "9.1\n", tmp_path)
    assert (f"The set needs a BFO for {mode}: its file has none." in page.heading) is wanted


@pytest.mark.parametrize(("stock", "wanted"), [("9\n9.1\n", True), ("9.1\n9.15\n", False)])
def test_what_loses_a_part_of_the_cover_stands_last_and_the_page_says_so(
    stock: str, wanted: bool, tmp_path: Path
) -> None:
    """With 9 MHz 50 kHz of the cover lie beyond the range."""
    said = "What does not put the whole cover on the dial stands last, whatever its points."
    assert (said in converter_page("am", stock, tmp_path).remarks) is wanted
