"""What to tell a crystal maker, and what comes of it on the dial."""

from __future__ import annotations

from dataclasses import dataclass

from spurplan.planning.converter.crystals import Crystal
from spurplan.planning.converter.handling import estimates
from spurplan.units import hz_text


@dataclass(frozen=True)
class Order:
    """A crystal as it is ordered for one way of using it.

    Attributes
    ----------
    crystal : Crystal.
    injected_hz : int. What it is used on, multiplied. [Hz]
    """

    crystal: Crystal
    injected_hz: int

    @property
    def load_pf(self) -> float | None:
        """Load capacitance to order it for; None for series resonance, as overtones are. [pF]"""
        return estimates()["order"]["load"] if self.crystal.mode == "fundamental" else None

    @property
    def dial_error_hz(self) -> float:
        """What its tolerance may come to on the dial, either way. [Hz]"""
        return self.injected_hz * self.crystal.ppm * 1e-6

    @property
    def ppm_for_a_kilohertz(self) -> float:
        """The tolerance that keeps the dial within 1 kHz. [parts per million]"""
        return 1e9 / self.injected_hz

    @property
    def pulled_hz(self) -> float | None:
        """How far the dial is off where the circuit loads it with less than ordered; None in series. [Hz]

        Notes
        -----
        df/f = C1/2 (1/(C0 + CL') - 1/(C0 + CL)) for a load CL' in place of CL, C1 the motional and C0
        the shunt capacitance (common practice; both estimates). The step is `order.load_error`.
        """
        if self.load_pf is None:
            return None
        figures = estimates()["order"]
        c0, c1, less = figures["shunt"], figures["motional"], self.load_pf - figures["load_error"]
        return self.injected_hz * c1 / 2.0 * (1.0 / (c0 + less) - 1.0 / (c0 + self.load_pf))

    @property
    def text(self) -> str:
        """What the maker is told: frequency, cut, load, tolerance."""
        crystal = self.crystal
        multiplied = round(self.injected_hz / crystal.frequency_hz)
        used = "" if multiplied == 1 else f", multiplied by {multiplied}"
        cut = "fundamental" if crystal.mode == "fundamental" else f"{crystal.mode} overtone"
        resonance = "series resonance" if self.load_pf is None else f"load {self.load_pf:g} pF"
        return self._with_pull(
            f"{hz_text(crystal.frequency_hz)} {cut}, {resonance}, {crystal.ppm:g} ppm or better at 25 C: "
            f"that may put the dial off by {_khz(self.dial_error_hz)}{used}; "
            f"{self.ppm_for_a_kilohertz:.0f} ppm keep it within 1 kHz",
            "less load than ordered shifts it",
        )

    @property
    def at_hand_said(self) -> str:
        """What comes of one that is at hand on the dial."""
        crystal = self.crystal
        known = "" if crystal.tolerance_ppm is not None else " (usual)"
        return self._with_pull(
            f"{hz_text(crystal.frequency_hz)} is at hand: with {crystal.ppm:g} ppm{known} it may "
            f"put the dial off by {_khz(self.dial_error_hz)}",
            "less than it was cut for shift it",
        )

    def _with_pull(self, text: str, less_load: str) -> str:
        """Return a text with what another load does to the crystal; as it is in series resonance."""
        if self.pulled_hz is None:
            return text
        error = estimates()["order"]["load_error"]
        return f"{text}, and {error:g} pF {less_load} by {_khz(self.pulled_hz)}"


def _khz(hz: float) -> str:
    return f"{hz / 1e3:.1f} kHz"
