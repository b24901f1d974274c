"""What a parameter means where a function says nothing else of it: written here once, shown by `help` everywhere."""

from __future__ import annotations

import re
from inspect import cleandoc
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

# Type and meaning, as they stand behind the name under "Parameters".
USUAL = {
    "columns": "mapping, optional\n    {their header: our word}; None leaves a column out.",
    "level": "float in (0, 1)\n    Coverage of the intervals.",
    "overwrite": "bool\n    Replace a file that is not ours.",
    "pots": '{"shared", "own", "same"} or mapping of stage to one of these, optional\n'
            "    What a pot number names; by default what was read or inferred with the scores.",
    "progress": "callable, optional\n    Told the name of each analysis before it starts.",
    "seed": "int\n    Of what is drawn at random: the same seed gives the same answer.",
    "session": "str, optional\n    Which one; by default the latest.",
    "tolerance": "float or mapping of descriptor to float, optional\n"
                 "    Smallest difference that matters, in points; by default the register's.",
}  # fmt: skip
_SECTION = re.compile(r"\n\n([A-Z][A-Za-z ]+)\n-{3,}\n")


def described(doc: str, parameters: Sequence[str], returned: object) -> str:
    """A docstring with the parameters it leaves out and has in common with others, and with the type it returns.

    Examples
    --------
    >>> described("Draw lots.", ["seed"], "Lots").splitlines()[4:6]
    ['seed : int', '    Of what is drawn at random: the same seed gives the same answer.']
    """
    if not doc:  # run without docstrings
        return doc
    summary, *parts = _SECTION.split(cleandoc(doc))
    sections = dict(zip(parts[::2], parts[1::2], strict=True))
    said = [entry for entry in re.split(r"\n(?=\S)", sections.pop("Parameters", "")) if entry]
    known = {name for entry in said for name in _names(entry)}
    said += [f"{name} : {USUAL[name]}" for name in parameters if name in USUAL and name not in known]
    said.sort(key=lambda entry: min(parameters.index(name) for name in _names(entry) if name in parameters))
    first = {"Parameters": "\n".join(said)} if said else {}
    first["Returns"] = sections.pop("Returns", str(returned).replace("pd.", "").replace(" | ", " or "))
    return summary + "".join(f"\n\n{title}\n{'-' * len(title)}\n{body}" for title, body in (first | sections).items())


def _names(entry: str) -> list[str]:
    """The parameters that an entry tells of."""
    return entry.split("\n", 1)[0].split(" : ", maxsplit=1)[0].split(", ")
