"""Which sentence is said of whom: the verdicts of an assessment."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.panel.tasters import words as say
from panelstats.panel.tasters.assessed import Assessed, finding_at, shown_with_panel, stands_out, untested, worst_of
from panelstats.panel.tasters.finding import AGREEMENT, LEVEL, SCALE_USE
from panelstats.panel.tasters.growth import opinions_grow
from panelstats.panel.tasters.naming import APART, CANNOT, EACH_OTHER, WITH, Split
from panelstats.panel.tasters.reasons import reason_of
from panelstats.panel.tasters.spread import CONSTANT
from panelstats.panel.tasters.words import finding_said
from panelstats.result import Act, Verdict
from panelstats.words import capital, count, interval, listing, number

if TYPE_CHECKING:
    from panelstats.panel.tasters.ownlots import TypicalRepeat


def worst_said(a: Assessed, i: int) -> str:
    """What matters most of taster `i` in words, "" where nothing does."""
    aspect, d = worst_of(a, i)
    return where_said(a, aspect, d) if aspect else ""


def where_said(a: Assessed, aspect: str, d: int) -> str:
    """An aspect and the descriptor it is about."""
    return (say.ON_ALL if d < 0 else say.ON_ONE).format(aspect=say.SAID[aspect], descriptors=a.descriptors[d])


def taster_verdict(a: Assessed, i: int) -> Verdict:
    """The verdict on one taster."""
    call = a.calls.overall[i]
    write = {APART: _apart, WITH: _with_panel, EACH_OTHER: _with_each_other, CANNOT: _cannot_tell}[call]
    sentence, step = _with_crossed(a, i, *write(a, i))
    act = {APART: Act.DECIDE, CANNOT: Act.TASTE_AGAIN}.get(call, Act.KNOW)
    act = Act.DECIDE if i in a.crossed else act
    return Verdict(say.QUESTION, str(a.tasters[i]), call, sentence, _numbers(a, i), step, act)


def crossed_said(a: Assessed, i: int) -> str:
    """That a word of taster `i` goes with another word of the others; "" where none does."""
    found = a.crossed.get(i)
    if found is None:
        return ""
    word, other = (a.descriptors[d] for d in (found.word, found.other))
    return say.CROSSED[found.kind].format(taster=a.tasters[i], word=word, other=other)


def _with_crossed(a: Assessed, i: int, sentence: str, step: str) -> tuple[str, str]:
    """Crossed words first; where what is named is one of them, in the place of its numbers."""
    found = a.crossed.get(i)
    if found is None:
        return sentence, step
    said, (aspect, d) = crossed_said(a, i), worst_of(a, i)
    words = [str(a.descriptors[k]) for k in (found.word, found.other)]
    step = say.CROSSED_STEP.format(word=words[0], other=words[1])
    if a.calls.overall[i] == APART and d in (found.word, found.other):
        return say.APART_CROSSED.format(taster=a.tasters[i], worst=where_said(a, aspect, d), crossed=said), step
    return f"{said} {sentence}", step


def _numbers(a: Assessed, i: int) -> dict[str, float]:
    aspect, d = worst_of(a, i)
    found, at = finding_at(a, aspect or LEVEL, i, d)
    return {name: float(getattr(found, name)[at]) for name in ("estimate", "low", "high", "p", "floor", "ceiling")}


def _said(a: Assessed, aspect: str, i: int, d: int) -> str:
    found, at = finding_at(a, aspect, i, d)
    others = say.OF_ONE.format(name=a.tasters[1 - i]) if len(a.tasters) == 2 else str(say.OF_OTHERS)
    return finding_said(aspect, found, at, "" if d < 0 else str(a.descriptors[d]), others=others)


def _apart(a: Assessed, i: int) -> tuple[str, str]:
    aspect, d = worst_of(a, i)
    others = [str(t) for k, t in enumerate(a.tasters) if k != i]
    three = a.size == 3 and len(others) == 2
    fields = {"taster": a.tasters[i], "worst": where_said(a, aspect, d), "finding": _said(a, aspect, i, d)}
    today = aspect == LEVEL and len(a.bench.pool.sessions) == 1
    template = (say.IS_APART, say.IS_APART_OF_THREE, say.IS_APART_TODAY, say.IS_APART_OF_THREE_TODAY)[three + 2 * today]
    sentence = template.format(others=listing(others), **fields)
    more = _also(a, i, aspect)
    sentence += say.ALSO_APART.format(more=listing(more)) if more else ""
    if _named_on_scale_use(a, i) and opinions_grow(a.bench.pool, i):
        sentence += say.OPINIONS_GROW
    step: str = say.LESSON[aspect]
    if d >= 0 and a.names.judgement.cells[SCALE_USE].high[i, d] < 0:
        step = say.WRONG_WAY.format(descriptor=a.descriptors[d])
    return sentence, f"{step} {say.CONTROL_DECIDES}" if three else step


def _named_on_scale_use(a: Assessed, i: int) -> bool:
    names = a.names
    return SCALE_USE in a.judged and bool(names.cells[SCALE_USE][i].any() or names.tasters[SCALE_USE][i])


def _also(a: Assessed, i: int, aspect: str) -> list[str]:
    """What else a taster is named for."""
    out = []
    for k in a.judged:
        on, everywhere = a.names.cells[k][i], a.names.tasters[k][i]
        if k != aspect and (on.any() or everywhere):
            template = say.ON_ALL if everywhere else say.ON_ONE
            out.append(template.format(aspect=say.SAID[k], descriptors=listing(a.descriptors[on])))
    return out


def _with_each_other(a: Assessed, i: int) -> tuple[str, str]:
    rest = [str(a.tasters[k]) for k in a.pairs if k != i]
    said = finding_said(LEVEL, a.pairs[i], (0,), "", others=say.OF_ONE.format(name=listing(rest)))
    sentence = say.IS_WITH_EACH_OTHER.format(
        taster=a.tasters[i], others=listing(rest), finding=said, order=_order_said(a)
    )
    return sentence, say.PAIR_DECIDES


def _order_said(a: Assessed) -> str:
    """On which descriptors the panel's marks follow the lots."""
    on = a.descriptors[a.calls.orders.on]
    if len(on) < say.FEW_WORDS:
        return say.ORDER_SHOWN_ONLY.format(names=listing(on) if len(on) else say.ALL_TOGETHER)
    return say.ORDER_SHOWN.format(on=len(on), descriptors=count(len(a.descriptors), "descriptor"))


