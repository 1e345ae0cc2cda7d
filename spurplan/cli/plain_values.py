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
        plain = bool(value) and all(isinstance(one, str) for one in value)
        return list(value) if plain else _UNREAD
    if not isinstance(wanted, type):
        return _UNREAD
    if isinstance(value, wanted):
        return value
    if not isinstance(value, str):
        return _UNREAD
    if issubclass(wanted, Enum):
        return next((choice for choice in wanted if choice.value == value), _UNREAD)
    if wanted is int and value.isascii() and value.isdigit() and len(value) <= _DIGITS:
        number = int(value)
        low, high = descriptor.parameter_info.min, descriptor.parameter_info.max
        return number if (low is None or number >= low) and (high is None or number <= high) else _UNREAD
    return _UNREAD
