"""What was planted in a data set, in a form a program can read."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from panelstats.example.room import PORT

if TYPE_CHECKING:
    from panelstats.example.palates import Errors, Teas

ALL = "all"


def planted(
    about: str, who: str, what: str, descriptor: str, size: float | None, *, since: str | None = None,
    until: str | None = None, **more: object,
) -> dict[str, object]:  # fmt: skip
    """One planted fact.

    Parameters
    ----------
    about, who : str
        Kind of thing (taster, trainee, lot, pot, make, ...) and its name.
    what : str
        The fault, in the words of the analyses where they have one (level, scale_use, scatter, ...).
    descriptor : str
        The descriptor, or "all".
    size : float or None
        In scale points; a factor where the fault is one of scale_use or scatter.
    since, until : str, optional
        First and last session in which it holds; None: always.
    """
    fact = {"about": about, "who": who, "what": what, "descriptor": descriptor, "size": size}
    return {**fact, "since": since, "until": until, **more}


def truth(
    name: str, seed: int, *, descriptors: list[str], teas: Teas, errors: Errors, facts: list[dict[str, object]]
) -> dict[str, object]:
    """All that is true of a data set."""
    return {
        "invented": f"No such room as {PORT}, no such tasters, districts, gardens or lots exist.",
        "set": name,
        "seed": seed,
        "errors_sd": asdict(errors),
        "planted": facts,
        "descriptors": descriptors,
        "lots": {lot: [round(float(v), 3) for v in row] for lot, row in zip(teas.lots, teas.value, strict=True)},
    }
