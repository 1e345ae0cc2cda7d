"""Values of the command line that need no reading.

typer makes a validator for every option there is, given or not, and loads a validation
library to make them. That takes longer than many a command; and nearly every value is left
out, or text, or says what it means in one way only.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum
from typing import Any

_UNREAD: Any = object()
_DIGITS = 9


class ReadsWhereNeeded:
    """Goes before typer's class of a command or group: there only values that need it are read by typer."""

    def get_params(self, ctx: Any) -> list[Any]:
        parameters: list[Any] = super().get_params(ctx)  # type: ignore[misc]
        for parameter in parameters:
            if "process_value" not in vars(parameter):
                parameter.process_value = _read_where_needed(parameter)
        return parameters


def _read_where_needed(parameter: Any) -> Callable[[Any, Any], Any]:
    read = parameter.process_value
    several = parameter.multiple or parameter.nargs == -1
    # typer before 0.29 has no such thing, nor any validators
    descriptor = getattr(parameter, "type_descriptor", None)

    def process_value(context: Any, value: Any) -> Any:
        if value is None and not parameter.required:
            plain = () if several else None
        else:
            plain = _UNREAD if descriptor is None else _plainly(descriptor, value)
        if plain is _UNREAD:
            return read(context, value)  # with its refusals, and its callback
        return plain if parameter.callback is None else parameter.callback(context, parameter, plain)

    return process_value


def _plainly(descriptor: Any, value: Any) -> Any:
    """Return what typer would make of a value; `_UNREAD` where that takes more than a look."""
    wanted = descriptor.annotation
    if wanted == list[str]:
        return list(value) if value else _UNREAD
    if isinstance(wanted, type) and isinstance(value, wanted):
        return value
    if isinstance(value, str) and isinstance(wanted, type) and issubclass(wanted, Enum):
        return next((choice for choice in wanted if choice.value == value), _UNREAD)
    digits = isinstance(value, str) and value.isascii() and value.isdigit() and len(value) <= _DIGITS
    if digits and wanted is int:
        number, limits = int(value), descriptor.parameter_info
        within = (limits.min is None or number >= limits.min) and (limits.max is None or number <= limits.max)
        return number if within else _UNREAD
    return _UNREAD
