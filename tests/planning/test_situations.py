"""Situations an old hand knows the answer to: what is recommended is that, or can not be told from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

import spurplan
from spurplan.occupancy.shipped import shipped_tables
from spurplan.planning.cures.cure_list import shipped_cures
from spurplan.planning.cures.findings import Findings
from spurplan.responses.listening import judged
from spurplan.responses.listening.presence import present

HERE = Path(__file__).parents[1]
FOLDER = HERE / "situations"
LEVELS_DB = (-3.0, 0.0, 3.0)
SEEDS = (5, 6, 7)


@dataclass(frozen=True)
class Situation:
    """A set, who is on the air for it, and what is wanted: names of cures, none where nothing is."""

    receiver: Path
    wanted: tuple[str, ...]
    table: str = ""
    louder: tuple[str, str] = ("", "")
    options: dict[str, Any] = field(default_factory=dict)


PRESELECTOR = "preselector of two circuits"
WITH_GAIN = ("valve preselector", "regenerative preselector")
BOATHOUSE = HERE.parent / "demos/boathouse/set.toml"
NEIGHBOUR = {"cover": "26MHz:26.5MHz"}
SITUATIONS = {
    "strong local on the IF": Situation(FOLDER / "local_if.toml", ("IF trap",), "local_if.csv"),
    "images on the top range": Situation(BOATHOUSE, (PRESELECTOR,), options={"range": "4"}),
    "weak aerial in a quiet place": Situation(
        FOLDER / "short_aerial.toml", ("aerial tuner",), options={"wanted": "-112 dBm"}
    ),
    "FM mast by three times the oscillator": Situation(FOLDER / "fm.toml", ("low-pass",), "fm.csv"),
    "nothing wrong on medium wave": Situation(BOATHOUSE, (), options={"range": "1"}),
    "nothing wrong in telegraphy": Situation(FOLDER / "nothing_wrong.toml", (), options={"mode": "cw"}),
    "nothing wrong with two conversions": Situation(FOLDER / "double_conversion.toml", ()),
    "medium-wave station on the IF": Situation(
        FOLDER / "mw_on_if.toml",
        ("IF trap", "medium-wave band-stop", "IF trap and medium-wave band-stop"),
        "mw_on_if.csv",
    ),
    "one circuit ahead of 455 kHz": Situation(
        FOLDER / "one_circuit.toml", (PRESELECTOR, "regenerative preselector")
    ),
    "deaf set in a quiet place": Situation(FOLDER / "deaf.toml", WITH_GAIN, options={"wanted": "-102 dBm"}),
    "neighbour on the citizens band": Situation(
        FOLDER / "cb_next_door.toml", (PRESELECTOR,), "cb_next_door.csv", options=NEIGHBOUR
    ),
    "loud neighbour on the citizens band": Situation(
        FOLDER / "cb_next_door.toml",
        ("another IF",),
        "cb_next_door.csv",
        ("-55 dBm", "-25 dBm"),
        NEIGHBOUR,
    ),
    "city noise over the wanted signal": Situation(FOLDER / "city.toml", (), options={"wanted": "-110 dBm"}),
}


def findings_of(one: Situation, folder: Path, seed: int = SEEDS[0]) -> Findings:
    """Return what is found of a situation."""
    bands: list[str] | None = None
    if one.table:
        text = (FOLDER / one.table).read_text("utf-8")
        own = folder / one.table
        own.write_text(text.replace(*one.louder) if one.louder[0] else text, encoding="utf-8")
        bands = [*(str(path) for path in shipped_tables().values()), str(own)]
    findings: Findings = spurplan.cures(one.receiver, bands=bands, seed=seed, **one.options).findings
    return findings


def names(tried: Sequence[Any]) -> list[str]:
    return [one.trial.cures[0].name for one in tried]


def hold(one: Situation, findings: Findings) -> None:
    """What is wanted is recommended, or can not be told from what is."""
    best = findings.recommended
    if not one.wanted:
        assert best is None, best
        return
    assert best is not None, findings.sentences
    assert set(one.wanted) & {*names([best]), *names(findings.alike)}, findings.sentences
    # what every old hand knows to be useless is never among them
    assert "10 dB pad" not in names([best, *findings.alike])


@pytest.mark.parametrize("name", SITUATIONS)
def test_what_an_old_hand_would_do_is_recommended(name: str, tmp_path: Path) -> None:
    """The answer wanted is the one recommended, or one that is named as not told from it."""
    hold(SITUATIONS[name], findings_of(SITUATIONS[name], tmp_path))


@pytest.mark.long
@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("louder_db", LEVELS_DB)
@pytest.mark.parametrize("name", SITUATIONS)
def test_the_answer_hangs_on_no_assumed_level_and_no_seed(
    name: str, louder_db: float, seed: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Everybody 3 dB louder or weaker, and other worlds, change nothing about it."""

    def shifted(*args: Any, **options: Any) -> Any:
        made = present(*args, **options)
        return made.replace(median_dbm=made.median_dbm + louder_db, most_dbm=made.most_dbm + louder_db)

    monkeypatch.setattr(judged, "present", shifted)
    hold(SITUATIONS[name], findings_of(SITUATIONS[name], tmp_path, seed))


