"""What is typed behind an option, and what it means: numbers, names, pairs."""

from __future__ import annotations

from argparse import ArgumentTypeError
from pathlib import Path

from panelstats.arguments.objects import unreachable
from panelstats.arguments.refusal import short


def count(text: str) -> int:
    """A whole number, 0 or more."""
    if not text.isdecimal():
        raise ArgumentTypeError(f"{text!r}: give a whole number, 0 or more")
    return int(text)


def number(text: str) -> float:
    """Any number."""
    try:
        return float(text)
    except ValueError:
        raise ArgumentTypeError(f"{text!r} is not a number") from None


def positive(text: str) -> float:
    """A number above 0."""
    value = number(text)
    if not value > 0:
        raise ArgumentTypeError(f"{text}: give a number above 0")
    return value


def level(text: str) -> float:
    """A number between 0 and 1."""
    value = number(text)
    if not 0 < value < 1:
        raise ArgumentTypeError(f"{text}: give a number between 0 and 1, such as 0.95")
    return value


def named(text: str) -> str:
    """A word that may be the name of a file."""
    if why := unreachable(text):
        raise ArgumentTypeError(f"{short(repr(text))}: no file can be had there: {why}")
    return text


def path(text: str) -> Path:
    """A file or folder, whether it is there or not."""
    return Path(named(text))


def names(text: str) -> list[str]:
    """Names with commas between them."""
    return [each.strip() for each in text.split(",") if each.strip()]


def served_not(text: str) -> tuple[str, list[str]]:
    """A taster and lots: elm=411,412."""
    name, equals, lots = text.partition("=")
    if not (name.strip() and equals and names(lots)):
        raise ArgumentTypeError(f"{text!r}: write it as elm=411,412")
    return name.strip(), names(lots)


def instead(text: str) -> dict[str, str]:
    """Who is away, and who comes instead where somebody does: elm,yew=larch."""
    parts = [part.partition("=") for part in names(text)]
    if not all(name.strip() for name, _, _ in parts):
        raise ArgumentTypeError(f"{text!r}: write it as elm, or elm=larch where larch comes instead")
    return {name.strip(): other.strip() for name, _, other in parts}


def brewing(text: str) -> dict[str, object]:
    """Facts of a brew: grams=5.6,minutes=6,vessel=large pot."""
    parts = [part.partition("=") for part in text.split(",")]
    if not all(name.strip() and equals and value.strip() for name, equals, value in parts):
        raise ArgumentTypeError(f"{text!r}: write it as grams=5.6,minutes=6")
    told = {name.strip(): value.strip() for name, _, value in parts}
    return {name: value if name in ("vessel", "milk") else number(value) for name, value in told.items()}


def pair(text: str) -> tuple[str, str | None]:
    """A heading and our word for it."""
    theirs, equals, ours = text.rpartition("=")
    if not equals or not theirs:
        raise ArgumentTypeError(f'{text!r}: write it as "their heading=our word"')
    return theirs, ours or None


def mixture(text: str) -> dict[str, float]:
    """Grades and their shares of mass: broken=0.6,fannings=0.4."""
    parts = [part.rpartition("=") for part in text.split(",")]
    if not all(name.strip() and equals for name, equals, _ in parts):
        raise ArgumentTypeError(f"{text!r}: give shares as broken=0.6,fannings=0.4")
    return {name.strip(): positive(share) for name, _, share in parts}


def spelled(name: str) -> str:
    """An option as it is typed."""
    return f"--{name.replace('_', '-')}"
