"""The options every question shares, with their defaults."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any

from spurplan.errors import Fault, Refused, did_you_mean
from spurplan.given import as_path, flag_faults, is_number

HIGHEST_LO_ORDER = 40
# the 21st harmonic of a medium-wave carrier has been reported on the short waves
HIGHEST_RF_ORDER = 25


@dataclass(frozen=True, kw_only=True)
class Settings:
    """How a question is asked.

    Attributes
    ----------
    region : int or None. ITU region whose table rows apply; the receiver's where None.
    utc : str or None. "1800", "18:00" or "18:00:20": only who is on the air then.
    day : str or None. "mon" to "sun".
    range : str or None. One range of the set by name; all where None.
    lo_order, rf_order : int. Highest harmonics of oscillator and signal at each mixer.
    level : mapping of service to level text. Overrides the typical levels.
    levels : path or None. A file of typical levels in place of the shipped one.
    strong_at, audible_at : float. Margins over the floor of the grades. [dB]
    skirts : bool. Signals beyond the -6 dB passband too.
    everything : bool. Buried ones too, and nothing pruned.
    intermodulation : bool. Products of two stations too.

    Raises
    ------
    Refused  for orders, thresholds or types that make no sense, all at once.
    """

    region: int | None = None
    utc: str | None = None
    day: str | None = None
    range: str | None = None
    lo_order: int = 10
    rf_order: int = 3
    level: Mapping[str, str] = field(default_factory=dict)
    levels: str | Path | None = None
    strong_at: float = 10.0
    audible_at: float = 0.0
    skirts: bool = False
    everything: bool = False
    intermodulation: bool = False

    def __post_init__(self) -> None:
        faults = [*self._orders(), *self._thresholds()]
        if self.region is not None and (type(self.region) is not int or self.region not in (1, 2, 3)):
            faults.append(Fault("--region", "is not an ITU region", str(self.region), "give 1, 2 or 3"))
        if self.range is not None and not isinstance(self.range, str):
            faults.append(not_a_name(self.range))
        faults += [*self._flags(), *self._levels()]
        if faults:
            raise Refused(faults)

    def _orders(self) -> list[Fault]:
        faults = []
        for name, value, low, high in (
            ("--lo-order", self.lo_order, 0, HIGHEST_LO_ORDER),
            ("--rf-order", self.rf_order, 1, HIGHEST_RF_ORDER),
        ):
            if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
                faults.append(Fault(name, "is not an order", str(value), f"give {low} to {high}"))
        return faults

    def _thresholds(self) -> list[Fault]:
        faults = []
        for name, value in (("--strong-at", self.strong_at), ("--audible-at", self.audible_at)):
            if not is_number(value) or not -200.0 <= value <= 200.0:
                faults.append(
                    Fault(name, "is not a margin over the floor", str(value), "give -200 to 200 dB")
                )
        if not faults and self.strong_at < self.audible_at:
            faults.append(
                Fault(
                    "--strong-at",
                    f"is below --audible-at {self.audible_at:g}",
                    f"{self.strong_at:g}",
                    "strong begins at or above audible",
                )
            )
        return faults

    def _flags(self) -> list[Fault]:
        return [
            *flag_faults(self.skirts, "--skirts"),
            *flag_faults(self.everything, "--everything"),
            *flag_faults(self.intermodulation, "--intermodulation"),
        ]

    def _levels(self) -> list[Fault]:
        faults = []
        if not isinstance(self.level, Mapping) or not all(isinstance(name, str) for name in self.level):
            remedy = 'give a mapping, as {"broadcast": "S9+40"}'
            faults.append(Fault("--level", "is no level of a service", str(self.level), remedy))
        if self.levels is not None:
            try:
                as_path(self.levels, "--levels")
            except Refused as refused:
                faults += refused.faults
        return faults

    def plain(self) -> dict[str, Any]:
        """Return the settings as plain values, for the answer."""
        values = asdict(self)
        values["level"] = dict(self.level)
        values["levels"] = None if self.levels is None else str(self.levels)
        return values


def not_a_name(value: object) -> Fault:
    """Return the fault of a name of a range that is no text: 4 is not "4"."""
    return Fault("--range", "is not a name", str(value), "give the name as text")


def settings_from(settings: Settings | None, options: Mapping[str, Any]) -> Settings:
    """Return settings with options put over them.

    Raises
    ------
    TypeError  for an option that does not exist, with the nearest one.
    Refused  for settings that are none.
    """
    if settings is not None and not isinstance(settings, Settings):
        raise Refused(Fault("settings", "is no Settings", str(settings), "give options by name"))
    known = [f.name for f in fields(Settings)]
    for name in options:
        if name not in known:
            raise TypeError(f"no option {name!r}; {did_you_mean(name, known)}")
    if settings is None:
        return Settings(**options)
    return Settings(**{**{name: getattr(settings, name) for name in known}, **options})
