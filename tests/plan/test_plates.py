"""Sets of difference tests: orders, codes, the key."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

import panelstats as pst

PUBLISHED = json.loads((Path(__file__).parents[1] / "published" / "plan" / "plates.json").read_text("utf-8"))
KINDS = {"triangle": ("triangle", "balanced"), "paired": ("paired", "balanced"),
         "duo_trio_balanced_reference": ("duo-trio", "balanced"),
         "duo_trio_constant_reference": ("duo-trio", "constant"),
         "two-out-of-five": ("two-out-of-five", "balanced"), "four_cup_two_pairs": ("tetrad", "balanced")}  # fmt: skip


def people(n: int) -> list[str]:
    return [f"taster {at}" for at in range(n)]


def ours(order: str) -> str:
    """`Ra AB` as we write it, `A:AB`."""
    return f"{order[1].upper()}:{order[3:]}" if " " in order else order


@pytest.mark.parametrize("name", KINDS)
def test_every_published_order_is_served_equally_often(name: str) -> None:
    kind, reference = KINDS[name]
    orders = [ours(order) for order in PUBLISHED[name]]
    plan = pst.plan_difference(kind, people(2 * len(orders)), reference=reference, seed=3)
    assert Counter(plan.answers["order"]) == dict.fromkeys(orders, 2)
    assert plan.verdicts[0].call == "balanced"


@pytest.mark.parametrize("name", KINDS)
@pytest.mark.parametrize("tasters", [1, 5, 17])
def test_orders_differ_by_one_at_most_over_tasters_and_within_each(name: str, tasters: int) -> None:
    kind, reference = KINDS[name]
    plan = pst.plan_difference(kind, people(tasters), trials=4, reference=reference)
    times = [plan.answers["order"].tolist().count(ours(order)) for order in PUBLISHED[name]]
    assert max(times) - min(times) <= 1
    for _, own in plan.answers.groupby("taster"):
        assert own["order"].value_counts().max() <= -(-4 // len(PUBLISHED[name])) + 1


def test_the_key_holds_the_right_cup() -> None:
    plan = pst.plan_difference("triangle", people(12), products=("old", "new"))
    for (_, trial), cups in plan.servings.groupby(["taster", "trial"]):
        key = plan.answers[(plan.answers["taster"] == cups["taster"].iloc[0]) & (plan.answers["trial"] == trial)]
        odd = cups.groupby("product").filter(lambda some: len(some) == 1)
        assert key["right"].tolist() == odd["code"].tolist()
    duo = pst.plan_difference("duo-trio", people(8))
    for taster, cups in duo.servings.groupby("taster"):
        reference = cups.loc[cups["position"] == 0, "product"].item()
        right = cups[(cups["position"] > 0) & (cups["product"] == reference)]["code"].item()
        assert duo.answers.loc[duo.answers["taster"] == taster, "right"].item() == right
        assert cups.loc[cups["position"] == 0, "code"].item() == "R"
    five = pst.plan_difference("two-out-of-five", people(20))
    assert (five.answers["right"].str.split().str.len() == 2).all()


@pytest.mark.parametrize("kind", ["triangle", "duo-trio", "two-out-of-five", "a-not-a"])
def test_codes_are_fresh_on_every_cup_of_a_taster(kind: str) -> None:
    plan = pst.plan_difference(kind, people(3), trials=6)
    cups = plan.servings[plan.servings["position"] > 0]
    assert not cups.duplicated(["taster", "trial", "code"]).any()
    assert cups["code"].str.fullmatch(r"[1-9]\d\d").all()


def test_a_and_not_a_come_half_and_half_and_never_four_running() -> None:
    plan = pst.plan_difference("a-not-a", people(9), trials=60)
    for _, own in plan.answers.groupby("taster"):
        assert own["order"].tolist().count("A") == 30
        assert not {"AAAA", "NNNN"} & {"".join(own["order"][at : at + 4]) for at in range(len(own))}
    assert (plan.answers["right"] == np.where(plan.answers["order"] == "A", "A", "not A")).all()


def test_the_order_of_names_does_not_matter_and_the_seed_does() -> None:
    one, other = (pst.plan_difference("triangle", names, seed=1) for names in (people(9), people(9)[::-1]))
    assert one.answers.equals(other.answers)
    assert not one.answers.equals(pst.plan_difference("triangle", people(9), seed=2).answers)


def test_filled_answers_are_judged_as_they_were_given() -> None:
    plan = pst.plan_difference("triangle", people(12), trials=2)
    sheet = plan.answers.assign(answer=["right"] * 20 + ["wrong"] * 4).drop(columns="right")
    judged = pst.judge_answers(pst.read_answers(sheet))
    assert judged.table["correct"].iloc[0] == 20
    assert judged.table["answers"].iloc[0] == 24


@pytest.mark.parametrize(
    "own", [{"kind": "triangel"}, {"tasters": ["elm", "elm"]}, {"tasters": []}, {"products": ("A", "A")}, {"trials": 0}]
)
def test_what_cannot_be_is_refused(own: dict) -> None:
    with pytest.raises(pst.DesignError):
        pst.plan_difference(**{"kind": "triangle", "tasters": ["elm"]} | own)
