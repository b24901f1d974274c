"""Rules for numbers: shares, sizes, counts, points."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from numbers import Integral, Real

from panelstats.arguments.refusal import Rule, labels_of, refuse, unknown


def number(value: object) -> float:
    """The number that a value is; NaN if it is none (text, a truth value, a list)."""
    return float(value) if isinstance(value, Real) and not isinstance(value, bool) else math.nan


def _amount(fits: Callable[[float], bool], what: str, do: str) -> Rule:
    """A rule for one number."""

    def judge(name: str, value: object, _: object = None) -> None:
        if not fits(number(value)):
            refuse(f"{name} {what}", name, value, do)

    return judge


probability = _amount(lambda x: 0 < x < 1, "is not a probability", "give a number between 0 and 1, such as 0.95")
share = _amount(lambda x: 0 < x <= 1, "is no share", "give a number above 0 and up to 1, such as 0.3 for 30 %")
rest_of_share = _amount(lambda x: 0 <= x < 1, "is no share", "give a number from 0 up to less than 1")
size = _amount(lambda x: 0 < x < math.inf, "is no size", "give a number above 0")
size_or_zero = _amount(lambda x: 0 <= x < math.inf, "is no size", "give a number, 0 or more")


MOST = 1_000_000_000  # no room counts further, and no table could


def _integer(least: int, what: str, most: int = MOST) -> Rule:
    """A rule for one whole number."""

    def judge(name: str, value: object, _: object = None) -> None:
        if not isinstance(value, Integral) or isinstance(value, bool) or not least <= int(value) <= most:
            refuse(f"{name} is no {what}", name, value, f"give a whole number, {least} or more (at most {most:,})")

    return judge


whole, from_one = _integer(0, "whole number"), _integer(1, "count")
seed = _integer(0, "whole number", 2**64 - 1)


def counts(name: str, value: object, _: object = None) -> None:
    """Whole numbers, 0 or more: one, or an array of them."""
    import numpy as np  # noqa: PLC0415 - not for whoever only wants the help

    try:
        numbers = np.asarray(value, float)
    except (TypeError, ValueError):
        numbers = np.array(np.nan)
    if not (
        np.isfinite(numbers).all()
        and (numbers >= 0).all()
        and np.allclose(numbers, np.round(numbers), rtol=0, atol=1e-9)
    ):
        refuse(f"{name} is no count", name, value, "give whole numbers, 0 or more")


def tolerance(name: str, value: object, given: Mapping[str, object]) -> None:
    """Points above 0: one number, or one for each of the descriptors named."""
    if not isinstance(value, Mapping):
        return size(name, value, given)
    known = labels_of(given.get("scores"), "descriptors", "descriptor")
    for descriptor, points in value.items():
        if known and descriptor not in known:
            unknown("descriptor", f"{name}={{{descriptor!r}: ...}}", descriptor, known)
        size(f"{name}[{descriptor!r}]", points, given)
    return None


def points(name: str, value: object, given: Mapping[str, object]) -> None:
    """Points, signed and not 0, for each of the descriptors named."""
    known = labels_of(given.get("scores"), "descriptors", "descriptor")
    if not isinstance(value, Mapping) or not value:
        refuse(f"{name} names no descriptor", name, value, "give {descriptor: points of merit for a point}")
    for descriptor, each in value.items():
        if descriptor not in known:
            unknown("descriptor", f"{name}={{{descriptor!r}: ...}}", descriptor, known)
        if not 0 < abs(number(each)) < math.inf:
            refuse(
                "a weight is a number other than 0", f"{name}[{descriptor!r}]", each, "leave out what counts nothing"
            )


def mixture(name: str, value: object, _: object = None) -> None:
    """Shares above 0 by name, one at least."""
    if not isinstance(value, Mapping) or not value or not all(0 < number(part) < math.inf for part in value.values()):
        refuse(
            f"{name} is no mixture", name, value, "give shares above 0 by grade, such as {'broken': 0.6, 'dust': 0.4}"
        )
