"""Parts of a season add up to the season, in whatever order, and contradictions are told, whatever the column."""

import dataclasses
import functools

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import panelstats as pst
from panelstats.errors import DesignError
from panelstats.scores.usual import ENOUGH, Tally, classes

CELL = ["session", "lot", "taster", "brew", "descriptor"]
TASTERS = ["yew", "Alder", "elm", "larch"]
ROOM = {
    "tasters": pd.DataFrame({"taster": ["yew", "larch", "elm", "Alder"], "role": ["senior", "", "trainee", ""]}),
    "descriptors": pd.DataFrame({"descriptor": ["body", "brisk"], "low": [0, 0], "high": [10, 10], "step": ["", 0.5]}),
    "lots": pd.DataFrame({"lot": ["7"], "grade": ["BOP"]}),
}


def season(seed, sessions=4):
    """Sessions of lots numbered alike every day, a control, two cups, tasters who come and go, a lot of two grades."""
    rng = np.random.default_rng(seed)
    lots = [*"123456", "7", "control"]
    keys = [range(sessions), lots, TASTERS, [1, 2], ["brisk", "body"]]
    rows = pd.MultiIndex.from_product(keys, names=["session", "lot", "taster", "pot", "descriptor"]).to_frame(
        index=False
    )
    rows["session"] = [f"2031-{month:02d}-06" for month in rows["session"] + 1]
    rows["score"] = rng.integers(0, 41, len(rows)) / 4
    rows.loc[rows["descriptor"] == "brisk", "score"] = rng.integers(0, 21, (rows["descriptor"] == "brisk").sum()) / 2
    rows["grade"] = rows["lot"].map(dict(zip(lots, ["BOP"] * 4 + ["PD"] * 2 + ["BOP", ""], strict=True)))
    away = rng.random((sessions, len(TASTERS))) < 0.3
    there = ~away[rows["session"].str[5:7].astype(int) - 1, rows["taster"].map(TASTERS.index)]
    return rows[there].reset_index(drop=True)


def of(cells):
    frame = cells.frame.astype({name: str for name in CELL if name != "brew"})
    return frame.set_index(CELL).sort_index()


def alike(one, other, rtol=1e-12):
    a, b = of(one), of(other)
    assert a.index.tolist() == b.index.tolist()
    for name in ("looks", "mean", "within_ss"):
        np.testing.assert_allclose(a[name], b[name], rtol=rtol, atol=rtol)
    for name, key in (("lots", "lot"), ("tasters", "taster"), ("descriptors", "descriptor"), ("sessions", "session")):
        tables = [getattr(each, name).astype(str).set_index(key).sort_index() for each in (one, other)]
        pd.testing.assert_frame_equal(*tables, check_like=True, check_index_type=False)
    for name, key in (("tasters", "taster"), ("descriptors", "descriptor"), ("sessions", "session")):
        assert list(getattr(one, name)[key]) == list(getattr(other, name)[key])
    assert one.digest == other.digest


def folded(parts, rng):
    """Parts added two by two, any two, either first, until one is left."""
    parts = list(parts)
    while len(parts) > 1:
        first, second = (parts.pop(rng.integers(len(parts))) for _ in range(2))
        parts.append(first + second)
    return parts[0]


def tree(parts, rng):
    """Neighbours added, any of them, until one is left."""
    parts = list(parts)
    while len(parts) > 1:
        at = rng.integers(len(parts) - 1)
        parts[at : at + 2] = [parts[at] + parts[at + 1]]
    return parts[0]


@functools.cache
def by_rows(seed):
    """A season read at once, and its rows dealt out at random to parts that are read one by one."""
    table = season(seed)
    dealt = np.random.default_rng(seed).integers(0, 3, len(table))
    room = ROOM | {"sessions": pd.DataFrame({"session": sorted(set(table["session"])), "pots": "shared"})}
    parts = [pst.read_scores(table[dealt == n], room=room).cells() for n in range(3)]
    return pst.read_scores(table, room=room).cells(), parts


