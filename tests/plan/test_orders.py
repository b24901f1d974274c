"""Orders: squares, blocks, what is balanced in them and how well they tell lots apart."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from panelstats.plan.orders import incomplete
from panelstats.plan.orders.audit import Positions, audit
from panelstats.plan.orders.efficiency import connected_parts, efficiency_of, incidence_of, resolvable_bound
from panelstats.plan.orders.incomplete import (
    alpha_blocks,
    alpha_columns,
    cyclic_blocks,
    plane_blocks,
    replicates_of,
    sheets_of,
)
from panelstats.plan.orders.seats import seated
from panelstats.plan.orders.squares import dealt_rows, starting_places, williams_rows
from panelstats.plan.orders.swaps import dealt_blocks, improved_blocks

HERE = Path(__file__).parents[1] / "published" / "plan"
EXACT = 1e-9


def published(name: str) -> dict:
    return json.loads((HERE / name).read_text("utf-8"))


def counted(orders: np.ndarray, lots: int) -> tuple[np.ndarray, np.ndarray]:
    """Positions (lots, positions) and ordered neighbours (lots, lots), counted one by one."""
    positions, neighbours = np.zeros((lots, lots), int), np.zeros((lots, lots), int)
    for row in orders:
        for place, lot in enumerate(row):
            positions[lot, place] += 1
            if place:
                neighbours[row[place - 1], lot] += 1
    return positions, neighbours


@pytest.mark.parametrize("n", range(2, 61))
def test_a_square_balances_positions_and_neighbours(n: int) -> None:
    # Williams 1949: once each for even n, twice each for odd n.
    positions, neighbours = counted(williams_rows(n, range(n + n % 2 * n)), n)
    times = 1 if n % 2 == 0 else 2
    assert (positions == times).all()
    assert (neighbours[~np.eye(n, dtype=bool)] == times).all()
    assert (np.diag(neighbours) == 0).all()


@pytest.mark.parametrize(("n", "name"), [(4, "four"), (5, "five")])
def test_squares_are_those_published(n: int, name: str) -> None:
    # A square is right by its balance; ours hold the rows published for 4 and 5 lots, in any order.
    assert sorted((williams_rows(n, range(n + n % 2 * n)) + 1).tolist()) == sorted(published("williams.json")[name])


def seats(n: int, tasters: int, joined: int = 0, *, without: int = -1) -> list[int]:
    """Seats of tasters who draw from a source each, one of them away."""
    own = [np.random.default_rng([n, taster]) for taster in range(tasters) if taster != without]
    return seated(own, [np.random.default_rng([n, 100 + taster]) for taster in range(joined)], n)


@pytest.mark.parametrize("n", [2, 3, 7, 24, 60])
@pytest.mark.parametrize("tasters", [1, 2, 5, 20])
def test_rows_dealt_to_tasters_balance_positions_within_one(n: int, tasters: int) -> None:
    rows = dealt_rows(n, seats(n, tasters), np.random.default_rng(n + tasters))
    positions, _ = counted(rows, n)
    assert (np.sort(rows, axis=1) == np.arange(n)).all()
    assert positions.max() - positions.min() <= 1
    if tasters <= n:
        assert len(np.unique(rows, axis=0)) == tasters


@pytest.mark.parametrize("n", [4, 5, 8])
def test_two_whole_squares_balance_neighbours_too(n: int) -> None:
    _, neighbours = counted(dealt_rows(n, seats(n, 2 * n), np.random.default_rng(3)), n)
    assert (neighbours[~np.eye(n, dtype=bool)] == 2).all()


@pytest.mark.parametrize(("n", "tasters"), [(5, 3), (7, 7), (7, 9), (24, 12)])
def test_seats_are_stable_and_fill_one_square_after_the_other(n: int, tasters: int) -> None:
    # Gale & Shapley 1962: nobody prefers a seat whose holder it would choose them over.
    held = seats(n, tasters)
    assert len(set(held)) == tasters
    assert max(held) < n * -(-tasters // n)
    if tasters <= n:
        wishes = [np.random.default_rng([n, taster]) for taster in range(tasters)]
        drawn = [(rng.permutation(n).tolist(), rng.random(n)) for rng in wishes]
        holder = {seat: who for who, seat in enumerate(held)}
        for who, (liked, numbers) in enumerate(drawn):
            for seat in liked[: liked.index(held[who])]:
                assert seat in holder
                assert drawn[holder[seat]][1][seat] < numbers[seat]


def test_one_taster_more_moves_few_others_and_one_who_joins_nobody() -> None:
    moved = []
    for away in range(9):
        few, more = seats(24, 9, without=away), seats(24, 9)
        moved.append(sum(a != b for a, b in zip(few, more[:away] + more[away + 1 :], strict=True)))
        assert seats(24, 9, 3)[:9] == more
    assert np.mean(moved) < 1  # in order of names it would be four of eight


def test_the_order_in_which_people_are_named_moves_nobody() -> None:
    own = [np.random.default_rng([3, taster]) for taster in range(9)]
    again = [np.random.default_rng([3, taster]) for taster in range(9)][::-1]
    assert seated(own, [], 7) == seated(again, [], 7)[::-1]


@pytest.mark.parametrize("n", [1, 2, 5, 8, 17, 37])
def test_starting_places_are_all_places_and_the_first_ones_lie_far_apart(n: int) -> None:
    places = starting_places(n)
    assert sorted(places) == list(range(n))
    if n >= 8:
        assert np.diff(np.sort(places[:4])).min() >= n // 8


@pytest.mark.parametrize("name", ["t7_k3", "t9_k3", "t13_k4", "t11_k5"])
def test_efficiency_of_published_balanced_blocks(name: str) -> None:
    one = published("incomplete_blocks.json")[name]
    lots = max(map(max, one["blocks"]))
    found = efficiency_of(incidence_of([np.array(b) - 1 for b in one["blocks"]], lots))
    assert found.efficiency == pytest.approx(one["efficiency"], abs=EXACT)
    assert found.worst == pytest.approx(found.variance, abs=EXACT)  # balanced: no pair worse than another
    assert found.variance == pytest.approx(2 / (one["r"] * one["efficiency"]), abs=EXACT)


@pytest.mark.parametrize("name", ["t7_k3", "t9_k3", "t13_k4", "t11_k5"])
def test_a_plan_of_that_size_is_balanced(name: str) -> None:
    # Cochran & Cox, tables of balanced incomplete blocks.
    one = published("incomplete_blocks.json")[name]
    lots, looks, tasters = max(map(max, one["blocks"])), one["r"], len(one["blocks"])
    blocks, way = sheets_of(lots, tasters, 1, looks, np.random.default_rng(0))
    flat = [block for each in blocks for block in each]
    assert way == "balanced"
    meet = incidence_of(flat, lots) @ incidence_of(flat, lots).T
    assert set(meet[~np.eye(lots, dtype=bool)]) == {one["pair_count"]}
    assert efficiency_of(incidence_of(flat, lots)).efficiency == pytest.approx(one["efficiency"], abs=EXACT)


def test_cyclic_blocks_put_every_lot_once_in_each_position() -> None:
    positions, _ = counted(np.array(cyclic_blocks(7, 3, np.random.default_rng(0))), 7)
    assert (positions[:, :3] == 1).all()


@pytest.mark.parametrize(("replicates", "bound"), [(2, 0.666667), (3, 0.727273), (4, 0.75)])
def test_the_bound_is_reached_by_the_affine_plane(replicates: int, bound: float) -> None:
    # incomplete_blocks.json, note on t9_k3.
    flat = plane_blocks(3)[: 3 * replicates]
    assert resolvable_bound(9, 3, replicates) == pytest.approx(bound, abs=5e-7)
    assert efficiency_of(incidence_of(flat, 9)).efficiency == pytest.approx(bound, abs=5e-7)


def test_the_published_alpha_array_gives_its_blocks_and_efficiency() -> None:
    one = published("alpha.json")["twenty_lots"]
    replicates = alpha_blocks(20, 5, np.array(one["array_columns_by_replicate"]))
    flat = [block for each in replicates for block in each]
    assert [sorted((block + 1).tolist()) for block in flat] == [sorted(block) for block in one["blocks"]]
    assert efficiency_of(incidence_of(flat, 20)).efficiency == pytest.approx(one["efficiency"], abs=EXACT)
    assert resolvable_bound(20, 5, 3) == pytest.approx(one["bound"], abs=EXACT)


@pytest.mark.parametrize("one", [*published("alpha.json")["found"][:3]], ids=lambda one: f"{one['v']}-{one['k']}")
def test_the_search_finds_alpha_arrays_as_good_as_those_published(one: dict) -> None:
    blocks, replicates = one["v"] // one["k"], one["r"]
    columns = alpha_columns(one["v"], blocks, replicates, np.random.default_rng(1))
    flat = [block for each in alpha_blocks(one["v"], blocks, columns) for block in each]
    reached = efficiency_of(incidence_of(flat, one["v"]), worst=False).efficiency
    assert one["efficiency"] - 0.005 <= reached <= resolvable_bound(one["v"], blocks, replicates) + EXACT
    assert resolvable_bound(one["v"], blocks, replicates) == pytest.approx(one["bound"], abs=5e-5)


def test_two_thousand_lots_in_random_replicates() -> None:
    one = published("alpha.json")["found"][3]
    rng = np.random.default_rng(1)
    flat = [block for _ in range(one["r"]) for block in rng.permutation(one["v"]).reshape(-1, one["k"])]
    reached = efficiency_of(incidence_of(flat, one["v"]), worst=False).efficiency
    assert reached == pytest.approx(one["efficiency"], abs=0.005)


@pytest.mark.parametrize("row", published("linking.json")["rows"], ids=lambda row: f"{row['c']}-{row['m']}")
def test_variance_across_sessions_joined_by_common_lots(row: dict) -> None:
    # One lot of its own in each session, c common lots, m pots each.
    own = np.array([[row["m"], 0], [0, row["m"]]])
    incidence = np.vstack([own, np.full((row["c"], 2), row["m"])])
    mine = np.arange(len(incidence)) < 2
    assert efficiency_of(incidence, compared=mine).variance == pytest.approx(row["variance"], abs=EXACT)


@pytest.mark.parametrize("seed", range(5))
def test_the_covariance_is_that_of_least_squares(seed: int) -> None:
    # Against the normal equations of lots and blocks, solved as they stand (numpy.linalg.pinv).
    rng = np.random.default_rng(seed)
    flat = [rng.choice(6, 3, replace=False) for _ in range(8)]
    incidence = incidence_of(flat, 6)
    if connected_parts(incidence) > 1 or (incidence.sum(axis=1) == 0).any():
        return
    lot = np.concatenate(flat)
    X = np.hstack([np.eye(6)[lot], np.eye(8)[np.repeat(np.arange(8), 3)]])
    C = np.linalg.pinv(X.T @ X)[:6, :6]
    pairs = [C[a, a] + C[b, b] - 2 * C[a, b] for a, b in combinations(range(6), 2)]
    found = efficiency_of(incidence)
    assert found.variance == pytest.approx(np.mean(pairs), abs=EXACT)
    assert found.worst == pytest.approx(max(pairs), abs=EXACT)


def test_lots_that_nothing_joins_are_told() -> None:
    found = efficiency_of(incidence_of([np.array([0, 1]), np.array([2, 3])], 4))
    assert (found.parts, found.efficiency) == (2, 0.0)


@settings(max_examples=12, deadline=None, derandomize=True)
@given(lots=st.integers(2, 60), blocks=st.integers(1, 6), replicates=st.integers(1, 5), seed=st.integers(0, 99))
def test_every_replicate_holds_every_lot_once_in_blocks_of_one_size(
    lots: int, blocks: int, replicates: int, seed: int
) -> None:
    blocks = min(blocks, lots)
    found = replicates_of(lots, blocks, replicates, np.random.default_rng(seed))
    for replicate in found:
        assert sorted(np.concatenate(replicate)) == list(range(lots))
        sizes = [len(block) for block in replicate]
        assert max(sizes) - min(sizes) <= 1
    fewer = replicates_of(lots, blocks, max(replicates - 1, 1), np.random.default_rng(seed))
    for a, b in zip(fewer, found, strict=False):
        assert all((x == y).all() for x, y in zip(a, b, strict=True))


@settings(max_examples=25, deadline=None, derandomize=True)
@given(lots=st.integers(4, 60), tasters=st.integers(2, 20), per=st.integers(1, 3), data=st.data())
def test_no_lot_comes_twice_to_a_taster_and_loads_are_even(
    lots: int, tasters: int, per: int, data: st.DataObject
) -> None:
    looks, seed = data.draw(st.integers(1, tasters)), lots + tasters
    if lots * looks < tasters * per:
        return
    dealt, owner = dealt_blocks(lots, tasters, per, looks, np.random.default_rng(seed))
    found = improved_blocks(dealt, owner, lots, np.random.default_rng(seed), 300)
    counts = np.zeros((lots, tasters), int)
    for block, taster in zip(found, owner, strict=True):
        counts[block, taster] += 1
    assert counts.max() == 1
    assert (counts.sum(axis=1) == looks).all()
    loads = counts.sum(axis=0)
    assert loads.max() - loads.min() <= 1
    before, after = (((n := incidence_of(b, lots)) @ n.T)[~np.eye(lots, dtype=bool)] for b in (dealt, found))
    assert (after**2).sum() <= (before**2).sum()


def test_exchanges_gain_over_a_random_plan() -> None:
    rng = np.random.default_rng(2)
    dealt = [block for _ in range(3) for block in rng.permutation(60).reshape(-1, 5)]
    better = improved_blocks(dealt, np.arange(36), 60, rng, 20_000)
    first, last = (efficiency_of(incidence_of(each, 60)).efficiency for each in (dealt, better))
    assert last > first + 0.01


def test_positions_of_blocks_even_out() -> None:
    rng = np.random.default_rng(0)
    blocks = [block for each in replicates_of(60, 6, 8, rng) for block in each]
    evened = Positions(60, 10)
    even = audit([evened.order(block, rng) for block in blocks], [str(n) for n in range(60)])
    chance = audit([rng.permutation(block) for block in blocks], [str(n) for n in range(60)])
    assert even.position_gap <= 2 < chance.position_gap


def test_the_audit_counts_what_was_served() -> None:
    found = audit([np.array([0, 1, 2]), np.array([2, 2, 0])], ["a", "b", "c"])
    assert found.lots["first"].tolist() == [1, 0, 1]
    assert found.lots["mean_position"].tolist() == [2.0, 2.0, 2.0]
    assert (found.beside_itself, found.neighbours_most, found.neighbours_least) == (1, 1, 0)


@pytest.mark.parametrize(("lots", "blocks", "replicates"), [(7, 2, 4), (12, 3, 4), (15, 5, 3)])
def test_of_plans_as_good_as_each_other_the_last_digits_choose_none(monkeypatch, lots, blocks, replicates):
    """Efficiencies as another processor might sum them: the same columns, though many plans are as good."""
    plain = alpha_columns(lots, blocks, replicates, np.random.default_rng(3)).tolist()
    noise, exact = np.random.default_rng(4), incomplete.efficiency_of

    def summed_otherwise(*args, **options):
        found = exact(*args, **options)
        return replace(found, efficiency=found.efficiency * (1 + 1e-14 * noise.standard_normal()))

    monkeypatch.setattr(incomplete, "efficiency_of", summed_otherwise)
    for _ in range(5):
        assert alpha_columns(lots, blocks, replicates, np.random.default_rng(3)).tolist() == plain
