"""Worlds: what nobody knows exactly, drawn together, the same for every set-up that is compared.

In one world all broadcasters may be 8 dB louder than expected, the noise lower,
every circuit's Q a little higher. Two set-ups judged in the same worlds differ
by what they are, not by luck.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from statistics import NormalDist
from types import MappingProxyType
from typing import Any

import numpy as np
import numpy.typing as npt

from spurplan.tomlfile import shipped_toml

Floats = npt.NDArray[np.float64]

# what belongs to the set and the place; each service adds its level and its activity
SET_FACTORS = ("noise", "q", "ceiling", "box", "coupling", "mixer")


@cache
def _table() -> Mapping[str, Mapping[str, float]]:
    read: dict[str, Any] = shipped_toml("spreads.toml")
    return MappingProxyType({name: MappingProxyType(part) for name, part in read.items()})


@dataclass(frozen=True)
class Spreads:
    """How far off what is common to many may be, one standard deviation each.

    Attributes
    ----------
    level_db, noise_db, ceiling_db, mixer_db, detection_db : float. [dB]
    activity : float. Natural logarithm of a factor.
    q : float. Part of a Q.
    of_level_db : mapping of service to its own level spread. [dB]
    """

    level_db: float
    activity: float
    noise_db: float
    q: float
    ceiling_db: float
    mixer_db: float
    detection_db: float
    of_level_db: Mapping[str, float]

    def service_db(self, service: str) -> float:
        """Return the spread of the level of a service as a whole. [dB]"""
        return self.of_level_db.get(service, self.level_db)

    def times(self, factor: float) -> Spreads:
        """Return all spreads times a factor; 0 for a world in which all is as expected."""
        return Spreads(
            self.level_db * factor,
            self.activity * factor,
            self.noise_db * factor,
            self.q * factor,
            self.ceiling_db * factor,
            self.mixer_db * factor,
            self.detection_db,
            MappingProxyType({name: value * factor for name, value in self.of_level_db.items()}),
        )


@cache
def shipped_spreads() -> Spreads:
    """Return the spreads of ``data/spreads.toml``."""
    common, level = _table()["common"], _table()["level"]
    return Spreads(
        level_db=common["level"],
        activity=common["activity"],
        noise_db=common["noise"],
        q=common["q"],
        ceiling_db=common["ceiling"],
        mixer_db=common["mixer"],
        detection_db=common["detection"],
        of_level_db=level,
    )


@dataclass(frozen=True)
class Worlds:
    """Normal scores of the common factors in each world.

    Attributes
    ----------
    seed : int. Worlds of one seed are the same, whatever is judged in them.
    count : int. How many.
    """

    seed: int = 5
    count: int = 64

    def scores(self, factor: str) -> Floats:
        """Return the score of one factor in each world, shape (Z,).

        Notes
        -----
        A Latin hypercube: every factor takes the same evenly spaced quantiles, each in an order
        of its own, so that its mean and spread are right with few worlds.
        """
        return _quantile_scores(self.count)[self._order(factor)]

    def uniforms(self, name: str) -> Floats:
        """Return a number between 0 and 1 of one station in each world, shape (Z,)."""
        return (self._order(f"on the air: {name}") + 0.5) / self.count

    def _order(self, name: str) -> npt.NDArray[np.int64]:
        return _permutation(self.seed, self.count, name)


# the same names are asked for again and again, of candidate after candidate
@lru_cache(maxsize=10_000)
def _permutation(seed: int, count: int, name: str) -> npt.NDArray[np.int64]:
    words = list(name.encode("utf-8", "surrogatepass"))
    order = np.random.default_rng([seed, *words]).permutation(count)
    order.flags.writeable = False
    return order


@cache
def _quantile_scores(count: int) -> Floats:
    normal = NormalDist()
    return np.array([normal.inv_cdf((k + 0.5) / count) for k in range(count)])
