"""Values that our command line takes without typer's validators are those typer would have made of them."""

from __future__ import annotations

import contextlib
import io
from enum import StrEnum
from typing import Annotated, Any

import pytest
import typer
from hypothesis import example, given
from hypothesis import strategies as st
from typer.core import TyperCommand

from spurplan.cli.plain_values import ReadsWhereNeeded


class Form(StrEnum):
    """Words of a choice."""

    text = "text"
    csv = "csv"


class Ours(ReadsWhereNeeded, TyperCommand):
    """A command that reads what needs reading."""


def _doubled(value: str | None) -> str | None:
    if value == "stop":
        raise typer.Exit(7)
    return value and value * 2


def command(
    words: Annotated[list[str], typer.Argument()],
    form: Annotated[Form, typer.Option("--form", case_sensitive=False)] = Form.text,
    grade: Annotated[Form | None, typer.Option("--grade", case_sensitive=False)] = None,
    name: Annotated[str | None, typer.Option("--name")] = None,
    level: Annotated[list[str] | None, typer.Option("--level")] = None,
    top: Annotated[int | None, typer.Option("--top", min=0)] = None,
    region: Annotated[int | None, typer.Option("--region", min=1, max=3)] = None,
    order: Annotated[int | None, typer.Option("--order", min=1)] = None,
    points: Annotated[int, typer.Option("--points")] = 5,
    all_: Annotated[bool, typer.Option("--all")] = False,
    doubled: Annotated[str | None, typer.Option("--doubled", callback=_doubled)] = None,
) -> None:
    """Take one of everything that our commands take."""
    raise Taken(locals())


class Taken(Exception):
    """What the function was called with."""


def outcome(cls: type[TyperCommand], words: list[str]) -> Any:
    """What a command line comes to: the values, or the exit status with what was said."""
    app = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
    app.command(cls=cls)(command)
    said = io.StringIO()
    with contextlib.redirect_stderr(said), contextlib.redirect_stdout(said):
        try:
            typer.main.get_command(app)(words, prog_name="c")
        except Taken as taken:
            (values,) = taken.args
            return [(name, type(value), value) for name, value in values.items()]
        except SystemExit as leaving:
            return leaving.code, said.getvalue()
    return None


OPTIONS = ["--form", "--grade", "--name", "--level", "--top", "--region", "--order", "--points", "--doubled"]
VALUES = [
    "text", "TEXT", "csv", "cs", "", " ", "x", "3", "0", "007", "+5", "-1", "4", "1 ", "1_0", "3.0", "\u00b2",
    "\u0663", "123456789", "12345678901234567890", "stop", "--", "--all", "\udcff",
]  # fmt: skip
lines = st.lists(
    st.one_of(
        st.tuples(st.sampled_from(OPTIONS), st.sampled_from(VALUES)).map(list),
        st.sampled_from(VALUES).map(lambda value: [value]),
        st.sampled_from(OPTIONS).map(lambda option: [option]),
        st.just(["--help"]),
    ),
    max_size=5,
).map(lambda parts: [word for part in parts for word in part])


@given(lines)
@example(["x"])
@example(["x", "--level", "a", "--level", "b", "y"])
@example(["x", "--top", "123456789", "--region", "3", "--points", "-1"])
@example(["x", "--region", "1", "--form", "csv", "--grade", "text"])
@example(["x", "--region", "0"])
@example(["x", "--order", "0"])
@example(["x", "--points", "9" * 5000])
@example(["x", "--region", "4"])
@example(["x", "--doubled", "a"])
def test_a_command_line_comes_to_what_typer_makes_of_it(words: list[str]) -> None:
    """The same values of the same types, or the same refusal."""
    assert outcome(Ours, words) == outcome(TyperCommand, words)


@pytest.mark.parametrize(
    ("words", "asked"),
    [
        (["x"], set()),
        (["x", "--form", "csv", "--grade", "text", "--name", "n", "--level", "l", "--top", "3"], set()),
        (["x", "--region", "3", "--points", "123456789", "--all", "--doubled", "a"], set()),
        (["x", "--region", "1", "--top", "0"], set()),
        (["x", "--form", "CSV"], {"form"}),
        (["x", "--points", "1234567890"], {"points"}),
        (["x", "--points", "-1"], {"points"}),
    ],
)
def test_typer_is_asked_about_nothing_but_what_needs_it(
    words: list[str], asked: set[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """That is what makes a start short."""
    if not hasattr(typer.core, "_TyperParameter"):
        pytest.skip("this typer makes no validators")
    found = set()
    made = typer.core._TyperParameter.get_runtime_param

    def noted(parameter: Any) -> Any:
        found.add(parameter.name)
        return made(parameter)

    monkeypatch.setattr(typer.core._TyperParameter, "get_runtime_param", noted)
    outcome(Ours, words)
    assert found == asked
