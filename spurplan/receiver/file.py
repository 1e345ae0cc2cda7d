"""The receiver file: read, written, begun, and its form for editors."""

from __future__ import annotations

from spurplan.receiver.reading import parse_receiver, read_front, read_receiver
from spurplan.receiver.schema import json_schema
from spurplan.receiver.sentence import receiver_text
from spurplan.receiver.starter import starter_text
from spurplan.receiver.writing import receiver_toml, write_receiver

__all__ = [
    "json_schema",
    "parse_receiver",
    "read_front",
    "read_receiver",
    "receiver_text",
    "receiver_toml",
    "starter_text",
    "write_receiver",
]
