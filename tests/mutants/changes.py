"""Small wrong changes of a module: a sign, a divisor, a bound, a comparison, a column; each as a patch of its text."""

from __future__ import annotations

import ast
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

_ARITHMETIC = {ast.Add: ("+", "-"), ast.Sub: ("-", "+"), ast.Mult: ("*", "/"), ast.Div: ("/", "*")}
_COMPARED = {
    ast.Lt: ("<", "<="), ast.LtE: ("<=", "<"), ast.Gt: (">", ">="), ast.GtE: (">=", ">"),
    ast.Eq: ("==", "!="), ast.NotEq: ("!=", "=="),
}  # fmt: skip
_NAMES = {
    "min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "argmin": "argmax", "argmax": "argmin",
    "any": "all", "all": "any", "nanmin": "nanmax", "nanmax": "nanmin", "floor": "ceil", "ceil": "floor",
    "cumsum": "cumprod", "isf": "ppf", "ppf": "isf", "sf": "cdf", "cdf": "sf", "notna": "isna", "isna": "notna",
    "first": "last", "last": "first", "sum": "mean", "mean": "sum",
}  # fmt: skip
_COLUMNS = {"low": "high", "high": "low", "se": "df", "df": "se", "p": "p_adjusted", "p_adjusted": "p",
            "lot": "taster", "taster": "lot", "lot_a": "lot_b", "lot_b": "lot_a", "icc_single": "icc_mean",
            "icc_mean": "icc_single", "difference": "distance", "session": "descriptor", "mean": "median"}  # fmt: skip


@dataclass(frozen=True)
class Place:
    """Lines of a change's statement; where that runs on import, the lines that use the name it gives."""

    line: int
    lines: tuple[int, ...]
    on_import: bool
    users: tuple[int, ...]


@dataclass(frozen=True)
class Change:
    """One wrong change: where, and the text that takes the place of what stood from `start` to `stop`."""

    path: Path
    start: int
    stop: int
    new: str
    old: str
    row: str
    place: Place

    @property
    def key(self) -> str:
        """What tells it from every other change, whatever line it has moved to."""
        return f"{self.path.as_posix()}: {self.row} [{self.old} -> {self.new}]"

    def applied(self, text: str) -> str:
        """The module with this change made."""
        return text[: self.start] + self.new + text[self.stop :]


def changes(path: Path) -> list[Change]:
    """Every wrong change of one module, in the order of its text."""
    text = path.read_text()
    rows = text.splitlines(keepends=True)
    begins = [0]
    for row in rows:
        begins.append(begins[-1] + len(row))

    def offset(line: int, column: int) -> int:  # ast counts bytes, text counts letters
        return begins[line - 1] + len(rows[line - 1].encode()[:column].decode())

    tree = ast.parse(text)
    found = []
    for start_at, stop_at, line, new in _patches(tree, text, offset):
        row = rows[line - 1].strip()
        found.append(Change(path, start_at, stop_at, new, text[start_at:stop_at], row, _place(tree, line)))
    return sorted(set(found), key=lambda change: (change.start, change.new))


def _place(tree: ast.Module, line: int) -> Place:
    holders = [n for n in ast.walk(tree) if isinstance(n, ast.stmt) and n.lineno <= line <= (n.end_lineno or 0)]
    inside = [n for n in holders if isinstance(n, ast.FunctionDef) and n.body[0].lineno <= line]
    last = max(holders, key=lambda n: (n.lineno, -(n.end_lineno or 0)))
    stop = last.body[0].lineno - 1 if hasattr(last, "body") else last.end_lineno
    lines = tuple(range(last.lineno, max(stop, line) + 1))
    if inside:
        return Place(line, lines, on_import=False, users=())
    if isinstance(last, ast.FunctionDef):
        return Place(line, lines, on_import=True, users=tuple(range(last.body[0].lineno, last.end_lineno + 1)))
    names = {n.id for n in ast.walk(last) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store)}
    users = {n.lineno for n in ast.walk(tree) if isinstance(n, ast.Name) and n.id in names and n.lineno not in lines}
    return Place(line, lines, on_import=True, users=tuple(sorted(users)))


def _patches(tree: ast.AST, text: str, offset) -> Iterator[tuple[int, int, int, str]]:
    for node in _code(tree):
        where = getattr(node, "lineno", 0)
        if isinstance(node, ast.BinOp) and type(node.op) in _ARITHMETIC:
            old, new = _ARITHMETIC[type(node.op)]
            yield from _between(text, offset, node.left, node.right, old, new)
        elif isinstance(node, ast.Compare) and len(node.ops) == 1 and type(node.ops[0]) in _COMPARED:
            old, new = _COMPARED[type(node.ops[0])]
            yield from _between(text, offset, node.left, node.comparators[0], old, new)
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.Not | ast.Invert):
            yield offset(where, node.col_offset), offset(node.operand.lineno, node.operand.col_offset), where, ""
        elif isinstance(node, ast.BoolOp):
            old, new = ("and", "or") if isinstance(node.op, ast.And) else ("or", "and")
            yield from _between(text, offset, node.values[0], node.values[1], old, new)
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in _NAMES:
            name, stop = node.func.attr, offset(node.func.end_lineno, node.func.end_col_offset)
            yield stop - len(name), stop, node.func.end_lineno, _NAMES[name]
        elif (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id in ("min", "max", "any", "all")
        ):
            start = offset(node.func.lineno, node.func.col_offset)
            yield start, start + 3, where, _NAMES[node.func.id]
        elif isinstance(node, ast.Constant):
            yield from _constant(node, offset)


def _constant(node: ast.Constant, offset) -> Iterator[tuple[int, int, int, str]]:
    span = offset(node.lineno, node.col_offset), offset(node.end_lineno, node.end_col_offset), node.lineno
    if isinstance(node.value, bool):
        yield *span, str(not node.value)
    elif isinstance(node.value, int) and node.value in (0, 1, 2):
        yield *span, str(node.value + 1)
    elif isinstance(node.value, float) and 0 < abs(node.value) < 10:
        yield *span, repr(node.value * 1.5)
    elif isinstance(node.value, str) and node.value in _COLUMNS:
        yield *span, repr(_COLUMNS[node.value]).replace("'", '"')


def _between(
    text: str, offset, left: ast.AST, right: ast.AST, old: str, new: str
) -> Iterator[tuple[int, int, int, str]]:
    start, stop = offset(left.end_lineno, left.end_col_offset), offset(right.lineno, right.col_offset)
    at = text.find(old, start, stop)
    if at >= 0:
        yield at, at + len(old), left.end_lineno, new


def _code(tree: ast.AST) -> Iterator[ast.AST]:
    """Every node that runs: no docstring, annotation, import for types, or inside of an f-string."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, ast.JoinedStr | ast.Import | ast.ImportFrom):
            continue
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test):
            continue
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            continue
        if isinstance(node, ast.arg) or (isinstance(tree, ast.AnnAssign) and node is tree.annotation):
            continue
        if isinstance(tree, ast.FunctionDef) and node is tree.returns:
            continue
        if isinstance(tree, ast.FunctionDef | ast.ClassDef) and node in tree.decorator_list:
            continue  # frozen, cached: no number depends on them
        if isinstance(node, ast.keyword) and node.arg == "strict":
            continue  # a guard against ourselves
        yield node
        yield from _code(node)
