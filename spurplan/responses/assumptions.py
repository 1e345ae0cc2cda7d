"""What an answer takes for granted, and what it does not know, said with it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.receiver.defaults import defaults_in_use
from spurplan.receiver.description import Receiver
from spurplan.receiver.doubts import columns_left_alone, doubts
from spurplan.receiver.premixer import least_followed_db
from spurplan.responses.asking import Settings
from spurplan.responses.counting import covered_hz
from spurplan.responses.dead_dial import dead_stretches
from spurplan.responses.strong_signals.first_mixer import level_into_first_mixer
from spurplan.units import hz_text, percent_text

SKIRTS_LEFT_OUT = "signals beyond the -6 dB passband are left out; --skirts takes them in"
NOT_MODELLED = (
    "shares count products, and as deafness the noise that the oscillators mix in with who is likely on the "
    "air; blocking and cross-modulation are told at one setting, by dial; automatic gain control and grid "
    "current are not modelled"
)
MULTIPLIED = (
    "what a multiplier leaves of the crystal's other harmonics is an estimate, 6 dB either way a circuit, "
    "unless multiplier_impurity is given; what two signals together make of it is not looked for"
)
PREMIXED = (
    "what a premixer leaves beside its product is an estimate, 10 dB either way, unless products are given; "
    "of what is {least:g} dB and more below it everywhere on a range, and of what two signals together make "
    "of it, nothing is looked for"
)
# What an envelope detector alone makes nothing of: common practice.
NEED_A_BFO = ("ssb", "cw")
# Nearer than this to its intercept a mixer does more to a signal than these levels say. [dB]
NEAR_INTERCEPT_DB = 15.0


def assumptions_of(
    receiver: Receiver,
    settings: Settings,
    chains: Sequence[Chains],
    occupants: Occupants,
    listed: float | None,
) -> list[str]:
    """Return what was taken for granted in an answer, one clause each, no full stop.

    Parameters
    ----------
    listed : float or None. As `listed_share` of those asked about; None where what else the
        tables hold plays no part, as where one station is looked for.
    """
    assumptions = [
        *doubts(receiver),
        *columns_left_alone(receiver),
        *_defaults(receiver),
        *_no_bfo(receiver, chains),
        *_model(chains),
        *_air(occupants),
    ]
    made_of = [group.made_of for group in chains]
    if any((of[:, :, 0][of[:, :, 2] == 0] > 0).any() for of in made_of):
        assumptions.append(MULTIPLIED)
    if any(of[:, :, 2].any() for of in made_of):
        assumptions.append(PREMIXED.format(least=least_followed_db()))
    assumptions += [*_strong(chains, occupants), NOT_MODELLED]
    assumptions += _listed(occupants, listed)
    assumptions += _limits(chains, settings)
    return list(dict.fromkeys(assumptions))


def _defaults(receiver: Receiver) -> list[str]:
    """Return the figures of the set left to default, as one clause."""
    left = defaults_in_use(receiver)
    return [f"not given in the file: {', '.join(left)}"] if left else []


def _no_bfo(receiver: Receiver, chains: Sequence[Chains]) -> list[str]:
    """Say that sideband or Morse is listened to with a set whose file has no beat oscillator."""
    modes = {listener.mode for group in chains for listener in group.listener}
    needing = [mode for mode in NEED_A_BFO if mode in modes]
    if receiver.bfo is not None or not needing:
        return []
    return [
        f"the file has no [bfo], and {' and '.join(needing)} cannot be read without one: judged as if it had"
    ]


def _model(chains: Sequence[Chains]) -> list[str]:
    assumptions: list[str] = []
    for group in chains:
        for floor in group.floor:
            assumptions += floor.assumptions()
        for mixers in group.mixer:
            for mixer in mixers:
                assumptions += mixer.assumed
    return assumptions


def _air(occupants: Occupants) -> list[str]:
    assumptions = list(occupants.assumptions)
    if not len(occupants):
        assumptions.append(
            "no occupant is in the tables for this region and time: nothing listed is not nothing there"
        )
    return assumptions


def _strong(chains: Sequence[Chains], occupants: Occupants) -> list[str]:
    """Warn of occupants that reach the first mixer near its intercept, or beyond its level law."""
    assumptions = []
    for group in chains:
        for v in range(len(group)):
            name = group.names[int(group.name_code[v])]
            mixer = group.mixer[0][int(group.mixer_code[v, 0])]
            into = level_into_first_mixer(group, occupants, v)
            if not len(into):
                continue
            loudest = int(np.argmax(into))
            who = occupants.label_of(loudest)
            said_level = f"{who} may reach the mixer at {into[loudest]:.0f} dBm on range {name}"
            if into[loudest] > mixer.intercept_dbm - NEAR_INTERCEPT_DB:
                assumptions.append(
                    f"{said_level}, within {NEAR_INTERCEPT_DB:g} dB of its intercept "
                    f"{mixer.intercept_dbm:.0f} dBm: dial tells of blocking and cross-modulation there"
                )
            elif into[loudest] > mixer.limit_dbm:
                assumptions.append(
                    f"{said_level}, above {mixer.limit_dbm:.0f} dBm where the n dB per dB law ends: "
                    "products of higher order are not sure"
                )
    return assumptions


def _listed(occupants: Occupants, share: float | None) -> list[str]:
    """Say how far the tables reach, and how much of that they know."""
    if share is None:
        return []
    low, high = occupants.reach
    return [
        f"the tables reach from {hz_text(low)} to {hz_text(high)}, with somebody listed on "
        f"{percent_text(share)} % of it: what lies beyond or between is unknown"
    ]


def listed_share(occupants: Occupants) -> float | None:
    """Return on how much of what the tables span somebody is listed, 0 to 1; None where they are empty."""
    low, high = occupants.reach
    if not high:
        return None
    listed = covered_hz(np.zeros(len(occupants), dtype=np.int64), occupants.low_hz, occupants.high_hz, 1)
    return float(listed[0]) / (high - low + 1)


def _limits(chains: Sequence[Chains], settings: Settings) -> list[str]:
    assumptions = []
    if not settings.skirts:
        assumptions.append(SKIRTS_LEFT_OUT)
    else:
        assumptions.append(
            "skirts end where the last filter reaches its ultimate rejection, or buries the strongest"
        )
    if not settings.everything:
        assumptions.append(
            f"products up to {settings.lo_order} LO and {settings.rf_order} RF at each mixer, "
            "those that can be heard"
        )
    else:
        assumptions.append(f"products up to {settings.lo_order} LO and {settings.rf_order} RF at each mixer")
    own = max((int(np.abs(group.wanted_steps[:, :, 0]).max(initial=0)) for group in chains), default=0)
    if 0 < settings.lo_order < own:
        assumptions.append(
            f"the set itself works with oscillator harmonic {own}, which up to {settings.lo_order} LO leaves "
            "out: its images are not among the products"
        )
    for group in chains:
        for v, low, high in zip(*(column.tolist() for column in dead_stretches(group)), strict=True):
            name = group.names[int(group.name_code[v])]
            span = f"{hz_text(low)} to {hz_text(high)}"
            assumptions.append(f"range {name} is unusable from {span}: an IF of the set lies there")
    return assumptions
