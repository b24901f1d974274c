"""Codes: pools, classes safe from slips, and that they tell nothing."""

from __future__ import annotations

import json
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import spearmanr

from panelstats.plan.codes.draw import drawn_codes
from panelstats.plan.codes.pool import code_pool, safe_class

PUBLISHED = json.loads((Path(__file__).parents[1] / "published" / "plan" / "codes.json").read_text("utf-8"))


def slips(code: str) -> set[str]:
    """Every code that one wrong digit, or two digits exchanged, makes of it."""
    wrong = {code[:at] + digit + code[at + 1 :] for at in range(len(code)) for digit in "0123456789"}
    swapped = set()
    for a, b in combinations(range(len(code)), 2):
        signs = list(code)
        signs[a], signs[b] = signs[b], signs[a]
        swapped.add("".join(signs))
    return (wrong | swapped) - {code}


RUNS = [1234, 2345, 3456, 4567, 5678, 6789, 9876, 8765, 7654, 6543, 5432, 4321, 3210]  # of four digits, by hand


def test_pools_have_the_published_sizes() -> None:
    three = PUBLISHED["three_digit"]
    assert len(code_pool()) == three["and_no_run_such_as_123_or_321"]
    assert len(code_pool(zeros=False)) == three["also_no_zero_digit"]
    assert len(code_pool(4)) == PUBLISHED["four_digit_all_different"] - len(RUNS)


def test_classes_have_the_published_sizes() -> None:
    one = PUBLISHED["slip_safe_class"]
    assert np.bincount(safe_class(code_pool(), 3)).tolist() == one["class_sizes_c0_to_c10"]
    four = np.bincount(safe_class(np.append(code_pool(4), RUNS), 4))
    assert [four.min(), four.max()] == one["four_digit_class_sizes_min_max_all_different_digits"]


@pytest.mark.parametrize("digits", [3, 4])
def test_no_slip_leads_to_another_code_of_a_class(digits: int) -> None:
    pool = code_pool(digits)
    for which in range(11):
        mine = {str(code) for code in pool[safe_class(pool, digits) == which]}
        assert not any(slips(code) & mine for code in mine)


def test_plain_codes_would_let_slips_through() -> None:
    # The published share of slips of a digit that hit another of 40 codes, 4.5 %: without classes codes are not safe.
    pool, rng, hits, tried = [str(c) for c in code_pool()], np.random.default_rng(0), 0, 0
    for _ in range(200):
        sheet = set(rng.choice(pool, 40, replace=False))
        for code in sheet:
            wrong = [code[:at] + d + code[at + 1 :] for at in range(3) for d in "0123456789" if d != code[at]]
            hits, tried = hits + sum(each in sheet for each in wrong), tried + len(wrong)
    share = PUBLISHED["plain_random"]["share_of_single_digit_slips_that_hit_another_code_on_the_sheet"]
    assert hits / tried == pytest.approx(share, abs=0.003)


@pytest.mark.parametrize(("pots", "digits", "safe"), [(1, 3, True), (50, 3, True), (51, 4, True), (400, 4, True),
                                                      (600, 4, False), (5000, 5, False)])  # fmt: skip
def test_sheets_of_every_size_get_different_codes(pots: int, digits: int, safe: bool) -> None:
    codes, told = drawn_codes([str(n) for n in range(pots)], np.random.default_rng(pots))
    assert len(set(codes)) == pots
    assert {len(code) for code in codes} == {digits}
    assert told == safe
    if safe:
        mine = set(codes)
        assert not any(slips(code) & mine for code in codes)


def test_a_lot_never_has_a_code_twice_and_stopped_numbers_do_not_occur() -> None:
    rng, had, lots = np.random.default_rng(0), set(), [str(n) for n in range(50)]
    stop = {"417", "523"}
    for _ in range(8):
        codes, _ = drawn_codes(lots, rng, had=had, stop=stop)
        assert not had & set(zip(lots, codes, strict=True))
        assert not stop & set(codes)
        had |= set(zip(lots, codes, strict=True))


def test_codes_do_not_follow_the_order() -> None:
    # Spearman's rho (scipy) of code and place over 400 sheets of 20: mean 0 within four standard errors.
    rhos = [
        spearmanr(range(20), [int(c) for c in drawn_codes(["x"] * 20, np.random.default_rng(seed))[0]]).statistic
        for seed in range(400)
    ]
    assert abs(np.mean(rhos)) < 4 / np.sqrt(19 * 400)
