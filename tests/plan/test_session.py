"""A tasting planned: balance, blocks, what is hidden, what is refused, what it proves."""

from __future__ import annotations

import csv
from itertools import product
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import nct, t

import panelstats as pst
from panelstats.plan.session.proof import noncentrality, sd_factors
from tests import known

HERE = Path(__file__).parents[1] / "published" / "plan"
TREES = ["alder", "beech", "elm", "hornbeam", "larch", "poplar", "spruce", "sycamore", "yew"]


def named(n: int) -> list[str]:
    return [str(each + 1) for each in range(n)]


def people(n: int) -> list[str]:
    return [f"taster {each + 1}" for each in range(n)]


def figure(plan: pst.ServingPlan, name: str) -> float:
    return plan.balance.set_index("figure")["plan"][name]


@settings(max_examples=5, deadline=None, derandomize=True)
@given(lots=st.integers(2, 60), tasters=st.integers(1, 20), pots=st.integers(1, 2), seed=st.integers(0, 9))
def test_trays_of_all_lots_are_balanced_within_one(lots: int, tasters: int, pots: int, seed: int) -> None:
    plan = pst.plan_session(named(lots), people(tasters), service="tray", limit=200, pots_per_lot=pots, flight=60,
                            seed=seed)  # fmt: skip
    served = plan.servings
    for _, flight in served.groupby("flight"):
        counts = pd.crosstab(flight["lot"], flight["position"]).to_numpy()
        assert counts.max() - counts.min() <= 1
    assert (served.groupby(["taster", "lot"]).size() == pots).all()
    assert plan.codes.groupby(["session", "taster"])["code"].nunique().eq(lots * pots).all()
    if pots == 1 and tasters == (lots if lots % 2 == 0 else 2 * lots):
        assert figure(plan, "neighbours_most") == figure(plan, "neighbours_least")


@pytest.mark.parametrize(("lots", "tasters"), [(4, 4), (6, 6), (5, 10), (3, 6)])
def test_neighbours_are_balanced_where_that_can_be_had(lots: int, tasters: int) -> None:
    plan = pst.plan_session(named(lots), people(tasters), service="tray", limit=lots)
    assert figure(plan, "neighbours_most") == figure(plan, "neighbours_least") > 0
    assert figure(plan, "position_gap") == 0
    assert plan.verdicts[0].call == "not known yet" or any(v.call == "balanced" for v in plan.verdicts)
    assert any(v.call == "balanced" for v in plan.verdicts)


@settings(max_examples=5, deadline=None, derandomize=True)
@given(lots=st.integers(2, 60), tasters=st.integers(1, 20), limit=st.integers(5, 30), repeats=st.integers(0, 2),
       service=st.sampled_from(["bench", "tray"]))  # fmt: skip
def test_whatever_the_numbers_every_lot_is_served_within_the_limit(
    lots: int, tasters: int, limit: int, repeats: int, service: str
) -> None:
    plan = pst.plan_session(named(lots), people(tasters), service=service, limit=limit, controls=["S", "T"],
                            repeats=min(repeats, lots))  # fmt: skip
    served = plan.servings
    each = served.groupby(["session", "taster"])
    assert each.size().max() <= limit
    assert each["position"].apply(lambda p: sorted(p) == list(range(1, len(p) + 1))).all()
    own = served[served["role"] == "lot"]
    assert (own.groupby(["taster", "lot"]).size() == 1).all()
    assert own["lot"].nunique() == lots
    controls = served[served["role"] == "control"]
    assert (controls.groupby(["session", "taster"])["lot"].nunique() == 2).all()
    assert (served.groupby(["session", "taster", "code"]).size() == 1).all()
    assert (served[served["role"] == "repeat"].groupby(["session", "taster"]).size() == min(repeats, lots)).all()
    keys = ["session", "code"] if service == "bench" else ["session", "taster", "code"]
    joined = served.merge(plan.codes, on=keys, suffixes=("", "_key"))
    assert len(joined) == len(served)
    assert (joined["lot"] == joined["lot_key"]).all()
    assert (joined["pot"] == joined["pot_key"]).all()


