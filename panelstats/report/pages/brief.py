"""Blends and tests of difference in a line each: what stands first on their pages."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from panelstats.difference.answers.tables import JudgedAnswers
from panelstats.lots.standard.fit import StandardMatch
from panelstats.lots.standard.words import DIFFER, MATCH
from panelstats.lots.track.fit import StandardTrack
from panelstats.lots.track.words import CANNOT_TELL
from panelstats.lots.track.words import LEFT as LEFT_IT
from panelstats.lots.track.words import ON as ON_IT
from panelstats.models.kinds import KINDS
from panelstats.report.pages.firstscreen import a_few
from panelstats.report.pages.steps import at_the_last
from panelstats.result import Act, Mark
from panelstats.scores.cells import DESCRIPTOR, LOT, SESSION
from panelstats.speech import Phrase, said
from panelstats.words import count, listing, number, percent, percent_limit

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable, Iterator
    from typing import Any

    import pandas as pd

    from panelstats.result import Result, Verdict
    from panelstats.review import Review

_TOLD = 3  # descriptors told with their differences; more are counted

LEFT = Phrase("left the standard {standard}, now {size} off (since {since})")
CREEPS = Phrase("is creeping from the standard {standard}, now {size} off (since {since})")
STILL_ON, STILL_OPEN = Phrase("on {standard}: {words}"), Phrase("not settled: {words}")
MATCHES = Phrase("matches {standard} on all {n}")
DIFFERS = Phrase("differs from {standard}: {sizes}{more}")
MORE = Phrase(" and on {n} more")
OPEN = Phrase("cannot tell whether it matches {standard}: settled on {settled} of {n}")
TEST = Phrase("{kind}: {call}. {correct} of {answers} right{luck}; {share}")
PAIRED = Phrase("{kind}: {call}. {correct} of {answers} for A; {share}")
LUCK = Phrase(", {n} by luck")
CALLS = {"differ": Phrase("they differ"), "match": Phrase("they match"), "cannot tell": Phrase("not settled")}
CAN_TELL, AT_MOST = Phrase("about {share} of tasters can tell"), Phrase("at most {high} of tasters can tell")
UNKNOWN = Phrase("who can tell is not known")


class Line(NamedTuple):
    """A blend, a descriptor or a test, and what is said of it."""

    subject: str
    mark: Mark
    sentence: str
    step: str = ""


def brief(review: Review) -> list[Line]:
    """What left its standard first, then blends and tests in page order; a step for several stands after the last."""
    lines = [*_weeks(review.find(StandardTrack)), *_blends(review.find(StandardMatch)),
             *_tests(review.find(JudgedAnswers))]  # fmt: skip
    steps = at_the_last(line.step for line in lines)
    return [_closed(line._replace(step=step)) for line, step in zip(lines, steps, strict=True)]


def _closed(line: Line) -> Line:
    """A sentence that a step follows ends in a full stop."""
    return line._replace(sentence=f"{line.sentence}.") if line.step and line.sentence[-1:] != "." else line


def urgent(review: Review) -> list[Verdict]:
    """What is to be done now besides what a line of its own tells."""
    return [
        verdict for _, result in review.results if not isinstance(result, StandardTrack)
        for verdict in result.verdicts if verdict.act == Act.NOW
    ]  # fmt: skip


def _weeks(found: StandardTrack | None) -> Iterator[Line]:
    for row in _records(found.summary if found else None):
        if found and row["since"]:
            size = number(float(row["smoothed"]), 1, sign=True)
            mark = Mark.HIGHER if row["smoothed"] > 0 else Mark.LOWER
            template = LEFT if row["call"] == LEFT_IT else CREEPS
            told = template.format(standard=found.standard, size=size, since=row["since"])
            yield Line(str(row[DESCRIPTOR]), mark, told, _step(found, str(row[DESCRIPTOR])))
    yield from _still(found)


def _still(found: StandardTrack | None) -> Iterator[Line]:
    """What the weeks say of the words that have not moved: one line."""
    if found is None:
        return
    rest = found.summary[found.summary["since"] == ""]
    by_call = {call: list(rest.loc[rest["call"] == call, DESCRIPTOR].astype(str)) for call in (ON_IT, CANNOT_TELL)}
    parts = [STILL_ON.format(standard=found.standard, words=a_few(by_call[ON_IT]))] if by_call[ON_IT] else []
    parts += [STILL_OPEN.format(words=a_few(by_call[CANNOT_TELL]))] if by_call[CANNOT_TELL] else []
    if parts:
        weeks = count(int(found.summary["weeks"].max()), "week")
        yield Line(weeks, Mark.WITHIN if by_call[ON_IT] else Mark.OPEN, "; ".join(parts))


def _blends(found: StandardMatch | None) -> Iterator[Line]:
    if found is None:
        return
    for name, row, here in each_blend(found):
        call = str(row["call"])
        step = "" if call == MATCH or name != str(row[LOT]) else _step(found, name)
        yield Line(name, whole_mark(call), _blend(found.table[here], call, found.standard), step)


def each_blend(found: StandardMatch) -> Iterator[tuple[str, dict[Hashable, Any], pd.Series]]:
    """Every blend (and session, where there are several): its name, its line of the summary, its rows of the table."""
    keys = [SESSION, LOT] if SESSION in found.table else [LOT]
    for row in found.summary.to_dict("records"):
        here = (found.table[keys] == [row[name] for name in keys]).all(axis=1)
        yield ", ".join(str(row[part]) for part in reversed(keys)), row, here


def _step(found: Result, subject: str) -> str:
    """What is to be done about it."""
    return next((verdict.next_step for verdict in found.verdicts if verdict.subject == subject), "")


def whole_mark(call: str) -> Mark:
    """The shape that repeats the call on a blend or a test as a whole: a size without a direction."""
    return {MATCH: Mark.WITHIN, DIFFER: Mark.APART}.get(call, Mark.OPEN)


def _blend(mine: pd.DataFrame, call: str, standard: str) -> str:
    n = count(len(mine), "word")
    if call == MATCH:
        return MATCHES.format(standard=standard, n=n)
    if call != DIFFER:
        return OPEN.format(standard=standard, settled=int((mine["call"] == MATCH).sum()), n=n)
    apart = mine[mine["call"] == DIFFER].sort_values("difference", key=lambda values: -values.abs(), kind="stable")
    told = apart.head(_TOLD)
    sizes = ", ".join(
        f"{name} {number(size, 1, sign=True)}" for name, size in zip(told[DESCRIPTOR], told["difference"], strict=True)
    )
    more = MORE.format(n=len(apart) - _TOLD) if len(apart) > _TOLD else ""
    return DIFFERS.format(standard=standard, sizes=sizes, more=more)


def _tests(found: JudgedAnswers | None) -> Iterator[Line]:
    several = found is not None and len(set(found.table[SESSION])) > 1
    for row in _records(found.table if found else None):
        kind, call = str(row["kind"]), str(row["call"])
        name = listing(filter(None, [str(row["test"]), str(row[SESSION]) if several else ""]))
        chance = KINDS[kind].chance
        template = PAIRED if KINDS[kind].two_sided else TEST
        luck = LUCK.format(n=number(float(chance) * row["answers"], 0)) if chance is not None else ""
        told = template.format(kind=said(kind), call=said(CALLS.get(call, call)), correct=row["correct"],
                               answers=row["answers"], luck=luck, share=_share(row))  # fmt: skip
        yield Line(name, whole_mark(call), told)


def _share(row: dict[Hashable, Any]) -> str:
    share, high = float(row["share_who_can_tell"]), float(row["share_who_can_tell_high"])
    if math.isnan(high):
        return UNKNOWN
    template = CAN_TELL if row["call"] == DIFFER and math.isfinite(share) else AT_MOST
    return template.format(share=percent(abs(share)), high=percent_limit(high, up=True))


def _records(table: pd.DataFrame | None) -> Iterable[dict[Hashable, Any]]:
    return [] if table is None else table.to_dict("records")
