"""Everything the package can say: what stands in `Phrase(...)`, in `count(...)` and in the templates of its pages."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

from jinja2 import Environment, nodes

PACKAGE = Path(__file__).parents[2] / "panelstats"


@cache
def phrases() -> dict[str, str]:
    """Every phrase, and the file in which it stands first."""
    found: dict[str, str] = {}
    for path in modules():
        for call in _calls(path, "Phrase"):
            if isinstance(call.args[0], ast.Constant):
                found.setdefault(call.args[0].value, name_of(path))
    for path, call in _in_templates("_"):
        found.setdefault(call.args[0].value, name_of(path))
    return found


@cache
def words() -> dict[str, str]:
    """Calls, headings and titles that are shown from tables: `words.txt`, one a line."""
    path = Path(__file__).with_name("words.txt")
    return dict.fromkeys(path.read_text(encoding="utf-8").splitlines(), "tests/catalogue/words.txt")


@cache
def nouns() -> dict[tuple[str, str], str]:
    """Every counted noun, one and many, and the file in which it stands first."""
    found: dict[tuple[str, str], str] = {}
    for path in modules():
        for call in (*_calls(path, "count"), *_calls(path, "named")):
            words = [each.value for each in call.args[1:] if isinstance(each, ast.Constant)]
            if words:
                found.setdefault((words[0], words[1] if words[1:] and words[1] else f"{words[0]}s"), name_of(path))
    for path, call in _in_templates("count"):
        word = call.args[1].value
        found.setdefault((word, f"{word}s"), name_of(path))
    return found


def modules() -> list[Path]:
    """Every module of the package."""
    return sorted(PACKAGE.rglob("*.py"))


@cache
def tree(path: Path) -> ast.Module:
    """What stands in a module, parsed once for all who look."""
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def _called(path: Path) -> list[ast.Call]:
    return [node for node in ast.walk(tree(path)) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)]


def _calls(path: Path, name: str):
    return [call for call in _called(path) if call.func.id == name and call.args]


def _in_templates(name: str):
    for path in sorted(PACKAGE.rglob("templates/*.j2")):
        for call in Environment().parse(path.read_text(encoding="utf-8")).find_all(nodes.Call):  # noqa: S701 - not rendered
            if isinstance(call.node, nodes.Name) and call.node.name == name:
                yield path, call


def name_of(path: Path) -> str:
    return str(path.relative_to(PACKAGE.parent))