@settings(max_examples=3, deadline=None, derandomize=True)
@given(lots=st.integers(2, 40), service=st.sampled_from(["bench", "tray"]), data=st.data())
def test_the_order_of_names_does_not_matter(lots: int, service: str, data: st.DataObject) -> None:
    names, tasters = data.draw(st.permutations(named(lots))), data.draw(st.permutations(TREES))
    asked = {"service": service, "limit": 15, "controls": ["S"], "repeats": 1, "seed": 4}
    one, other = pst.plan_session(named(lots), TREES, **asked), pst.plan_session(names, tasters, **asked)
    pd.testing.assert_frame_equal(one.servings, other.servings)
    assert one.plan_id == other.plan_id


def sheets(plan: pst.ServingPlan) -> dict[str, list[tuple[str, int, str, str]]]:
    """What stands on the sheet of each taster."""
    keys = ["session", "position", "code", "lot"]
    return {who: list(rows.sort_values(keys)[keys].itertuples(index=False, name=None))
            for who, rows in plan.servings.groupby("taster")}  # fmt: skip


@pytest.mark.parametrize("service", ["bench", "tray"])
@pytest.mark.parametrize(("lots", "limit"), [(10, 20), (40, 15)])
def test_whoever_joins_changes_no_other_sheet(service: str, lots: int, limit: int) -> None:
    asked = {"service": service, "limit": limit, "controls": ["S"], "repeats": 2}
    few = sheets(pst.plan_session(named(lots), TREES[:5], **asked))
    more = sheets(pst.plan_session(named(lots), TREES[:5], joining=["cedar"], **asked))
    assert {who: more[who] for who in few} == few
    assert len(more["cedar"]) == len(few["elm"])


@pytest.mark.parametrize("service", ["bench", "tray"])
def test_one_taster_more_in_the_middle_changes_few_other_sheets(service: str) -> None:
    asked = {"service": service, "limit": 30, "controls": ["S"]}
    whole = sheets(pst.plan_session(named(16), TREES[:7], **asked))
    changed = 0
    for away in TREES[:7]:
        few = sheets(pst.plan_session(named(16), [name for name in TREES[:7] if name != away], **asked))
        changed += sum(few[who] != whole[who] for who in few)
    assert changed <= 7 * (2 if service == "bench" else 1)  # in order of names it would be 21 of 42


def test_what_a_taster_must_not_drink_is_never_served_to_them() -> None:
    asked = {"limit": 30, "controls": ["S"], "repeats": 2, "seed": 2}
    for service in ("bench", "tray"):
        plan = pst.plan_session(named(8), TREES[:3], service=service, excluded={"elm": ["2", "5"]}, **asked)
        mine = plan.servings[plan.servings["taster"] == "elm"]
        assert not {"2", "5"} & set(mine["lot"])
        assert sorted(mine["position"]) == list(range(1, len(mine) + 1))
        others = plan.servings[(plan.servings["taster"] != "elm") & (plan.servings["role"] != "repeat")]
        assert set(others["lot"]) == {*named(8), "S"}
        assert any("Not served to elm: 2 and 5" in verdict.sentence for verdict in plan.verdicts)
        whole = sheets(pst.plan_session(named(8), TREES[:3], service=service, **asked))
        assert all(sheets(plan)[who] == whole[who] for who in ("alder", "beech"))
    assert figure(plan, "efficiency") < 1


def test_plans_are_told_apart_by_what_they_serve() -> None:
    asked = {"lots": named(6), "tasters": ["elm", "yew"], "limit": 9}
    plans = [pst.plan_session(**asked, **more) for more in (
        {}, {}, {"seed": 1}, {"stop": ["417", "526"]}, {"excluded": {"elm": ["1"]}}, {"brew": {"grams": 5.6}},
        {"warm_up": "S"})]  # fmt: skip
    assert plans[0].plan_id == plans[1].plan_id
    assert len({plan.plan_id for plan in plans}) >= 5
    assert not plans[0].plan_id[0].isdigit()
    assert set(plans[0].codes["plan"]) == {plans[0].plan_id}


def test_the_published_balanced_blocks_come_of_their_numbers() -> None:
    # Cochran & Cox: 7 lots in threes, 13 in fours, 11 in fives; efficiencies of incomplete_blocks.json.
    for lots, limit, efficiency in ((7, 3, 7 / 9), (13, 4, 0.8125), (11, 5, 0.88)):
        plan = pst.plan_session(named(lots), people(lots), service="tray", limit=limit, sessions=1)
        assert figure(plan, "efficiency") == pytest.approx(efficiency, abs=1e-9)


