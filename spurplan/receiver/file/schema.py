"""JSON Schema of the receiver file, for editors that complete and check TOML."""

from __future__ import annotations

from typing import Any

from spurplan import schema
from spurplan.receiver.description import Receiver


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema of the receiver file; see `schema.json_schema`."""
    return schema.json_schema(Receiver, "Receiver file of spurplan")
