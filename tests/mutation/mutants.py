"""The small changes: where in a module's text, and what stands there instead.

Left alone: docstrings, messages and all other text but the sides of a search, annotations,
decorators, and the `strict` of a zip, which states what the tests never break.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
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
    ("low", "high"), ("before", "after"), ("now", "was"), ("usable_low", "usable_high"),
    ("better_in", "worse_in"),
)  # fmt: skip
_ALWAYS = {"min", "max", "any", "all"}
_SWAPPED = {a: b for one, other in _OPPOSITES for a, b in ((one, other), (other, one))}
# what is said to people, or holds only what the tests never break
_NOT_HANDED_ON = ("strict", "repr", "remedy", "example", "help", "metavar", "param_hint", "file", "err")
# what is returned in place of a result, by the kind that is annotated
_NOTHING = {
    "bool": "False",
    "str": '""',
    "int": "0",
    "float": "0.0",
    "list": "[]",
    "tuple": "()",
    "dict": "{}",
}


@dataclass(frozen=True)
class Mutant:
    """One change of a module's text.

    Attributes
    ----------
    function : name of the function or class it stands in, "" at the top of the module.
    line : number of the line.
    change : the line with the change in it, ``low [<= -> <] high``: what an explanation names.
    """

    function: str
    line: int
    change: str
    source: bytes = field(repr=False)
    where: _Span
    new: str

    @property
    def key(self) -> tuple[str, str]:
        """What an explanation names it by."""
        return self.function, self.change

    @cached_property
    def text(self) -> str:
        """The whole module, changed."""
        start, stop = self.where
        return (self.source[:start] + self.new.encode() + self.source[stop:]).decode()

    @property
    def compiles(self) -> bool:
        """Whether the changed module is still Python."""
        try:
            compile(self.text, "mutant", "exec")
        except (SyntaxError, SyntaxWarning):
            return False
        return True


class _Source:
    """A module's text, addressed as its syntax tree does: line, and bytes into it."""

    def __init__(self, text: str) -> None:
        self.bytes = text.encode()
        self.tree = ast.parse(text)
        # those of numpy and Python are known anywhere
        self.names = {node.id for node in ast.walk(self.tree) if isinstance(node, ast.Name)} | _ALWAYS
        lengths = [len(line) for line in self.bytes.splitlines(keepends=True)]
        self.starts = [sum(lengths[:n]) for n in range(len(lengths) + 1)]

    def span(self, node: ast.AST) -> _Span:
        assert isinstance(node, ast.expr | ast.stmt | ast.arg | ast.keyword)
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        start = self.starts[node.lineno - 1] + node.col_offset
        return start, self.starts[node.end_lineno - 1] + node.end_col_offset

    def between(self, first: ast.AST, second: ast.AST, word: str) -> _Span:
        """Return where an operator stands between its two operands."""
        start, stop = self.span(first)[1], self.span(second)[0]
        at = self.bytes.index(word.encode(), start, stop)
        return at, at + len(word)

    def with_comma(self, node: ast.AST, before: ast.AST | None) -> _Span:
        """Return where one of several stands, with the comma that parts it from the one before or after."""
        start, stop = self.span(node)
        if before is not None:
            return self.span(before)[1], stop
        comma = self.bytes.find(b",", stop)
        return start, comma + 1 if not self.bytes[stop:comma].strip() and comma >= 0 else stop

    def changed(self, function: str, where: _Span, new: str) -> Mutant:
        start, stop = where
        head, old, tail = self.bytes[:start], self.bytes[start:stop], self.bytes[stop:]
        before, after = head[head.rfind(b"\n") + 1 :], tail[: tail.find(b"\n")]
        change = f"{before.decode()}[{old.decode()} -> {new}]{after.decode()}"
        line = head.count(b"\n") + 1
        return Mutant(function, line, " ".join(change.split()), self.bytes, where, new)


def mutants_of(text: str) -> list[Mutant]:
    """Return every change of a module's text, in the order of the text; some are no Python any more."""
    source = _Source(text)
    found = [source.changed(name, where, new) for name, where, new in _changes(source, source.tree, "")]
    return sorted(found, key=lambda mutant: mutant.line)


def _changes(source: _Source, node: ast.AST, name: str) -> Iterator[tuple[str, _Span, str]]:
    for where, new in _changes_here(source, node):
        yield name, where, new
    for where, new in _not_handed_on(source, node):
        yield name, where, new
    inside = name
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        inside = f"{name}.{node.name}" if name else node.name
    if isinstance(node, ast.FunctionDef):
        for where, new in _statements_dropped(source, node):
            yield inside, where, new
        for where, new in _nothing_returned(source, node):
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
    """Whether a statement only names a type, or what others may import."""
    if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__":
        return True
    if isinstance(node, ast.Subscript) and ast.unparse(node.value) == "Literal":
        return True
    # what a column is stands in the list of fields, word by word
    if isinstance(node, ast.Call) and ast.unparse(node.func) == "Column":
        return True
    return isinstance(node, ast.Assign) and "npt." in ast.unparse(node.value).split("[")[0] + "["


