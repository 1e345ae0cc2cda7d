"""A sound receiver file for tests that damage it."""

from __future__ import annotations

import pytest

from spurplan.errors import Refused
from spurplan.receiver.file.reading import parse_receiver

SOUND = """\
name = "Test bench"
noise_figure = "12 dB"
[[conversion]]
injection = "high"
if = "465 kHz"
[conversion.mixer]
family = "jfet"
[conversion.filter]
bandwidth = "6 kHz"
[bfo]
offset = "1 kHz"
[[internal]]
name = "calibrator"
frequency = "100 kHz"
[[range]]
name = "4"
coverage = ["11 MHz", "30 MHz"]
front_end = [ { circuits = 2, q = 55 } ]
"""


def refused(text: str) -> Refused:
    with pytest.raises(Refused) as caught:
        parse_receiver(text, "set.toml")
    return caught.value
