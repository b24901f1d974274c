"""What may be wrong with the intervals of a result: ends out of order, their number outside them; columns twice."""

import numpy as np

# Stand between an estimate and its interval.
BESIDE = {"se", "df", "asked"}
# Of a share that lies at an end: means of draws lie that far outside what most of them are.
SLACK = 1e-6
COUNTS = {"noticed"}  # an interval beside them is about their share


def ends(names):
    """Each pair of ends among some names, by what stands before `low`."""
    return [(name[:-3], name, f"{name[:-3]}high") for name in names if name.endswith("low")]


def about(names, front):
    """The name of what an interval is about: the one its ends begin with, or the nearest before it."""
    if front:
        return front.rstrip("_")
    before = [name for name in names[: names.index("low")] if name not in BESIDE]
    return before[-1] if before else ""


def faults_of_row(names, value):
    """What is wrong with the intervals among some named values."""
    out = []
    for front, low, high in ends(names):
        if high not in names:
            continue
        bottom, top, middle = (value.get(name, np.nan) for name in (low, high, about(names, front)))
        if not all(isinstance(each, (int, float, np.number)) for each in (bottom, top)):
            continue
        slack = SLACK * max(1.0, *(abs(each) for each in (bottom, top) if np.isfinite(each)), 0.0)
        if bottom > top + slack:
            out.append(f"{low} {bottom} above {high} {top}")
        told = isinstance(middle, (int, float, np.number)) and about(names, front) not in COUNTS
        if told and (middle < bottom - slack or middle > top + slack):
            out.append(f"{about(names, front)} {middle} outside {bottom} to {top}")
    return out


def faults_of(result):
    """What is wrong with the tables and verdicts of a result."""
    out = []
    for name, table in result.tables().items():
        if not table.columns.is_unique:
            out.append(f"{name}: columns twice: {list(table.columns)}")
            continue
        names = list(table.columns)
        for row in table.to_dict("records") if ends(names) else ():
            out += [f"{name}: {fault}" for fault in faults_of_row(names, row)]
    for verdict in result.verdicts:
        names = list(verdict.numbers)
        out += [f"{verdict.question} {verdict.subject}: {fault}" for fault in faults_of_row(names, verdict.numbers)]
    return out
