"""The receiver file: read, written, begun, and its form for editors."""

from __future__ import annotations

from spurplan.receiver.file.reading import parse_receiver, read_front, read_receiver
from spurplan.receiver.file.schema import json_schema
from spurplan.receiver.file.starter import starter_text
from spurplan.receiver.file.writing import receiver_toml, write_receiver
from spurplan.receiver.sentence import receiver_text

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
