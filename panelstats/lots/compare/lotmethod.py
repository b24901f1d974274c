"""The method of a lot comparison in a paragraph, with what must be said of the pots."""

from __future__ import annotations

from typing import TYPE_CHECKING

from panelstats.lots.compare import words
from panelstats.lots.compare.tables import error_term
from panelstats.models.lending import STEADIED
from panelstats.models.reml import LOT_POT
from panelstats.scores.cells import OWN, POTS, SAME, SESSION, STAGE
from panelstats.words import count, listing

if TYPE_CHECKING:
    from panelstats.lots.classfit import ClassFit
    from panelstats.scores.cells import Cells


def method_of(groups: list[ClassFit], cells: Cells, *, adjust: str, across: str, control: str | None) -> str:
    """The method in a paragraph, with the sentences on pots that every reader must see."""
    error_terms = sorted({term for group in groups for d in range(len(group.p)) if (term := error_term(group, d))})
    dunnett = control is not None and adjust != "none"
    pairs = words.DUNNETT.format(control=control) if dunnett else words.CORRECTIONS[adjust]
    many = max((len(group.grid.descriptors) for group in groups), default=0)
    return " ".join(
        [
            words.MODEL,
            words.MEASURED.format(error_terms=listing(error_terms) or words.NO_MODEL),
            words.FREEDOM,
            words.FAMILY.format(descriptors=count(many, "descriptor"), correction=words.CORRECTIONS[across]),
            words.PAIRS.format(correction=pairs),
            *pot_sentences(groups, cells),
        ]
    ).strip()


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
    many = register[STAGE].nunique() > 1
    return [
        words.OF_STAGE.format(stages=listing(dict.fromkeys(stages)).capitalize(), sentence=sentence)
        if many
        else sentence
        for sentence, stages in out.items()
    ]


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
            mine = [
                k
                for d, k in part.slot.items()
                if part.shared and (group.stage[d] == stage or stage == "all descriptors")
            ]
            has_pots = [k for k in mine if part.pots.df[k] > 0]
            sds += [float(part.effects.fit.variances[k, LOT_POT] ** 0.5) for k in has_pots if part.effects]
            dfs += list(part.pots.df[has_pots])
            uppers += list(part.pot_sd_upper[has_pots])
            rules += list(part.pots.rule[has_pots])
            lenders = max(lenders, len(has_pots))
    if not sds:
        return [words.ONE_BREW]
    sd, upper = f"{min(sds):.2f} to {max(sds):.2f}" if len(sds) > 1 else f"{sds[0]:.2f}", max(uppers)
    df = f"{min(dfs):.0f} to {max(dfs):.0f}" if max(dfs) - min(dfs) >= 1 else f"{min(dfs):.0f}"
    fields = {"sd": sd, "df": df, "upper": f"{upper:.2f}", "descriptors": count(lenders, "descriptor")}
    said = words.STEADIED_POTS if STEADIED in rules else words.ALIKE_POTS if max(sds) == 0 else words.SHARED_POTS
    return [said.format(**fields)]
