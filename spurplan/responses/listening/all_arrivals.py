"""All that may spoil a setting: what single stations do, and what two and three make together."""

from __future__ import annotations

from dataclasses import replace

from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.responses.asking import Settings
from spurplan.responses.listening.arrivals import Arrivals, Dials, Ways, arrivals, with_sidebands
from spurplan.responses.listening.arrivals_of_three import arrivals_of_three
from spurplan.responses.listening.arrivals_of_two import arrivals_of_two, in_order
from spurplan.responses.listening.presence import Presence
from spurplan.responses.listening.worlds import Spreads


def all_arrivals(
    chains: Chains,
    occupants: Occupants,
    presence: Presence,
    settings: Settings,
    dials: Dials,
    spreads: Spreads,
) -> tuple[Ways, Arrivals]:
    """Return what may spoil each setting, products of two and three stations too where they were asked for.

    Parameters
    ----------
    chains, occupants, presence, settings, dials, spreads : as of `arrivals`.
    """
    ways, of_one = arrivals(chains, occupants, presence, settings, dials, spreads)
    if not settings.intermodulation or not len(occupants):
        return ways, of_one
    # as the ways have them
    _, there = with_sidebands(occupants, presence)
    of_two, routes = arrivals_of_two(ways, there, settings, dials, spreads)
    ways = replace(ways, routes=routes)
    of_three = arrivals_of_three(ways, there, settings, dials, spreads)
    return ways, in_order([of_one, of_two, of_three])
