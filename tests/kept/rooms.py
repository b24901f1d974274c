"""Small rooms drawn from a seed, each with something of what rooms have: the same seed, the same sheet."""

from __future__ import annotations

import numpy as np
import pandas as pd

import panelstats as pst

PEOPLE = ("elm", "yew", "larch", "beech", "hazel", "rowan", "aspen")
FAULTS = ("inverted", "noisy", "level", "flat", "none", "none")
MEANT = ("own", "shared", "same", "")


def session(seed: int, sessions: int = 0) -> pst.Scores:
    """A tasting or a few, read."""
    sheet, registers = sheet_of(seed, sessions)
    return pst.read_scores(sheet, room=registers)


def sheet_of(seed: int, sessions: int = 0) -> tuple[pd.DataFrame, dict[str, pd.DataFrame]]:
    """A tasting or a few: lots of classes, gardens and makes, brews, a faulty taster, gaps, facts and remarks."""
    rng = np.random.default_rng(seed)
    lots, tasters, words = rng.integers(3, 8), rng.integers(2, 8), rng.integers(1, 4)
    days, pots, step = sessions or rng.choice([1, 1, 2]), rng.choice([1, 2, 2, 3]), rng.choice([0.1, 0.5, 1.0])
    named, fault = [f"{401 + n}" for n in range(lots)], rng.choice(FAULTS)
    tea, level = rng.normal(5, 1.2, (lots, words)), rng.normal(0, 0.3, (tasters, words))
    slope = rng.uniform(0.7, 1.3, (tasters, words))
    slope[0] = {"inverted": -1.0, "flat": 0.0}.get(fault, slope[0])
    level[0] += 1.5 * (fault == "level")
    error = np.where(np.arange(tasters) == 0, 1.6 if fault == "noisy" else 0.5, 0.5)
    brew = rng.normal(0, 0.3, (days, lots, pots, words))
    day, lot, taster, pot = np.indices((days, lots, tasters, pots)).reshape(4, -1)
    marks = 5 + level[taster] + slope[taster] * (tea[lot] - 5 + brew[day, lot, pot])
    marks = np.clip(marks + rng.normal(size=marks.shape) * error[taster, None], 0, 10)
    dates = [f"2031-{3 + n // 4:02d}-{4 + 7 * (n % 4):02d}" for n in range(days)]
    sheet = pd.DataFrame({"session": [dates[n] for n in day], "lot": np.array(named)[lot],
                          "taster": np.array(PEOPLE)[taster], "pot": pot + 1})  # fmt: skip
    if rng.random() < 0.6:
        sheet["position"] = rng.permuted(np.tile(np.arange(lots * pots), (days * tasters, 1)), axis=1).ravel() + 1
        sheet = sheet.sort_values(["session", "taster", "position"])
    for n, word in enumerate(("brisk", "body", "aroma")[:words]):
        sheet[word] = (np.round(marks[:, n] / step) * step).round(1)
    if rng.random() < 0.5:
        sheet["remarks"] = rng.choice(["", "", "", "smoky", "slightly stale", "good"], len(sheet))
    kept = sheet[rng.random(len(sheet)) > rng.choice([0, 0, 0.1])].reset_index(drop=True)
    return kept, _registers(rng, named, tasters, words, sheet)


def _registers(
    rng: np.random.Generator, named: list[str], tasters: int, words: int, sheet: pd.DataFrame
) -> dict[str, pd.DataFrame]:
    lots, some = len(named), rng.random
    table = pd.DataFrame(
        {"lot": named, "garden": rng.choice(["Hill", "Flats"], lots), "rolling": rng.choice([30, 40], lots),
         "grade": rng.choice(["leaf", "broken", "dust"], lots), "price": (3 + rng.random(lots)).round(2),
         "class": rng.choice(["early", "late"], lots) if some() < 0.3 else "",
         "role": ["standard" if n == 0 and some() < 0.6 else "" for n in range(lots)]}
    )  # fmt: skip
    people = pd.DataFrame({"taster": PEOPLE[:tasters], "role": "senior"})
    if some() < 0.5 and tasters > 2:
        people.loc[0, "role"] = "trainee"
    descriptors = pd.DataFrame({"descriptor": ["brisk", "body", "aroma"][:words], "low": 0, "high": 10})
    if some() < 0.5:
        descriptors["tolerance"] = rng.choice([0.5, 1.0])
        descriptors["wanted"] = rng.choice(["more", "less"], words)
    days = sheet["session"].unique()
    sessions = pd.DataFrame({"session": days, "date": days, "pots": rng.choice(MEANT)})
    return {"lots": table, "tasters": people, "descriptors": descriptors, "sessions": sessions}