def test_blocks_keep_more_than_lots_dealt_at_random() -> None:
    plan = pst.plan_session(named(20), people(15), service="tray", limit=4, sessions=1)
    table = plan.balance.set_index("figure")
    assert table["plan"]["efficiency"] >= 0.7447 - 0.005 > table["random"]["efficiency"]  # alpha.json
    assert table["plan"]["position_gap"] <= table["random"]["position_gap"]


def test_sessions_joined_by_controls_alone_say_what_that_costs() -> None:
    # linking.json: 2 + 2/c against 2.
    plan = pst.plan_session(named(20), ["elm", "yew"], limit=12, controls=["S", "T"])
    said = next(v for v in plan.verdicts if v.question == "Can all lots be compared?")
    assert "1.50 times" in said.sentence
    assert plan.servings["session"].nunique() == 2


def test_repeats_stand_far_from_their_first_pot() -> None:
    plan = pst.plan_session(named(30), TREES, service="tray", limit=40, repeats=4)
    assert figure(plan, "beside_itself") == 0
    for _, sheet in plan.servings.groupby("taster"):
        for lot in sheet.loc[sheet["role"] == "repeat", "lot"]:
            assert np.diff(sheet.loc[sheet["lot"] == lot, "position"]).min() >= 34 // 3


def test_class_order_serves_the_standard_first_and_at_every_25_places() -> None:
    lots = pd.DataFrame({"lot": [*named(60), "S"], "class": [*["b"] * 30, *["a"] * 30, ""],
                         "role": [*[""] * 60, "standard"]})  # fmt: skip
    plan = pst.plan_session(lots, ["elm", "yew"], limit=80, order="class", repeats=3)
    row = plan.servings[plan.servings["taster"] == "elm"]
    assert row.loc[row["lot"] == "S", "position"].tolist() == [1, 26, 51]
    first = row[row["role"] == "lot"]["lot"].tolist()
    assert first == [*named(60)[30:], *named(30)]
    assert any(v.call == "not balanced" for v in plan.verdicts)


def test_bench_tasters_share_pots_and_codes_and_set_out_elsewhere() -> None:
    plan = pst.plan_session(named(16), TREES[:4], limit=20, controls=["S"])
    table = plan.servings.pivot_table(index="code", columns="taster", values="position")
    assert table.notna().all(axis=None)
    assert plan.servings[plan.servings["position"] == 1]["place"].nunique() == 4
    assert set(plan.codes["taster"]) == {""}


def test_two_who_walk_one_row_meet_every_lot_at_the_same_mean_position() -> None:
    plan = pst.plan_session(named(7), TREES[:2], limit=9, controls=["S"])
    assert plan.positions["mean_position"].tolist() == [4.5] * 8


def test_controls_are_not_in_one_place_twice_running() -> None:
    plan = pst.plan_session(named(60), ["elm"], limit=12, controls=["S", "T"])
    place = plan.servings[plan.servings["role"] == "control"].pivot_table("place", "session", "lot")
    place = place.loc[sorted(place.index, key=int)]
    assert (place.diff().dropna() != 0).all(axis=None)


