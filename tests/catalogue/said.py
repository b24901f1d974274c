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
    for path in _modules():
        for call in _calls(path, "Phrase"):
            if isinstance(call.args[0], ast.Constant):
                found.setdefault(call.args[0].value, _name(path))
    for path, call in _in_templates("_"):
        found.setdefault(call.args[0].value, _name(path))
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
    for path in _modules():
        for call in _calls(path, "count"):
            words = [each.value for each in call.args[1:] if isinstance(each, ast.Constant)]
            if words:
                found.setdefault((words[0], words[1] if words[1:] and words[1] else f"{words[0]}s"), _name(path))
    for path, call in _in_templates("count"):
        word = call.args[1].value
        found.setdefault((word, f"{word}s"), _name(path))
    return found


def _modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def _calls(path: Path, name: str):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == name and node.args:
            yield node


def _in_templates(name: str):
    for path in sorted((PACKAGE / "report" / "templates").glob("*.j2")):
        for call in Environment().parse(path.read_text(encoding="utf-8")).find_all(nodes.Call):  # noqa: S701 - not rendered
            if isinstance(call.node, nodes.Name) and call.node.name == name:
                yield path, call


def _name(path: Path) -> str:
    return str(path.relative_to(PACKAGE.parent))