def test_where_the_place_is_to_blame_it_says_so_and_offers_nothing(tmp_path: Path) -> None:
    """City noise over the wanted signal: the set is not to blame, and no cure stands on the page."""
    findings = findings_of(SITUATIONS["city noise over the wanted signal"], tmp_path)
    assert findings.place_to_blame
    assert findings.sentences[0].startswith("The place is to blame, not the set")
    assert findings.offered == ()
    assert not findings_of(SITUATIONS["deaf set in a quiet place"], tmp_path).place_to_blame


def test_a_station_that_stays_is_named_whatever_share_it_takes(tmp_path: Path) -> None:
    """A loud neighbour whom the preselector does not silence is named with the setting he is heard on."""
    findings = findings_of(SITUATIONS["loud neighbour on the citizens band"], tmp_path)
    best = findings.recommended
    assert best is not None
    # twice 465 kHz below 27.205 MHz
    assert any("CB next door is at 26.27" in text for text in best.outlook.regulars)
    assert "Still there: CB next door" in findings.sentences[0]
    quiet = findings_of(SITUATIONS["neighbour on the citizens band"], tmp_path).recommended
    assert quiet is not None
    assert quiet.outlook.regulars == ()


def test_two_stations_take_two_steps(tmp_path: Path) -> None:
    """A coast station on the IF and a mast by the oscillator's harmonics, each all over the dial."""
    made, own = tmp_path / "set.toml", tmp_path / "both.csv"
    text = (FOLDER / "fm.toml").read_text("utf-8")
    made.write_text(text.replace("1.65 MHz", "465 kHz"), encoding="utf-8")
    mast = ",87500,108000,broadcast,Mast,fm,-15 dBm\n"
    coast = "465,,,maritime,Coast station,am,-15 dBm\n"
    own.write_text(f"freq_khz,low_khz,high_khz,service,label,mode,level\n{mast}{coast}", encoding="utf-8")
    cures = tmp_path / "cures.toml"
    # no circuits and no other IF, which do both by themselves
    rest = [one.name for one in shipped_cures() if one.group or "tuner" in one.name or one.one_circuit_q]
    cures.write_text(
        "".join(f'[[cure]]\nname = "{name}"\neffort = 900\npad = "1 dB"\n' for name in rest),
        encoding="utf-8",
    )
    bands = [*(str(path) for path in shipped_tables().values()), str(own)]
    plan = spurplan.cures(made, bands=bands, cures=cures).findings.plan
    assert len(plan) >= 2
    parts = {name for cure in plan[-1].tried.trial.cures for name in cure.parts or (cure.name,)}
    assert {"IF trap", "low-pass"} <= parts
    shares = [plan[0].before.usable, *(step.tried.outlook.usable for step in plan)]
    assert shares[0] < 0.1
    assert shares[1] < 0.5
    assert shares[-1] > shares[1] + 0.2


def test_what_takes_more_than_one_step_is_a_plan(tmp_path: Path) -> None:
    """A trap against the coast station leaves what a second step takes: each is better than before."""
    plan = findings_of(SITUATIONS["strong local on the IF"], tmp_path).plan
    assert [step.tried.trial.cures[0].name for step in plan] == ["IF trap"] * len(plan)
    assert 2 <= len(plan) <= 3
    assert all(step.gain.beats and step.gain.gain >= 0.04 for step in plan)
    assert findings_of(SITUATIONS["nothing wrong in telegraphy"], tmp_path).plan == ()
