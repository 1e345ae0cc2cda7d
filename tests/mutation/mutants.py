"""The small changes: where in a module's text, and what stands there instead.

Left alone: docstrings, messages and all other text but the sides of a search, annotations,
decorators, and the `strict` of a zip, which states what the tests never break.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

_Span = tuple[int, int]  # bytes of the text
_Change = tuple[_Span, str]

_OPERATORS: dict[type[ast.AST], tuple[str, tuple[str, ...]]] = {
    ast.Lt: ("<", ("<=", ">=")),
    ast.LtE: ("<=", ("<", ">")),
    ast.Gt: (">", (">=", "<=")),
    ast.GtE: (">=", (">", "<")),
    ast.Eq: ("==", ("!=",)),
    ast.NotEq: ("!=", ("==",)),
    ast.Is: ("is", ("is not",)),
    ast.IsNot: ("is not", ("is",)),
    ast.In: ("in", ("not in",)),
    ast.NotIn: ("not in", ("in",)),
    ast.And: ("and", ("or",)),
    ast.Or: ("or", ("and",)),
    ast.Add: ("+", ("-",)),
    ast.Sub: ("-", ("+",)),
    ast.Mult: ("*", ("/",)),
    ast.Div: ("/", ("*",)),
    ast.FloorDiv: ("//", ("*",)),
    ast.Mod: ("%", ("*",)),
    ast.Pow: ("**", ("*",)),
    ast.BitAnd: ("&", ("|",)),
    ast.BitOr: ("|", ("&",)),
    ast.LShift: ("<<", (">>",)),
    ast.RShift: (">>", ("<<",)),
}
_SIGNS: dict[type[ast.unaryop], str] = {ast.Not: "not ", ast.USub: "-", ast.Invert: "~"}
_OPPOSITES = (
    ("min", "max"), ("minimum", "maximum"), ("argmin", "argmax"), ("floor", "ceil"), ("any", "all"),
    ("zeros", "ones"), ("left", "right"), ("low_hz", "high_hz"), ("dial_low_hz", "dial_high_hz"),
)  # fmt: skip
_SWAPPED = {a: b for one, other in _OPPOSITES for a, b in ((one, other), (other, one))}


@dataclass(frozen=True)
class Mutant:
    """One change of a module's text.

    Attributes
    ----------
    function : name of the function or class it stands in, "" at the top of the module.
    line : number of the line.
    change : the line with the change in it, ``low [<= -> <] high``: what an explanation names.
    text : the whole module, changed.
    """

    function: str
    line: int
    change: str
    text: str

    @property
    def key(self) -> tuple[str, str]:
        """What an explanation names it by."""
        return self.function, self.change


class _Source:
    """A module's text, addressed as its syntax tree does: line, and bytes into it."""

    def __init__(self, text: str) -> None:
        self.bytes = text.encode()
        lengths = [len(line) for line in self.bytes.splitlines(keepends=True)]
        self.starts = [sum(lengths[:n]) for n in range(len(lengths) + 1)]

    def span(self, node: ast.AST) -> _Span:
        assert isinstance(node, ast.expr | ast.stmt | ast.arg)
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        start = self.starts[node.lineno - 1] + node.col_offset
        return start, self.starts[node.end_lineno - 1] + node.end_col_offset

    def between(self, first: ast.AST, second: ast.AST, word: str) -> _Span:
        """Return where an operator stands between its two operands."""
        start, stop = self.span(first)[1], self.span(second)[0]
        at = self.bytes.index(word.encode(), start, stop)
        return at, at + len(word)

    def changed(self, function: str, where: _Span, new: str) -> Mutant:
        start, stop = where
        head, old, tail = self.bytes[:start], self.bytes[start:stop], self.bytes[stop:]
        before, after = head[head.rfind(b"\n") + 1 :], tail[: tail.find(b"\n")]
        change = f"{before.decode()}[{old.decode()} -> {new}]{after.decode()}"
        text = (head + new.encode() + tail).decode()
        return Mutant(function, head.count(b"\n") + 1, " ".join(change.split()), text)


def mutants_of(text: str) -> list[Mutant]:
    """Return every change of a module's text that is still Python, in the order of the text."""
    source = _Source(text)
    found = [source.changed(name, where, new) for name, where, new in _changes(source, ast.parse(text), "")]
    return sorted((mutant for mutant in found if _compiles(mutant.text)), key=lambda mutant: mutant.line)


def _compiles(text: str) -> bool:
    try:
        compile(text, "mutant", "exec")
    except (SyntaxError, SyntaxWarning):
        return False
    return True