REFUSED = {
    "lot twice": ({"lots": ["1", "1"]}, "a lot twice"),
    "no name": ({"lots": ["1", " "]}, "without a name"),
    "taster twice": ({"tasters": ["elm", "Elm"]}, "a taster twice"),
    "nobody": ({"tasters": []}, "nobody tastes"),
    "no lots": ({"lots": [], "controls": ["S"]}, "no lots"),
    "limit of one": ({"limit": 1}, "limit=1"),
    "no room": ({"limit": 3, "controls": ["S", "T", "U"]}, "raise the limit to 4"),
    "unconnected": ({"lots": named(30), "limit": 10}, "serve a control"),
    "service": ({"service": "table"}, "use one of bench, tray"),
    "half a repeat": ({"repeats": 1.5}, "a whole number"),
    "few sessions": ({"lots": named(30), "limit": 10, "controls": ["S"], "sessions": 2}, "plan 4 sessions"),
    "variance": ({"variances": {"pot": -1}}, "0 or more"),
    "part": ({"variances": {"cup": 1}}, "pot, taster_lot and look"),
    "class on trays": ({"service": "tray", "order": "class"}, "order='random'"),
    "per lot": ({"service": "tray", "tasters_per_lot": 5}, "give 2 at most"),
    "excluded of nobody": ({"excluded": {"oak": ["1"]}}, "'oak'"),
    "excluded of nothing": ({"excluded": {"elm": ["9"]}}, "'9'"),
    "excluded altogether": ({"excluded": {"elm": ["1"], "yew": ["1"]}}, "nobody may taste"),
    "excluded person": ({"excluded": {"elm": named(4)}}, "nothing is left"),
    "no brew": ({"brew": {"sugar": 1}}, "vessel, grams"),
    "weightless": ({"brew": {"grams": 0}}, "above 0"),
    "brew of another day": ({"brew": pd.DataFrame({"session": ["7"], "grams": [5]})}, "of the plan"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_is_refused_with_what_to_do(name: str) -> None:
    own, told = REFUSED[name]
    with pytest.raises(pst.DesignError) as error:
        pst.plan_session(**{"lots": named(4), "tasters": ["elm", "yew"], "limit": 10} | own)
    assert told in str(error.value)


def test_the_change_a_refusal_names_is_enough() -> None:
    asked = {"lots": named(30), "tasters": ["elm"], "controls": ["S"]}
    assert pst.plan_session(**asked, limit=10, sessions=4).servings["session"].nunique() == 4
    assert pst.plan_session(**asked, limit=16, sessions=2).servings["session"].nunique() == 2


def test_factors_of_a_standard_deviation_are_those_published() -> None:
    with (HERE / "sd_interval_factors.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            low, high = sd_factors(int(row["df"]))
            assert low == pytest.approx(float(row["lower_factor_95"]), abs=5e-7)
            assert high == pytest.approx(float(row["upper_factor_95"]), abs=5e-7)


@pytest.mark.parametrize(("df", "power"), list(product([4, 12, 60], [0.8, 0.95])))
def test_the_least_difference_has_the_power_it_claims(df: int, power: float) -> None:
    # scipy.stats.nct: the chance of t beyond the limit of a two-sided 5 % test.
    shift = float(noncentrality(np.array([float(df)]), 0.95, power)[0])
    assert nct.sf(t.ppf(0.975, df), df, shift) == pytest.approx(power, abs=1e-6)


def test_proof_counts_cups_and_shrinks_as_the_formula_says() -> None:
    plan = pst.plan_session(named(10), TREES[:3], limit=20, variances={"pot": 0.06, "taster_lot": 0.09, "look": 0.5})
    proof = plan.proof.set_index("change")
    factor = 1.959964 + 0.841621
    for change, tasters, pots, looks, cups, brews in (
        ("as planned", 3, 1, 1, 0, 0), ("one more taster", 4, 1, 1, 10, 0),
        ("one more pot of each lot", 3, 2, 1, 30, 10), ("one more look at each cup", 3, 1, 2, 30, 0),
    ):  # fmt: skip
        variance = 0.06 / pots + 0.09 / tasters + 0.5 / (tasters * pots * looks)
        assert proof["least_80"][change] == pytest.approx(factor * np.sqrt(2 * variance), rel=1e-5)
        assert (proof["cups"][change], proof["brews"][change]) == (cups, brews)


def test_the_room_record_tells_what_a_plan_can_prove() -> None:
    record = pst.room_error(known.scores("row.xlsx"))
    plan = pst.plan_session(named(10), TREES[:2], limit=20, error=record)
    mine = plan.proof[plan.proof["change"] == "as planned"].set_index(["class", "descriptor"])
    theirs = record.table[record.table["tasters"] == 2].set_index(["class", "descriptor"])
    np.testing.assert_allclose(mine["half_width"], theirs.loc[mine.index, "least_difference"], rtol=1e-6)


def test_how_far_a_taster_repeats_counts_degrees_of_freedom() -> None:
    plan = pst.plan_session(named(12), ["elm"], limit=40, repeats=10, controls=["S"])
    said = next(v for v in plan.verdicts if "repeats" in v.question)
    assert said.numbers["df"] == 10
    assert "0.70 to 1.75" in said.sentence  # sd_interval_factors.csv