def season(seed: int) -> pst.Scores:
    """A season of short sessions: a taster who jumps, drifts, tires or stays away, controls, resembling weeks."""
    rng = np.random.default_rng(seed)
    weeks, lots, tasters = rng.integers(10, 18), rng.integers(3, 6), rng.integers(2, 6)
    pots, words, what = rng.choice([1, 2]), rng.integers(1, 3), rng.choice(["jump", "drift", "noise", "none"])
    control = rng.random() < 0.5
    rows = []
    for week in range(weeks):
        shift = {"jump": 1.5 * (week >= weeks // 2), "drift": 0.15 * week}.get(what, 0.0)
        wide = 1.5 if what == "noise" and week >= weeks // 2 else 0.5
        day = rng.normal(0, 0.2, tasters)
        for lot in range(lots):
            name = "control" if control and lot == 0 else f"{week:02d}{lot}"
            tea = np.full(words, 5.0) if name == "control" else rng.normal(5, 1, words)
            for taster in range(tasters):
                if taster == 1 and week > weeks - 4:  # stays away
                    continue
                for pot in range(pots):
                    off = day[taster] + (shift if taster == 0 else 0.0)
                    mark = tea + off + rng.normal(0, wide if taster == 0 else 0.5, words)
                    date = f"2031-{1 + week // 4:02d}-{1 + 7 * (week % 4):02d}"
                    rows.append((date, name, PEOPLE[taster], pot + 1, *np.clip(mark, 0, 10).round(1)))
    columns = ["session", "lot", "taster", "pot", *["strength", "brisk"][:words]]
    return pst.read_scores(pd.DataFrame(rows, columns=columns))


def weekly(seed: int) -> pd.DataFrame:
    """A season as a sheet: looks again at a cup, a taster spelled in two ways, a control, blanks, a late word."""
    rng = np.random.default_rng(seed)
    rows = []
    for week in range(9):
        for lot in ["Control", *(f"{week}{n}" for n in range(3))]:
            tea = 5.0 if lot == "Control" else rng.normal(5, 1)
            for name in PEOPLE[:3]:
                for look in range(1 + (lot == "Control")):
                    who = "Elm " if name == "elm" and week == 4 else name
                    mark = round(float(np.clip(tea + rng.normal(0, 0.5), 0, 10)), 1)
                    rows.append((f"2031-0{1 + week // 4}-{1 + 7 * (week % 4):02d}", lot, who, 1, look + 1,
                                 mark, "" if week < 4 or rng.random() < 0.1 else round(10 - mark, 1)))  # fmt: skip
    return pd.DataFrame(rows, columns=["session", "lot", "taster", "pot", "look", "strength", "brisk"])


def falling(seed: int) -> pst.Scores:
    """Lots that all tasted in the order of the list, pot after pot, their marks falling along it, some gaps."""
    rng = np.random.default_rng(seed)
    lots, tasters, pots = 9 + seed, 2 + seed, 1 + seed % 2
    rows = [
        (f"{401 + lot}", PEOPLE[taster], pot + 1, *(np.round(7 - 3 * lot / lots + rng.normal(0, 0.3, 2), 1)))
        for taster in range(tasters) for pot in range(pots) for lot in range(lots) if rng.random() > 0.03
    ]  # fmt: skip
    sheet = pd.DataFrame(rows, columns=["lot", "taster", "pot", "strength", "brisk"])
    group = ["early" if n % 2 else "late" for n in range(lots)]
    register = pd.DataFrame({"lot": [f"{401 + n}" for n in range(lots)], "class": group if seed % 2 else "early"})
    return pst.read_scores(sheet, room={"lots": register})


def weights(seed: int) -> pd.DataFrame:
    """Weighings of a few grades, loose and tapped."""
    rng = np.random.default_rng(seed)
    grades, turns, some = rng.integers(1, 4), rng.integers(1, 5), rng.integers(1, 6)
    rows = [
        {"lot": f"{401 + lot}", "grade": f"g{lot % grades}", "state": state, "replicate": turn + 1,
         "mass": round(float(rng.normal(0.31 + 0.02 * (lot % grades), 0.006) * 250 * factor), 1), "volume": 250}
        for lot in range(some) for state, factor in (("loose", 1.0), ("tapped", 1.12)) for turn in range(turns)
    ]  # fmt: skip
    return pd.DataFrame(rows)


def answers(seed: int) -> pd.DataFrame:
    """Answers to the sets of three planned tests, by tasters some of whom can tell and some of whom favour a place."""
    rng = np.random.default_rng(seed)
    people = [f"t{m:02d}" for m in range(rng.integers(6, 20))]
    kinds = rng.choice(["triangle", "duo-trio", "2-afc", "3-afc", "tetrad", "paired", "a-not-a", "same-different"], 3,
                       replace=False)  # fmt: skip
    plans = [
        pst.plan_difference(kind, people, trials=int(rng.choice([2, 4])), test=f"B{n + 1}", seed=seed)
        for n, kind in enumerate(kinds)
    ]
    table = pd.concat([plan.answers for plan in plans], ignore_index=True)
    return table.assign(answer=[_answer(row, rng) for row in table.itertuples()])


def _answer(row, rng: np.random.Generator) -> str:
    """What a taster says of one set: right or wrong, the cup that he favours, or nothing."""
    if rng.random() < 0.04:
        return ""
    if row.kind in ("a-not-a", "same-different"):
        said = ("A", "not A") if row.kind == "a-not-a" else ("same", "different")
        return row.right if rng.random() < 0.5 else said[rng.integers(2)]
    if row.kind in ("2-afc", "paired"):
        return "AB"[int(rng.random() < (0.3 if row.kind == "2-afc" else 0.5))]
    return "right" if rng.random() < 0.55 else "wrong"


def day(seed: int) -> pst.Scores:
    """A long row, each lot tasted once, controls and some lots again: a level that falls, jumps or stays."""
    rng = np.random.default_rng(seed)
    lots, tasters, words = int(rng.integers(14, 28)), int(rng.integers(1, 4)), int(rng.integers(1, 3))
    named = [f"{401 + n}" for n in range(lots)]
    again = [str(name) for name in rng.choice(named, 4, replace=False)]
    if seed % 3:  # the control stands again and again
        again += ["control"] * 4
    one = list(rng.permutation(named + again)) if seed % 2 else named + again
    tea = {name: rng.normal(5, 1, words) for name in [*named, "control"]}
    fall, jump = rng.choice([0.0, 1.5]), rng.choice([0.0, 0.0, 1.5])
    rows = []
    for taster in range(tasters):
        row = list(rng.permutation(one)) if seed % 4 == 3 else one
        met: dict[str, int] = {}
        for place, name in enumerate(row):
            met[name] = met.get(name, 0) + 1
            off = 0.2 * taster - fall * place / len(row) + jump * (place > len(row) // 2)
            mark = np.clip(tea[name] + off + rng.normal(0, 0.5, words), 0, 10)
            rows.append((name, PEOPLE[taster], met[name], place + 1, *(np.round(mark * 2) / 2)))
    sheet = pd.DataFrame(rows, columns=["lot", "taster", "pot", "position", *["strength", "brisk"][:words]])
    price = [round(2 + float(tea[name][0]) / 5, 2) for name in named]
    group = "early" if seed % 2 else ["early", "late"][seed % 4 == 2]
    lot_table = pd.DataFrame({"lot": named, "price": price, "class": group, "role": ""}).astype(object)
    lot_table.loc[lots] = ["control", "", group, "control"]
    sessions = {"session": ["1"], "pots": ["own"], "order": ["randomised" if seed % 2 else "as listed"]}
    return pst.read_scores(sheet, room={"lots": lot_table, "sessions": pd.DataFrame(sessions)})


def wide(seed: int) -> pst.Scores:
    """Lots that lie along one or two axes of many words, in two stages, some of them of another class or garden."""
    rng = np.random.default_rng(seed)
    lots, tasters, axes = int(rng.integers(8, 15)), int(rng.integers(5, 8)), 1 + seed % 2
    names = ("brisk", "body", "strength", "aroma", "colour", "bright")[: 6 - seed % 3]
    named, lying = [f"{401 + n}" for n in range(lots)], rng.normal(0, 1.5, (lots, axes))
    tea = 5 + lying @ rng.normal(0, 1, (axes, len(names)))
    rows = []
    for taster in range(tasters):
        for lot in range(lots):
            for pot in range(1 + seed % 2):
                mark = tea[lot] + rng.normal(0.1 * taster, 0.6, len(names))
                rows.append((named[lot], PEOPLE[taster], pot + 1, *np.clip(mark, 0, 10).round(1)))
    sheet = pd.DataFrame(rows, columns=["lot", "taster", "pot", *names])
    if seed % 3 == 1:
        sheet.loc[rng.choice(len(sheet), 3, replace=False), "brisk"] = np.nan
    register = pd.DataFrame(
        {"lot": named, "class": np.where(np.arange(lots) < (lots if seed % 2 else lots - 4), "early", "late"),
         "price": (3 + lying[:, 0] / 4 + rng.normal(0, 0.1, lots)).round(2),
         "garden": rng.choice(["Hill", "Flats"], lots)}
    )  # fmt: skip
    stages = ["liquor" if n % 2 else "infused leaf" for n in range(len(names))]
    words = pd.DataFrame({"descriptor": names, "stage": stages, "low": 0, "high": 10})
    return pst.read_scores(sheet, room={"lots": register, "descriptors": words})
