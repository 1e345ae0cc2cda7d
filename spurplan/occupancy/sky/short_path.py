"""Paths to 9000 km: a sum of modes, hop by hop.

Six modes by the F2 layer and three by the E layer are added as powers, each with its spreading,
absorption, ground reflections, auroral losses and, above its MUF, the loss that goes with that.

References
----------
[1] Rec. ITU-R P.533-14, sections 3 to 5, as its public implementation (version 14.2) works them out.

Notes
-----
Departures from [1]; all together 3 dB rms against its implementation, and nearer to what was measured:
the D-layer penetration points of the lowest F2 mode serve all modes; screening of F2 modes by the E
layer uses the daytime mirror height at all hours, and has no cliff, since foE differs from day to day.
Sporadic E, ducts and scatter are left out: in summer, 24 MHz and above is open more often than this says.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spurplan.occupancy.sky import e_layer
from spurplan.occupancy.sky.absorption import HEIGHT_KM as D_LAYER_KM
from spurplan.occupancy.sky.absorption import absorption_factor, auroral_loss_db, penetration
from spurplan.occupancy.sky.f2_layer import F2Maps
from spurplan.occupancy.sky.geometry import (
    LOWEST_ELEVATION,
    Points,
    elevation,
    ground_to_height_km,
    incidence,
    slant_km,
)
from spurplan.occupancy.sky.legs import Legs
from spurplan.occupancy.sky.magnetic_field import dip_and_gyrofrequency, geomagnetic_latitude
from spurplan.occupancy.sky.muf import LONGEST_HOP_KM, basic_muf_mhz

Floats = npt.NDArray[np.float64]

LONGEST_KM = 9000.0
F2_MODES, E_MODES = 6, 3
MOST_HOPS = 3  # of the lowest F2 mode, within LONGEST_KM
# losses not otherwise included, [1] section 5
NOT_OTHERWISE_DB = 9.14
# steepness of the screening by the E layer over frequency; 20 is a factor of two in 4 % of frequency
_SCREENING_POWER = 20
# the E layer carries no path beyond this, and screens none [1]
_E_LAYER_REACH_KM = 4000.0
_E_HOP_KM = 2000.0
# field of 1 kW e.i.r.p.: 136.6 + 20 log f less the loss, of which 32.45 + 20 log f is spreading [1]
_FREE_SPACE_DB = 136.6 - 32.45
_MAGNETIC_HEIGHT_F2_KM, _MAGNETIC_HEIGHT_D_KM = 300.0, 100.0


class ShortPaths:
    """What of a path does not depend on frequency; modes are F2 then E, in order of their hops.

    Parameters
    ----------
    legs : Legs. None longer than `LONGEST_KM`.

    Attributes
    ----------
    muf_mhz : array, shape (n,). Basic MUF of the path: of its lowest F2 mode or lowest E mode. [MHz]
    high_latitude : bool array, shape (n,). Whether a control point lies at 60 deg geomagnetic or beyond.
    """

    def __init__(self, legs: Legs) -> None:
        self._legs = legs
        self._distance_km = distance_km = legs.distance_km
        self._middle = self._legs.at(distance_km / 2)
        quarter_km = np.minimum(1000.0, distance_km / 2)
        self._ends = self._legs.at(quarter_km), self._legs.at(distance_km - quarter_km)
        self._layers()
        self._f2_modes()
        self._e_modes()
        self._absorption()
        self._other_losses()

    def _foe(self, at: Points) -> Floats:
        return e_layer.critical_frequency_mhz(at, self._legs.month, self._legs.utc_hour, self._legs.r12)

    def _f2(self, at: Points) -> tuple[Floats, Floats, Floats]:
        """Return foF2, M(3000)F2 and gyrofrequency."""
        dip, gyro = dip_and_gyrofrequency(at, _MAGNETIC_HEIGHT_F2_KM)
        f2, m3000 = F2Maps(at, dip, self._legs.month, self._legs.r12).at_hour(self._legs.utc_hour)
        return f2, m3000, gyro

    def _layers(self) -> None:
        self._f2_mhz, self._m3000, self._gyro_mhz = self._f2(self._middle)
        self._foe_mhz = self._foe(self._middle)
        self._foe_ends = np.stack([self._foe(end) for end in self._ends])

    def _f2_modes(self) -> None:
        distance_km = self._distance_km
        self._mirror_km = np.minimum(1490 / self._m3000 - 176, 500)
        reach_km = 2 * ground_to_height_km(LOWEST_ELEVATION, self._mirror_km)
        lowest = np.ceil(distance_km / np.minimum(reach_km, LONGEST_HOP_KM))
        self._f2_hops = lowest[:, None] + np.arange(F2_MODES)
        self._f2_hop_km = distance_km[:, None] / self._f2_hops
        muf, longest_km = self._f2_muf(self._f2_mhz, self._m3000, self._foe_mhz, self._gyro_mhz)
        beyond = distance_km > longest_km[:, 0]
        if beyond.any():
            # control points half a hop of the lowest mode from either end; the lower MUF counts
            half_km = distance_km / lowest / 2
            of_ends = []
            for point in (self._legs.at(half_km), self._legs.at(distance_km - half_km)):
                f2, m3000, gyro = self._f2(point)
                of_ends.append(self._f2_muf(f2, m3000, self._foe(point), gyro)[0])
            muf = np.where(beyond[:, None], np.minimum(*of_ends), muf)
        self._f2_muf_mhz = muf
        self._f2_valid = self._f2_hop_km <= np.maximum(longest_km, LONGEST_HOP_KM * beyond[:, None])
        self._f2_elevation = elevation(self._f2_hop_km, self._mirror_km[:, None])

    def _f2_muf(self, f2: Floats, m3000: Floats, foe: Floats, gyro: Floats) -> tuple[Floats, Floats]:
        return basic_muf_mhz(f2[:, None], m3000[:, None], foe[:, None], gyro[:, None], self._f2_hop_km)

    def _e_modes(self) -> None:
        distance_km = self._distance_km
        reach_km = 2 * ground_to_height_km(LOWEST_ELEVATION, e_layer.HEIGHT_KM)
        lowest = np.ceil(distance_km / reach_km)
        hops = lowest[:, None] + np.arange(E_MODES)
        hop_km = distance_km[:, None] / hops
        rises = elevation(hop_km, e_layer.HEIGHT_KM)
        valid = (distance_km[:, None] < _E_LAYER_REACH_KM) & (hops <= E_MODES)
        valid &= (hops > lowest[:, None]) | (hop_km <= _E_HOP_KM)
        foe = np.where(distance_km < _E_HOP_KM, self._foe_mhz, self._foe_ends.min(0))

        self._hops = np.concatenate([self._f2_hops, hops], 1)
        self._hop_km = np.concatenate([self._f2_hop_km, hop_km], 1)
        self._elevation = np.concatenate([self._f2_elevation, rises], 1)
        self._valid = np.concatenate([self._f2_valid, valid], 1)
        self._cos_incidence = np.cos(incidence(self._elevation, e_layer.HEIGHT_KM))
        e_muf = foe[:, None] / self._cos_incidence[:, F2_MODES:]
        self._mode_muf_mhz = np.concatenate([self._f2_muf_mhz, e_muf], 1)
        self.muf_mhz = np.maximum(self._f2_muf_mhz[:, 0], np.where(valid[:, 0], e_muf[:, 0], 0))
        self._screened_mhz = self._screening()

    def _screening(self) -> Floats:
        """Return the frequency below which the E layer screens each F2 mode [1]."""
        foe = np.where(self._distance_km <= _E_HOP_KM, self._foe_mhz, self._foe_ends.max(0))
        angle = incidence(elevation(self._f2_hop_km, self._daytime_mirror_km()), e_layer.HEIGHT_KM)
        screened = 1.05 * foe[:, None] / np.cos(angle)
        return np.where(self._distance_km[:, None] <= _E_LAYER_REACH_KM, screened, 0)

    def _daytime_mirror_km(self) -> Floats:
        """Return the mirror height of [1] section 5.1 c) for each F2 mode."""
        ratio = np.clip(self._f2_mhz / self._foe_mhz, 1.8, 3.33)
        spots = np.minimum(self._legs.r12, e_layer.HIGHEST_R12)
        correction = 0.18 / (ratio - 1.4) + 0.096 * (spots - 25) / 150
        height = 1490 / (self._m3000 + correction) - 316
        rise = 8e-5 * (height - 80) * (1 + 11 * ratio**-2.2) + 1.2e-3 * height * ratio**-3.6
        base = 115 + height * np.polyval([-0.7126, 5.863, -16.13, 16.07], ratio)
        return np.asarray(np.clip(base[:, None] + rise[:, None] * self._f2_hop_km, 115, 800))

    def _absorption(self) -> None:
        """Average absorption factor, foE and gyrofrequency over the D-layer penetration points."""
        hop = np.arange(MOST_HOPS)
        start_km = hop * self._f2_hop_km[:, :1]
        inside_km = ground_to_height_km(self._f2_elevation[:, :1], D_LAYER_KM)
        up_km, down_km = start_km + inside_km, start_km + self._f2_hop_km[:, :1] - inside_km
        on_path = np.concatenate([hop < self._f2_hops[:, :1]] * 2, 1)
        legs = self._legs.as_column()
        points = legs.at(np.concatenate([up_km, down_km], 1))
        dip, gyro = dip_and_gyrofrequency(points, _MAGNETIC_HEIGHT_D_KM)
        factor = np.where(on_path, absorption_factor(points, dip, legs.month, legs.utc_hour), 0)
        crossings = on_path.sum(1)
        foe = e_layer.critical_frequency_mhz(points, legs.month, legs.utc_hour, legs.r12)
        self._factor = factor.sum(1) / crossings
        self._factor *= 1 + 0.0067 * np.minimum(self._legs.r12, e_layer.HIGHEST_R12)
        self._absorbing_foe = (factor * foe).sum(1) / np.maximum(factor.sum(1), 1e-9)
        self._longitudinal_gyro = (np.abs(gyro * np.sin(dip)) * on_path).sum(1) / crossings

    def _other_losses(self) -> None:
        controls = (self._middle, *self._ends)
        month, hour = self._legs.month[:, None], self._legs.utc_hour[:, None]
        losses = [
            auroral_loss_db(Points(at.lat[:, None], at.lon[:, None]), month, hour, self._hop_km)
            for at in controls
        ]
        over_2000 = self._distance_km[:, None] > 2000
        auroral = np.where(over_2000, sum(losses) / len(losses), losses[0])
        latitude = np.max([geomagnetic_latitude(at) for at in controls], 0)
        self.high_latitude = (latitude >= np.radians(60)) & over_2000[:, 0]
        reflections = 2 * (self._hops - 1)
        length_km = slant_km(self._hop_km, self._elevation) * self._hops
        # all that does not depend on frequency
        self._level_db = _FREE_SPACE_DB - 20 * np.log10(length_km) - reflections - auroral - NOT_OTHERWISE_DB
        self._level_db[~self._valid] = -np.inf

    def field_dbuv(self, frequency_mhz: Floats) -> Floats:
        """Return the median field for 1 kW e.i.r.p. at frequencies, shape (n, f). [dB(uV/m)]"""
        f = frequency_mhz[:, None, :]
        cosine = self._cos_incidence[:, :, None]
        foe, gyro = self._absorbing_foe[:, None, None], self._longitudinal_gyro[:, None, None]
        absorbed = self._hops[:, :, None] * self._factor[:, None, None] * penetration(f * cosine / foe)
        absorbed = absorbed / ((f + gyro) ** 2 * cosine)
        above = np.maximum(f / self._mode_muf_mhz[:, :, None] - 1, 0)
        level = self._level_db[:, :, None] - absorbed - self._loss_above_muf(above)
        power = 10 ** (level / 10)
        power[:, :F2_MODES] /= 1 + (self._screened_mhz[:, :, None] / f) ** _SCREENING_POWER
        return np.asarray(10 * np.log10(power.sum(1) + 1e-20))

    def _loss_above_muf(self, above: Floats) -> Floats:
        """Return the loss above the MUF by f/MUF - 1 [1]; 0 where that is 0. [dB]"""
        by_f2, by_e = above[:, :F2_MODES], above[:, F2_MODES:]
        one_or_two_hops = self._distance_km[:, None, None] <= 3000
        f2 = np.where(
            one_or_two_hops, np.minimum(36 * np.sqrt(by_f2) + 5, 60), np.minimum(70 * by_f2 + 8, 80)
        )
        e = np.minimum(46 * np.sqrt(by_e) + 5, 58)
        return np.concatenate([f2, e], 1) * (above > 0)