def _with_panel(a: Assessed, i: int) -> tuple[str, str]:
    missing = ", ".join(str(say.SAID[k]) for k in untested(a))
    template = say.IS_WITH_PANEL_TODAY if len(a.bench.pool.sessions) == 1 else say.IS_WITH_PANEL
    sentence = template.format(
        taster=a.tasters[i],
        judged=listing(say.SAID[k] for k in a.judged),
        missing=say.MISSING.format(aspects=missing) if missing else "",
        shown=shown_with_panel(a)[i],
        descriptors=count(len(a.descriptors), "descriptor"),
        finding=_said(a, LEVEL, i, -1),
        order=_order_said(a),
    )
    return sentence, ""


def _cannot_tell(a: Assessed, i: int) -> tuple[str, str]:
    if same := _same_mark(a, i):
        return say.SAME_MARK.format(taster=a.tasters[i], descriptors=listing(same)), str(say.SAME_MARK_STEP)
    aspect, d = worst_of(a, i)
    if not aspect or not (a.calls.orders.panel_shown or stands_out(a, i)):
        return _not_reassured(a, i)
    split = [s for s in a.names.splits if s.aspect == aspect and s.descriptor == d]
    sentence = say.IS_UNDECIDED.format(
        taster=a.tasters[i], worst=where_said(a, aspect, d), finding=_said(a, aspect, i, d)
    )
    if split:
        return sentence, split_said(a, split[0])
    found, _ = finding_at(a, aspect, i, d)
    wide = found if d >= 0 else found[:, None]
    return sentence, f"{capital(reason_of(a, aspect, wide, CANNOT, i, max(d, 0)) or say.MORE_TOGETHER)}."


