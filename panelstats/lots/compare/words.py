"""What a lot comparison says in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.lots.compare.fitted import FEW_LOTS
from panelstats.lots.compare.pairs import compare, spans
from panelstats.lots.compare.settling import next_step
from panelstats.lots.compare.tables import error_term
from panelstats.models.estimable import NO_DF, NO_ERROR, NO_VARIATION
from panelstats.models.panel import STEADIED
from panelstats.result import Act, Verdict
from panelstats.scores.cells import OWN, POTS, SAME, SESSION, STAGE
from panelstats.words import count, decimals, interval, listing, number

if TYPE_CHECKING:
    from panelstats.lots.compare.fitted import Fitted
    from panelstats.lots.compare.pairs import Compared, Spans
    from panelstats.scores.cells import Cells

DIFFER, WITHIN, CANNOT_TELL = "differ", "within tolerance", "cannot tell"
QUESTION = "Do the lots differ?"
# p-values in this band are near the line where the lot test is known to run above its level.
NEAR_THE_LINE = (0.03, 0.07)

NO_SINGLE_PAIR = " No single pair is told apart: that they differ is shown, which ones is not."
ONE_BREW = "Each lot stands on one brew: the intervals speak of that brew, not of the lot."
UNDECLARED = (
    "Pots were not declared; taken as shared, the careful choice. If each taster had his own, declare pots = own: "
    "the intervals become narrower."
)
MODEL = (
    "Model: score = lot + taster + lot:taster + lot:pot + error, fitted by REML for each session and class; lots "
    "fixed, the rest random (lot:pot only where pots are shared)."
)
OWN_POTS = "Each taster had pots of his own: pot-to-pot variation is part of the residual."
SAME_POT = "Pot numbers are repeated tastings of one brew: the intervals speak of that brew."


def class_verdicts(group: Fitted, compared: list[Compared]) -> list[Verdict]:
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


def _named(group: Fitted) -> str:
    """Which lots: class and, where there are several, session."""
    of_class = f" of class {group.grid.lot_class}" if group.grid.lot_class else ""
    return of_class + (f" in session {group.grid.session}" if group.among_sessions else "")


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

    def __str__(self) -> str:
        return f"Lot {self.above} scores {number(self.difference, self.places)} points above lot {self.below}"


def _widest(group: Fitted, wide: Spans, d: int) -> _Gap:
    """Highest lot above lowest."""
    top, bottom = group.grid.lots[[wide.top[d], wide.bottom[d]]]
    gap, half = float(wide.difference[d]), float(wide.half_width[d])
    return _Gap(top, bottom, gap, gap - half, gap + half)


def _surest(group: Fitted, compared: Compared) -> _Gap:
    """The pair that is told apart most surely."""
    at = int(np.argmax(np.abs(compared.contrasts.estimate) / compared.contrasts.se))
    names = [group.grid.lots[side[at]] for side in (compared.first, compared.second)]
    numbers = [float(x[at]) for x in (compared.contrasts.estimate, compared.low, compared.high)]
    if numbers[0] < 0:
        return _Gap(names[1], names[0], -numbers[0], -numbers[2], -numbers[1])
    return _Gap(*names, *numbers)


def _differ(group: Fitted, wide: Spans, d: int, compared: Compared | None) -> Verdict:
    name = group.grid.descriptors[d]
    gap = _widest(group, wide, d) if compared is None or not compared.all_pairs else _surest(group, compared)
    sure = f"{group.level:.0%}".replace("%", " %")
    reach = f"{sure} interval {interval(gap.low, gap.high, gap.places)}, all pairs taken together"
    sentence = f"{name}: the lots{_named(group)} differ. {gap} ({reach})."
    if compared is not None and compared.all_pairs:
        apart = int((compared.p_adjusted < 1 - group.level).sum())
        sentence += f" {apart} of {count(len(compared.p), 'pair')} are told apart." if apart else NO_SINGLE_PAIR
    elif group.count > FEW_LOTS:
        least = number(float(wide.least[d]), gap.places)
        sentence += f" Two lots must lie {least} points apart before this panel tells them apart."
    numbers = gap.numbers | {"p": float(group.p_adjusted[d])}
    return Verdict(QUESTION, name, DIFFER, sentence + _caution(group, d), numbers, "", Act.DECIDE)


def _caution(group: Fitted, d: int) -> str:
    """What weakens the sentence: one brew, one taster, a p-value near the line."""
    part, out = group.part(d), ""
    if part.shared and not (group.grid.looks[..., d].sum(axis=1) > 0).sum(axis=1).max() > 1:
        out += f" {ONE_BREW}"
    if len(group.grid.tasters) == 1:
        out += " This speaks for this taster only."
    few = (group.grid.looks[..., d].sum(axis=2) > 0).any(axis=0).sum() < 5
    incomplete = (group.grid.looks[..., d].sum(axis=2) == 0).any()
    if (few or incomplete) and NEAR_THE_LINE[0] < group.p[d] < NEAR_THE_LINE[1]:
        out += " The verdict is near the line: taste again before acting on it."
    return out


def _within_tolerance(group: Fitted, wide: Spans, d: int) -> bool:
    """Whether every simultaneous interval lies inside the tolerance."""
    if not np.isfinite(group.tolerance[d]) or not 2 <= group.count <= FEW_LOTS:
        return False
    if _widest(group, wide, d).high >= group.tolerance[d]:  # spares most descriptors the comparison of every pair
        return False
    return all((np.maximum(-one.low, one.high) < group.tolerance[d]).all() for one in compare(group, [d]))


def _within(group: Fitted, wide: Spans, d: int) -> Verdict:
    name = group.grid.descriptors[d]
    gap = _widest(group, wide, d)
    sentence = (
        f"{name}: all lots{_named(group)} lie within the tolerance of {group.tolerance[d]:g} point of one another; the "
        f"largest difference, lot {gap.above} above lot {gap.below}, is {number(gap.difference, gap.places)} "
        f"(at most {number(gap.high, gap.places)})."
    )
    return Verdict(QUESTION, name, WITHIN, sentence + _caution(group, d), gap.numbers, "", Act.KNOW)


def _cannot_tell(group: Fitted, wide: Spans, which: list[int]) -> Verdict:
    """One verdict for all descriptors on which the lots are not told apart: never a wall of them."""
    names = [group.grid.descriptors[d] for d in which]
    least = wide.least[which]
    shown = f"{number(float(least.min()), 1)}"
    if least.max() - least.min() > 0.05:
        shown += f" to {number(float(least.max()), 1)}"
    sentence = (
        f"Cannot tell whether the lots{_named(group)} differ on {listing(names)}: a difference between two lots would "
        f"have to reach {shown} points to show with this panel, and smaller ones are not ruled out."
    )
    worst = which[int(least.argmax())]
    numbers = {"least_difference_low": float(least.min()), "least_difference_high": float(least.max())}
    subject = names[0] if len(names) == 1 else ""
    return Verdict(
        QUESTION, subject, CANNOT_TELL, sentence + _caution(group, worst), numbers, next_step(group, worst), Act.KNOW
    )


def _no_answer(group: Fitted, d: int) -> Verdict:
    name, state = group.grid.descriptors[d], group.state(d)
    words, step = {
        NO_VARIATION: ("no variation in this descriptor: every score is one value", "Use more of the scale."),
        NO_ERROR: (
            "no error to test against: every taster's scores move in step to the last digit",
            "Check whether the tasters scored apart from one another.",
        ),
        NO_DF: (
            "one look by one taster at each lot leaves nothing to measure a difference against",
            "Have a second taster score the lots, or serve some lots twice under two codes.",
        ),
    }.get(state, ("one lot: there is nothing to compare it with", "Taste it beside another lot of its class."))
    sentence = f"{name}: cannot tell whether the lots{_named(group)} differ; {words}."
    return Verdict(QUESTION, name, CANNOT_TELL, sentence, {}, step, Act.KNOW)


def _merged(verdicts: list[Verdict]) -> list[Verdict]:
    """Verdicts that say one thing of many descriptors become one."""
    out: dict[str, list[Verdict]] = {}
    for verdict in verdicts:
        tail = verdict.sentence.partition(": ")[2] if verdict.call == CANNOT_TELL and not verdict.numbers else ""
        out.setdefault(tail or verdict.sentence, []).append(verdict)
    merged = []
    for tail, alike in out.items():
        if len(alike) == 1:
            merged += alike
        else:
            names = listing([verdict.subject for verdict in alike])
            merged.append(Verdict(QUESTION, "", CANNOT_TELL, f"{names}: {tail}", {}, alike[0].next_step, Act.KNOW))
    return merged


def method_of(groups: list[Fitted], cells: Cells, *, adjust: str, across: str, control: str | None) -> str:
    """The method in a paragraph, with the sentences on pots that every reader must see."""
    error_terms = sorted({term for group in groups for d in range(len(group.p)) if (term := error_term(group, d))})
    families = {"holm": "Holm", "bh": "Benjamini-Hochberg", "none": "no correction"}
    pairs = {"tukey": "the studentised range", "holm": "Holm", "none": "no correction"}[adjust]
    if control is not None and adjust != "none":
        pairs = f"the multivariate t against lot {control} (Dunnett)"
    many = max((len(group.grid.descriptors) for group in groups), default=0)
    return " ".join(
        [
            MODEL,
            f"A lot difference is measured against {listing(error_terms) or 'nothing: no model could be fitted'}.",
            "Degrees of freedom by Satterthwaite, for the test of all lots by Fai and Cornelius.",
            f"Lot tests allow for {count(many, 'descriptor')} ({families[across]}).",
            f"Pairs within a descriptor allow for one another ({pairs}).",
            *pot_sentences(groups, cells),
        ]
    ).strip()


def pot_sentences(groups: list[Fitted], cells: Cells) -> list[str]:
    """What was taken for a pot, by session and stage, and what few pots leave open."""
    tasted = {group.grid.session for group in groups}
    register = cells.pots[cells.pots[SESSION].astype(str).isin(tasted)]
    out: dict[str, list[str]] = {}
    for row in register.itertuples():
        word = getattr(row, POTS)
        stage = str(getattr(row, STAGE)) or "all descriptors"
        for sentence in _pot_words(groups, stage, word, declared=bool(row.declared)):
            out.setdefault(sentence, []).append(stage)
    many = register[STAGE].nunique() > 1
    return [
        (f"{listing(dict.fromkeys(stages)).capitalize()}: {sentence}" if many else sentence)
        for sentence, stages in out.items()
    ]


def _pot_words(groups: list[Fitted], stage: str, word: str, *, declared: bool) -> list[str]:
    if word == OWN:
        return [OWN_POTS]
    if word == SAME:
        return [SAME_POT]
    out = _shared_words(groups, stage)
    return out if declared else [*out, UNDECLARED]


def _shared_words(groups: list[Fitted], stage: str) -> list[str]:
    """The shared pots of one stage: how far they were seen to differ."""
    sds, dfs, uppers, rules, lenders = [], [], [], [], 0
    for group in groups:
        for part in group.fits:
            mine = [
                k
                for d, k in part.slot.items()
                if part.shared and (group.stage[d] == stage or stage == "all descriptors")
            ]
            has_pots = [k for k in mine if part.pot_df[k] > 0]
            sds += list(part.pot_sd[has_pots])
            dfs += list(part.pot_df[has_pots])
            uppers += list(part.pot_sd_upper[has_pots])
            rules += list(part.pot_rule[has_pots])
            lenders = max(lenders, len(has_pots))
    if not sds:
        return [ONE_BREW]
    sd, upper = f"{min(sds):.2f} to {max(sds):.2f}" if len(sds) > 1 else f"{sds[0]:.2f}", max(uppers)
    df = f"{min(dfs):.0f} to {max(dfs):.0f}" if max(dfs) - min(dfs) >= 1 else f"{min(dfs):.0f}"
    base = "All tasters shared the pots: lots are compared against lot:taster and pot-to-pot variation"
    if STEADIED in rules:
        return [f"{base}; few pots: pot SD {sd}, {df} df, steadied over {count(lenders, 'descriptor')}."]
    if max(sds) == 0:
        return [f"{base}; no pot-to-pot variation shown, an SD up to {upper:.2f} is not ruled out."]
    return [f"{base} (pot SD {sd}, {df} df; an SD up to {upper:.2f} is not ruled out)."]
