"""Invented reviews of every size for the page tests: no analysis is run, the numbers only have to look like results."""

from dataclasses import fields
from types import SimpleNamespace

import numpy as np
import pandas as pd

from panelstats.lots.compare.fit import LotComparison
from panelstats.lots.faults.fit import FaultsNoticed
from panelstats.panel.agreement.fit import PanelAgreement
from panelstats.panel.tasters.fit import TasterAssessment
from panelstats.panel.training.fit import TraineeAssessment
from panelstats.result import Act, Verdict, in_order
from panelstats.review import Review

DESCRIPTORS = [
    ("dry leaf", "blackness"), ("dry leaf", "evenness"), ("dry leaf", "twist"), ("dry leaf", "tip"),
    ("infused leaf", "brightness"), ("infused leaf", "coppery"), ("infused leaf", "aroma"),
    ("liquor", "colour"), ("liquor", "strength"), ("liquor", "body"), ("liquor", "briskness"), ("liquor", "flavour"),
    ("liquor", "astringency"), ("liquor", "malt"), ("liquor", "point"), ("liquor", "length"),
]  # fmt: skip
TREES = ["alder", "beech", "elm", "hornbeam", "larch", "poplar", "spruce", "sycamore", "yew", "whitebeam", "spindle",
         "rowan"]  # fmt: skip
HARD = ["=1+1", "<b>5 & 6</b>", "שלום מבצע 12", "عينة الشاي رقم ٤", "高山茶第十二批次", "@7",
        "Upper Brallow lot of the late second flush, withered twice, fired on a slow band, invoice 2031/B",
        "Donaudampfschifffahrtsgesellschaftskapitaensmuetzenfabrikantenlager", "-4", "\u202eevil", "a\tb"]  # fmt: skip


def made(kind, **given):
    """A result of this kind; tables that are not given are empty."""
    return kind(**{field.name: given.get(field.name, pd.DataFrame()) for field in fields(kind)})