def _changes(source: _Source, node: ast.AST, name: str) -> Iterator[tuple[str, _Span, str]]:
    for where, new in _changes_here(source, node):
        yield name, where, new
    inside = name
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        inside = f"{name}.{node.name}" if name else node.name
    if isinstance(node, ast.FunctionDef):
        for where, new in _statements_dropped(source, node):
            yield inside, where, new
    for child in _worth_changing(node):
        yield from _changes(source, child, inside)


def _worth_changing(node: ast.AST) -> Iterator[ast.AST]:
    """Yield the children of a node that are neither annotations, decorators nor text."""
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "format_spec"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.keyword) and child.arg in ("strict", "repr"):
                continue
            if isinstance(child, ast.AST) and not _is_alias(child):
                yield child


def _is_alias(node: ast.AST) -> bool:
    """Whether a statement only names a type."""
    return isinstance(node, ast.Assign) and "npt." in ast.unparse(node.value).split("[")[0] + "["


def _changes_here(source: _Source, node: ast.AST) -> Iterator[_Change]:
    match node:
        case ast.Compare(left=left, ops=ops, comparators=others):
            for op, (first, second) in zip(ops, pairwise([left, *others]), strict=True):
                yield from _operators(source, op, first, second)
        case ast.BoolOp(op=op, values=values):
            for first, second in pairwise(values):
                yield from _operators(source, op, first, second)
        case ast.BinOp(left=left, op=op, right=right) if not isinstance(left, ast.JoinedStr):
            yield from _operators(source, op, left, right)
        case ast.AugAssign(target=target, op=op, value=value):
            yield from _operators(source, op, target, value)
        case ast.UnaryOp(op=op) if type(op) in _SIGNS:
            start, _ = source.span(node)
            yield (start, start + len(_SIGNS[type(op)])), ""
        case ast.If(test=test) | ast.IfExp(test=test) | ast.While(test=test):
            if not isinstance(test, ast.Compare | ast.BoolOp | ast.UnaryOp):
                yield source.span(test), f"(not {ast.unparse(test)})"
        case ast.Constant(value=value):
            yield from ((source.span(node), new) for new in _other_values(value))
        case ast.Name(id=word) if word in _SWAPPED:
            yield source.span(node), _SWAPPED[word]
        case ast.Attribute(attr=word) if word in _SWAPPED:
            stop = source.span(node)[1]
            yield (stop - len(word), stop), _SWAPPED[word]
        case ast.Slice(lower=lower, upper=upper):
            yield from ((source.span(end), "") for end in (lower, upper) if end is not None)
        case ast.Call(func=ast.Attribute(attr="where"), args=[_, one, other]):
            both = source.span(one)[0], source.span(other)[1]
            yield both, f"{ast.unparse(other)}, {ast.unparse(one)}"


def _operators(source: _Source, op: ast.AST, first: ast.AST, second: ast.AST) -> Iterator[_Change]:
    word, others = _OPERATORS[type(op)]
    for other in others:
        yield source.between(first, second, word), other


def _other_values(value: object) -> list[str]:
    if isinstance(value, bool):
        return [str(not value)]
    if isinstance(value, int):
        return [str(value + 1)]
    if isinstance(value, float):
        return [repr(value * 1.5 if value else 1.0)]
    if isinstance(value, str) and value in _SWAPPED:
        return [f'"{_SWAPPED[value]}"']
    return []


def _statements_dropped(source: _Source, owner: ast.FunctionDef) -> Iterator[_Change]:
    """Yield the statements without which a function still runs: what is done, not what is named first."""
    arguments = owner.args
    named = {a.arg for a in (*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs)}
    for statement in _statements(owner.body):
        match statement:
            case ast.Expr(value=ast.Call() | ast.Yield()) | ast.AugAssign() | ast.Raise():
                yield source.span(statement), "pass"
            case ast.Return() if statement is not owner.body[-1]:
                yield source.span(statement), "pass"
            case ast.Assign():
                names = {
                    inner.id
                    for inner in ast.walk(statement)
                    if isinstance(inner, ast.Name) and isinstance(inner.ctx, ast.Store)
                }
                if names <= named:
                    yield source.span(statement), "pass"
                named |= names


def _statements(body: list[ast.stmt]) -> Iterator[ast.stmt]:
    for statement in body:
        yield statement
        if not isinstance(statement, ast.FunctionDef | ast.ClassDef):
            for name in ("body", "orelse", "handlers", "finalbody"):
                for inner in getattr(statement, name, []):
                    yield from _statements(inner.body if isinstance(inner, ast.ExceptHandler) else [inner])
