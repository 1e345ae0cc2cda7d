"""The typer application: commands by name, each loaded when it is asked for."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from inspect import cleandoc
from itertools import groupby
from textwrap import wrap
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperCommand, TyperGroup

from spurplan.cli.commands import COMMANDS, function_of, module_of
from spurplan.cli.options import HEADINGS
from spurplan.cli.words import forgotten_value, unknown_option
from spurplan.errors import shortened

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


class _OfAnother(typer.BadParameter):
    """An option that another command has; said as it stands."""

    def format_message(self) -> str:
        return self.message


class _Command(TyperCommand):
    """One command, that takes no option for the value of the option before it."""

    def parse_args(self, ctx: Context, args: list[str]) -> list[str]:
        options = [param for param in self.get_params(ctx) if param.param_type_name == "option"]
        by_name = {name: param for param in options for name in (*param.opts, *param.secondary_opts)}
        takes_value = {name: not getattr(param, "is_flag", False) for name, param in by_name.items()}
        forgotten = forgotten_value(args, takes_value)
        if forgotten is not None:
            option, following = forgotten
            raise typer.BadParameter(
                f"its value is missing: what follows, {following}, is an option itself "
                f"(a value of that name is given as {max(by_name[option].opts, key=len)}={following})",
                ctx=ctx,
                param_hint=option,
            )
        name = unknown_option(args, takes_value)
        owners = [] if name is None else _commands_with(name)
        if owners:
            from spurplan.units import listed_text

            have = "has" if len(owners) == 1 else "have"
            raise _OfAnother(f"No such option: {name}; {listed_text(owners)} {have} it", ctx=ctx)
        try:
            return super().parse_args(ctx, args)
        except typer.BadParameter as bad:
            # the validators behind typer say it in the words of their own trade
            errors: Any = getattr(bad.__cause__, "errors", None)
            error = {} if errors is None else errors()[0]
            if not str(error.get("type")).startswith("int_"):
                raise
            rule = f'"{shortened(str(error["input"]))}" is no whole number; write it in digits, as 30'
            raise typer.BadParameter(rule, ctx=ctx, param=bad.param) from None

    def collect_usage_pieces(self, ctx: Context) -> list[str]:
        """Return the arguments as people write them, then that there are options."""
        arguments = [param for param in self.get_params(ctx) if param.param_type_name == "argument"]
        names = [argument.metavar or str(argument.name).upper() for argument in arguments]
        return [
            *(n if argument.required else f"[{n}]" for n, argument in zip(names, arguments, strict=True)),
            "[OPTIONS]",
        ]

    def format_help(self, ctx: Context, formatter: Formatter) -> None:
        """Write what it answers, examples, its own options, then the shared ones under their headings."""
        params = self.get_params(ctx)
        shared = {name for names in HEADINGS.values() for name in names}
        own = [param for param in params if param.name not in shared and param.name != "help"]
        self.format_usage(ctx, formatter)
        formatter.write("\n")
        with formatter.indentation():
            for paragraph in cleandoc(self.help or "").split("\n\n"):
                formatter.write_text(" ".join(paragraph.split()))
        with formatter.section("Examples"):
            for example in COMMANDS[str(ctx.info_name)].examples:
                formatter.write(f"  spurplan {ctx.info_name} {example}\n")
        described: dict[str, list[Any]] = {"": own}
        for heading, names in HEADINGS.items():
            described[heading] = [param for name in names for param in params if param.name == name]
        for heading, some in described.items():
            if some:
                formatter.write(f"{heading[:1].upper()}{heading[1:]}:\n" if heading else "\n")
                formatter.write("".join(_line_of(param, formatter.width + _MARGIN) for param in some))
        formatter.write(f"{'  -h, --help':{_OPTION_WIDTH}}Show this message and exit.\n")


def _commands_with(option: str) -> list[str]:
    """Return the commands that take an option."""
    every = ((name, param) for name in COMMANDS for param in load(name).params)
    return list(
        dict.fromkeys(name for name, param in every if option in (*param.opts, *param.secondary_opts))
    )


# what an option is called stands in so many columns, what it does behind them
_OPTION_WIDTH = 25
# what typer leaves free of the page
_MARGIN = 2


def _line_of(param: Any, width: int) -> str:
    """Return an argument or an option in help: its names and what follows them, then what it does."""
    metavar = param.metavar or ""
    if param.param_type_name == "argument":
        named = metavar or str(param.name).upper()
    else:
        names = "/".join(sorted(param.opts, key=len)[:1] + list(param.secondary_opts))
        if len(param.opts) > 1:
            names = ", ".join(sorted(param.opts, key=len))
        named = f"{names} {metavar}".rstrip()
    lines = wrap(param.help or "", width - _OPTION_WIDTH)
    first = f"  {named}"
    if len(first) >= _OPTION_WIDTH:
        return "".join(f"{line}\n" for line in (first, *(" " * _OPTION_WIDTH + line for line in lines)))
    padded = [f"{first:{_OPTION_WIDTH}}{lines[0]}", *(" " * _OPTION_WIDTH + line for line in lines[1:])]
    return "".join(f"{line}\n" for line in padded)


def build() -> Callable[..., Any]:
    """Return the whole command line as something to call with the words."""
    app = typer.Typer(
        cls=_Commands,
        add_completion=True,
        # plain help: half the time to start, and readable in every terminal
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
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

    It works from a description of the receiver and tables of who transmits where. To begin:

    \b
      spurplan receiver --ask --output set.toml     describe your own set
      spurplan ranges set.toml                      what intrudes across it
      spurplan dial set.toml 14.2 MHz               and at one dial setting

    Each command has examples in its own help: spurplan dial --help.
    """
