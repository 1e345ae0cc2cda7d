"""A signal generator stepped through a mixer that exists only as samples in time.

Oscillator and signal are sampled coherently (whole periods in the record, so
every product falls on a bin), the device is applied sample by sample, and the
bins around the IF are read. Nothing here knows of m, n, images or half-IFs.

The oscillator's bin is a prime and has no factor in common with the IF's:
with common factors two products share a bin and add to a reading that belongs
to neither. The devices are smooth, as a hard switch fills the record with
aliases.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Device = Callable[[Floats, Floats], Floats]

SAMPLES = 1 << 15
BIN_HZ = 5_000
AROUND = 3  # bins read on either side of the IF
SIGNAL = 0.05  # peak of the signal; the oscillator's is 1
FIRST_BIN, LAST_BIN = 8, 4_000  # 40 kHz to 20 MHz

# Both run on cosines of phase zero, so every record is even in time: half of it says all.
_HALF = SAMPLES // 2
_COSINE = np.cos(2 * np.pi * np.arange(SAMPLES) / SAMPLES)


def soft_switch(lo: Floats, rf: Floats) -> Floats:
    """A commutator whose edges are soft and are moved by the signal."""
    return rf * np.tanh((lo + rf) / 0.3)


def exponential(lo: Floats, rf: Floats) -> Floats:
    """Both voltages in series on an exponential characteristic."""
    return np.exp(1.5 * (lo + rf))


def multiplier(lo: Floats, rf: Floats) -> Floats:
    """A product of two weakly bent characteristics."""
    return (rf + 0.2 * rf**2 + 0.5 * rf**3) * (lo + 0.1 * lo**2 + 0.05 * lo**3 + 0.03 * lo**4)


def tone(bin_number: int) -> Floats:
    """Return a cosine on a bin, first half of the record, shape (SAMPLES/2 + 1,)."""
    return _COSINE[(np.arange(_HALF + 1, dtype=np.int64) * bin_number) % SAMPLES]


@dataclass(frozen=True)
class Bench:
    """A mixer on the bench, or two in a row.

    Attributes
    ----------
    device : what the first mixer does to (oscillator, signal).
    lo_bin, if_bin : the first oscillator's bin; the bin of the last IF.
    second : what the output of the first is multiplied with, at each sample; None for one mixer.
    """

    device: Device
    lo_bin: int
    if_bin: int
    second: Floats | None = None

    def sweep(self, block: int = 48) -> Floats:
        """Return the output around the IF for every generator setting.

        Returns
        -------
        shape (LAST_BIN - FIRST_BIN + 1, 2*AROUND + 1). Half the peak voltage on each bin, signed.
        """
        weight = np.full(_HALF + 1, 2.0 / SAMPLES)
        weight[[0, -1]] = 1.0 / SAMPLES
        readers = np.stack([weight * tone(self.if_bin + k) for k in range(-AROUND, AROUND + 1)], axis=1)
        if self.second is not None:
            readers = readers * self.second[:, None]
        lo = tone(self.lo_bin)
        out = []
        for start in range(FIRST_BIN, LAST_BIN + 1, block):
            rf = np.stack([tone(b) for b in range(start, min(start + block, LAST_BIN + 1))])
            out.append(self.device(lo, SIGNAL * rf) @ readers)
        return np.concatenate(out)


def two_dimensional(device: Device, points: int = 256) -> Floats:
    """Return the level of every product (m, n) at once, on a grid of the two phases.

    Returns
    -------
    shape (points, points). Entry [m, n], negative numbers counted from the end: half the peak
    voltage of the product m*LO + n*RF, where no two products can meet in one bin.
    """
    phase = np.cos(2 * np.pi * np.arange(points) / points)
    grid = device(phase[:, None], SIGNAL * phase[None, :])
    return np.fft.fft2(grid).real / points**2


def harmonics(wave: Floats) -> Floats:
    """Return the Fourier coefficients of a function of one phase, sampled at even points."""
    return np.fft.fft(wave).real / len(wave)
