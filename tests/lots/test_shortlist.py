"""Short lists of lots tasted once, and the room's error: published values, invented rooms with known truth."""

import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import panelstats as pst
from panelstats.lots.looksquares import look_squares
from panelstats.lots.shortlist import dayslevel
from panelstats.lots.shortlist.classday import class_days
from panelstats.lots.shortlist.dayslevel import row_of
from tests import known
from tests.models.test_lookerror import FOLDER, truth

HIDDEN = 12  # repeats


def day(seed, *, lots=120, tasters=2, lot_sd=0.8, pot_sd=0.3, crossing=0.4, look=0.5, repeats=HIDDEN, words=1,
        fall=0.0, step=0.5, shared=True, classes=1):  # fmt: skip
    """An invented row: shared pots, one look, some lots brewed again; scores and the lots' true values."""
    rng = np.random.default_rng(seed)
    names = [f"L{n:03d}" for n in range(lots)]
    true = lot_sd * rng.standard_normal((lots, words))
    again = rng.choice(lots, repeats, replace=False)
    order = np.concatenate([np.arange(lots), again])
    pot = np.concatenate([np.ones(lots, int), np.full(repeats, 2)])
    place = rng.permutation(len(order))
    brew = pot_sd * rng.standard_normal((len(order), words))
    rows = []
    for t in range(tasters):
        level, own = 0.5 * rng.standard_normal(words), crossing * rng.standard_normal((lots, words))
        mine = brew if shared else pot_sd * rng.standard_normal(brew.shape)
        marks = 5 + level + true[order] + own[order] + mine + look * rng.standard_normal(brew.shape)
        marks = marks - fall * (place / len(order))[:, None]
        marks = np.round(marks / step) * step if step else marks
        columns = {f"w{k}": marks[:, k] for k in range(words)}
        rows.append(
            pd.DataFrame({"lot": np.array(names)[order], "taster": f"t{t}", "pot": pot, "position": place, **columns})
        )
    register = pd.DataFrame({"lot": names, "class": [f"c{n % classes}" for n in range(lots)]})
    read = pst.read_scores(pd.concat(rows, ignore_index=True), room={"lots": register})
    return read, pd.DataFrame(true, names, [f"w{k}" for k in range(words)])


def test_the_published_repeats():  # R aov and lmer
    known = truth("repeats")
    scores = pst.read_scores(pd.read_csv(FOLDER / "repeats.csv"))
    found = pst.room_error(scores, pots="shared")
    squares = found.squares.set_index("source")
    ms = known["mean_squares"]
    assert squares.loc["repeats", "mean_square"] == pytest.approx(ms["pot_in_lot"]["ms"], abs=1e-9)
    assert squares.loc["repeats by several tasters", "mean_square"] == pytest.approx(ms["taster_lot"]["ms"], abs=1e-9)
    assert squares.loc["cups", "mean_square"] == pytest.approx(ms["rest"]["ms"], abs=1e-9)
    assert squares["df"].tolist() == [ms["taster_lot"]["df"], ms["pot_in_lot"]["df"], ms["rest"]["df"]]
    table = found.table.set_index("tasters")
    for n in (1, 2, 3):
        one = known["one_look"][f"tasters_{n}"]
        assert table.loc[n, "half_width"] == pytest.approx(one["half_width_one_lot"], abs=1e-9)
        assert table.loc[n, "least_difference"] == pytest.approx(one["least_difference"], abs=1e-9)
        assert table.loc[n, "df"] == pytest.approx(one["df"], abs=1e-6)
    components = known["components"]
    assert table.loc[1, "pot_sd"] ** 2 == pytest.approx(components["pot"], abs=1e-9)
    assert table.loc[1, "taster_lot_sd"] ** 2 == pytest.approx(components["taster_lot"], abs=1e-9)
    assert table.loc[1, "look_sd"] ** 2 == pytest.approx(components["look"], abs=1e-9)


