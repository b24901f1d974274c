"""The one check of arguments: a word means the same in every public function, and is judged here by its name."""

from __future__ import annotations

import inspect
import math
from collections.abc import Collection, Mapping
from difflib import get_close_matches
from functools import wraps
from numbers import Integral, Real
from pathlib import Path
from typing import TYPE_CHECKING, ParamSpec, TypeVar

import numpy as np

from panelstats.errors import DesignError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    Rule = Callable[[str, object, Mapping[str, object]], None]

P = ParamSpec("P")
R = TypeVar("R")
_NAMED = 12  # names offered in a message; more are counted


def checked(**own: Rule) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Judge the arguments of a public function before it runs: each by the rule of its name, or by one of its `own`.

    An argument left at its default is not judged; None passes where it is the default.

    Examples
    --------
    >>> @checked(adjust=one_of("tukey", "holm"))
    ... def intervals(*, level=0.95, adjust="tukey"):
    ...     return level
    >>> intervals(level=95)
    Traceback (most recent call last):
    panelstats.errors.DesignError: level is not a probability
      where: level=95
      do:    give a number between 0 and 1, such as 0.95
    """

    def decorated(function: Callable[P, R]) -> Callable[P, R]:
        parameters = inspect.signature(function).parameters
        rules = {name: own.get(name, RULES.get(name)) for name in parameters}
        optional = {name for name, parameter in parameters.items() if parameter.default is None}

        @wraps(function)
        def judged(*args: P.args, **kwargs: P.kwargs) -> R:
            given = dict(zip(parameters, args, strict=False)) | kwargs
            for name, value in given.items():
                rule = rules.get(name)
                if rule is not None and not (value is None and name in optional):
                    rule(name, value, given)
            return function(*args, **kwargs)

        return judged

    return decorated


# --- numbers ----------------------------------------------------------------------------------------------------------


def number(value: object) -> float:
    """The number that a value is; NaN if it is none (text, a truth value, a list)."""
    return float(value) if isinstance(value, Real) and not isinstance(value, bool | np.bool_) else math.nan


def probability(name: str, value: object, _: object = None) -> None:
    """Strictly between 0 and 1."""
    if not 0 < number(value) < 1:
        _refuse(f"{name} is not a probability", name, value, "give a number between 0 and 1, such as 0.95")


def share(name: str, value: object, _: object = None) -> None:
    """Above 0 and up to 1."""
    if not 0 < number(value) <= 1:
        _refuse(f"{name} is no share", name, value, "give a number above 0 and up to 1, such as 0.3 for 30 %")


def rest_of_share(name: str, value: object, _: object = None) -> None:
    """From 0 up to less than 1."""
    if not 0 <= number(value) < 1:
        _refuse(f"{name} is no share", name, value, "give a number from 0 up to less than 1")


def size(name: str, value: object, _: object = None) -> None:
    """A finite number above 0."""
    if not 0 < number(value) < math.inf:
        _refuse(f"{name} is no size", name, value, "give a number above 0")


def size_or_zero(name: str, value: object, _: object = None) -> None:
    """A finite number, 0 or more."""
    if not 0 <= number(value) < math.inf:
        _refuse(f"{name} is no size", name, value, "give a number, 0 or more")


def whole(name: str, value: object, _: object = None) -> None:
    """One whole number, 0 or more."""
    if not isinstance(value, Integral) or isinstance(value, bool) or value < 0:
        _refuse(f"{name} is no whole number", name, value, "give a whole number, 0 or more")


def from_one(name: str, value: object, _: object = None) -> None:
    """One whole number, 1 or more."""
    if not isinstance(value, Integral) or isinstance(value, bool) or value < 1:
        _refuse(f"{name} is no count", name, value, "give a whole number, 1 or more")


def counts(name: str, value: object, _: object = None) -> None:
    """Whole numbers, 0 or more: one, or an array of them."""
    try:
        numbers = np.asarray(value, float)
    except (TypeError, ValueError):
        numbers = np.array(np.nan)
    if not (
        np.isfinite(numbers).all()
        and (numbers >= 0).all()
        and np.allclose(numbers, np.round(numbers), rtol=0, atol=1e-9)
    ):
        _refuse(f"{name} is no count", name, value, "give whole numbers, 0 or more")


def tolerance(name: str, value: object, given: Mapping[str, object]) -> None:
    """Points above 0: one number, or one for each of the descriptors named."""
    if not isinstance(value, Mapping):
        return size(name, value)
    known = _labels(given.get("scores"), "descriptors", "descriptor")
    for descriptor, points in value.items():
        if known and descriptor not in known:
            _unknown("descriptor", f"{name}={{{descriptor!r}: ...}}", descriptor, known)
        size(f"{name}[{descriptor!r}]", points)
    return None


def points(name: str, value: object, given: Mapping[str, object]) -> None:
    """Points, signed and not 0, for each of the descriptors named."""
    known = _labels(given.get("scores"), "descriptors", "descriptor")
    if not isinstance(value, Mapping) or not value:
        _refuse(f"{name} names no descriptor", name, value, "give {descriptor: points of merit for a point}")
    for descriptor, each in dict(value).items():  # type: ignore[call-overload]
        if descriptor not in known:
            _unknown("descriptor", f"{name}={{{descriptor!r}: ...}}", descriptor, known)
        if not 0 < abs(number(each)) < math.inf:
            _refuse(
                "a weight is a number other than 0", f"{name}[{descriptor!r}]", each, "leave out what counts nothing"
            )


# --- words and names --------------------------------------------------------------------------------------------------


def one_of(*words: str) -> Rule:
    """One of a few words."""

    def judge(name: str, value: object, _: object = None) -> None:
        if not isinstance(value, str) or value not in words:
            _refuse(f"{name} is an unknown word", name, value, f"use one of {', '.join(words)}")

    return judge


def text(name: str, value: object, _: object = None) -> None:
    """Text."""
    if not isinstance(value, str):
        _refuse(f"{name} is no text", name, value, "give text in quotes")


def texts(name: str, value: object, _: object = None) -> None:
    """A list of texts; one text alone is no list."""
    if isinstance(value, str) or not isinstance(value, Collection) or not all(isinstance(each, str) for each in value):
        _refuse(f"{name} is no list of names", name, value, "give a list of texts")


def listed(name: str, value: object, _: object = None) -> None:
    """A list of anything; text is none."""
    if isinstance(value, str | Mapping) or not isinstance(value, Collection):
        _refuse(f"{name} is no list", name, value, "give a list")


def counted_tests(name: str, value: object, _: object = None) -> None:
    """Tests as (kind, right answers, answers)."""
    listed(name, value)
    for at, each in enumerate(value):  # type: ignore[var-annotated, arg-type]
        if isinstance(each, str) or not isinstance(each, Collection) or len(each) != 3:
            _refuse("a test is its kind and two counts", f"{name}[{at}]", each, 'give ("triangle", 12, 30)')


def switch(name: str, value: object, _: object = None) -> None:
    """True or False."""
    if not isinstance(value, bool):
        _refuse(f"{name} is a yes or no", name, value, "give True or False")


def pots(name: str, value: object, given: Mapping[str, object]) -> None:
    """shared, own or same; or one of them for each stage named."""
    words = value if isinstance(value, Mapping) else {None: value}
    stages = _labels(given.get("scores"), "pots", "stage")
    for stage, word in words.items():
        if stage is not None and stages and stage not in stages:
            _unknown("stage", f"{name}={{{stage!r}: ...}}", stage, stages)
        if not isinstance(word, str) or word not in ("shared", "own", "same"):
            _refuse("pots are shared, own or same", name, word, "use one of the three words")


def known(table: str, column: str) -> Rule:
    """A name, or names, of a column of one of the tables that came with the scores."""

    def judge(name: str, value: object, given: Mapping[str, object]) -> None:
        names = [value] if isinstance(value, str) or not isinstance(value, Collection) else list(value)
        labels = _labels(given.get("scores"), table, column)
        if not labels and hasattr(given.get("scores"), table):
            _refuse(f"no {column} is known", name, value, f"write a column {column} in the register {table}")
        for each in names:
            if not isinstance(each, str):
                _refuse(f"a {column} is named by text", name, each, f"use one of {_offered(labels)}")
            if each not in labels:
                _unknown(column, f"{name}={each!r}", each, labels)

    return judge


def lot_columns(name: str, value: object, given: Mapping[str, object]) -> None:
    """Columns of the lots register, one or several."""
    names = [value] if isinstance(value, str) else value
    listed(name, names)
    register = getattr(given.get("scores"), "lots", None)
    known_columns = (
        [] if register is None else [str(each) for each in register.columns if each not in ("lot", "written")]
    )
    if not names:
        _refuse("no column is named", name, value, f"use some of {_offered(known_columns)}")
    for each in names:  # type: ignore[attr-defined]
        if each not in known_columns:
            _unknown("column in the lots register", f"{name}={each!r}", each, known_columns)


# --- what an analysis is made of --------------------------------------------------------------------------------------


def scored(name: str, value: object, _: object = None) -> None:
    """Scores or cells; a file, a folder or a table must be read first."""
    if all(hasattr(value, each) for each in ("sessions", "lots", "descriptors", "tasters", "pots")):
        return
    what = repr(value) if isinstance(value, str | Path) else type(value).__name__
    raise DesignError("no scores", where=f"{name}={what}", do=f"read them first: read_scores({_short(what)})")


def scores_whole(name: str, value: object, given: Mapping[str, object]) -> None:
    """Scores: cells know neither faults nor words."""
    scored(name, value, given)
    if not hasattr(value, "faults"):
        _refuse("cells hold no faults", name, type(value).__name__, "give the scores they were made of")


def earlier_axes(name: str, value: object, _: object = None) -> None:
    """The descriptors of an earlier map."""
    if not hasattr(value, "columns") or "descriptor" not in value.columns or "axis_1" not in value.columns:
        _refuse(f"{name} is no earlier map", name, value, "give the table .descriptors of what map_lots returned")


def table(name: str, value: object, _: object = None) -> None:
    """A DataFrame; a file must be read first."""
    if not (hasattr(value, "columns") and hasattr(value, "itertuples")):
        _refuse(f"{name} is no table", name, value, "give a DataFrame; read_answers reads a sheet of answers")


def place(name: str, value: object, _: object = None) -> None:
    """A file or folder."""
    if not isinstance(value, str | Path) or not str(value).strip() or "\0" in str(value):
        _refuse(f"{name} is no file name", name, value, "give a path as text")


def assessed(name: str, value: object, _: object = None) -> None:
    """What an assessment of tasters or trainees answered."""
    if not (hasattr(value, "summary") and hasattr(value, "verdicts")):
        _refuse("no assessment of people", name, value, "give what assess_tasters or assess_trainees returned")


def room_record(name: str, value: object, _: object = None) -> None:
    """What the room's sessions showed of the error of a look."""
    if not (hasattr(value, "squares") and hasattr(value, "sessions")):
        _refuse("no record of a room's error", name, value, "give what room_error returned")


