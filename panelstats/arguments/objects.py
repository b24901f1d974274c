"""Rules for what an analysis is made of: scores, tables, files, results."""

from __future__ import annotations

import os
import stat
from collections.abc import Mapping
from pathlib import Path

from panelstats.arguments.refusal import Rule, refuse, short
from panelstats.arguments.wording import listed
from panelstats.errors import DesignError


def scored(name: str, value: object, _: object = None) -> None:
    """Scores or cells; a file, a folder or a table must be read first."""
    if all(hasattr(value, each) for each in ("sessions", "lots", "descriptors", "tasters", "pots")):
        return
    what = repr(value) if isinstance(value, str | Path) else type(value).__name__
    raise DesignError("no scores", where=f"{name}={what}", do=f"read them first: read_scores({short(what)})")


def scores_whole(name: str, value: object, given: Mapping[str, object]) -> None:
    """Scores: cells know neither faults nor words."""
    scored(name, value, given)
    if not hasattr(value, "faults"):
        refuse("cells hold no faults", name, type(value).__name__, "give the scores they were made of")


def earlier_axes(name: str, value: object, _: object = None) -> None:
    """The descriptors of an earlier map."""
    if not hasattr(value, "columns") or "descriptor" not in value.columns or "axis_1" not in value.columns:
        refuse(f"{name} is no earlier map", name, value, "give the table .descriptors of what map_lots returned")


def table(name: str, value: object, _: object = None) -> None:
    """A DataFrame; a file must be read first."""
    if not (hasattr(value, "columns") and hasattr(value, "itertuples")):
        refuse(f"{name} is no table", name, value, "give a DataFrame; read_answers reads a sheet of answers")


def unreachable(path: str | Path) -> str:
    """Why this machine will not look for a file of that name; "" where it does, whether it finds one or not.

    Examples
    --------
    >>> unreachable("no such file"), unreachable("x" * 5000) != ""
    ('', True)
    """
    try:
        folder = stat.S_ISDIR(Path(path).stat().st_mode)
    except (FileNotFoundError, NotADirectoryError):
        return ""
    except OSError as error:  # too long a name, a closed folder, a link to itself
        return (error.strerror or type(error).__name__).lower()
    except ValueError as error:  # a sign that no name may hold
        return str(error)
    return "the folder may not be entered" if folder and not os.access(path, os.X_OK) else ""


def _reached(name: str, path: str | Path) -> None:
    if why := unreachable(path):
        refuse(f"no file can be had there: {why}", name, str(path), "check the name and the folders above it")


def place(name: str, value: object, _: object = None) -> None:
    """A file or folder."""
    if not isinstance(value, str | Path) or not str(value).strip():
        refuse(f"{name} is no file name", name, value, "give a path as text")
    _reached(name, value)


def source(name: str, value: object, _: object = None) -> None:
    """What can be read: files, folders, tables, or scores that were read."""
    some = value if isinstance(value, list | tuple) else [value]
    if not some or not all(
        isinstance(each, str | Path) or hasattr(each, "columns") or hasattr(each, "files") for each in some
    ):
        refuse("nothing that can be read", name, value, "give a file, a folder, a list of these, or a DataFrame")
    for each in some:
        if isinstance(each, str | Path):
            _reached(name, each)


def registers(name: str, value: object, _: object = None) -> None:
    """A file or folder of registers, or a mapping of tables."""
    if not isinstance(value, Mapping):
        return place(name, value)
    for key, each in value.items():
        if not hasattr(each, "columns"):
            refuse("a register is a table", f"{name}[{key!r}]", each, "give a DataFrame for each register")
    return None


def callable_(name: str, value: object, _: object = None) -> None:
    """Something that can be called."""
    if not callable(value):
        refuse(f"{name} cannot be called", name, value, "give a function of one text, or None")


def a_result(name: str, value: object, _: object = None) -> None:
    """The result of an analysis."""
    if not callable(getattr(value, "tables", None)):
        refuse(f"{name} is no result", name, value, "give what an analysis returned, such as compare_lots(scores)")


def _answer_with(attributes: tuple[str, str], what: str, of: str) -> Rule:
    """A rule for what some analysis returned."""

    def judge(name: str, value: object, _: object = None) -> None:
        if not all(hasattr(value, each) for each in attributes):
            refuse(what, name, value, f"give {of} returned")

    return judge


assessed = _answer_with(("summary", "verdicts"), "no assessment of people", "what assess_tasters or assess_trainees")
room_record = _answer_with(("squares", "sessions"), "no record of a room's error", "what room_error")
serving_plan = _answer_with(("servings", "drawn"), "no plan of a tasting", "what plan_session or read_plan")
_comparison = _answer_with(("pairs", "slopes"), "no comparison of makes", "a list of what compare_makes")


def compared(name: str, value: object, given: Mapping[str, object]) -> None:
    """What comparisons of makes answered."""
    listed(name, value)
    for each in value:  # type: ignore[attr-defined]
        _comparison(name, each, given)