@settings(max_examples=4, deadline=None)
@given(st.integers(0, 1), st.integers(0, 2**32 - 1))
def test_parts_in_any_tree_and_order_are_what_reading_all_at_once_gives(seed, draw):
    whole, parts = by_rows(seed)
    found = folded(parts, np.random.default_rng(draw))
    alike(found, dataclasses.replace(whole, digest=found.digest))
    alike(found, functools.reduce(lambda a, b: a + b, parts))


@functools.cache
def by_days(seed):
    table = season(seed)
    days = [pst.read_scores(part, room=ROOM).cells() for _, part in table.groupby("session")]
    return pst.read_scores(table, room=ROOM).cells(), days


@settings(max_examples=4, deadline=None)
@given(st.integers(0, 1), st.integers(0, 2**32 - 1))
def test_whole_sessions_add_up_to_the_last_bit(seed, draw):
    whole, days = by_days(seed)
    found = tree(days, np.random.default_rng(draw))
    pd.testing.assert_frame_equal(of(found), of(whole), check_exact=True)
    alike(found, dataclasses.replace(whole, digest=found.digest))
    alike(folded(days, np.random.default_rng(draw)), found)


def test_a_number_met_in_two_sessions_becomes_two_lots_when_parts_meet():
    days = by_days(0)[1]
    assert {"1", "7", "control"} <= set(days[0].lots["lot"])
    both = set((days[0] + days[1]).lots["lot"])
    assert {"1 (2031-01-06)", "1 (2031-02-06)", "7", "control"} <= both
    assert not {"1", "7 (2031-01-06)"} & both
    later = set((days[0] + days[1] + days[2]).lots["lot"])
    assert {"1 (2031-01-06)", "1 (2031-02-06)", "1 (2031-03-06)"} <= later


def contradicted(register, key, column, one, two):
    """Two parts whose registers say `one` and `two` of a label that both know."""
    parts = by_days(1)[1][:2]
    tables = [getattr(part, register) for part in parts]
    label = next(name for name in tables[0][key] if name in set(tables[1][key]))
    told = [
        dataclasses.replace(part, **{register: table.assign(**{column: [
            word if name == label else (table[column].iloc[n] if column in table else None)
            for n, name in enumerate(table[key])]})})
        for part, table, word in zip(parts, tables, (one, two), strict=True)
    ]  # fmt: skip
    return told, label


@pytest.mark.parametrize(
    ("register", "key", "column", "one", "two"),
    [("lots", "lot", "class", "black", "green"), ("lots", "lot", "role", "control", "standard"),
     ("lots", "lot", "garden", "Upper", "Lower"), ("lots", "lot", "made", "2031-01-02", "2031-01-03"),
     ("descriptors", "descriptor", "low", 0.0, 1.0), ("descriptors", "descriptor", "high", 10.0, 9.0),
     ("descriptors", "descriptor", "tolerance", 0.75, 1.25), ("descriptors", "descriptor", "step", 0.1, 1.0),
     ("descriptors", "descriptor", "stage", "liquor", "dry leaf"),
     ("descriptors", "descriptor", "wanted", "more", "less"),
     ("tasters", "taster", "role", "trainee", "observer"), ("tasters", "taster", "joined", "2030", "2031")],
)  # fmt: skip
def test_parts_that_contradict_each_other_are_refused_whatever_the_column(register, key, column, one, two):
    (first, second), label = contradicted(register, key, column, one, two)
    for a, b in ((first, second), (second, first)):
        with pytest.raises(DesignError, match="registers contradict each other") as told:
            a + b
        assert f"{column} of {key} {label!r}" in str(told.value)
        assert all(str(word).removesuffix(".0") in str(told.value) for word in (one, two))