def _same_mark(a: Assessed, i: int) -> list[str]:
    """Descriptors on which taster `i` gave every lot one mark though the others tell the lots apart."""
    found = a.names.judgement.cells.get(AGREEMENT)
    return [] if found is None else [str(a.descriptors[d]) for d in np.flatnonzero(found.why[i] == CONSTANT)]


def _not_reassured(a: Assessed, i: int) -> tuple[str, str]:
    """Nothing stands out, and yet what reassurance needs is not shown."""
    shown, taster = a.calls.orders, a.tasters[i]
    if not a.judged:
        return say.CANNOT_TELL.format(taster=taster), _why_not(a, i)
    if not shown.askable:
        return say.TOO_FEW_LOTS.format(taster=taster), say.MORE_LOTS_TOGETHER
    if not shown.panel_shown:
        sentence, step = say.NO_ORDER.format(taster=taster), say.KNOWN_PAIR
    elif not shown.own_shown[i]:
        sentence, step = say.FOLLOWS_NOBODY.format(taster=taster), say.FOLLOWS_NOBODY_STEP
    elif not shown.level_held[i]:
        sentence, step = say.NOT_LEVEL.format(taster=taster, finding=_said(a, LEVEL, i, -1)), say.NOT_LEVEL_STEP
    else:
        return say.CANNOT_TELL.format(taster=taster), _why_not(a, i)
    return sentence + (say.AS_BLIND if shown.as_blind[i] else ""), step


def no_order_verdict(a: Assessed) -> Verdict:
    """The verdict on a panel whose marks show no order of the lots, or could show none."""
    shown, numbers = a.calls.orders, {"p": a.calls.orders.panel_p}
    said = (say.PANEL_WITHOUT_ORDER, say.KNOWN_PAIR) if shown.askable else (say.PANEL_TOO_FEW, say.MORE_LOTS_TOGETHER)
    return Verdict(say.PANEL_QUESTION, "", CANNOT, said[0], numbers, said[1], Act.TASTE_AGAIN)


def _why_not(a: Assessed, i: int) -> str:
    """Why nothing at all stands in the way and yet nothing is shown."""
    reasons = {reason_of(a, k, a.names.judgement.cells[k], CANNOT, i, 0) for k in a.judged}
    return f"{capital(min(reasons, default=say.NEED_LOTS))}."


def split_said(a: Assessed, split: Split) -> str:
    """A panel that falls apart on one aspect, without a name."""
    sides = [listing(a.tasters[list(side)]) for side in (split.above, split.below)]
    template = {2: say.TWO_DIFFER, 3: say.THREE_DIFFER}.get(
        len(a.tasters), say.SPLIT_SIDES if all(sides) and split.aspect == LEVEL else say.SPLIT
    )
    return template.format(
        worst=where_said(a, split.aspect, split.descriptor), above=sides[0], below=sides[1],
        one=a.tasters[0], other=a.tasters[-1],
    )  # fmt: skip


def split_verdict(a: Assessed, split: Split) -> Verdict:
    """The verdict on a split panel."""
    return Verdict(
        say.PANEL_QUESTION, "", CANNOT, split_said(a, split), next_step=say.SPLIT_STEP, act=Act.TASTE_AGAIN
    )  # fmt: skip


def alone_verdict(taster: str, repeat: TypicalRepeat) -> Verdict:
    """All that can be said of a taster who sat alone."""
    if np.isnan(repeat.gap):
        sentence, numbers, step = say.ALONE_ONCE.format(taster=taster), {}, say.ALONE_ONCE_STEP
    else:
        between = interval(repeat.low, repeat.high, 1)
        sentence = say.ALONE.format(taster=taster, gap=number(repeat.gap, 1), between=between)
        numbers, step = {"estimate": repeat.gap, "low": repeat.low, "high": repeat.high}, say.ALONE_STEP
    return Verdict(say.QUESTION, taster, CANNOT, sentence, numbers, step, Act.TASTE_AGAIN)
