"""The citizens' channels that ship against the published lists."""

from __future__ import annotations

import re

from spurplan.occupancy.bands import Bands, read_bands
from spurplan.occupancy.expand import occupants_of
from tests.outside import Differences, against

# 47 CFR 95.963 (formerly 95.407), CBRS channels 1 to 40 in MHz, in the order of
# their numbers: 24 and 25 lie below 23.
CHANNELS_MHZ = (
    "26.965 26.975 26.985 27.005 27.015 27.025 27.035 27.055 27.065 27.075 "
    "27.085 27.105 27.115 27.125 27.135 27.155 27.165 27.175 27.185 27.205 "
    "27.215 27.225 27.255 27.235 27.245 27.265 27.275 27.285 27.295 27.305 "
    "27.315 27.325 27.335 27.345 27.355 27.365 27.375 27.385 27.395 27.405"
)

# ECC/DEC/(11)03 of 24 June 2011, amended 17 June 2016: the centres inside
# 26.960-27.410 MHz that are not channels.
EXCLUDED_MHZ = ("26.995", "27.045", "27.095", "27.145", "27.195")


def channels(region: int) -> dict[int, int]:
    """Return channel number to hertz."""
    bands: Bands = read_bands()
    here = bands.in_region(region)
    found = {}
    for row in range(len(bands)):
        match = re.fullmatch(r"CB channel ([0-9]+)", bands.labels[bands.label[row]])
        if match and here[row]:
            assert bands.low_hz[row] == bands.high_hz[row]
            assert bands.services[bands.service[row]] == "citizens"
            found[int(match[1])] = int(bands.low_hz[row])
    return found


def hertz(mhz: str) -> int:
    return round(float(mhz) * 1000) * 1000


@against("47 CFR 95.963, in the USA and in Europe", "citizens' channels by number", unit="Hz", tolerance=0)
def test_forty_channels_in_their_odd_order() -> Differences:
    """The same 40 channels in the USA and in Europe."""
    published = {number: hertz(mhz) for number, mhz in enumerate(CHANNELS_MHZ.split(), 1)}
    assert len(published) == 40
    for region in (1, 2):
        found = channels(region)
        assert set(found) == set(published)
        for number, hz in published.items():
            yield f"channel {number}, region {region}", found[number] - hz


@against("ECC/DEC/(11)03 (2016)", "no channel on the five excluded", unit="channels", tolerance=0)
def test_channels_do_not_stand_on_the_excluded_frequencies() -> Differences:
    bands = read_bands()
    citizens = bands.service == bands.services.index("citizens")
    standing = bands.low_hz[citizens].tolist()
    for mhz in EXCLUDED_MHZ:
        yield mhz, standing.count(hertz(mhz))


@against("MPT 1320 (from memory)", "British FM channels", unit="Hz", tolerance=0)
def test_british_fm_channels() -> Differences:
    """MPT 1320, from memory: 40 channels of 10 kHz, 27.60125 to 27.99125 MHz."""
    occupants = occupants_of(read_bands(), region=1)
    label = occupants.labels.index("CB, UK FM channel")
    centres = (occupants.low_hz + occupants.high_hz)[occupants.label == label] // 2
    published = list(range(27_601_250, 27_991_251, 10_000))
    assert len(centres) == len(published) == 40
    yield "centres", centres - published


# From memory: Australia has the 40 channels of the USA, New Zealand the same ones 635 kHz lower (channel 1
# on 26.330 MHz); Japan has eight of its own, in kHz.
JAPAN_KHZ = (26968, 26976, 27040, 27080, 27088, 27112, 27120, 27144)


@against("national rules (from memory)", "citizens' channels of Region 3", unit="channels", tolerance=0)
def test_channels_of_region_3() -> Differences:
    forty = {hertz(mhz) for mhz in CHANNELS_MHZ.split()}
    occupants = occupants_of(read_bands(), region=3)
    for label, published in (
        ("CB, Australian channel", forty),
        ("CB, New Zealand channel", {hz - 635_000 for hz in forty}),
        ("CB, Japanese channel", {khz * 1000 for khz in JAPAN_KHZ}),
    ):
        mine = occupants.label == occupants.labels.index(label)
        centres = ((occupants.low_hz + occupants.high_hz) // 2)[mine].tolist()
        assert len(centres) == len(published)
        yield label, len(published ^ set(centres))
