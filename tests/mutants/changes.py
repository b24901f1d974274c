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
class Change:
    """One wrong change: where, and the text that takes the place of what stood from `start` to `stop`."""

    path: Path
    line: int
    start: int
    stop: int
    new: str
    old: str
    row: str

    @property
    def key(self) -> str:
        """What tells it from every other change, whatever line it has moved to."""
        return f"{self.path.as_posix()}: {self.row.strip()} [{self.old} -> {self.new}]"

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

    found = []
    for start_at, stop_at, line, new in _patches(ast.parse(text), text, offset):
        row = rows[line - 1]
        found.append(Change(path, line, start_at, stop_at, new, text[start_at:stop_at], row))
    return sorted(set(found), key=lambda change: (change.start, change.new))


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
        elif isinstance(node, ast.Attribute) and node.attr in _NAMES:
            stop = offset(node.end_lineno, node.end_col_offset)
            yield stop - len(node.attr), stop, node.end_lineno, _NAMES[node.attr]
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
        yield node
        yield from _code(node)
