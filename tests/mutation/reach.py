"""Which tests can see a change: those that run through the statement it stands in."""

from __future__ import annotations

import ast
from collections.abc import Collection


class Reach:
    """The statements of a module, by line."""

    def __init__(self, text: str) -> None:
        # lines of the statement that each line belongs to; None where it runs when the module is imported
        self._lines: dict[int, range | None] = {}
        self._note(ast.parse(text).body, None)

    def meets(self, line: int, run: Collection[int]) -> bool:
        """Return whether what ran through some lines ran through a change on a line."""
        statement = self._lines.get(line)
        return statement is None or any(number in run for number in statement)

    def _note(self, body: list[ast.stmt], function: range | None) -> None:
        for statement in body:
            stop = (statement.end_lineno or statement.lineno) + 1
            whole = range(statement.lineno, stop)
            if isinstance(statement, ast.FunctionDef):
                # its defaults are read on import, and count in each call
                inside = range(statement.body[0].lineno, stop)
                if any(ast.unparse(one).startswith("cache") for one in statement.decorator_list):
                    # run through by the first test that asks, and by each by itself
                    self._lines.update(dict.fromkeys(whole))
                    continue
                self._lines.update(dict.fromkeys(whole, inside))
                self._note(statement.body, inside)
                continue
            blocks = [
                getattr(statement, name, []) for name in ("body", "orelse", "finalbody", "handlers", "cases")
            ]
            inner = [one for block in blocks for one in block]
            if isinstance(statement, ast.ClassDef):
                self._lines.update(dict.fromkeys(whole))
            elif inner:
                head = range(statement.lineno, max(inner[0].lineno, statement.lineno + 1))
                self._lines.update(dict.fromkeys(whole, head if function else None))
            else:
                self._lines.update(dict.fromkeys(whole, whole if function else None))
            for one in inner:
                if isinstance(one, ast.stmt):
                    self._note([one], function)
                else:
                    self._note(one.body, function)
