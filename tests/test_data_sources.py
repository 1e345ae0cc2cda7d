"""The small tables of the package: what their records say of them, and whom they name."""

from __future__ import annotations

import hashlib
import re
from importlib.resources import files
from pathlib import Path

import pytest

import spurplan
from spurplan.occupancy.shipped import parse_record
from spurplan.planning.if_change.usual import usual_ifs

DATA = files("spurplan") / "data"
BOATHOUSE = Path(__file__).parents[1] / "demos" / "boathouse" / "set.toml"
# ITU RR Art. 19: a prefix, a digit, one to four letters; two-letter prefixes are enough to find one
CALL_SIGN = re.compile(r"\b[A-Z]{1,2}[0-9][A-Z]{1,4}\b|\b[A-Z]{2}[0-9][A-Z]{2}\b")


def test_the_usual_ifs_are_what_their_record_says() -> None:
    """Row count, hash, and the rows of which some part is from memory."""
    data = (DATA / "usual_ifs.csv").read_bytes()
    record = parse_record("usual_ifs.source.toml", (DATA / "usual_ifs.source.toml").read_bytes())
    lines = data.decode().splitlines()
    assert record.rows == len(lines) - 1
    assert record.sha256 == hashlib.sha256(data).hexdigest()
    assert record.from_memory == tuple(
        number for number, line in enumerate(lines, 1) if "from memory" in line
    )


@pytest.mark.parametrize("name", sorted(entry.name for entry in DATA.iterdir()))
def test_no_table_names_a_private_station(name: str) -> None:
    """A person's call sign is theirs: tables say what kind of document a figure is from."""
    assert CALL_SIGN.findall((DATA / name).read_text("utf-8")) == []


def test_a_usual_if_names_the_kind_of_document_and_its_record_the_document() -> None:
    record = parse_record("usual_ifs.source.toml", (DATA / "usual_ifs.source.toml").read_bytes())
    authors = re.findall(r"Scroggie|Tooley|Rider|Uslan", record.document)
    assert len(authors) == 4
    for row in usual_ifs():
        assert not any(author in row.source for author in authors), row


def test_answers_name_no_private_station() -> None:
    """The filters of another IF come with where the IF was read: by kind, not by call sign."""
    answer = spurplan.if_change(BOATHOUSE, if_=["455 kHz"], range="4")
    sources = {row["source"] for row in answer.filters.records()}
    assert sources
    assert not any(CALL_SIGN.search(source) for source in sources)
