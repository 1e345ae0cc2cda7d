"""The demonstrations do what their pages say, and every folder has its parts."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import pytest

from tests import demos


@pytest.mark.parametrize("path", demos.shown(), ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_output_is_what_the_command_prints(path: Path) -> None:
    """A file of a demonstration is its command and exactly what that prints."""
    command = demos.command_of(path)
    printed = demos.output_of(command, path.parent)
    assert f"$ {command}\n{printed}" == path.read_text(encoding="utf-8")


@pytest.mark.parametrize("path", demos.pictures(), ids=lambda path: path.parent.name)
def test_chart_says_what_the_set_hears(path: Path) -> None:
    """It holds the words of the chart as it would be drawn now; python -m tests.demos renews it."""
    tree = ElementTree.parse(path)
    texts = ["".join(text.itertext()).strip() for text in tree.iter("{http://www.w3.org/2000/svg}text")]
    assert sorted(texts) == sorted(word.text.strip() for word in demos.sheet_of(path).words())


@pytest.mark.parametrize(
    "folder", sorted(p for p in demos.DEMOS.iterdir() if p.is_dir()), ids=lambda p: p.name
)
def test_every_demonstration_has_a_page_a_set_and_a_command(folder: Path) -> None:
    """A folder tells its story, holds a receiver file and shows at least one command."""
    assert (folder / "README.md").is_file()
    assert (folder / "set.toml").is_file()
    assert list(folder.glob("*.txt"))
