"""The typer application: commands by name, each loaded when it is asked for."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from itertools import groupby
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperCommand, TyperGroup

from spurplan.cli.commands import COMMANDS, function_of, module_of
from spurplan.cli.words import forgotten_value

if TYPE_CHECKING:
    # typer keeps the classes of its parser in different places from version to version
    Context = Any
    Formatter = Any
    Command = Any

HELP_NAMES = ["-h", "--help"]


class _Commands(TyperGroup):
    """A group that knows its commands by name and imports one when it runs."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(**settings)
        # the names alone: typer looks them through for "did you mean"
        names: Any = dict.fromkeys(COMMANDS)
        self.commands = names

    def list_commands(self, ctx: Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: Context, cmd_name: str) -> Command | None:
        return load(cmd_name) if cmd_name in COMMANDS else None

    def format_commands(self, ctx: Context, formatter: Formatter) -> None:
        for group, entries in groupby(COMMANDS.items(), key=lambda item: item[1].group):
            with formatter.section(group):
                formatter.write_dl([(name.ljust(12), entry.says) for name, entry in entries])


class _Command(TyperCommand):
    """One command, that takes no option for the value of the option before it."""

    def parse_args(self, ctx: Context, args: list[str]) -> list[str]:
        options = [one for one in self.get_params(ctx) if one.param_type_name == "option"]
        by_name = {name: one for one in options for name in (*one.opts, *one.secondary_opts)}
        takes_value = {name: not getattr(one, "is_flag", False) for name, one in by_name.items()}
        forgotten = forgotten_value(args, takes_value)
        if forgotten is not None:
            option, following = forgotten
            raise typer.BadParameter(
                f"its value is missing: what follows, {following}, is an option itself "
                f"(a value of that name is given as {max(by_name[option].opts, key=len)}={following})",
                ctx=ctx,
                param_hint=option,
            )
        return super().parse_args(ctx, args)


def build() -> Callable[..., Any]:
    """Return the whole command line as something to call with the words."""
    app = typer.Typer(
        cls=_Commands,
        add_completion=True,
        # plain help: half the time to start, and readable in every terminal
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        no_args_is_help=True,
        context_settings={"help_option_names": HELP_NAMES},
    )
    app.callback()(_root)
    return typer.main.get_command(app)


def load(name: str) -> Any:
    """Return one command, importing its module."""
    alone = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
    function = getattr(import_module(module_of(name)), function_of(name))
    alone.command(name, cls=_Command, context_settings={"help_option_names": HELP_NAMES})(function)
    return typer.main.get_command(alone)


def _print_version(wanted: bool) -> None:
    if wanted:
        from spurplan import __version__

        typer.echo(f"spurplan {__version__}")
        raise typer.Exit


def _root(
    version: Annotated[
        bool,
        typer.Option("--version", help="Print the version and stop.", is_eager=True, callback=_print_version),
    ] = False,
) -> None:
    """Tell which stations a superheterodyne receiver hears where they are not.

    Works from a description of the receiver and tables of who transmits where.
    Each command has its own help: spurplan dial --help.
    """
