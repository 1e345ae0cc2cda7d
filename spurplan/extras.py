"""Packages that only some questions want: what to type where one is missing."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Sequence
from importlib import import_module

from spurplan.errors import Fault, Refused


def need(packages: Sequence[str], place: str, *, package: str = "", otherwise: str = "") -> None:
    """Refuse when a package of an extra is missing.

    Parameters
    ----------
    packages : all that the extra holds.
    place : what wants it: a file or an option.
    package : the one of them that is wanted now; the first without.
    otherwise : what can be done without it.

    Raises
    ------
    Refused  with the package and the command that installs all of the extra.
    """
    wanted = package or packages[0]
    try:
        import_module(wanted)
    except ImportError:
        # by the interpreter that runs, which is right for a clone and for an installed package
        remedy = f"install it with: {shlex.quote(sys.executable)} -m pip install {' '.join(packages)}"
        remedy += f"; or {otherwise}" if otherwise else ""
        raise Refused(Fault(place, f"needs {wanted}, which is not installed", remedy=remedy)) from None
