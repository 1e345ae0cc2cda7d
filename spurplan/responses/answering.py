"""What `dial`, `ranges` and `station` have in common: what responds, the wanted route, and the answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from spurplan.cautions import cautions_of
from spurplan.columns import Answer
from spurplan.occupancy.occupants import Occupants
from spurplan.receiver.chain import Chains
from spurplan.receiver.description import Receiver
from spurplan.responses.asking import (
    Settings,
    hour_settings,
)
from spurplan.responses.assumptions import assumptions_of, listed_share
from spurplan.responses.engine import respond
from spurplan.responses.intrusion_table import Response, intruding, intrusion_table
from spurplan.responses.listening.presence import Presence
from spurplan.responses.listening.stretch_chances import with_chances


def responding(
    receiver: Receiver, chains: Chains, occupants: Occupants, settings: Settings, presence: Presence
) -> Response:
    """Return what responds to the occupants on some chains, with its chances and the set's BFO.

    Parameters
    ----------
    presence : Presence. Who of the occupants is on the air.
    """
    response = with_chances(respond(chains, occupants, settings), presence)
    return response if receiver.bfo is None else replace(response, bfo_hz=receiver.bfo.offset_hz)


def on_wanted_route(response: Response, settings: Settings) -> Response:
    """Return the stretches of the wanted route, buried or not."""
    if settings.skirts or not settings.everything:
        shown = replace(settings, skirts=False, everything=True, lo_order=_wanted_order(response), rf_order=1)
        response = replace(respond(response.chains, response.occupants, shown), bfo_hz=response.bfo_hz)
    wanted = response.lines.is_wanted(response.chains)[response.graded.line]
    return response.take(np.flatnonzero(wanted))


def _wanted_order(response: Response) -> int:
    return int(np.abs(response.chains.wanted_steps[:, :, 0]).max())


def answer_of(
    command: str,
    receiver: Receiver,
    settings: Settings,
    responses: Sequence[Response],
    occupants: Occupants,
    *,
    one_station: bool = False,
) -> Answer:
    """Return the answer of a question with its table `intrusions`; more tables are the question's own.

    Parameters
    ----------
    command : str. Whose cautions stand there.
    responses : one a group of chains.
    one_station : bool. Whether the occupants are one station, and say nothing of what tables leave out.
    """
    shown = [intruding(response) for response in responses]
    listed = None if one_station else listed_share(occupants)
    region = settings.region if settings.region is not None else receiver.region
    return Answer(
        receiver=receiver.name,
        settings={
            **settings.plain(),
            **hour_settings(receiver, settings),
            "region": region,
            "listed_share": listed,
        },
        assumptions=tuple(
            assumptions_of(receiver, settings, [r.chains for r in responses], occupants, listed)
        ),
        cautions=cautions_of(command),
        tables={"intrusions": intrusion_table("intrusions", shown)},
    )
