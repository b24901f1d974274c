"""The verdicts of one map."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.lots.maps import words
from panelstats.lots.maps.apart import apart
from panelstats.lots.maps.axiswords import ends, marked_by, outermost
from panelstats.lots.maps.placed import ERROR, REGION_TASTERS, SPREAD, TESTED, error_known
from panelstats.result import Act, Verdict
from panelstats.speech import Phrase, said
from panelstats.words import capital, count, decimals, interval, listing, number, p_value, percent

if TYPE_CHECKING:
    from panelstats.lots.maps.besides import Fitted
    from panelstats.lots.maps.drawn import Drawn
    from panelstats.lots.maps.placed import Placed

# Pairs of lots told at either end, and lots told of a distance; groups kept by less are hardly groups (Hennig 2007).
_PAIRS, _LOTS, _HARDLY = 3, 3, 0.6
_UNITS = {SPREAD: Phrase(" sd"), ERROR: Phrase(" sd of the error")}


def map_verdicts(drawn: Drawn, *, named: bool) -> list[Verdict]:
    """All that is said of one map; `named` where there are several."""
    start = words.OF_CLASS.format(name=drawn.placed.ground.lot_class or "all lots") if named else ""
    found = [_map(drawn)]
    if drawn.placed.shown:
        found += [_alike(drawn), *_groups(drawn), *_distances(drawn)]
    found += [*_stages(drawn), *_picture(drawn), *_facts(drawn)]
    return [_opened(verdict, start, drawn.placed.ground.lot_class if named else "") for verdict in found]


def _opened(verdict: Verdict, start: str, subject: str) -> Verdict:
    """The verdict with its class before it, and a capital letter."""
    told = start + verdict.sentence if start else verdict.sentence[:1].upper() + verdict.sentence[1:]
    return Verdict(verdict.question, verdict.subject or subject, verdict.call, told, verdict.numbers,
                   verdict.next_step, verdict.act)  # fmt: skip


def sizes(placed: Placed) -> dict[str, str]:
    """Numbers of lots, tasters and descriptors in words."""
    ground = placed.ground
    return {
        "lots": count(len(ground.lots), "lot"),
        "tasters": count(len(ground.tasters), "taster"),
        "descriptors": count(len(ground.descriptors), "descriptor"),
        "df": number(ground.df, 0),
    }


def _map(drawn: Drawn) -> Verdict:
    placed = drawn.placed
    notes = " ".join(map(str, notes_of(placed)))
    if placed.short:
        told = words.SHORT[placed.short].format(**sizes(placed))
        if placed.alone >= 0:
            told += words.ALONE.format(
                taster=placed.ground.tasters[0], axes=count(placed.alone, "axis", "axes") if placed.alone else "no axis"
            )
        step = words.SHORT_NEXT[placed.short]
        return Verdict(words.IS_THERE, "", words.CANNOT_TELL, f"{told} {notes}".strip(), {}, step, Act.KNOW)
    numbers = {"trusted": float(placed.trusted)} | {f"p_{at + 1}": float(p) for at, p in enumerate(placed.p)}
    if not placed.shown:
        p = p_value(float(placed.p[0])) if len(placed.p) else "–"
        told = words.NONE.format(p=p, **sizes(placed))
        return Verdict(words.IS_THERE, "", words.NOTHING, f"{told} {notes}".strip(), numbers, words.NONE_NEXT, Act.KNOW)
    ways = " ".join(
        words.WAY.format(at=at + 1, low=low, high=high)
        for at, (low, high) in enumerate(ends(placed, axis) for axis in range(placed.plane))
    )
    each = "; ".join(axis_line(placed, at) for at in range(placed.shown))
    unsure = (words.ARBITRARY if placed.arbitrary else "") + (words.TURNED if placed.turned else "")
    if not error_known(placed.ground):
        unsure += words.NO_REGIONS if len(placed.ground.tasters) < REGION_TASTERS else words.NO_ERROR
    asked = placed.trusted < placed.shown
    told = words.STRIP if placed.shown == 1 and not asked and placed.trusted == 1 else words.MAP
    said = told.format(axes=axes_in_words(placed), each=each, shown=count(placed.shown, "axis", "axes"), ways=ways,
                       unsure=unsure)  # fmt: skip
    call = words.NOTHING if not placed.trusted else words.ONE_AXIS if placed.trusted == 1 else words.MAPPED
    return Verdict(words.IS_THERE, "", call, f"{said} {notes}".strip(), numbers, "", Act.KNOW)


def axes_in_words(placed: Placed) -> str:
    """How many axes the tasters agree on."""
    if placed.trusted == TESTED:
        return words.AT_LEAST.format(n=TESTED)
    return count(placed.trusted, "axis", "axes") if placed.trusted else str(Phrase("no axis"))


def axis_line(placed: Placed, at: int) -> str:
    """An axis with its share and p."""
    p = p_value(float(placed.p[at])) if at < len(placed.p) and np.isfinite(placed.p[at]) else "not asked"
    return words.AXIS.format(at=at + 1, share=percent(float(placed.axes.share[at])), p=p)


def notes_of(placed: Placed) -> list[str]:
    """What was left out, rescaled, or lies outside what regions cover."""
    ground, out = placed.ground, placed.ground.left_out
    said = []
    instead = "" if out.otherwise is None else words.INSTEAD.format(
        what=capital(out.otherwise[0]), names=listing(out.otherwise[1]))  # fmt: skip
    if out.words:
        said.append(words.LEFT_WORDS.format(words=listing(out.words)) + ("" if out.lots else instead))
    if out.lots:
        dashed = words.DASHED if placed.shown > 1 and len(apart(placed)) else ""
        said.append(words.LEFT_LOTS.format(lots=listing(out.lots)) + dashed + instead)
    said += gaps_told(placed)
    if out.flat:
        said.append(words.FLAT.format(words=listing(out.flat)))
    if ground.width:
        said.append(words.WIDTHS if ground.width == "width" else words.UNLIKE_ENDS)
    if ground.one_brew and not placed.short:
        said.append(words.ONE_BREW)
    elif ground.pots is not None and np.isfinite(placed.radius):
        said.append(words.POTS_IN)
    return said


def gaps_told(placed: Placed) -> list[str]:
    """What was filled in where that was asked for, or why it was not."""
    ground, gaps = placed.ground, placed.ground.gaps
    share = percent(gaps.share)
    if gaps.refused:
        return [words.NOT_FILLED[gaps.refused].format(share=share, names=listing(gaps.names))]
    if placed.short or not gaps.at.any():
        return []
    which = "; ".join(
        words.ONE_GAP.format(lot=lot, words=listing(ground.descriptors[mine]))
        for lot, mine in zip(ground.lots, gaps.at, strict=True)
        if mine.any()
    )
    axes = count(gaps.axes, "axis", "axes")
    how = words.FROM_AXES.format(axes=axes) if gaps.axes else words.FROM_MEANS
    n, places = int(gaps.at.sum()), count(gaps.at.size, "place")
    return [words.FILLED.format(n=n, places=places, share=share, which=which, how=how)]


def size_of(placed: Placed, value: float, places: int = 1) -> str:
    """A distance on the map with its unit."""
    unit = _UNITS.get(placed.scale) or (Phrase(" point") if number(value, places) == "1" else Phrase(" points"))
    return number(value, places) + unit


def pairs(placed: Placed) -> tuple[list[tuple[str, str, float]], list[tuple[str, str, float]]]:
    """The pairs of lots farthest apart and nearest on the axes given, at most so many lots looked at."""
    at = np.arange(len(placed.scores))
    x = placed.scores
    out = at[np.argsort(-(x**2).sum(axis=1), kind="stable")[:500]] if len(at) > 500 else at
    far = _ordered(placed, np.sort(out), farthest=True)
    near = _ordered(placed, at[:500] if len(at) > 500 else at, farthest=False)
    return far, near


def _ordered(placed: Placed, at: np.ndarray, *, farthest: bool) -> list[tuple[str, str, float]]:
    x, names = placed.scores[at], placed.ground.lots[at]
    one, other = np.triu_indices(len(at), 1)
    size = np.sqrt(((x[one] - x[other]) ** 2).sum(axis=1))
    order = np.argsort(-size if farthest else size, kind="stable")[: min(_PAIRS, len(size) - 1) if farthest else 1]
    return [(str(names[one[k]]), str(names[other[k]]), float(size[k])) for k in order]


def _alike(drawn: Drawn) -> Verdict:
    placed = drawn.placed
    far, near = pairs(placed)
    told = [listing(words.PAIR.format(one=a, other=b, size=size_of(placed, size)) for a, b, size in some)
            for some in (far, near)]  # fmt: skip
    out = " ".join(
        words.OUTERMOST.format(lots=listing(lots), words=way) for lots, way in outermost(placed, range(placed.plane))
    )
    said = words.ALIKE.format(far=told[0], near=told[1], out=out).strip()
    rule = f" {words.RULE}" if np.isfinite(placed.radius) else ""
    call = "placed" if placed.trusted else words.NOTHING
    return Verdict(words.WHO_ALIKE, "", call, said + rule, {"farthest": far[0][2], "nearest": near[0][2]}, "", Act.KNOW)


def _groups(drawn: Drawn) -> list[Verdict]:
    found, placed = drawn.groups, drawn.placed
    if found is None:
        return []
    p = float(found.found.p)
    sample = words.OF_SAMPLE.format(n=count(len(found.row), "lot")) if len(found.row) < len(placed.ground.lots) else ""
    if not found.clear:
        said = words.UNGROUPED.format(p=p_value(p)) + sample
        return [Verdict(words.WHAT_GROUPS, "", words.NO_GROUPS, said, {"p": p}, "", Act.KNOW)]
    groups = [found.row[found.found.label == g] for g in range(found.found.count)]
    told = "; ".join(
        words.ONE_GROUP.format(lots=_named(placed, rows), words=marked_by(placed, rows)) for rows in groups
    )
    stable = listing(percent(float(share)) for share in found.stable)
    said = words.GROUPED.format(n=len(groups), groups=told, p=p_value(p), stable=stable) + sample
    said += words.UNSTABLE if (found.stable < _HARDLY).any() else ""
    return [Verdict(words.WHAT_GROUPS, "", words.GROUPS, said, {"p": p, "groups": float(len(groups))}, "", Act.KNOW)]


def _named(placed: Placed, rows: np.ndarray) -> str:
    names = [str(name) for name in placed.ground.lots[rows]]
    return (
        listing(names)
        if len(names) <= 2 * _LOTS
        else Phrase("{names} and {lots} more").format(names=", ".join(names[:_LOTS]), lots=len(names) - _LOTS)
    )


def _distances(drawn: Drawn) -> list[Verdict]:
    placed, standard = drawn.placed, drawn.standard
    if not standard:
        return []
    question = words.HOW_FAR.format(standard=standard)
    if not drawn.distances:
        if standard in placed.ground.lots:
            return []
        said = words.NOT_HERE.format(standard=standard, name=placed.ground.lot_class or "the map")
        return [Verdict(question, "", words.CANNOT_TELL, said, {}, words.ALL_TOGETHER, Act.KNOW)]
    few = len(drawn.distances) <= _LOTS
    some = [
        words.ONE_FAR.format(
            lot=each.lot, size=size_of(placed, each.distance, places := decimals((each.high - each.low) / 4)),
            interval=interval(each.low, each.high, places),
        )
        for each in (*drawn.distances[:_LOTS], drawn.distances[-1])
    ]  # fmt: skip
    apart = [each.lot for each in drawn.distances if each.p_adjusted < 1 - drawn.level]
    told = apart if len(apart) <= 2 * _LOTS else [*apart[:_LOTS], Phrase("{n} more").format(n=len(apart) - _LOTS)]
    differ = words.DIFFER.format(lots=listing(told)) if apart else words.NONE_DIFFER
    near = some[: min(_LOTS, len(drawn.distances))]
    far = words.FAR_OFF.format(far=some[-1]) if not few else ""
    said = words.FAR.format(standard=standard, near=listing(near), far=far, differ=differ)
    call = words.DIFFERS if apart else words.CANNOT_TELL
    step = words.MATCH_NEXT.format(standard=standard)
    nearest = drawn.distances[0]
    numbers = {"nearest": nearest.distance, "low": nearest.low, "high": nearest.high}
    return [Verdict(question, standard, call, said, numbers, step, Act.KNOW)]


def _stages(drawn: Drawn) -> list[Verdict]:
    found = drawn.stages
    if found is None or not drawn.placed.trusted:
        return []
    out = [each.stage or "no stage" for each in found.stages if not each.used]
    if not found.alike:
        sentence = words.NO_JOINT.format(stages=listing(map(said, found.used))) if found.used else words.NO_STAGE
        return [Verdict(words.ONE_STORY, "", words.CANNOT_TELL, sentence, {}, words.NONE_NEXT, Act.KNOW)]
    shown = [each.p < 1 - drawn.level for each in found.alike]
    told = "; ".join(
        words.ONE_PAIR.format(one=said(each.stage_a), other=said(each.stage_b), rv=number(each.rv, 2),
                              p=p_value(each.p), told=words.LIKE if like else words.UNLIKE)
        for each, like in zip(found.alike, shown, strict=True)
    )  # fmt: skip
    left = words.STAGE_OUT.format(stages=listing(map(said, out))) if out else ""
    sentence = words.STAGES.format(pairs=told, out=left)
    call = words.TOGETHER if all(shown) else words.APART
    return [Verdict(words.ONE_STORY, "", call, sentence, {"pairs_alike": float(sum(shown))}, "", Act.KNOW)]


def _picture(drawn: Drawn) -> list[Verdict]:
    if drawn.picture is None:
        return []
    plain, turned, _ = drawn.picture.lines
    alpha = 1 - drawn.level
    finding = words.NOT_ONE if turned.p > alpha else words.ALIKE_APART
    said = words.PICTURE.format(
        plain=percent(plain.share), plain_chance=percent(plain.chance), turned=percent(turned.share),
        turned_chance=percent(turned.chance), p=p_value(turned.p), finding=finding,
    )  # fmt: skip
    call = words.NO_PICTURE if turned.p > alpha else words.ONE_PICTURE
    return [Verdict(words.SAME_PICTURE, "", call, said, {"share": turned.share, "p": turned.p}, "", Act.KNOW)]


def _facts(drawn: Drawn) -> list[Verdict]:
    if not drawn.facts:
        return []
    shown = [each for each in drawn.facts if each.p_adjusted < 1 - drawn.level]
    rest = [each.variable for each in drawn.facts if each.p_adjusted >= 1 - drawn.level]
    few = [each.variable for each in drawn.facts if np.isnan(each.p)]
    parts = [
        words.FITS.format(variable=each.variable, how=fact_words(drawn.placed, each), p=p_value(each.p_adjusted))
        for each in shown
    ]
    parts += [words.DOES_NOT.format(variables=listing(rest))] if rest else []
    parts += [words.TOO_FEW.format(variables=listing(few))] if few else []
    call = words.GOES if shown else words.NOT_ON_MAP
    return [Verdict(words.GOES_WITH, "", call, "; ".join(parts) + ".", {}, "", Act.KNOW)]


def fact_words(placed: Placed, each: Fitted) -> str:
    """How a fact lies on the map."""
    if each.kind != "number":
        return words.HOW_CATEGORY.format(size=percent(each.share))
    slopes = np.nan_to_num([each.slope_1, each.slope_2])
    axis = int(np.argmax(np.abs(slopes[: placed.axes.loadings.shape[1]])))
    low, high = ends(placed, axis)
    return words.HOW_NUMBER.format(size=number(np.sqrt(each.share), 2), way=f"“{high if slopes[axis] > 0 else low}”")
