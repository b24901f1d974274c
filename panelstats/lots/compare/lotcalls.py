"""The verdicts on the lots of one class: which differ, which lie within tolerance, what the data cannot tell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.lots.classfit import FEW_LOTS
from panelstats.lots.compare import words
from panelstats.lots.compare.pairs import compare, spans
from panelstats.models.estimable import NO_DF, NO_ERROR, NO_VARIATION
from panelstats.models.numbersneeded import MOST_TASTERS, PLANNING_POT_SD, pots_and_tasters_needed, tasters_needed
from panelstats.models.reml import LOT_POT, LOT_TASTER, RESIDUAL
from panelstats.result import Act, Verdict
from panelstats.speech import Phrase
from panelstats.words import count, decimals, interval, limit, listing, number, stated, stated_percent

if TYPE_CHECKING:
    from panelstats.lots.classfit import ClassFit
    from panelstats.lots.compare.pairs import Compared, Spans
    from panelstats.models.panelfit import DescriptorFit

# p-values in this band are near the line where the lot test is known to run above its level.
NEAR_THE_LINE = (0.03, 0.07)
WHY_NOT = {
    NO_VARIATION: (words.NO_VARIATION_WORDS, words.NO_VARIATION_STEP),
    NO_ERROR: (words.NO_ERROR_WORDS, words.NO_ERROR_STEP),
    NO_DF: (words.NO_DF_WORDS, words.NO_DF_STEP),
}


def class_verdicts(group: ClassFit, compared: list[Compared]) -> list[Verdict]:
    """Verdicts on one class: what differs, what lies within tolerance, what the data cannot tell."""
    found, wide = {one.descriptor: one for one in compared}, spans(group)
    verdicts, open_ones = [], []
    for d in range(len(group.grid.descriptors)):
        if group.state(d) or not np.isfinite(group.p_adjusted[d]):
            verdicts.append(_no_answer(group, d))
        elif group.passed(d):
            verdicts.append(_differ(group, wide, d, found.get(d)))
        elif _within_tolerance(group, wide, d):
            verdicts.append(_within(group, wide, d))
        else:
            open_ones.append(d)
    if open_ones:
        verdicts.append(_cannot_tell(group, wide, open_ones))
    return _merged(verdicts)


def _lots(group: ClassFit) -> str:
    """Which lots: class and, where there are several, session."""
    of_class = words.OF_CLASS.format(lot_class=group.grid.lot_class) if group.grid.lot_class else ""
    return of_class + (words.IN_SESSION.format(session=group.grid.session) if group.among_sessions else "")


@dataclass(frozen=True)
class _Gap:
    """One lot above another, with the simultaneous interval of their difference."""

    above: str
    below: str
    difference: float
    low: float
    high: float

    @property
    def places(self) -> int:
        return max(decimals((self.high - self.low) / 4), 1)

    @property
    def numbers(self) -> dict[str, float]:
        return {"difference": self.difference, "low": self.low, "high": self.high}

    @property
    def fields(self) -> dict[str, str]:
        return {"above": self.above, "below": self.below, "difference": number(self.difference, self.places)}


def _widest(group: ClassFit, wide: Spans, d: int) -> _Gap:
    """Highest lot above lowest."""
    top, bottom = group.grid.lots[[wide.top[d], wide.bottom[d]]]
    gap, half = float(wide.difference[d]), float(wide.half_width[d])
    return _Gap(top, bottom, gap, gap - half, gap + half)


def _surest(group: ClassFit, compared: Compared) -> _Gap:
    """The pair that is told apart most surely."""
    at = int(np.argmax(np.abs(compared.contrasts.estimate) / compared.contrasts.se))
    names = [group.grid.lots[side[at]] for side in (compared.first, compared.second)]
    difference, half = float(compared.contrasts.estimate[at]), float(compared.half[at])
    above, below = names[::-1] if difference < 0 else names
    return _Gap(above, below, abs(difference), abs(difference) - half, abs(difference) + half)


def _differ(group: ClassFit, wide: Spans, d: int, compared: Compared | None) -> Verdict:
    name = group.grid.descriptors[d]
    gap = _widest(group, wide, d) if compared is None or not compared.all_pairs else _surest(group, compared)
    one_brew = group.one_brew(d)
    sentence = (words.BREWS_ARE_APART if one_brew else words.LOTS_DIFFER).format(
        descriptor=name,
        lots=_lots(group),
        gap=words.GAP.format(**gap.fields),
        level=stated_percent(group.level),
        interval=Phrase("{low} to {high}").format(
            low=limit(gap.low, gap.places, up=False, clear=[0.0]), high=limit(gap.high, gap.places, up=True)
        ),
    )
    if compared is not None and compared.all_pairs:
        apart = int((compared.p_adjusted < 1 - group.level).sum())
        pairs = words.PAIRS_APART.format(apart=apart, pairs=count(len(compared.first), "pair"))
        sentence += pairs if apart else words.NO_SINGLE_PAIR
    elif group.count > FEW_LOTS:
        sentence += words.LEAST_APART.format(least=number(float(wide.least[d]), gap.places))
    numbers = gap.numbers | {"p": float(group.p_adjusted[d])}
    call, step = (words.BREWS_DIFFER, words.BREW_AGAIN) if one_brew else (words.DIFFER, "")
    return Verdict(words.QUESTION, name, call, sentence + _caution(group, d), numbers, step, Act.DECIDE)


def _caution(group: ClassFit, d: int) -> str:
    """What weakens the sentence: one brew, one taster, a p-value near the line."""
    looks, out = group.grid.looks[..., d], ""
    if group.one_brew(d):
        out += f" {words.ONE_BREW}"
    if len(group.grid.tasters) == 1:
        out += words.ONE_TASTER
    seen = looks.sum(axis=2) > 0
    if (seen.any(axis=0).sum() < 5 or not seen.all()) and NEAR_THE_LINE[0] < group.p[d] < NEAR_THE_LINE[1]:
        out += words.NEAR_LINE
    return out


def _within_tolerance(group: ClassFit, wide: Spans, d: int) -> bool:
    """Whether every simultaneous interval lies inside the tolerance."""
    if not np.isfinite(group.tolerance[d]) or not 2 <= group.count <= FEW_LOTS:
        return False
    if _widest(group, wide, d).high >= group.tolerance[d]:  # spares most descriptors the comparison of every pair
        return False
    return all((np.abs(one.contrasts.estimate) + one.half < group.tolerance[d]).all() for one in compare(group, [d]))


def _within(group: ClassFit, wide: Spans, d: int) -> Verdict:
    name = group.grid.descriptors[d]
    gap = _widest(group, wide, d)
    sentence = words.WITHIN_TOLERANCE.format(
        descriptor=name,
        lots=_lots(group),
        tolerance=stated(group.tolerance[d]),
        high=limit(gap.high, gap.places, up=True, clear=[float(group.tolerance[d])]),
        **gap.fields,
    )
    return Verdict(words.QUESTION, name, words.WITHIN, sentence + _caution(group, d), gap.numbers, "", Act.KNOW)


def _cannot_tell(group: ClassFit, wide: Spans, which: list[int]) -> Verdict:
    """One verdict for all descriptors on which the lots are not told apart: never a wall of them."""
    names = [group.grid.descriptors[d] for d in which]
    least = wide.least[which]
    low, high = float(least.min()), float(least.max())
    shown = interval(low, high, 1) if high - low > 0.05 else number(low, 1)
    sentence = words.NOT_TOLD.format(lots=_lots(group), descriptors=listing(names), least=shown)
    worst = which[int(least.round(9).argmax())]  # pooled errors make ties, which last digits must not decide
    return Verdict(
        question=words.QUESTION,
        subject=names[0] if len(names) == 1 else "",
        call=words.CANNOT_TELL,
        sentence=sentence + _caution(group, worst),
        numbers={"least_difference_low": low, "least_difference_high": high},
        next_step=next_step(group, worst),
        act=Act.KNOW,
    )


def _no_answer(group: ClassFit, d: int) -> Verdict:
    name = group.grid.descriptors[d]
    alone = (words.ONE_LOT_WORDS, words.ONE_LOT_STEP)
    otherwise = alone if group.count < 2 else (words.NO_ERROR_TOLD_WORDS, words.NO_DF_STEP)
    reason, step = WHY_NOT.get(group.state(d), otherwise)
    sentence = words.NO_ANSWER.format(descriptor=name, lots=_lots(group), reason=reason)
    return Verdict(words.QUESTION, name, words.CANNOT_TELL, sentence, {}, step, Act.KNOW)


def _merged(verdicts: list[Verdict]) -> list[Verdict]:
    """Verdicts that say one thing of many descriptors become one."""
    out: dict[str, list[Verdict]] = {}
    for verdict in verdicts:
        alike = verdict.call == words.CANNOT_TELL and not verdict.numbers
        out.setdefault(verdict.sentence.partition(": ")[2] if alike else verdict.sentence, []).append(verdict)
    merged = []
    for tail, alike_ones in out.items():
        if len(alike_ones) == 1:
            merged += alike_ones
        else:
            names, step = listing([verdict.subject for verdict in alike_ones]), alike_ones[0].next_step
            merged.append(Verdict(words.QUESTION, "", words.CANNOT_TELL, f"{names}: {tail}", {}, step, Act.KNOW))
    return merged


def next_step(group: ClassFit, d: int) -> str:
    """What would find a difference of the tolerance (or of one point) in 8 cases of 10."""
    fit = group.of(d)
    if fit is None or group.count < 2:
        return words.TASTE_AGAIN
    wanted = group.tolerance[d] * 2 if np.isfinite(group.tolerance[d]) else 1.0
    fields = {"difference": stated(wanted, ".3g"), "points": str(Phrase("point") if wanted == 1 else Phrase("points"))}
    tasters = len(group.grid.tasters)
    if (fit.part.shared or group.one_brew(d)) and tasters > 1:
        would = _pots_would(group, fit, d, wanted)
        two = words.TWO_POTS if _brews(group, d) == 2 else ""
        return two + words.POTS_WOULD.format(**would, **fields) if would else _nobody_would(fields)
    looks = max(int(group.grid.looks[..., d].sum(axis=2).max()), 1)
    variance = fit.variances
    more = tasters_needed(
        variance[LOT_TASTER], variance[RESIDUAL], looks=looks, lots=group.count, difference=wanted, level=group.level
    )
    if more is not None:
        return words.TASTERS_WOULD.format(tasters=count(max(more, tasters + 1), "taster"), **fields)
    return _nobody_would(fields)


def _nobody_would(fields: dict[str, str]) -> str:
    return words.NOBODY_WOULD.format(most=MOST_TASTERS, **fields)


def _pots_would(group: ClassFit, fit: DescriptorFit, d: int, wanted: float) -> dict[str, str]:
    """Shared pots a lot that would do, with more tasters where these do not; empty where no number does.

    The difference is to be found among all the tests of the page, with the degrees of freedom that others lend.
    """
    variance, can, k = fit.variances, fit.part.can, fit.slot
    own = can.pot_df[fit.place], can.cross_df[fit.place]
    lent = [max(float(part.df[k]) / df, 1.0) if part.held[k] and df > 0 else 1.0
            for part, df in zip((fit.part.pots, fit.part.interactions), own, strict=True)]  # fmt: skip
    told, present = variance[LOT_POT] > 0, len(group.grid.tasters)
    planned = variance[LOT_POT] if told else PLANNING_POT_SD**2, variance[LOT_TASTER], variance[RESIDUAL]
    enough = pots_and_tasters_needed(
        *planned, tasters=present, lots=group.count, difference=wanted,
        level=1 - (1 - group.level) / max(group.tests, 1), lent=(lent[0], lent[1]),
    )  # fmt: skip
    if enough is None:
        return {}
    pots, tasters = max(enough[0], _brews(group, d) + (enough[1] == present)), enough[1]
    assumed = "" if told else words.ASSUMED_POTS.format(sd=PLANNING_POT_SD)
    return {"pots": count(pots, "pot"), "assumed": assumed, "tasters": count(tasters, "taster")}


def _brews(group: ClassFit, d: int) -> int:
    """Most pots that one lot was tasted from."""
    return int((group.grid.looks[..., d].sum(axis=1) > 0).sum(axis=1).max())
