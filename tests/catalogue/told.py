"""What the package tells outside its pages: what is wrong and what to do, how sheets were read, questions to the room.

Messages are plain strings, their fields filled in where they arise, and put into the reader's language where they are
shown (`panelstats.speech.heard`). So that none is forgotten every string of words counts as told, unless `Phrase` or
`count` says it already or `untold.txt` lists it.
"""

from __future__ import annotations

import ast
import re
from functools import cache
from itertools import count as numbered
from pathlib import Path

from panelstats.speech import FIELD
from tests.catalogue.said import modules, name_of, phrases, tree, words

_SAID = {"Phrase", "count"}
# Packages that say all they say by `Phrase`, or in English: what is invented, drawings.
_APART = ("panelstats/example", "panelstats/report/charts")
# Modules whose strings are no sentences, such as headings that rooms use, and strings that nobody is shown.
_UNTOLD = set(Path(__file__).with_name("untold.txt").read_text(encoding="utf-8").splitlines())
# Two words, or a field and a word; signs that no sentence has tell of patterns, paths and markup.
_WORDS = re.compile(r"[a-z}\d][,.;:?!)]*\s.*[A-Za-z]{2}", re.DOTALL)
_WORD = re.compile(r"[A-Za-z]{2}")
_NO_SENTENCE = re.compile(r"[\\<|*]|/[A-Za-z]+/")


@cache
def told() -> dict[str, str]:
    """Every message, as its template, and the file in which it stands first."""
    found: dict[str, str] = {}
    for path in modules():
        where = name_of(path)
        if where in _UNTOLD or where.startswith(_APART):
            continue
        for template in _strings(tree(path)):
            if template not in _UNTOLD | phrases().keys() | words().keys() and _is_sentence(template):
                found.setdefault(template, where)
    return found


def _is_sentence(template: str) -> bool:
    own = FIELD.sub("", template)
    return (
        bool(_WORDS.search(template))
        and bool(_WORD.search(own) or "{role}" in template)
        and not _NO_SENTENCE.search(own)
    )


def _strings(node: ast.AST):
    """Templates within a module, its docstrings and what is a phrase already left out."""
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in _SAID:
        return
    if isinstance(node, ast.JoinedStr):
        yield _template(node)
        for part in node.values:
            if isinstance(part, ast.FormattedValue):
                yield from _strings(part.value)
        return
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
        return
    for child in ast.iter_child_nodes(node):
        if not (isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant)):  # a docstring
            yield from _strings(child)


def _template(node: ast.JoinedStr) -> str:
    """A string with fields as a message of the catalogue: each field by the name of what fills it."""
    text, names = "", set()
    for part in node.values:
        if isinstance(part, ast.Constant):
            text += str(part.value)
        elif isinstance(part, ast.FormattedValue):
            name = _field(part.value)
            name = next(each for n in numbered(1) if (each := f"{name}_{n}" if n > 1 else name) not in names)
            names.add(name)
            spec = part.format_spec.values[0].value if isinstance(part.format_spec, ast.JoinedStr) else ""
            text += f"{{{name}{'!r' * (part.conversion == ord('r'))}{f':{spec}' if spec else ''}}}"
    return text


def _field(node: ast.expr) -> str:
    """What a field shows: a name, an attribute, a column; of a call what it is made of."""
    match node:
        case ast.Name(id=name) | ast.Attribute(attr=name) | ast.Subscript(slice=ast.Constant(value=str() as name)):
            return name.strip("_").lower()
        case ast.Subscript(value=inner) | ast.Starred(value=inner) | ast.Call(args=[*_, inner]):
            return _field(inner)
        case ast.Call(func=inner) | ast.BoolOp(values=[inner, *_]) | ast.BinOp(left=inner) | ast.IfExp(body=inner):
            return _field(inner)
        case ast.GeneratorExp(elt=inner) | ast.ListComp(elt=inner):
            return _field(inner)
    return "part"