def compared(name: str, value: object, _: object = None) -> None:
    """What comparisons of makes answered."""
    listed(name, value)
    for each in value:  # type: ignore[attr-defined]
        if not (hasattr(each, "pairs") and hasattr(each, "slopes")):
            _refuse("no comparison of makes", name, each, "give a list of what compare_makes returned")


def source(name: str, value: object, _: object = None) -> None:
    """What can be read: files, folders, tables, or scores that were read."""
    some = value if isinstance(value, list | tuple) else [value]
    if not some or not all(
        isinstance(each, str | Path) or hasattr(each, "columns") or hasattr(each, "files") for each in some
    ):
        _refuse("nothing that can be read", name, value, "give a file, a folder, a list of these, or a DataFrame")


def headings(name: str, value: object, _: object = None) -> None:
    """Their heading -> our word, or None to leave the column out."""
    pairs = value.items() if isinstance(value, Mapping) else None
    if pairs is None or not all(isinstance(k, str) and (v is None or isinstance(v, str)) for k, v in pairs):
        _refuse(f"{name} maps no headings", name, value, 'give {"their heading": "our word"}')


def registers(name: str, value: object, _: object = None) -> None:
    """A file or folder of registers, or a mapping of tables."""
    if not isinstance(value, Mapping):
        return place(name, value)
    for key, each in value.items():
        if not hasattr(each, "columns"):
            _refuse("a register is a table", f"{name}[{key!r}]", each, "give a DataFrame for each register")
    return None


