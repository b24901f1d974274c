"""The method of a lot comparison in a paragraph, with what must be said of the pots."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

import numpy as np

from panelstats.lots.compare import words
from panelstats.lots.compare.tables import error_term
from panelstats.models.lending import ALONE, RECORDED, STEADIED
from panelstats.models.reml import LOT_POT
from panelstats.scores.cells import OWN, POTS, SAME, SESSION, STAGE
from panelstats.speech import said
from panelstats.words import capital, count, listing, span, stated

if TYPE_CHECKING:
    from panelstats.lots.classfit import ClassFit
    from panelstats.scores.cells import Cells


def method_of(groups: list[ClassFit], cells: Cells, *, adjust: str, across: str, control: str | None) -> str:
    """The method in a paragraph, with the sentences on pots that every reader must see."""
    error_terms = sorted({term for group in groups for d in range(len(group.p)) if (term := error_term(group, d))})
    dunnett = control is not None and adjust != "none"
    pairs = words.DUNNETT.format(control=control) if dunnett else words.CORRECTIONS[adjust]
    return " ".join(
        [
            str(words.MODEL),
            words.MEASURED.format(error_terms=listing(error_terms) or words.NO_MODEL),
            str(words.FREEDOM),
            str(words.SLIPS),
            _family(groups, across),
            words.PAIRS.format(correction=pairs),
            *map(str, (*_lent_words(groups), *_pooled_words(groups), *pot_sentences(groups, cells))),
        ]
    ).strip()


def _family(groups: list[ClassFit], across: str) -> str:
    """What the lot tests of one page allow for: of the session that asks most."""
    sessions: dict[str, list[ClassFit]] = {}
    for group in groups:
        sessions.setdefault(group.grid.session, []).append(group)
    most = max(sessions.values(), key=lambda page: sum(np.isfinite(one.p).sum() for one in page), default=[])
    return words.FAMILY.format(
        tests=count(int(sum(np.isfinite(one.p).sum() for one in most)), "test"),
        descriptors=count(max((len(one.grid.descriptors) for one in most), default=0), "descriptor"),
        classes=count(len(most), "class", "classes"),
        correction=words.CORRECTIONS[across],
    )


def _lent_words(groups: list[ClassFit]) -> list[str]:
    """Where the variance of lot:taster was steadied, and where lots were tested against it alone."""
    df: list[float] = []
    by_rule: dict[str, list[str]] = {}
    for group in groups:
        for d, name in enumerate(group.grid.descriptors):
            if (one := group.of(d)) is not None:
                lent = one.part.interactions
                by_rule.setdefault(str(lent.rule[one.slot]), []).append(str(name))
                df += [float(lent.df[one.slot])] if lent.rule[one.slot] == STEADIED else []
    out, alone = [], listing(dict.fromkeys(by_rule.get(ALONE, [])))
    if df:
        but = words.NOT_STEADIED.format(descriptors=alone) if alone else ""
        out.append(words.STEADIED_TASTERS.format(df=_freedom(df), but=but))
    elif alone:
        out.append(words.OWN_SQUARE.format(descriptors=alone))
    return out


def _freedom(df: list[float]) -> str:
    """Degrees of freedom from the fewest to the most; one number where they lie less than one apart."""
    return span(df if max(df) - min(df) >= 1 else [min(df)], 0)


def _pooled_words(groups: list[ClassFit]) -> list[str]:
    """Whether classes share their variances."""
    shared, apart = False, []
    for group in groups:
        mates = [one for one in groups if one.grid.session == group.grid.session]
        for d, name in enumerate(group.grid.descriptors):
            one = group.of(d)
            if one is None or sum(name in mate.grid.descriptors for mate in mates) < 2:
                continue
            shared = shared or one.part.classes[one.slot] > 1
            apart += [name] if one.part.classes[one.slot] == 1 else []
    if not shared:
        return []
    but = words.CLASSES_APART.format(descriptors=listing(dict.fromkeys(apart))) if apart else ""
    return [words.CLASSES_POOLED.format(but=but)]


def pot_sentences(groups: list[ClassFit], cells: Cells) -> list[str]:
    """What was taken for a pot, by session and stage, and what few pots leave open."""
    tasted = {group.grid.session for group in groups}
    register = cells.pots[cells.pots[SESSION].astype(str).isin(tasted)]
    out: dict[str, list[str]] = {}
    for row in register.itertuples():
        word = getattr(row, POTS)
        stage = str(getattr(row, STAGE)) or "all descriptors"
        for sentence in _pot_words(groups, stage, word, declared=bool(row.declared)):
            out.setdefault(sentence, []).append(stage)
    if register[STAGE].nunique() < 2:
        return list(out)
    told = {sentence: capital(listing(map(said, dict.fromkeys(stages)))) for sentence, stages in out.items()}
    return [words.OF_STAGE.format(stages=stages, sentence=sentence) for sentence, stages in told.items()]


def _pot_words(groups: list[ClassFit], stage: str, word: str, *, declared: bool) -> list[str]:
    if word == OWN:
        return [words.OWN_POTS]
    if word == SAME:
        return [words.SAME_POT]
    out = _shared_words(groups, stage)
    return out if declared else [*out, words.UNDECLARED]


def _shared_words(groups: list[ClassFit], stage: str) -> list[str]:
    """The shared pots of one stage: how far they were seen to differ."""
    sds, dfs, uppers, rules, lenders = [], [], [], [], 0
    for group in groups:
        for part in group.fits:
            asked = (group.stage == stage) | (stage == "all descriptors")
            has_pots = [k for d, k in part.slot.items() if part.shared and asked[d] and part.pots.df[k] > 0]
            sds += [float(part.effects.fit.variances[k, LOT_POT] ** 0.5) for k in has_pots if part.effects]
            dfs += list(part.pots.df[has_pots])
            uppers += list(part.pot_sd_upper[has_pots])
            rules += list(part.pots.rule[has_pots])
            lenders = max(lenders, len(has_pots))
    if not sds:
        return [words.ONE_BREW]
    upper = max(filter(isfinite, uppers), default=None)
    bound = words.NO_BOUND if upper is None else words.BOUND.format(upper=stated(upper, ".2f"))
    fields = {"sd": span(sds, 2), "df": _freedom(dfs), "bound": bound, "descriptors": count(lenders, "descriptor")}
    if RECORDED in rules:
        return [words.RECORDED_POTS.format(**fields)]
    said = words.STEADIED_POTS if STEADIED in rules else words.ALIKE_POTS if max(sds) == 0 else words.SHARED_POTS
    return [said.format(**fields)]