def review(
    *, lots=12, tasters=4, descriptors=4, classes=1, names=None, taster_names=None, faults=2, seed=0, unknown=False
):
    """A review as the page sees it; `unknown` drops every interval."""
    rng = np.random.default_rng(seed)
    lot = [str(name) for name in (names or range(101, 101 + lots))][:lots]
    taster = (taster_names or TREES)[:tasters]
    descriptor = [name for _, name in DESCRIPTORS][-descriptors:]
    group = [f"broken, {word}" if classes > 1 else "" for word in ["high grown", "middle", "low grown"]][:classes]
    lot_class = {name: group[at % classes] for at, name in enumerate(lot)}
    means, components, anova, pairs = _means(rng, lot, tasters, descriptor, lot_class, unknown)
    shown = {d: bool(p < 0.05) for d, p in zip(anova["descriptor"], anova["p_adjusted"], strict=True)}
    compared = made(
        LotComparison,
        level=0.95,
        verdicts=in_order([_lots_verdict(d, shown.get(d, False), means) for d in descriptor]),
        method="score = lot + taster + lot x taster + residual; lots fixed, tasters random; error of lots: lot x "
        "taster; degrees of freedom by Satterthwaite; Holm over descriptors.",
        anova=anova, components=components, means=means, pairs=pairs, merit=pd.DataFrame(),
        checks=pd.DataFrame({"descriptor": descriptor, "check": "heaping", "value": rng.uniform(0, 1, descriptors)}),
    )  # fmt: skip
    agreement = _agreement(rng, lot, taster, descriptor)
    noticed = _faults(lot[len(lot) // 2 :][:faults], len(taster))
    return Review(
        "week 31",
        "What do the room's scores show?",
        (("Faults", noticed), ("Lots", compared), ("Panel", agreement)),
        scores=_scores(lot, taster, descriptor, lot_class),
        session="week 31",
    )


def _means(rng, lot, tasters, descriptor, lot_class, unknown):
    frames, components, anova, pairs = [], [], [], []
    several = len(set(lot_class.values())) > 1
    for name in descriptor:
        spread = rng.uniform(0.05, 1.2)
        for group in dict.fromkeys(lot_class.values()):
            here = [x for x in lot if lot_class[x] == group]
            deviation = rng.normal(0, spread, len(here))
            deviation -= deviation.mean()
            se = 0.5 / np.sqrt(tasters) * rng.uniform(0.8, 1.3, len(here))
            half = np.full(len(here), np.nan) if unknown else 2.1 * se
            frame = pd.DataFrame({
                "descriptor": name, "lot": here, "mean": 5.5 + deviation, "se": half / 2.1, "df": 3.0 * len(here),
                "low": 5.5 + deviation - half, "high": 5.5 + deviation + half, "letters": "a" if len(lot) <= 20 else "",
                "deviation": deviation, "deviation_low": deviation - half, "deviation_high": deviation + half,
            })  # fmt: skip
            share = spread**2 / (spread**2 + 0.6)
            rows = pd.DataFrame({
                "descriptor": name, "source": ["lot", "taster", "lot:taster", "residual"],
                "variance": [spread**2, 0.2, 0.1, 0.3],
                "share": [share, (1 - share) / 3, (1 - share) / 6, (1 - share) / 2],
            })  # fmt: skip
            p = float(np.exp(-9 * share))
            test = pd.DataFrame({
                "descriptor": [name], "source": "lot", "df": len(here) - 1, "df_error": 3.0 * len(here),
                "error_term": "lot:taster", "statistic": 1 + 9 * share, "p": p, "p_adjusted": min(1.0, 3 * p),
            })  # fmt: skip
            for table, store in ((frame, frames), (rows, components), (test, anova)):
                if several:
                    table.insert(0, "class", group)
                store.append(table)
        pairs.append(pd.DataFrame({
            "descriptor": name, "lot_a": lot[:-1], "lot_b": lot[1:], "difference": 0.4, "se": 0.3, "df": 20.0,
            "low": -0.3, "high": 1.1, "p": 0.2, "p_adjusted": 0.6,
        }))  # fmt: skip
    return tuple(pd.concat(x, ignore_index=True) for x in (frames, components, anova, pairs))


def _lots_verdict(name, shown, means):
    here = means[means["descriptor"] == name]
    gap = float(here["mean"].max() - here["mean"].min())
    if shown:
        return Verdict(
            "Do the lots differ?", name, "differ",
            f"Lots differ on {name}: {here.loc[here['mean'].idxmax(), 'lot']} lies {gap:.1f} points above "
            f"{here.loc[here['mean'].idxmin(), 'lot']} (95% interval {gap - 0.8:.1f} to {gap + 0.8:.1f}; p < 0.001).",
            {"gap": gap, "least_difference": 0.9}, "Sort by it.", Act.DECIDE)  # fmt: skip
    return Verdict(
        "Do the lots differ?", name, "cannot tell",
        f"Cannot tell whether the lots differ on {name} (p = 0.31); a difference of up to 1.2 points may be there.",
        {"least_difference": 1.2}, "Taste the extremes again from a new pot.", Act.TASTE_AGAIN)  # fmt: skip


def _agreement(rng, lot, taster, descriptor):
    icc = rng.uniform(0.3, 0.95, len(descriptor))
    table = pd.DataFrame({
        "descriptor": descriptor, "lots": len(lot), "tasters": len(taster), "icc_single": icc - 0.2,
        "icc_single_low": icc - 0.4, "icc_single_high": icc - 0.05, "icc_mean": icc, "icc_mean_low": icc - 0.25,
        "icc_mean_high": np.minimum(icc + 0.15, 0.99), "icc_consistency_mean": icc + 0.01, "lot_sd": 0.8,
        "error_sd": 0.5, "mark_se": 0.4, "mark_df": 20.0, "mark_reach": 0.8,
        "share": icc, "share_low": icc - 0.2, "share_high": 0.99,
        "reliability_lots": 0.7, "concordance_w": 0.6, "spearman": 0.5, "p_concordance": 0.001,
        "p_lots": 0.0002, "call": np.where(icc > 0.6, "agree", "cannot tell"), "reason": "",
    })  # fmt: skip
    verdicts = [
        Verdict("Does the panel agree?", name, call,
                f"On {name} a mark of this panel may lie up to 0.9 from what it would say in the long run.",
                {"icc": value}, "" if call == "agree" else "Taste three lots together and talk.",
                Act.KNOW if call == "agree" else Act.TASTE_AGAIN)
        for name, call, value in zip(descriptor, table["call"], icc, strict=True)
    ]  # fmt: skip
    return made(PanelAgreement, level=0.95, verdicts=in_order(verdicts), method="Two-way random model.", table=table)


def _faults(lots, tasters):
    table = pd.DataFrame({
        "lot": lots, "fault": ["smoky", "musty"][: len(lots)] if len(lots) <= 2 else "smoky", "noticed": 1,
        "asked": tasters, "low": 0.01, "high": 0.9, "remarks": ["slightly smoky?"] * len(lots),
    })  # fmt: skip
    verdicts = [
        Verdict("Was a fault noticed?", lot, "noticed", f"{lot}: {fault}, 1 of {tasters} tasters.",
                {"noticed": 1}, "Taste again from a new pot, another taster too.", Act.NOW)
        for lot, fault in zip(table["lot"], table["fault"], strict=True)
    ]  # fmt: skip
    return made(
        FaultsNoticed, verdicts=tuple(verdicts), method="Every lot in which any taster named a fault.", table=table
    )


def _scores(lot, taster, descriptor, lot_class):
    keys = pd.MultiIndex.from_product([["week 31"], lot, taster, [1], [1], descriptor])
    frame = keys.to_frame(index=False, name=["session", "lot", "taster", "pot", "look", "descriptor"])
    stages = {name: stage for stage, name in DESCRIPTORS}
    seen = len(frame) + len(lot) * len(taster)
    return SimpleNamespace(
        frame=frame.assign(position=1, score=5.5),
        sessions=pd.DataFrame({"session": ["week 31"], "date": ["2026-07-29"], "blind": ["yes"],
                               "order": ["randomised"]}),
        lots=pd.DataFrame({"lot": lot, "class": [lot_class[x] for x in lot]}),
        descriptors=pd.DataFrame({"descriptor": descriptor, "stage": [stages[d] for d in descriptor], "low": 0.0,
                                  "high": 10.0, "step": 0.5, "tolerance": 0.5}),
        tasters=pd.DataFrame({"taster": taster, "role": ["senior"] * len(taster)}),
        pots=pd.DataFrame({"session": ["week 31"], "stage": ["liquor"], "pots": ["shared"], "declared": [False],
                           "reason": ["every taster met pot 1 of each lot"]}),
        remarks=pd.DataFrame(columns=["session", "lot", "taster", "remark"]),
        headers=pd.DataFrame(columns=["header", "file", "word"]),
        said=(),
        words=pd.DataFrame(columns=["session", "lot", "word", "said", "asked"]),
        faults=pd.DataFrame(columns=["session", "lot", "taster", "pot", "fault", "noticed"]),
        account=pd.DataFrame({"file": ["week-31.xlsx"], "sheet": ["liquor"], "seen": [seen], "scores": [len(frame)],
                              "blanks": [0], "faults": [len(lot) * len(taster)], "words": [0], "facts": [0],
                              "set_aside": [0]}),
        problems=pd.DataFrame(columns=["file", "sheet", "row", "column", "value", "reason", "action"]),
        inferred=pd.DataFrame({"what": ["tolerance", "class"], "value": ["0.5", "one class"],
                               "why": ["5 % of the range seen", "no class was given"]}),
        digest="3f9a0c1d2b",
        files=(),
    )  # fmt: skip


ASPECTS = {"level": (-0.5, 0.5), "repeatability": (-np.inf, 1.5), "agreement": (0.4, np.inf)}


def assessment(*, tasters=("larch", "alder"), descriptors=("brisk", "colour"), seed=0):
    """A senior assessment: the first taster is apart on level, the second with the panel on some, open on others."""
    rng = np.random.default_rng(seed)
    rows = []
    for who, taster in enumerate(tasters):
        for descriptor in ["", *descriptors]:
            for aspect, (floor, ceiling) in ASPECTS.items():
                estimate = {"level": 1.2 if who == 0 else 0.1, "repeatability": 1.0, "agreement": 0.8}[aspect]
                half, call = 0.2 + 0.1 * rng.uniform(), "with the panel"
                if aspect == "level" and who == 0:
                    call = "apart"
                elif aspect == "agreement" and descriptor == descriptors[-1]:
                    call, half = "cannot tell", 0.7
                reason = "about 30 more lots would settle it" if call == "cannot tell" else ""
                floor_here = -np.inf if aspect == "level" and not descriptor else floor
                rows.append((taster, descriptor, aspect, estimate, estimate - half, estimate + half, 0.01, call, reason,
                             floor_here, ceiling, 20.0))  # fmt: skip
    names = ["taster", "descriptor", "aspect", "estimate", "low", "high", "p", "call", "reason", "floor", "ceiling"]
    calls = ["apart" if who == 0 else "with the panel" for who in range(len(tasters))]
    verdicts = [
        Verdict("Can this taster be relied on?", taster, call, f"{taster}: {call} on level, 1.2 points (1.0 to 1.4).",
                {"estimate": 1.2, "floor": -np.inf, "ceiling": 0.5}, "Set the level again." if call == "apart" else "",
                Act.DECIDE if call == "apart" else Act.KNOW)
        for taster, call in zip(tasters, calls, strict=True)
    ]  # fmt: skip
    again = pd.DataFrame({"taster": tasters[0], "descriptor": descriptors[0], "session": "week 31", "lot": ["3", "5"],
                          "own": [8.25, 6.0], "others": [5.333, 3.9], "difference": [2.917, 2.1]})  # fmt: skip
    return TasterAssessment(
        verdicts=in_order(verdicts), method="Each against the others.",
        table=pd.DataFrame(rows, columns=[*names, "lots_in_all"]),
        summary=pd.DataFrame({"taster": tasters, "call": calls, "worst": "", "shown_with_panel": 1,
                              "descriptors": len(descriptors), "not_tested": "", "lots": 12}),
        taste_again=again, alone=pd.DataFrame(), level=0.95,
    )  # fmt: skip


def learning(*, trainees=("spindle",), descriptors=("brisk", "colour", "body"), sessions=6):
    """A trainee assessment: ready on the first descriptor, not yet on the second, open on the third."""
    calls = ["ready", "not yet", "cannot tell"]
    rows = pd.DataFrame([
        {"trainee": who, "descriptor": name, "call": calls[at % 3], "licence": "full" if at % 3 == 0 else "",
         "difference": [0.1, 1.4, 0.4][at % 3], "low": [-0.1, 1.1, 0.1][at % 3], "high": [0.3, 1.7, 0.7][at % 3],
         "tolerance": 0.5, "slope": 1.0, "slope_low": 0.8, "slope_high": 1.2, "spread": 1.1, "spread_low": 0.9,
         "spread_high": 1.4, "spread_from": "repeats", "lots": 24.0, "lots_in_all": np.nan, "reason": ""}
        for who in trainees for at, name in enumerate(descriptors)
    ])  # fmt: skip
    limits = rows[["trainee", "descriptor", "difference"]].assign(limit_low=-1.5, limit_high=2.0, seniors_reach=1.3)
    curve = pd.DataFrame([
        {"trainee": who, "session": f"week {at + 1}", "ratio": 3 / (at + 1), "low": 2 / (at + 1), "high": 5 / (at + 1)}
        for who in trainees for at in range(sessions)
    ])  # fmt: skip
    again = pd.DataFrame({"trainee": trainees[0], "descriptor": descriptors[1], "session": "week 2", "lot": ["9"],
                          "own": [9.0], "others": [5.5], "difference": [3.5]})  # fmt: skip
    verdicts = [
        Verdict("Is this trainee ready?", who, "not yet", f"{who}: not yet.", {}, "Taste hidden repeats.", Act.DECIDE)
        for who in trainees
    ]
    return TraineeAssessment(
        verdicts=in_order(verdicts), method="Each against the seniors.", table=rows,
        summary=pd.DataFrame({"trainee": trainees, "call": "not yet"}), curve=curve, limits=limits, taste_again=again,
        level=0.95,
    )  # fmt: skip