def test_dates_and_pots_of_one_session_that_differ_are_refused():
    day = by_days(2)[1][0]
    said = [dataclasses.replace(day, sessions=day.sessions.assign(date=date)) for date in ("6 Jan", "7 Jan", "")]
    with pytest.raises(DesignError, match="date of session"):
        said[0] + said[1]
    assert (said[2] + said[0]).sessions["date"].tolist() == ["6 Jan"]
    with pytest.raises(DesignError, match="pots of session '2031-01-06'"):
        day + dataclasses.replace(day, pots=day.pots.assign(pots="own"))


def test_what_one_part_declares_stands_against_what_another_guessed():
    days = [part for _, part in season(3).groupby("session")][:2]
    bare = pst.read_scores(days[0]).cells()
    words = pd.DataFrame({"descriptor": ["brisk", "body"], "tolerance": [3.0, ""]})
    people = pd.DataFrame({"taster": TASTERS, "role": "trainee"})
    told = pst.read_scores(days[1], room={"descriptors": words, "tasters": people}).cells()
    for both in (bare + told, told + bare):
        assert dict(zip(both.descriptors["descriptor"], both.descriptors["tolerance"], strict=True))["brisk"] == 3.0
        assert set(both.tasters["role"]) == {"trainee"}


@given(st.lists(st.integers(0, 60), min_size=1, max_size=300), st.integers(0, 300), st.floats(0, 100))
def test_tallies_add_up_and_give_the_percentiles_of_numpy(marks, cut, share):
    scores = np.array(marks) / 4
    tally = Tally.of(scores[:cut]) + Tally.of(scores[cut:])
    assert len(tally) == len(scores)
    assert tally.percentile(share) == pytest.approx(np.percentile(scores, share), abs=1e-12)


def test_classes_are_words_with_one_space_between():
    lots = pd.DataFrame({"kind": ["black", "", "green"], "grade": ["BOP", "PD", ""]})
    assert classes(lots)[0].tolist() == ["black broken", "dust", "green"]


def test_a_digest_hides_no_part():
    parts = by_days(0)[1]
    total = folded(parts, np.random.default_rng(1))
    assert sorted(total.digest.split("+")) == sorted(part.digest for part in parts)


def test_a_tolerance_guessed_from_a_scale_gives_way_when_parts_hold_enough_marks():
    """Few marks say nothing of the range: 5 % of a scale of which both ends were declared; many: of the range used."""
    marks = np.linspace(10, 20, ENOUGH).round(2)
    table = pd.DataFrame({"lot": [f"L{n}" for n in range(ENOUGH)], "taster": "elm", "body": marks})
    table.insert(0, "session", [f"2031-01-0{1 + n % 2}" for n in range(ENOUGH)])
    room = {"descriptors": pd.DataFrame({"descriptor": ["body"], "low": [0], "high": [40], "step": [0.01]})}
    parts = [pst.read_scores(part, room=room).cells() for _, part in table.groupby("session")]
    assert [part.descriptors["tolerance"].tolist() for part in parts] == [[2.0], [2.0]]  # 0.05 * (40 - 0)
    used = np.subtract(*np.percentile(marks, [99, 1]))
    together = (parts[0] + parts[1]).descriptors["tolerance"]
    np.testing.assert_allclose(together, [0.05 * used], rtol=0.02)


def test_classes_that_some_lots_were_given_are_not_guessed_over():
    rows = [("2031-01-01", lot, "elm", 5, grade) for lot, grade in zip("abcdef", ["BOP"] * 3 + ["PD"] * 3, strict=True)]
    table = pd.DataFrame(rows, columns=["session", "lot", "taster", "body", "grade"])
    room = {"lots": pd.DataFrame({"lot": ["a", "d"], "class": ["best", ""]})}
    parts = [pst.read_scores(table[table["lot"].isin(list(lots))], room=room).cells() for lots in ("abc", "def")]
    told = (parts[0] + parts[1]).lots.set_index("lot")["class"]
    assert told.to_dict() == {"a": "best"} | dict.fromkeys("bcdef", "")
    assert told.to_dict() == pst.read_scores(table, room=room).cells().lots.set_index("lot")["class"].to_dict()
