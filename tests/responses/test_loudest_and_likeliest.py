"""What comes in most often and what comes in loudest: both are named where they are two."""

from __future__ import annotations

from dataclasses import replace

import pytest

import spurplan
from spurplan.receiver.file.reading import parse_receiver
from spurplan.receiver.file.starter import starter_text
from spurplan.responses.listening.findings import (
    Loss,
    Loudest,
    RangeFinding,
    SettingFinding,
)
from spurplan.responses.routes import response_name

OFTEN = Loss("LO-harmonic", "Ridge mast", 0.1)
FINDING = RangeFinding(
    "4", 12_000_000, 24_000_000, False, "typical",
    usable=0.9, usable_low=0.8, usable_high=0.95, clear=0.0, unknown=0.0, dead=0.0, noise=0.0, place=0.0,
    intruders=0.1, wanted_dbm=-90.0, losses=(OFTEN,),
)  # fmt: skip


def test_both_are_named_where_they_come_by_two_ways() -> None:
    """The way that takes most of the dial first, then the one that is loudest when it is on."""
    both = replace(FINDING, loudest=Loudest("image", "Harbour light", 61.0)).lost_said
    assert both == (
        "Most is lost by way of the LO-harmonic, Ridge mast first; "
        "loudest is Harbour light by way of the image."
    )


def test_one_way_is_named_once() -> None:
    """Where the loudest comes by the same way there is nothing to add."""
    same = replace(FINDING, loudest=Loudest("LO-harmonic", "Harbour light", 61.0)).lost_said
    assert same == "Most is lost by way of the LO-harmonic, Ridge mast first."


def test_the_loudest_is_the_one_with_the_greatest_margin() -> None:
    """Of all that the table of intrusions lists on that range."""
    text = starter_text((("13 MHz", "13.4 MHz"), ("20 MHz", "20.4 MHz")), "470 kHz", rf_stages=0)
    answer = spurplan.ranges(parse_receiver(text, "set"))
    _, *findings = answer.findings
    records = answer.first.records()
    for finding in findings:
        own = [record["margin_db"] for record in records if record["range"] == finding.range]
        assert finding.loudest is not None
        assert finding.loudest.margin_db == max(own)


@pytest.mark.parametrize(
    ("steps", "wanted"),
    [
        (((-2, 2),), ((1, -1),)),
        (((-1, 1), (-1, 1)), ((1, -1), (1, -1))),
    ],
)
def test_a_product_without_a_name_is_one_of_the_mixer(
    steps: tuple[tuple[int, int], ...], wanted: tuple[tuple[int, int], ...]
) -> None:
    """Of harmonics of both, or unlike the wanted one at two mixers; there are many, so it takes an "a"."""
    setting = SettingFinding(
        "3", 9_000_000, "typical", 0.96, -90.0, "", (Loss(response_name(steps, wanted), "Ridge mast", 0.03),)
    )
    assert setting.sentence.endswith("Ridge mast by way of a mixer product, 3 times in 100.")