def test_the_row_finds_the_lots_that_are_the_best():
    scores = known.scores("row.xlsx")
    found = pst.shortlist_lots(scores)
    assert list(dict.fromkeys(found.table["descriptor"])) == [*scores.descriptors["descriptor"], "overall"]
    assert "9001" not in set(found.table["lot"])  # the control is never ranked
    assert found.table.groupby("descriptor")["listed"].sum().eq(30).all()
    assert found.table.groupby("descriptor")["chance_best"].sum().round(6).eq(30).all()
    assert found.classes["passed"].all()


def test_a_list_of_one_is_no_list_and_one_lot_is_tasted_again():
    verdict = pst.shortlist_lots(known.scores("row.xlsx"), take=1).verdicts[0]
    assert "stands highest" in verdict.sentence
    assert verdict.next_step.count(",") == 2, "one lot is named"


def test_the_columns_say_what_they_say():
    scores, true = day(3)
    found = pst.shortlist_lots(scores)
    table, line = found.table, found.classes.iloc[0]
    assert table["lot"].nunique() == 120
    raw = scores.frame.astype({"lot": str}).pivot_table(index="lot", columns="taster", values="score", observed=True)
    score = table.set_index("lot")["score"]
    moved = float(found.day["corrected"].iloc[0])
    assert (score - raw.mean(axis=1)).abs().max() <= abs(moved) + 1e-9
    assert line["statistic"] == pytest.approx((line["score_sd"] / line["error_sd"]) ** 2)
    assert line["p"] == pytest.approx(stats.f.sf(line["statistic"], line["df"], line["df_error"]))
    assert line["lot_sd"] == pytest.approx(np.sqrt(line["score_sd"] ** 2 - line["error_sd"] ** 2))
    assert line["take"] == 12
    calls = np.select([table["chance_best"] >= 0.95, table["chance_best"] <= 0.05], ["in", "out"], "taste again")
    assert (table["call"] == calls).all()
    assert table["listed"].head(12).all()
    assert not table["listed"].iloc[12:].any()
    assert ((table["low"] < table["merit"]) & (table["merit"] < table["high"])).all()
    away = true["w0"] - true["w0"].mean()
    at = table.set_index("lot").reindex(away.index)
    assert ((at["low"] <= away) & (away <= at["high"])).mean() > 0.85
    assert np.corrcoef(at["merit"], away)[0, 1] > 0.75
    error = found.errors.iloc[0]
    assert error["half_width"] == pytest.approx(
        stats.t.ppf(0.975, error["df"])
        * np.sqrt(error["pot_sd"] ** 2 + error["taster_lot_sd"] ** 2 / 2 + error["look_sd"] ** 2 / 2)
    )
    again = found.look_again
    assert again["gain"].is_monotonic_decreasing
    assert again["gain"].min() >= 1e-3 * again["gain"].max()
    near = (table.set_index("lot")["chance_best"] - 0.5).abs()
    rest = near.drop(again["lot"])  # what a second look would not move stands in no row
    assert near[again["lot"].head(5)].mean() < near[again["lot"].tail(20)].mean() < rest.min() + 0.01
    assert len(rest) > 0
    assert (found.forecast["share_right_then"] >= found.forecast["share_right_now"]).all()


def test_equal_lots_are_not_called_different_for_one_shared_pot():
    """The trap of one shared pot: the same tea in pots of SD 0.25; at 5 % no more than 5 % of days may pass."""
    passed = [
        bool(pst.shortlist_lots(day(seed, lots=60, tasters=3, lot_sd=0.0, pot_sd=0.25)[0]).classes["passed"].any())
        for seed in range(40)
    ]
    assert np.mean(passed) <= 0.05 + 4 * np.sqrt(0.05 * 0.95 / 40)


def test_a_fall_along_the_row_is_told_and_taken_off():
    flat, _ = day(5, lots=150, fall=0.0, repeats=25)
    fallen, true = day(5, lots=150, fall=3.0, repeats=25)
    found = pst.shortlist_lots(fallen)
    line = found.day.iloc[0]
    assert line["change"] == pytest.approx(-3.0, abs=1.2)
    assert line["low"] < -3.0 < line["high"]
    assert line["corrected"] == pytest.approx(line["factor"] * line["change"])
    assert any(verdict.call == "moved" for verdict in found.verdicts)
    assert not any(verdict.call == "moved" for verdict in pst.shortlist_lots(flat).verdicts)
    merit = found.table.set_index("lot")["merit"].reindex(true.index)
    assert np.corrcoef(merit, true["w0"])[0, 1] > 0.75