def callable_(name: str, value: object, _: object = None) -> None:
    """Something that can be called."""
    if not callable(value):
        _refuse(f"{name} cannot be called", name, value, "give a function of one text, or None")


def a_result(name: str, value: object, _: object = None) -> None:
    """The result of an analysis."""
    if not callable(getattr(value, "tables", None)):
        _refuse(f"{name} is no result", name, value, "give what an analysis returned, such as compare_lots(scores)")


def mixture(name: str, value: object, _: object = None) -> None:
    """Shares above 0 by name, one at least."""
    if not isinstance(value, Mapping) or not value or not all(0 < number(part) < math.inf for part in value.values()):
        _refuse(
            f"{name} is no mixture", name, value, "give shares above 0 by grade, such as {'broken': 0.6, 'dust': 0.4}"
        )


RULES: dict[str, Rule] = {
    "scores": scored, "past": scored, "table": table, "ratings": table,
    "level": probability, "error": probability, "match_error": probability, "power": probability,
    "false_alarm": probability, "wrong_pass": probability, "wrong_fail": probability,
    "within_share": share, "pass_share": share, "fail_share": rest_of_share,
    "within_d": size, "pass_d": size, "true_d": size_or_zero, "tolerance": tolerance,
    "seed": whole, "weeks": from_one, "stop_after": from_one, "take": from_one, "baseline": from_one,
    "hits": whole, "false": whole, "n_a": whole, "n_not_a": whole,
    "correct": counts, "answers": counts, "blanks": counts, "first": counts, "second": counts,
    "kind": text, "subject": text, "trainee": text, "labels": texts, "tasters": texts, "leave_out": texts,
    "tests": counted_tests, "outcomes": listed,
    "pots": pots, "standard": known("lots", "lot"), "control": known("lots", "lot"), "lots": known("lots", "lot"),
    "session": known("sessions", "session"), "trainees": known("tasters", "taster"),
    "until": text, "controls": known("lots", "lot"), "reference": known("tasters", "taster"), "by": lot_columns,
    "garden": known("lots", "garden"),
    "makes": compared, "found": a_result, "mix": mixture,
    "densities": table, "stock": table, "grams": size, "millilitres": size, "batch": size, "fill": share,
    "allowed": probability, "least_share": rest_of_share, "shuffles": from_one, "grades": texts,
    "descriptors": known("descriptors", "descriptor"),
    "pairs": switch, "shortlist": switch, "shared_pots": switch, "set_aside": switch, "overwrite": switch,
    "columns": headings, "room": registers,
    "assessment": assessed, "source": source, "path": place, "out": place, "progress": callable_,
}  # fmt: skip


def _labels(scores: object, table_: str, column: str) -> list[str]:
    """Labels of a table that came with the scores; none where there are no scores to ask."""
    frame = getattr(scores, table_, None)
    return list(dict.fromkeys(map(str, frame[column]))) if frame is not None and column in frame else []


def _unknown(what: str, where: str, asked: object, labels: list[str]) -> None:
    near = get_close_matches(str(asked), labels, n=1)
    hint = f"did you mean {near[0]!r}? " if near else ""
    raise DesignError(f"no such {what}", where=where, do=f"{hint}use one of {_offered(labels)}")


def _offered(labels: Iterable[str]) -> str:
    names = list(labels)
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return ", ".join(names[:_NAMED]) + more


def _refuse(what: str, name: str, value: object, do: str) -> None:
    raise DesignError(what, where=f"{name}={_short(repr(value))}", do=do)


def _short(shown: str) -> str:
    return shown if len(shown) <= 80 else f"{shown[:77]}..."