def _changes_here(source: _Source, node: ast.AST) -> Iterator[_Change]:
    match node:
        case ast.Compare(left=left, ops=ops, comparators=others):
            for op, (first, second) in zip(ops, pairwise([left, *others]), strict=True):
                yield from _operators(source, op, first, second)
        case ast.BoolOp(op=op, values=values):
            for first, second in pairwise(values):
                yield from _operators(source, op, first, second)
            yield from _left_out(source, values)
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
        case ast.comprehension(ifs=tests):
            yield from ((source.span(test), "True") for test in tests)
        case ast.Constant(value=value):
            yield from ((source.span(node), new) for new in _other_values(value))
        case ast.Name(id=word) if _SWAPPED.get(word) in source.names:
            yield source.span(node), _SWAPPED[word]
        case ast.Attribute(attr=word) if word in _SWAPPED:
            stop = source.span(node)[1]
            yield (stop - len(word), stop), _SWAPPED[word]
        case ast.Slice(lower=lower, upper=upper):
            yield from ((source.span(end), "") for end in (lower, upper) if end is not None)
        case ast.Call(func=ast.Attribute(attr="where"), args=[_, one, other]):
            both = source.span(one)[0], source.span(other)[1]
            yield both, f"{ast.unparse(other)}, {ast.unparse(one)}"
        case ast.JoinedStr(values=parts):
            yield from _figures(source, [part for part in parts if isinstance(part, ast.FormattedValue)])
        case ast.Tuple(elts=elements, ctx=ast.Load()) | ast.List(elts=elements, ctx=ast.Load()):
            if len(elements) > 1 and all(_is_one_of_many(element) for element in elements):
                yield from _without_each(source, elements)


def _without_each(source: _Source, elements: list[ast.expr]) -> Iterator[_Change]:
    for number, element in enumerate(elements):
        yield source.with_comma(element, elements[number - 1] if number else None), ""


def _is_one_of_many(node: ast.AST) -> bool:
    """Whether an element may stand in a list of any length: what is spread out, and text."""
    return isinstance(node, ast.Starred) or (isinstance(node, ast.Constant) and isinstance(node.value, str))


def _figures(source: _Source, parts: list[ast.FormattedValue]) -> Iterator[_Change]:
    """Yield a sentence with two of its figures in each other's place, and with other digits of one."""
    text = source.bytes
    spans = [source.span(part.value) for part in parts]
    for (start, stop), (next_start, next_stop) in pairwise(spans):
        first, second = text[start:stop], text[next_start:next_stop]
        if first != second:
            swapped = second + text[stop:next_start] + first
            yield (start, next_stop), swapped.decode()
    for _, stop in spans:
        digits = re.match(rb":(,?)\.(\d)f\}", text[stop : stop + 8])
        if digits:
            other = b"1" if digits[2] == b"0" else b"0"
            yield (stop + digits.start(2), stop + digits.end(2)), other.decode()


def _operators(source: _Source, op: ast.AST, first: ast.AST, second: ast.AST) -> Iterator[_Change]:
    word, others = _OPERATORS[type(op)]
    for other in others:
        yield source.between(first, second, word), other


def _left_out(source: _Source, values: list[ast.expr]) -> Iterator[_Change]:
    """Yield a condition without each of its parts."""
    whole = source.span(values[0])[0], source.span(values[-1])[1]
    text = source.bytes
    for first, second in pairwise(values):
        if first is values[0]:
            yield (source.span(first)[0], source.span(second)[0]), ""
        yield (source.span(first)[1], _closed(text, source.span(second)[1], whole[1])), ""


def _closed(text: bytes, stop: int, end: int) -> int:
    """Return where a part in brackets of its own ends."""
    while stop < end and text[stop : stop + 1] == b")":
        stop += 1
    return stop


def _not_handed_on(source: _Source, node: ast.AST) -> Iterator[_Change]:
    """Yield a call without one of the arguments that it hands on, and what is sorted the other way round."""
    if not isinstance(node, ast.Call):
        return
    ordered = sorted([*node.args, *node.keywords], key=source.span)
    for number, given in enumerate(ordered):
        if isinstance(given, ast.keyword) and given.arg is not None and given.arg not in _NOT_HANDED_ON:
            yield source.with_comma(given, ordered[number - 1] if number else None), ""
    if (
        len(node.args) > 1
        and not node.keywords
        and isinstance(node.args[-1], ast.Name | ast.Attribute)
        and isinstance(node.func, ast.Name)
        and node.func.id not in ("isinstance", "min", "max", "zip", "replace", "getattr", "range")
        and not node.func.id[0].isupper()
    ):
        yield source.with_comma(node.args[-1], node.args[-2]), ""
    match node.func:
        case ast.Name(id="sorted") | ast.Attribute(attr="sort"):
            if not any(keyword.arg == "reverse" for keyword in node.keywords):
                stop = source.span(node)[1]
                yield (stop - 1, stop), (", " if ordered else "") + "reverse=True)"


def _other_values(value: object) -> list[str]:
    if isinstance(value, bool):
        return [str(not value)]
    if isinstance(value, int):
        return [str(value + 1), *([str(value - 1)] if value > 1 else [])]
    if isinstance(value, float):
        return [repr(value * 1.5), repr(value * 0.5)] if value else ["1.0"]
    if isinstance(value, str) and value in _SWAPPED:
        return [f'"{_SWAPPED[value]}"']
    return []


def _nothing_returned(source: _Source, owner: ast.FunctionDef) -> Iterator[_Change]:
    """Yield the last result of a function as nothing of its kind: a figure of 0, an empty list, None."""
    last = owner.body[-1]
    if not (isinstance(last, ast.Return) and last.value is not None and owner.returns is not None):
        return
    kind = ast.unparse(owner.returns)
    nothing = "None" if "None" in kind.split(" | ") else _NOTHING.get(kind.split("[")[0])
    if nothing is not None and ast.unparse(last.value) != nothing:
        yield source.span(last.value), nothing


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