def jumped(seed, *, controls=13, ends=False, jump=2.5, words=2, repeats=12):
    """A row of three tasters with a control along it, whose level jumps on the first word at six tenths."""
    rng = np.random.default_rng(seed)
    lots, again = 80, rng.choice(80, repeats, replace=False)
    true = 0.8 * rng.standard_normal((lots, words))
    order = rng.permutation(np.concatenate([np.arange(lots), again]))
    at = np.repeat([0, len(order)], [controls // 2, controls - controls // 2]) if ends else np.linspace(
        0, len(order), controls).round().astype(int)  # fmt: skip
    order = np.insert(order, at, -1)
    place = np.arange(len(order))
    marks = 5 + np.vstack([true, np.zeros((1, words))])[order] + 0.3 * rng.standard_normal((len(order), words))
    marks[:, 0] += jump * (place > 0.6 * len(order))
    marks = marks[:, None] + 0.3 * rng.standard_normal((len(true) + 1, 3, words))[order]
    marks += 0.4 * rng.standard_normal(marks.shape)
    names = np.array([*(f"L{n:03d}" for n in range(lots)), "C"])
    pot = pd.Series(order).groupby(order).cumcount().to_numpy() + 1
    sheet = pd.DataFrame({"lot": np.repeat(names[order], 3), "taster": np.tile(["a", "b", "c"], len(order)),
                          "pot": np.repeat(pot, 3), "position": np.repeat(place + 1, 3)})  # fmt: skip
    sheet[[f"w{k}" for k in range(words)]] = marks.reshape(-1, words).round(1)
    register = pd.DataFrame({"lot": names, "role": [""] * lots + ["control"]})
    return pst.read_scores(sheet, room={"lots": register}), pd.DataFrame(true, names[:-1], ["w0", "w1"][:words])


def test_a_level_that_jumped_is_followed_by_what_was_served_again():
    scores, true = jumped(2)
    found = pst.shortlist_lots(scores, pots="shared")
    line = found.day.set_index("descriptor").loc["w0"]
    assert found.day["jumped"].tolist() == [True, False]
    assert line["corrected"] == 0
    assert 1.8 < line["walk_high"] - line["walk_low"] < 3.5
    assert 0.1 < line["walk_error"] < 0.6
    assert found.day.loc[1, ["walk_low", "walk_high", "walk_error"]].isna().all()
    away = true["w0"] - true["w0"].mean()
    table = found.table[found.table["descriptor"] == "w0"].set_index("lot").reindex(away.index)
    assert np.corrcoef(table["merit"], away)[0, 1] > 0.75
    assert ((table["low"] <= away) & (away <= table["high"])).mean() > 0.88
    # pots are held against one another once the walk is out: the jump is not taken for what pots do
    assert found.errors.set_index("descriptor").loc["w0", "pot_sd"] < 0.5
    (told,) = [verdict for verdict in found.verdicts if verdict.call == "jumped"]
    assert told.subject == "w0"
    low, high, error = (f"{line[name]:.1f}".replace("-", "−") for name in ("walk_low", "walk_high", "walk_error"))
    assert "Each lot is corrected by the level of what was served again beside it" in told.sentence
    assert f"from {low} to +{high} points about the mean of the row (standard error {error});" in told.sentence
    assert not any(verdict.call == "moved" and verdict.subject == "w0" for verdict in found.verdicts)
    assert "not known" in told.sentence
    (one,) = class_days(cells := scores.cells(pots="shared"), scores, look_squares(cells, scores), level=0.95)
    row, walk = row_of(one, scores), one.jumps.walks[0]
    assert one.taken[one.ranked, :, 0].mean() == pytest.approx(0, abs=1e-12)
    cups, lot = np.unique(row.cup_place, return_inverse=True)[0], row.cup_lot
    of_lot = np.stack([np.equal.outer(row.cup_place[lot == at], cups).mean(axis=0) for at in range(len(one.grid.lots))])
    assert one.left[:, 0] == pytest.approx(walk.error(of_lot - of_lot[one.ranked].mean(axis=0), cups))


def test_a_walk_wants_five_servings_and_some_inside_the_row(monkeypatch):
    def walkable(**asked):
        scores, _ = jumped(2, repeats=0, **asked)
        (one,) = class_days(cells := scores.cells(pots="shared"), scores, look_squares(cells, scores), level=0.95)
        return row_of(one, scores).walkable

    assert walkable(controls=5)
    assert not walkable(controls=4)
    assert not walkable(ends=True)
    monkeypatch.setattr(dayslevel, "INSIDE", 99)
    found = pst.shortlist_lots(jumped(2)[0], pots="shared")
    assert found.day["jumped"].tolist() == [True, False]
    assert found.day["walk_low"].isna().all()
    assert found.day.loc[0, "corrected"] != 0  # the line, as far as there is one
    (told,) = [verdict for verdict in found.verdicts if verdict.call == "jumped"]
    assert told.sentence.endswith("Lots are not corrected for it: too little was served again inside the row.")


def test_other_sessions_lend_their_error_to_the_question_whether_the_level_jumped():
    scores, _ = jumped(4, jump=1.2, repeats=4)
    past, _ = jumped(5, jump=0.0, repeats=40)
    record = pst.room_error(past, pots="shared")
    record = replace(record, squares=record.squares.assign(session="earlier"))
    alone, together = (pst.shortlist_lots(scores, pots="shared", error=error).day["jump_p"] for error in (None, record))
    assert together[0] < 0.8 * alone[0]
    assert abs(together[1] / alone[1] - 1) > 0.05


def test_the_weights_make_one_list_and_an_unweighted_lot_has_none():
    scores, true = day(7, words=3)
    found = pst.shortlist_lots(scores, weights={"w0": 1.0, "w1": -2.0})
    assert "overall" in set(found.table["descriptor"])
    assert "w2" in set(found.table["descriptor"])
    worth = true["w0"] - 2 * true["w1"]
    overall = found.table[found.table["descriptor"] == "overall"].set_index("lot")
    assert np.corrcoef(overall["merit"].reindex(worth.index), worth)[0, 1] > 0.75
    raw = scores.frame.astype({"lot": str}).pivot_table(
        index="lot", columns="descriptor", values="score", observed=True
    )
    plain = raw["w0"] - 2 * raw["w1"]
    assert np.corrcoef(overall["score"].reindex(plain.index), plain)[0, 1] > 0.98
    assert "overall" not in set(pst.shortlist_lots(scores).table["descriptor"])


def test_nothing_known_is_said_with_what_would_make_it_known():
    scores, _ = day(1, tasters=1, repeats=0)
    found = pst.shortlist_lots(scores)
    assert set(found.table["call"]) == {"cannot tell"}
    assert found.table["merit"].isna().all()
    assert "nothing is known of this room's error" in found.verdicts[0].sentence
    assert "hidden repeats" in found.verdicts[0].next_step
    assert set(pst.room_error(scores).table["source"]) == {"nothing"}


def test_without_a_second_pot_a_mark_speaks_of_its_pot():
    scores, _ = day(1, tasters=2, repeats=0)
    found = pst.shortlist_lots(scores, pots="shared")
    assert set(found.errors["source"]) == {"these pots only"}
    assert found.errors["half_width"].notna().all()
    assert set(found.table["call"]) == {"cannot tell"}


def test_one_taster_with_repeats_speaks_for_himself():
    scores, _ = day(2, tasters=1, repeats=24)
    found = pst.shortlist_lots(scores)
    assert set(found.errors["source"]) == {"this taster only"}
    assert found.classes["passed"].all()


def test_own_pots_of_two_tasters_show_their_error_without_repeats():
    scores, _ = day(2, tasters=2, repeats=0, shared=False)
    found = pst.shortlist_lots(scores, pots="own")
    assert set(found.errors["source"]) == {"today"}
    assert found.classes["passed"].all()


def test_the_rooms_past_makes_a_short_list_possible():
    past, _ = day(11, tasters=2, repeats=24)
    today, _ = day(12, tasters=2, repeats=0)
    alone = pst.shortlist_lots(today, pots="shared")
    assert not alone.classes["passed"].any()
    later = pst.read_scores(_renamed(today, "later"), room={"lots": today.lots[["lot", "class"]]})
    known = pst.shortlist_lots(later, pots="shared", error=pst.room_error(past))
    assert known.classes["passed"].all()
    assert set(known.errors["source"]) == {"room"}


def _renamed(scores, session):
    frame = scores.frame.astype({"session": str, "descriptor": str, "lot": str, "taster": str}).assign(session=session)
    return frame.drop(columns=["look"])


def test_small_classes_have_defined_answers():
    for lots, why in ((1, "Cannot rank"), (2, "Cannot rank"), (3, "leaves nobody out")):
        scores, _ = day(4, lots=lots, repeats=lots, lot_sd=5.0, pot_sd=0.01, crossing=0.0, look=0.2)
        found = pst.shortlist_lots(scores)
        assert any(why in verdict.sentence for verdict in found.verdicts) or lots == 3
        assert not found.table["listed"].any()


def test_equal_scores_everywhere():
    rows = [(f"L{n}", t, pot, 5.0) for n in range(20) for t in ("elm", "yew") for pot in (1, 2)]
    scores = pst.read_scores(pd.DataFrame(rows, columns=["lot", "taster", "pot", "brisk"]))
    for pots in ("shared", "own"):
        found = pst.shortlist_lots(scores, pots=pots)
        assert set(found.table["call"]) == {"cannot tell"}
        assert not any(re.search(r"nan|= –", str(verdict)) for verdict in found.verdicts)


def test_the_order_of_the_sheet_changes_nothing():
    scores, _ = day(8, lots=40)
    mixed = _renamed(scores, "1").sample(frac=1, random_state=3)
    one, two = pst.shortlist_lots(pst.read_scores(_renamed(scores, "1"))), pst.shortlist_lots(pst.read_scores(mixed))
    key = ["descriptor", "lot"]
    a, b = (found.table.sort_values(key).reset_index(drop=True) for found in (one, two))
    pd.testing.assert_frame_equal(a.drop(columns="class"), b.drop(columns="class"))


def test_classes_borrow_from_one_another():
    scores, _ = day(9, lots=120, classes=4, repeats=12, words=3)
    found = pst.shortlist_lots(scores)
    assert found.errors.groupby("class").ngroups == 4
    assert (found.errors["df"] > 3).all()  # three repeats a class have 3 df or fewer of their own


def test_other_brewing_is_not_the_rooms_past():
    past, today = _renamed(day(11)[0], "2026-01-05"), _renamed(day(12)[0], "2026-01-12")
    sessions = pd.DataFrame({"session": ["2026-01-05", "2026-01-12"], "date": ["2026-01-05", "2026-01-12"],
                             "minutes": [5, 6], "pots": "shared"})  # fmt: skip
    lots = pd.DataFrame({"lot": sorted(set(past["lot"])), "role": "control"})
    both = pst.read_scores(pd.concat([past, today]), room={"sessions": sessions, "lots": lots})
    found = pst.room_error(both)
    assert found.sessions["used"].tolist() == [False, True]
    assert set(found.squares["session"]) == {"2026-01-12"}
    assert "minutes" in found.sessions["reason"].iloc[0]


@pytest.mark.parametrize(
    ("word", "pots", "expected"),
    [("shared", 1, (1, 1 / 3, 1 / 3)), ("shared", 2, (1 / 2, 1 / 3, 1 / 6)),
     ("own", 2, (1 / 6, 1 / 3, 1 / 6)), ("same", 2, (1, 1 / 3, 1 / 6))],
)  # fmt: skip
def test_what_each_variance_counts_in_a_lots_mean(word, pots, expected):
    """Mean of T tasters at P shared pots: (1/P, 1/T, 1/(T P)); a pot of his own is met by one taster alone."""
    rng = np.random.default_rng(1)
    rows = [
        (f"L{n}", t, pot, rng.normal(5))
        for n in range(8)
        for t in ("elm", "yew", "larch")
        for pot in range(1, pots + 1)
    ]
    scores = pst.read_scores(pd.DataFrame(rows, columns=["lot", "taster", "pot", "brisk"]))
    cells = scores.cells(pots=word)
    one = class_days(cells, scores, look_squares(cells), level=0.95)[0]
    speaks = one.speaks[0]
    known = [0.0 if (speaks == "these pots only" and k == 0) else value for k, value in enumerate(expected)]
    assert one.share[:, 0] == pytest.approx(np.tile(known, (8, 1)))


def test_lots_that_missed_tasters_have_wider_errors_and_every_mark_counts_once():
    scores, _ = day(6, tasters=3, repeats=24)
    frame = _renamed(scores, "1")
    gone = frame["lot"].eq("L000") & frame["taster"].ne("t0")
    fewer = pst.read_scores(frame[~gone])
    cells = fewer.cells(pots="shared")
    one = class_days(cells, fewer, look_squares(cells, fewer), level=0.95)[0]
    lot = list(one.grid.lots).index("L000")
    other = int(np.flatnonzero((one.tasters[:, 0] == 3) & (one.pots[:, 0] == 1))[0])
    pot, crossed, look = one.error.components[0]
    looked = one.looked()
    assert looked.variance[lot, 0] - one.line.left(one.place[lot]) == pytest.approx(pot + crossed + look)
    assert looked.variance[other, 0] - one.line.left(one.place[other]) == pytest.approx(pot + crossed / 3 + look / 3)
    table = pst.shortlist_lots(fewer, pots="shared").table.set_index("lot")
    assert table.loc["L000", "looks"] == len(frame[frame["lot"].eq("L000") & frame["taster"].eq("t0")])
    assert table.loc["L000", "high"] - table.loc["L000", "low"] > 1.1 * (
        table.loc[one.grid.lots[other], "high"] - table.loc[one.grid.lots[other], "low"]
    )


def with_sweet(where, *, last):
    """A day of which one more word was scored on some lots; its control has two pots. Without the word, and with it."""
    scores, _ = day(3, lots=20)
    sheet = scores.frame.pivot_table(
        index=["lot", "taster", "pot"], columns="descriptor", values="score", observed=True
    )
    sheet = sheet.reset_index().assign(role=lambda rows: np.where(rows["lot"] == "L000", "control", ""))
    more = sheet.copy()
    marks = np.random.default_rng(1).integers(8, 13, len(sheet)) / 2
    more.insert(4 if last else 3, "sweet", np.where(where(sheet), marks, np.nan))
    return [pst.read_scores(each, room={"lots": scores.lots}) for each in (sheet, more)]


def test_a_word_that_only_controls_were_scored_on_changes_nothing_else():
    plain, found = map(pst.shortlist_lots, with_sweet(lambda rows: rows["role"] == "control", last=True))
    pd.testing.assert_frame_equal(found.table, plain.table)
    row = found.errors.set_index("descriptor").loc["sweet"]
    assert (row["tasters"], np.isnan(row["half_width"])) == (0, True)
    told, same = ([str(each) for each in one.verdicts if each.question.startswith("How")] for one in (found, plain))
    assert told == same


@pytest.mark.parametrize("last", [True, False])
@pytest.mark.parametrize("pots", [1, 2])
def test_a_word_scored_on_lots_of_so_many_pots_only_keeps_its_own_squares(pots, last):
    def where(sheet):
        return sheet.groupby("lot", observed=True)["pot"].transform("max") == pots

    _, more = with_sweet(where, last=last)
    squares = look_squares(more.cells(pots="shared"))
    for word in ("sweet", "w0"):
        alone = look_squares(more.select(descriptor={word}).cells(pots="shared"))
        pd.testing.assert_frame_equal(squares[squares["descriptor"] == word].reset_index(drop=True), alone)
