"""What a plan is asked for besides: codes by hand, strong lots apart from controls, pots of a difference test."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import panelstats as pst
from panelstats.__main__ import main
from panelstats.plan.plates.fit import poured_from
from panelstats.plan.session.apart import beside_controls, parted


def lots(n: int) -> list[str]:
    return [str(each + 1) for each in range(n)]


@pytest.mark.parametrize("pots", [20, 60, 500])
def test_codes_without_zeros_and_outside_the_stop_list(pots: int) -> None:
    first = pst.plan_session(lots(pots), ["elm"], limit=pots, zeros=False).codes["code"]
    assert not first.str.contains("0").any()
    assert first.is_unique
    again = pst.plan_session(lots(pots), ["elm"], limit=pots, zeros=False, stop=list(first)).codes["code"]
    assert not set(first) & set(again)
    assert pst.plan_session(lots(pots), ["elm"], limit=pots).codes["code"].str.contains("0").any() or pots == 20
    test = pst.plan_difference("triangle", ["elm", "yew"], trials=9, zeros=False, stop=list(first)).servings["code"]
    assert not test.str.contains("0").any()
    assert not set(first) & set(test)


def ring_neighbours(row: list[str]) -> set[frozenset[str]]:
    return {frozenset((row[at - 1], row[at])) for at in range(len(row))}


@settings(max_examples=5, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10**6), strong=st.integers(1, 6), pots=st.integers(1, 2))
def test_strong_lots_stand_beside_no_control(seed: int, strong: int, pots: int) -> None:
    plan = pst.plan_session(lots(16), ["elm"], limit=60, controls=["S", "T"], strong=lots(strong), repeats=2,
                            pots_per_lot=pots, seed=seed)  # fmt: skip
    for _, round_ in plan.servings.groupby("flight"):
        row = round_.sort_values("place")["lot"].tolist()
        touching = ring_neighbours(row)
        assert not any(frozenset((lot, control)) in touching for lot in lots(strong) for control in "ST")
    assert any("stands beside a control" in v.sentence and v.call == "yes" for v in plan.verdicts)
    free = pst.plan_session(lots(16), ["elm"], limit=60, controls=["S", "T"], repeats=2, pots_per_lot=pots, seed=seed)
    assert sorted(free.servings["lot"]) == sorted(plan.servings["lot"])


def test_strong_lots_that_find_no_other_place_are_told() -> None:
    plan = pst.plan_session(lots(3), ["elm"], limit=9, controls=["S"], strong=lots(3))
    said = next(v for v in plan.verdicts if v.subject == "strong lots")
    assert (said.call, said.numbers) == ("partly balanced", {"beside": 2})
    assert said.sentence.startswith("2 times ")


def test_a_strong_lot_changes_places_within_its_round_alone() -> None:
    item, rounds = np.array([9, 1, 2, 3, 4, 4, 3, 2, 1, 9]), np.repeat([0, 1], 5)
    order = parted(item, rounds, np.array([1]), np.array([9]), np.random.default_rng(0))
    assert (rounds[order] == rounds).all()
    assert beside_controls(item, rounds, np.array([1]), np.array([9])) == 2
    assert beside_controls(item[order], rounds, np.array([1]), np.array([9])) == 0


def test_a_strong_lot_is_not_put_beside_its_own_other_pot() -> None:
    item = np.array([9, 1, 2, 3, 4, 1, 5, 6, 7])
    for seed in range(20):
        row = item[parted(item, np.zeros(9, int), np.array([1]), np.array([9]), np.random.default_rng(seed))]
        assert frozenset((1, 9)) not in (touching := ring_neighbours(row.tolist()))
        assert frozenset((1,)) not in touching


@pytest.mark.parametrize(
    ("own", "told"),
    [({"strong": ["9"]}, "a strong lot that is not planned"), ({"strong": ["S"]}, "no controls"),
     ({"strong": ["1"], "service": "tray"}, "random rows"), ({"strong": ["1"], "order": "class"}, "random rows")],
)  # fmt: skip
def test_strong_lots_that_cannot_be_kept_apart_are_refused(own: dict, told: str) -> None:
    with pytest.raises(pst.DesignError, match=told):
        pst.plan_session(lots(4), ["elm"], limit=9, controls=["S"], **own)


@pytest.mark.parametrize("pots", [1, 2, 3, 5])
def test_like_cups_of_a_set_come_from_different_pots_used_alike(pots: int) -> None:
    plan = pst.plan_difference("two-out-of-five", ["elm", "yew", "larch"], trials=7, pots_of_each=pots)
    cups = plan.servings
    of_set = cups.groupby(["taster", "trial", "product"])["pot"]
    assert (of_set.nunique() == np.minimum(of_set.size(), pots)).all()  # counted: as different as they can be
    times = pd.crosstab(cups["product"], cups["pot"])
    assert (times.max(axis=1) - times.min(axis=1) <= 1).all()
    assert times.columns.tolist() == list(range(1, pots + 1))
    said = next(v for v in plan.verdicts if v.question == "Are like cups brewed apart?")
    assert said.call == ("apart" if pots >= 3 else "from one pot")
    assert said.numbers["shared"] == (0 if pots >= 3 else 21)  # every set has three cups alike
    assert bool(said.next_step) == (pots < 3)


def test_pots_nobody_told_of_are_asked_for_only_where_two_cups_are_alike() -> None:
    unsaid = pst.plan_difference("triangle", ["elm", "yew"])
    assert unsaid.servings["pot"].isna().all()
    assert [v.call for v in unsaid.verdicts][1:] == ["not known yet"]
    assert len(pst.plan_difference("paired", ["elm", "yew"]).verdicts) == 1


def test_pots_are_not_bound_to_the_place_of_a_cup() -> None:
    table = pst.plan_difference("triangle", ["elm"], trials=600).servings
    pot = poured_from(table, 2, np.random.default_rng(1))
    share = pd.Series(pot == 1).groupby(table["position"]).mean()
    assert share.between(0.44, 0.56).all()  # binomial: three standard errors about a half


def test_wishes_are_heard_at_the_command_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    room = tmp_path / "room"
    room.mkdir()
    asked = ["plan", "8", "--tasters", "elm", "--limit", "12", "--controls", "S", "--room", str(room), "--no-zeros"]
    more = ["--strong", "1,2", "--pot-minutes", "3", "--flight", "3", "--interval", "4", "--session", "monday"]
    assert main([*asked, *more, "--out", str(tmp_path / "day")]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "the longest session takes 27 minutes" in out
    assert "A sheet has 2 breaks" in out
    assert "No pot of a strong lot" in out
    assert ">32<" in (tmp_path / "day" / "kitchen.html").read_text("utf-8")  # the ninth pot, four minutes each

    def codes() -> dict[str, set[tuple[str, str]]]:
        table = pd.read_excel(room / "room.xlsx", sheet_name="codes", dtype=str, engine="openpyxl")
        return {name: set(zip(rows["lot"], rows["code"], strict=True)) for name, rows in table.groupby("session")}

    before = codes()["monday"]
    assert not any("0" in code for _, code in before)
    assert main([*asked, *more, "--out", str(tmp_path / "day"), "--overwrite"]) == 0
    assert codes()["monday"] == before  # planned once more it is the same plan
    assert main([*asked, *more[:-1], "tuesday", "--out", str(tmp_path / "next")]) == 0
    assert not codes()["tuesday"] & before  # no lot is called again what it was called before
    assert main(["plan", "triangle", "--tasters", "elm", "--pots", "2", "--out", str(tmp_path / "test")]) == 0
    assert "(pot 2)" in (tmp_path / "test" / "kitchen.html").read_text("utf-8")
