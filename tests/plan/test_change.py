"""A plan changed while it is served, and read back with its sheets: what was tasted stays, figures are of what was."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import panelstats as pst
from panelstats.__main__ import main
from panelstats.plan.blank.key import key_bytes, key_of
from panelstats.plan.blank.marks import marked
from panelstats.plan.blank.pages import taster_page
from panelstats.plan.codes.draw import more_codes
from panelstats.plan.codes.pool import code_pool, safe_class
from panelstats.plan.session.asserved import as_served
from panelstats.plan.session.besidechance import incidence, looked_at
from panelstats.plan.session.change import register_of
from panelstats.plan.session.late import _in_row, _on_tray
from panelstats.scores.dates import day_before

TREES = ["beech", "elm", "larch", "yew"]
NOTHING = pd.DataFrame({"session": ["1", "2", "3"], "date": "", "opened": ""})


def named(n: int) -> list[str]:
    return [str(each + 1) for each in range(n)]


def partly(plan: pst.ServingPlan, done: dict[str, int]) -> pst.ServingPlan:
    """The plan with the first cups of some tasters marked, in its first session."""
    table = plan.servings
    first = table["session"] == table["session"].iloc[0]
    return replace(
        plan, servings=table.assign(tasted=first & (table["position"] <= table["taster"].map(done).fillna(0)))
    )


def cups(plan: pst.ServingPlan, *names: str) -> set[tuple]:
    return set(plan.servings[[*names]].itertuples(index=False, name=None))


@settings(max_examples=5, deadline=None, derandomize=True)
@given(service=st.sampled_from(["bench", "tray"]), lots=st.integers(3, 14), pots=st.integers(1, 2),
       seed=st.integers(0, 99), done=st.integers(0, 5), late=st.integers(0, 2), limit=st.integers(9, 20),
       who=st.sampled_from(["", "oak"]))  # fmt: skip
def test_what_was_tasted_stays_and_everything_else_keeps_its_code(
    service: str, lots: int, pots: int, seed: int, done: int, late: int, limit: int, who: str
) -> None:
    plan = pst.plan_session(named(lots), TREES, service=service, limit=limit, controls=["S", "T"], pots_per_lot=pots,
                            seed=seed)  # fmt: skip
    plan = partly(plan, {"elm": done, "yew": 1})
    new = [f"late {each}" for each in range(late)]
    changed = pst.change_plan(plan, late=new, absent={"elm": who}, limit=40)
    keys = ("session", "taster", "code", "lot", "pot", "look", "role")
    kept = plan.servings[plan.servings["tasted"] | (plan.servings["taster"] != "elm")]
    assert cups(replace(plan, servings=kept), *keys) <= cups(changed, *keys)
    whole = ("session", "taster", "position", "code", "lot", "tasted")
    tasted = plan.servings[plan.servings["tasted"]]
    assert cups(replace(plan, servings=tasted), *whole) <= cups(changed, *whole)
    served = changed.servings
    each = served.groupby(["session", "taster"])
    assert each["position"].apply(lambda p: sorted(p) == list(range(1, len(p) + 1))).all()
    assert (served.groupby(["session", "taster", "code"]).size() == 1).all()
    assert each.apply(lambda rows: not (rows.loc[~rows["tasted"], "position"].min() < rows["tasted"].sum())).all()
    mine = served[served["lot"].isin(new)]
    people = [name for name in [*TREES, "oak"] if name != "elm" and (name != "oak" or who)]
    if new:
        assert (mine.groupby(["lot", "taster"]).size() == pots).all()
        assert set(mine["taster"]) >= set(people) - {"oak"}
        assert "elm" not in set(mine["taster"])
    gone = served[(served["taster"] == "elm") & ~served["tasted"]]
    assert not len(gone)
    moved = plan.servings[(plan.servings["taster"] == "elm") & ~plan.servings["tasted"]]
    assert len(served) == len(plan.servings) - (0 if who else len(moved)) + len(mine)
    scope = served.drop_duplicates(["session", "code"]) if service == "bench" else served
    assert len(changed.codes) == len(scope)
    assert set(changed.codes["plan"]) == {changed.plan_id} != {plan.plan_id}
    assert changed.before == plan.plan_id
    for _, codes in changed.codes.groupby(["session", "taster"]):  # a slip of the pen still shows
        numbers = codes["code"].astype(int).to_numpy()
        assert len({len(code) for code in codes["code"]}) == 1
        assert len(set(safe_class(numbers, len(codes["code"].iloc[0])))) == 1
    if not new:  # whoever stays keeps the sheet in hand
        assert set(changed.renewed) <= {"oak"}
    again = pst.change_plan(plan, late=new, absent={"elm": who}, limit=40)
    pd.testing.assert_frame_equal(again.servings, served)


def test_a_row_has_late_pots_between_two_that_nobody_tasted_and_all_meet_them_on_the_way() -> None:
    plan = partly(pst.plan_session(named(20), TREES, limit=30, seed=3), {"elm": 6, "larch": 2})
    changed = pst.change_plan(plan, late=["late"])
    row = changed.servings.drop_duplicates("code").sort_values("place")
    before = plan.servings.drop_duplicates("code").sort_values("place")["lot"].tolist()
    assert [lot for lot in row["lot"] if lot != "late"] == before  # no pot of the row moves
    at = row["lot"].tolist().index("late")
    beside = set(row["code"].iloc[[at - 1, at + 1]])
    assert not beside & set(plan.servings.loc[plan.servings["tasted"], "code"])
    for _, mine in changed.servings.groupby("taster"):
        lots = mine.sort_values("position")["code"].tolist()
        here = lots.index(row["code"].iloc[at])
        assert {*lots[here - 1 : here], *lots[here + 1 : here + 2]} & beside


def test_late_pots_go_where_fewest_are_and_each_pot_to_another_row() -> None:
    plan = pst.plan_session(named(21), ["elm"], limit=12, controls=["S"], pots_per_lot=2)
    size = plan.servings.groupby("session").size()
    changed = pst.change_plan(plan, late=["late"], limit=20)
    mine = changed.servings[changed.servings["lot"] == "late"]
    assert mine["session"].nunique() == 2
    assert mine["session"].map(size).tolist() == [size.min()] * 2
    only = pst.change_plan(plan, late=["late"], sessions=["2"], limit=20)
    assert set(only.servings.loc[only.servings["lot"] == "late", "session"]) == {"2"}


@pytest.mark.parametrize("service", ["bench", "tray"])
def test_whoever_comes_instead_takes_the_cups_in_the_same_order_from_the_first(service: str) -> None:
    plan = partly(pst.plan_session(named(9), TREES, service=service, limit=12, flight=3), {"elm": 4})
    changed = pst.change_plan(plan, absent={"elm": "oak"}).servings
    left = plan.servings[(plan.servings["taster"] == "elm") & (plan.servings["position"] > 4)]
    oak = changed[changed["taster"] == "oak"].sort_values("position")
    assert oak["code"].tolist() == left.sort_values("position")["code"].tolist()
    assert oak["position"].tolist() == [1, 2, 3, 4, 5]
    if service == "tray":
        assert oak["place"].tolist() == [1, 2, 3, 4, 5]


def test_late_cups_belong_to_the_flight_before_them_and_never_stand_before_what_is_done() -> None:
    plan = partly(pst.plan_session(named(9), ["elm"], service="tray", limit=12, flight=3), {"elm": 4})
    for seed in range(12):
        path = _on_tray(plan.servings, pd.DataFrame({"code": ["999"], "lot": "late"}), np.random.default_rng(seed))
        flights = path["flight"].tolist()
        at = path["code"].tolist().index("999")
        assert at >= 4
        assert flights == sorted(flights)
        assert flights[at] == flights[at - 1]


def test_late_pots_stand_between_untouched_ones_apart_from_their_own_and_at_the_end_where_there_are_none() -> None:
    plan = partly(pst.plan_session(named(12), TREES, limit=16, seed=3), {"elm": 3, "larch": 2})
    touched = set(plan.servings.loc[plan.servings["tasted"], "code"])
    pots = pd.DataFrame({"session": "1", "code": ["998", "999"], "lot": "late", "pot": [1, 2], "look": 1, "role": "lot",
                         "tasted": False})  # fmt: skip
    for seed in range(25):
        row = _in_row(plan.servings, pots, (), np.random.default_rng(seed)).drop_duplicates("code").sort_values("place")
        codes = row["code"].tolist()
        for code in pots["code"]:
            at = codes.index(code)
            assert not {codes[at - 1], codes[at + 1]} & (touched | set(pots["code"]))
    whole = plan.servings.assign(tasted=plan.servings["place"] > 1)
    last = _in_row(whole, pots, (), np.random.default_rng(0)).drop_duplicates("code").sort_values("place")
    assert last["code"].tolist()[-2:] == ["998", "999"]


def test_a_cup_that_was_passed_over_draws_no_late_pot_before_what_is_done() -> None:
    plan = pst.plan_session(named(12), ["elm"], limit=14)
    rows = plan.servings.assign(tasted=plan.servings["position"].isin([1, 8]))
    pots = pd.DataFrame({"session": "1", "code": ["999"], "lot": "late", "pot": 1, "look": 1, "role": "lot",
                         "tasted": False})  # fmt: skip
    for seed in range(12):
        found = _in_row(rows, pots, (), np.random.default_rng(seed)).set_index("code")["position"]
        assert found["999"] > 8


def test_more_late_pots_than_safe_codes_are_told() -> None:
    plan = pst.plan_session(named(48), ["elm"], limit=70)  # a class holds 59 codes at most
    for late, call in ((3, "yes"), (13, "no")):
        changed = pst.change_plan(plan, late=[f"late {n}" for n in range(late)])
        assert next(v for v in changed.verdicts if v.question == "Is a slip of the pen seen?").call == call


def test_whoever_is_away_for_a_day_is_there_the_next() -> None:
    plan = pst.plan_session(named(12), TREES, limit=8, controls=["S"])
    changed = pst.change_plan(plan, absent=["elm"], sessions=["2"])
    mine = changed.servings[changed.servings["taster"] == "elm"]
    assert set(mine["session"]) == set(plan.servings["session"]) - {"2"}
    assert changed.renewed == ("elm",)  # whose sheet in hand has cups that are not served


def test_as_many_taste_a_late_lot_as_any_other() -> None:
    plan = pst.plan_session(named(12), TREES, service="tray", limit=8, tasters_per_lot=2)
    changed = pst.change_plan(plan, late=["late"])
    assert changed.servings.loc[changed.servings["lot"] == "late", "taster"].nunique() == 2


def test_late_places_are_drawn_among_all_still_to_come() -> None:
    plan = partly(pst.plan_session(named(9), ["elm"], service="tray", limit=20), {"elm": 4})
    pots = pd.DataFrame({"code": ["999"], "lot": "late"})
    drawn = [_on_tray(plan.servings, pots, np.random.default_rng(seed)) for seed in range(40)]
    places = [int(rows.set_index("lot")["position"]["late"]) for rows in drawn]
    assert set(places) == {5, 6, 7, 8, 9, 10}


REFUSED = {
    "nothing": ({}, "nothing changes"),
    "stranger": ({"absent": ["oak"]}, "not in the plan"),
    "planned": ({"late": ["1"]}, "planned already"),
    "control": ({"late": ["S"]}, "planned already"),
    "full": ({"late": ["7", "8"], "limit": 6}, "raise the limit to 7"),
    "session": ({"absent": ["elm"], "sessions": ["friday"]}, "no such session"),
    "there": ({"absent": {"elm": "yew"}}, "yew tastes in session 1 already"),
    "spelling": ({"absent": {"elm": "YEW"}}, "twice"),
    "nobody": ({"absent": ["elm", "yew"]}, "nobody is left"),
    "nobody for late": ({"absent": ["elm", "yew"], "late": ["7"]}, "nobody is left"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_changes_that_cannot_be_are_refused_with_what_to_do(name: str) -> None:
    own, told = REFUSED[name]
    with pytest.raises(pst.DesignError, match=told):
        pst.change_plan(pst.plan_session(named(4), ["elm", "yew"], limit=6, controls=["S"]), **own)


def test_a_plan_that_is_over_is_not_changed_nor_is_an_allergy_forgotten() -> None:
    plan = pst.plan_session(named(4), ["elm", "yew"], limit=6, excluded={"elm": ["1"]})
    over = replace(plan, servings=plan.servings.assign(tasted=True))
    with pytest.raises(pst.DesignError, match="every session is over"):
        pst.change_plan(over, late=["9"])
    whole = pst.plan_session(named(4), ["elm", "yew"], limit=6, sessions=["1"])
    drawn = replace(whole.drawn, asked=replace(whole.drawn.asked, left_out={"oak": frozenset(["1"])}))
    with pytest.raises(pst.DesignError, match="oak is never served 1"):
        pst.change_plan(replace(whole, drawn=drawn), absent={"elm": "oak"})


def test_codes_that_join_a_sheet_are_of_its_class_and_none_that_was_taken() -> None:
    pool = code_pool()
    mine = [str(code) for code in pool[safe_class(pool, 3) == 4]]
    codes, safe = more_codes(set(mine[:20]), ["a", "b"], np.random.default_rng(0), stop={mine[20]})
    assert safe
    assert set(codes) <= set(mine[21:])
    codes, safe = more_codes(set(mine), ["a", "b"], np.random.default_rng(0))  # the class is used up
    assert not safe
    assert not set(codes) & set(mine)
    assert {len(code) for code in codes} == {3}
    many = more_codes({"123"}, named(30), np.random.default_rng(0))[0]
    assert many != sorted(many)  # codes follow no order
    full = {str(code) for code in pool}
    assert {len(code) for code in more_codes(full, ["a"], np.random.default_rng(0))[0]} == {4}
    assert not any("0" in c for c in more_codes({"123"}, named(40), np.random.default_rng(0), zeros=False)[0])


# --- what was really served -------------------------------------------------------------------------------------------


def test_figures_of_what_was_served_are_counted_by_hand() -> None:
    plan = pst.plan_session(named(3), ["elm", "yew"], service="tray", limit=3, seed=1)
    orders = {"elm": ["1", "2", "3"], "yew": ["2", "1", "3"]}
    table = plan.servings
    table = table.assign(lot=[orders[who][at - 1] for who, at in zip(table["taster"], table["position"], strict=True)])
    served = as_served(partly(replace(plan, servings=table), {"elm": 3, "yew": 2}), NOTHING)
    figures = served.balance.set_index("figure")["plan"]
    assert figures["position_gap"] == 1  # lots 1 and 2 once first and once second, lot 3 once third
    assert figures["neighbours_most"] == 1  # 1 2, 2 3, 2 1
    told = served.positions.set_index("lot")
    assert told.loc["3", ["servings", "mean_position"]].tolist() == [1, 3.0]
    assert told.loc["1", ["servings", "first", "mean_position"]].tolist() == [2, 1, 1.5]
    # Lots as treatments, tasters as blocks: the covariance by a pseudo-inverse (numpy).
    X = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [0, 1, 0], [1, 0, 0]], float)
    Z = np.array([[1, 0], [1, 0], [1, 0], [0, 1], [0, 1]], float)
    inverse = np.linalg.pinv(X.T @ (np.eye(5) - Z @ np.linalg.pinv(Z)) @ X)
    pairs = [inverse[a, a] + inverse[b, b] - 2 * inverse[a, b] for a, b in ((0, 1), (0, 2), (1, 2))]
    looks = 3 / (1 / 2 + 1 / 2 + 1)
    assert figures["efficiency"] == pytest.approx(2 / (looks * np.mean(pairs)))


def test_whoever_left_early_leaves_gaps_in_a_row_that_are_counted_cup_by_cup() -> None:
    plan = pst.plan_session(named(6), ["elm", "yew"], limit=8)
    whole = as_served(partly(plan, {"elm": 6, "yew": 6}), NOTHING)
    assert whole.balance.set_index("figure")["plan"]["efficiency"] == 1
    gaps = as_served(partly(plan, {"elm": 6, "yew": 3}), NOTHING)
    assert gaps.balance.set_index("figure")["plan"]["efficiency"] < 1
    said = {verdict.question: verdict for verdict in gaps.verdicts}
    assert "standard deviation of a look" in said["Can all lots be compared?"].sentence
    served = said["What was really served?"]
    assert (served.call, served.numbers) == ("part of it", {"tasted": 9, "left": 3})
    assert "Cups left: yew 3" in served.sentence
    away = pst.change_plan(plan, absent=["yew"])
    assert away.balance.set_index("figure")["plan"]["efficiency"] == 1  # one taster met every pot


def test_what_joins_lots_is_counted_without_repeats_and_an_allergy_is_no_gap() -> None:
    plan = pst.plan_session(named(6), ["elm", "yew"], service="tray", limit=9, controls=["S"], repeats=2)
    counts = incidence(plan.drawn.asked, plan.servings)
    assert counts.tolist() == [[1, 1]] * 7
    shared = pst.plan_session(named(6), ["elm", "yew"], limit=9, excluded={"elm": ["2"]}, repeats=1)
    assert shared.balance.set_index("figure")["plan"]["efficiency"] == 1
    assert looked_at(shared.drawn.asked, shared.servings) is shared.drawn.asked
    assert looked_at(shared.drawn.asked, shared.servings.iloc[1:]).service == "tray"


def test_orders_are_counted_by_position_in_whatever_order_rows_stand() -> None:
    plan = pst.plan_session(named(6), TREES, service="tray", limit=9)
    whole = replace(plan, servings=plan.servings.assign(tasted=True))
    mixed = replace(whole, servings=whole.servings.sample(frac=1, random_state=1).reset_index(drop=True))
    figures = [as_served(each, NOTHING).balance.set_index("figure")["plan"] for each in (whole, mixed)]
    pd.testing.assert_series_equal(*figures)


def test_sessions_with_gaps_are_compared_cup_by_cup_and_not_by_controls_alone() -> None:
    plan = pst.plan_session(named(12), ["elm", "yew"], limit=8, controls=["S", "T"])
    table = plan.servings.assign(tasted=True)
    asked = next(v for v in as_served(replace(plan, servings=table), NOTHING).verdicts if "compared" in v.question)
    assert "through 2 controls alone" in asked.sentence
    gaps = table.assign(tasted=table["position"] < 8)
    asked = next(v for v in as_served(replace(plan, servings=gaps), NOTHING).verdicts if "compared" in v.question)
    assert "All lots are joined" in asked.sentence
    changed = pst.change_plan(partly(plan, {"yew": 3}), absent=["yew"])
    asked = next(v for v in changed.verdicts if "compared" in v.question)
    assert "All lots are joined" in asked.sentence


def test_lots_that_fell_apart_are_told_and_lots_nobody_tasted_named() -> None:
    plan = pst.plan_session(named(4), ["elm", "yew"], service="tray", limit=4)
    table = plan.servings
    mine = table["lot"].isin(["1", "2"]) == (table["taster"] == "elm")
    apart = as_served(replace(plan, servings=table.assign(tasted=mine)), NOTHING)
    said = next(v for v in apart.verdicts if v.question == "Can all lots be compared?")
    assert (said.call, said.numbers) == ("no", {"parts": 2})
    one = as_served(replace(plan, servings=table.assign(tasted=mine & (table["lot"] != "3"))), NOTHING)
    assert any("Not tasted by anybody: 3." in v.sentence for v in one.verdicts)


@pytest.mark.parametrize(
    ("day", "opened", "call"),
    [("2026-04-17", "2026-04-17 15:00", "yes"), ("2026-04-17", "2026-04-16", "no"), ("", "2026-04-16", "yes"),
     ("2026-04-17", "", "not known yet"), ("2026-04-17", "after lunch", "yes")],
)  # fmt: skip
def test_the_key_was_opened_when_the_room_says_so(day: str, opened: str, call: str) -> None:
    plan = partly(pst.plan_session(named(3), ["elm"], limit=4), {"elm": 3})
    told = pd.DataFrame({"session": ["1"], "date": [day], "opened": [opened]})
    said = next(v for v in as_served(plan, told).verdicts if v.question == "When was the key opened?")
    assert said.call == call
    assert opened in said.sentence
    assert bool(said.next_step) == (call != "yes")
    assert day_before("16 April 2026", "2026-04-17")
    assert not day_before("16 April", "2026-04-17")


# --- files ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("service", ["bench", "tray"])
def test_a_key_gives_the_plan_back(service: str, tmp_path: Path) -> None:
    register = pd.DataFrame(
        {"lot": ["<7>", "=1+1", "ä", "S"], "class": ["x", "x", "", ""], "role": ["", "", "", "control"]}
    )
    plan = pst.plan_session(register, ["=elm", "O'Yew"], service=service, limit=9, repeats=1, seed=5, flight=3,
                            excluded={"=elm": ["ä"]}, brew={"grams": 5.6, "vessel": "pot"}, warm_up="W",
                            stop=["417"], zeros=False, pot_minutes=2.5)  # fmt: skip
    path = tmp_path / "key.xlsx"
    path.write_bytes(key_bytes(plan))
    again = key_of(path)
    for name in ("servings", "codes", "balance", "positions", "brews"):
        pd.testing.assert_frame_equal(getattr(again, name), getattr(plan, name), check_dtype=False)
    for name in ("plan_id", "before", "warm_up", "tasters", "service", "randomised", "renewed", "method"):
        assert getattr(again, name) == getattr(plan, name)
    asked, told = again.drawn.asked, plan.drawn.asked
    assert replace(asked, register=None) == replace(told, register=None) or vars(asked).keys() == vars(told).keys()
    for name in set(vars(told)) - {"register", "had"}:
        assert getattr(asked, name) == getattr(told, name), name
    pd.testing.assert_frame_equal(register_of(told, plan.servings).assign(plan=plan.plan_id), plan.codes)
    one, other = (pst.change_plan(each, late=["L"], limit=20) for each in (plan, again))
    pd.testing.assert_frame_equal(one.servings, other.servings)
    assert one.plan_id == other.plan_id


def fill(folder: Path, pattern: str, rows: int) -> None:
    for path in sorted(folder.glob(pattern)):
        book = openpyxl.load_workbook(path)
        for page in book:
            for row in range(2, min(page.max_row, rows + 1) + 1):
                for column in range(6, page.max_column):
                    page.cell(row, column).value = 4 + (row + column) % 7 / 2
        book.save(path)


def test_a_plan_changed_between_two_cups_reads_back_without_loss_or_question(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    day = tmp_path / "day"
    asked = ["plan", "6", "--tasters", "elm,larch,yew", "--controls", "S", "--limit", "9"]
    assert main([*asked, "--descriptors", "brisk,body", "--out", str(day)]) == 0
    old = pst.read_plan(day)
    assert not old.servings["tasted"].any()
    fill(day, "sheet-elm.xlsx", 3)
    fill(day, "sheet-yew.xlsx", 5)
    half = pst.read_plan(day)
    assert half.servings.groupby("taster")["tasted"].sum().to_dict() == {"elm": 3, "larch": 0, "yew": 5}
    before = {path: path.read_bytes() for path in day.glob("sheet-*")}
    capsys.readouterr()
    assert main(["plan", str(day), "--late", "20,21", "--absent", "elm=beech"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert f"In place of plan {old.plan_id}" in said
    assert "beech comes instead of elm: 4 cups" in said
    assert {path: path.read_bytes() for path in before} == before  # no filled sheet is touched
    new = pst.read_plan(day)
    assert new.before == old.plan_id
    names = {path.name for path in day.glob("sheet-*.xlsx")} - {path.name for path in before}
    assert names == {f"sheet-{who}-{new.plan_id}.xlsx" for who in ("beech", "larch", "yew")}
    book = openpyxl.load_workbook(day / f"sheet-yew-{new.plan_id}.xlsx")
    assert [cell.value for cell in book.active["D"][1:]] == [6, 7, 8, 9]  # what is still to come, counted on
    kept = pd.read_excel(day / "room.xlsx", sheet_name="codes", dtype=str, engine="openpyxl")
    assert set(kept["plan"]) == {old.plan_id, new.plan_id}  # the old key is kept
    fill(day, f"sheet-*-{new.plan_id}.xlsx", 20)
    assert not len(pst.examine_sheets(day).questions)
    scores = pst.read_scores(day)
    assert len(scores) == 2 * len(new.servings) == 2 * 27
    whole = pst.read_plan(day)
    assert whole.servings["tasted"].all()
    assert any("27 of 27 cups planned are marked" in v.sentence for v in whole.verdicts)
    frame = scores.frame.drop_duplicates(["session", "taster", "lot", "pot"]).astype({"taster": str, "lot": str})
    want = whole.servings.set_index(["taster", "lot", "pot"])["position"].sort_index()
    got = frame.set_index(["taster", "lot", "pot"])["position"].astype(int).sort_index()
    pd.testing.assert_series_equal(got, want, check_index_type=False, check_dtype=False)
    capsys.readouterr()
    assert main(["plan", str(day)]) == 0
    assert "When" not in (out := capsys.readouterr().out)
    assert "Nobody wrote down when the key" in " ".join(out.split())


def test_a_room_keeps_the_keys_and_the_sheets_and_is_read_for_its_plan(tmp_path: Path) -> None:
    room, day = tmp_path / "room", tmp_path / "day"
    (room / "sheets").mkdir(parents=True)
    plan = pst.plan_session(named(4), ["elm", "yew"], limit=7, sessions=["monday"], service="tray")
    plan.write(day, descriptors=["brisk"], room=room)
    fill(day, "sheet-elm.xlsx", 2)
    (day / "sheet-elm.xlsx").replace(room / "sheets" / "elm.xlsx")
    half = pst.read_plan(day, room=room)
    assert half.servings["tasted"].sum() == 2
    changed = pst.change_plan(half, late=["9"])
    changed.write(day, room=room)
    fill(day, f"sheet-*-{changed.plan_id}.xlsx", 9)
    for path in day.glob(f"sheet-*-{changed.plan_id}.xlsx"):
        path.replace(room / "sheets" / path.name)
    pst.write_answers(room, {"sessions": pd.DataFrame({"session": ["monday"], "opened": ["2026-04-17 16:00"]})})
    whole = pst.read_plan(day, room=room)
    assert whole.servings["tasted"].all()
    assert any("opened 2026-04-17 16:00, as the room wrote down" in v.sentence for v in whole.verdicts)
    assert pst.read_plan(day / f"key-{plan.plan_id}.xlsx", room=room).servings["tasted"].all()  # by the old key, too


def test_keys_that_are_none_or_of_two_plans_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(pst.PanelError, match="no key of a plan"):
        pst.read_plan(tmp_path)
    plans = [pst.plan_session(named(3), ["elm"], limit=4, seed=seed, sessions=[f"day {seed}"]) for seed in (1, 2)]
    for plan in plans:
        plan.write(tmp_path, descriptors=["brisk"], overwrite=True)
    with pytest.raises(pst.PanelError, match="the keys of 2 plans"):
        pst.read_plan(tmp_path)
    assert pst.read_plan(tmp_path / f"key-{plans[1].plan_id}.xlsx").plan_id == plans[1].plan_id
    (tmp_path / "key-odd.xlsx").write_bytes((tmp_path / "room.xlsx").read_bytes())
    with pytest.raises(pst.PanelError, match="not the key of a plan"):
        pst.read_plan(tmp_path / "key-odd.xlsx")
    assert main(["plan", "12", "--late", "3", "--tasters", "elm", "--limit", "9"]) == 2
    assert "no plan to change" in capsys.readouterr().err
    assert main(["plan", str(tmp_path), "--tasters", "elm", "--limit", "9"]) == 2
    assert "leave --tasters out" in capsys.readouterr().err
    assert main(["plan", "12", "--limit", "9"]) == 2
    assert "--tasters" in capsys.readouterr().err


def test_whoever_keeps_the_sheet_in_hand_gets_no_other_and_the_kitchen_brews_what_is_left(tmp_path: Path) -> None:
    plan = partly(pst.plan_session(named(6), ["elm", "larch", "yew"], service="tray", limit=8), {"elm": 2, "yew": 3})
    changed = pst.change_plan(plan, absent={"elm": "oak"})
    names = {path.name for path in changed.write(tmp_path / "day", descriptors=["brisk"])}
    end = changed.plan_id
    assert names == {
        f"key-{end}.xlsx",
        "room.xlsx",
        f"kitchen-{end}.html",
        f"sheet-oak-{end}.xlsx",
        f"sheet-oak-{end}.html",
    }
    kitchen = (tmp_path / "day" / f"kitchen-{end}.html").read_text("utf-8")
    assert kitchen.count('<th scope="row">') == (~changed.servings["tasted"]).sum() == 18 - 5
    page = (tmp_path / "day" / f"sheet-oak-{end}.html").read_text("utf-8")
    assert page.count('<th scope="row">') == 4
    late = taster_page(pst.change_plan(plan, late=["9"]), "yew", marked(["brisk"])).decode()
    assert late.count('<th scope="row">') == 6 + 1 - 3  # what was tasted is on the sheet in hand


def test_codes_of_two_plans_name_what_both_say_alike_and_nothing_else() -> None:
    sheet = pd.DataFrame({"session": "1", "taster": "elm", "code": ["417", "526"], "brisk": [5.0, 6.0]})
    told = [("417", "7", 1, "pa"), ("417", "7", 1, "pb"), ("526", "8", 1, "pa"), ("526", "8", 2, "pb")]
    codes = pd.DataFrame(told, columns=["code", "lot", "pot", "plan"]).assign(session="1", look=1, taster="")
    with pytest.raises(pst.SheetError, match="526"):
        pst.read_scores(sheet, room={"codes": codes})
    alike = pst.read_scores(sheet.iloc[:1], room={"codes": codes})
    assert alike.frame["lot"].tolist() == ["7"]
    of_plan = pst.read_scores(sheet.assign(plan="pb"), room={"codes": codes})
    assert of_plan.frame.set_index("lot")["pot"].to_dict() == {"7": 1, "8": 2}


def test_a_code_of_another_tasters_sheet_says_whose(tmp_path: Path) -> None:
    plan = pst.plan_session(named(6), ["elm", "yew"], limit=8, service="tray")
    plan.write(tmp_path / "day", descriptors=["brisk"])
    fill(tmp_path / "day", "sheet-*.xlsx", 9)
    codes = {who: set(rows["code"]) for who, rows in plan.codes.groupby("taster")}
    path = tmp_path / "day" / "sheet-elm.xlsx"
    book = openpyxl.load_workbook(path)
    book.active.cell(2, 5).value = min(codes["yew"] - codes["elm"])
    book.save(path)
    with pytest.raises(pst.SheetError, match="a code of the sheet of yew"):
        pst.read_scores(tmp_path / "day")
