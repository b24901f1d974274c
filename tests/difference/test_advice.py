"""What a next step promises is counted out: the power of the advised test, exactly, by another route."""

import re
from itertools import product

import numpy as np
import pytest
from scipy.stats import binom

import panelstats as pst
from panelstats.difference.counts.forced import ask
from panelstats.difference.counts.sittings import difference_found, least_tasters, match_shown, sittings_needed
from panelstats.models.kinds import KINDS

KINDS_ASKED = ["triangle", "duo-trio", "2-afc", "3-afc", "tetrad", "two-out-of-five"]


def asked(kind, share=0.3):
    return ask(kind, error=0.05, match_error=0.05, within_share=share)


def totals(tasters, each, chance, abilities):
    """Distribution of right answers, taster by taster: a list of (share of tasters, share they truly detect)."""
    one = sum(share * binom.pmf(np.arange(each + 1), each, chance + (1 - chance) * pi) for share, pi in abilities)
    whole = np.ones(1)
    for _ in range(tasters):
        whole = np.convolve(whole, one)
    return whole


@pytest.mark.parametrize("kind", KINDS_ASKED)
def test_served_answers_find_the_difference_and_show_the_match_in_eight_of_ten(kind):
    plan = pst.answers_needed(kind, within_share=0.3)
    chance, p = float(KINDS[kind].chance), asked(kind).at_tolerance
    n = plan.difference.served
    right = np.arange(n + 1)
    shown = np.array([binom.sf(x - 1, n, chance) <= 0.05 for x in right])
    assert binom.pmf(right, n, p) @ shown >= 0.8
    m = plan.match.served
    right = np.arange(m + 1)
    matched = (binom.cdf(right, m, p) <= 0.05) & (binom.cdf(right, m, chance) > 0.01)
    assert binom.pmf(right, m, chance) @ matched >= 0.79  # 1 % of guessing panels is sent to check the key


@pytest.mark.parametrize(("kind", "tasters"), [*product(["triangle", "tetrad"], [9, 12, 20]), ("2-afc", 15)])
def test_sittings_find_the_difference_whatever_the_abilities(kind, tasters):
    question, chance = asked(kind), float(KINDS[kind].chance)
    each = sittings_needed(question, tasters, 0.8, match=True)
    n = tasters * each
    least = min(x for x in range(n + 2) if binom.sf(x - 1, n, chance) <= 0.05)
    for abilities in ([(1.0, 0.3)], [(0.3, 1.0), (0.7, 0.0)], [(0.5, 0.6), (0.5, 0.0)]):
        assert totals(tasters, each, chance, abilities)[least:].sum() >= 0.8
    assert difference_found(question, tasters, each) == pytest.approx(
        min(totals(tasters, each, chance, a)[least:].sum() for a in ([(1.0, 0.3)], [(0.3, 1.0), (0.7, 0.0)])), abs=1e-9
    )
    fewer = each - 1
    assert fewer == 0 or min(difference_found(question, tasters, fewer), match_shown(question, tasters, fewer)) < 0.8


def test_sittings_show_the_match_where_nobody_can_tell():
    tasters, rng = 9, np.random.default_rng(11)
    each = sittings_needed(asked("triangle"), tasters, 0.8, match=True)
    runs = [
        pst.repeated_test("triangle", correct=rng.binomial(each, 1 / 3, tasters), answers=[each] * tasters,
                          within_share=0.3).call
        for _ in range(20)
    ]  # fmt: skip
    assert np.mean(np.array(runs) == "match") >= 0.8 - 4 * np.sqrt(0.8 * 0.2 / 20)


def test_fewest_tasters_for_a_match_are_those_of_whom_few_panels_hold_nobody_who_can_tell():
    difference, match = least_tasters(asked("triangle"), 0.8)
    assert 0.7**match <= 0.05 < 0.7 ** (match - 1)
    assert 1 - 0.7**difference >= 0.8 > 1 - 0.7 ** (difference - 1)


def test_nine_people_are_told_sittings_and_five_that_they_are_too_few():
    nine = pst.match_test("triangle", correct=4, answers=9, within_share=0.3).verdicts[0].next_step
    assert nine.startswith("9 fresh sittings of 9 tasters")
    five = pst.match_test("triangle", correct=2, answers=5, within_share=0.3).verdicts[0].next_step
    assert "5 tasters cannot show a match" in five
    assert "9 tasters are the fewest" in five
    alone = pst.difference_test("triangle", correct=2, answers=5).verdicts[0].next_step
    assert "5 tasters cannot make up for that by sitting again. Have them score several pots of each" in alone
    assert "several pots of each" in five


@pytest.mark.parametrize("within", [None, 0.3])
def test_a_paired_test_tells_so_few_people_what_they_can_do(within):
    if within is None:
        told = pst.difference_test("paired", correct=5, answers=9).verdicts[0].next_step
    else:
        told = pst.match_test("paired", correct=5, answers=9, within_share=within).verdicts[0].next_step
    needed = sittings_needed(asked("triangle"), 9, 0.8, match=within is not None)
    assert (
        f"9 tasters are not so many, and answers of one mind about a direction do not add up. {needed} sittings" in told
    )
    enough = pst.difference_test("paired", correct=60, answers=120).verdicts[0].next_step
    assert "not so many" not in enough


@pytest.mark.parametrize("kind", ["a-not-a", "same-different"])
@pytest.mark.parametrize("within", [None, 1.0])
def test_where_each_draws_his_own_line_the_step_is_told_in_people_and_what_fewer_can_do(kind, within):
    counts = {"hits": 12, "false": 9, "n_a": 18, "n_not_a": 18}
    made = pst.difference_test(kind, **counts) if within is None else pst.match_test(kind, **counts, within_d=within)
    told = made.verdicts[0].next_step
    answers = int(re.search(r"test of (?:about )?(\d+) answers", told)[1])
    people = int(re.search(r"That is (\d+) tasters, one of each kind to each", told)[1])
    assert people == (answers + 1) // 2
    assert "With fewer: have them score several pots of each" in told


def test_a_plan_for_the_people_there_are_names_sittings_where_sitting_again_helps():
    told = pst.answers_needed("triangle", within_share=0.3, answers=9).verdicts[0]
    assert told.sentence.startswith("Triangle test: it cannot settle this with 9 answers")
    assert told.next_step.startswith(f"{sittings_needed(asked('triangle'), 9, 0.8, match=True)} sittings of 9 tasters")
    few = pst.answers_needed("triangle", within_share=0.3, answers=4).verdicts[0].next_step
    assert few == "Compare descriptor scores instead, or find more tasters."


def test_where_sitting_again_does_not_help_nine_people_are_told_what_does():
    told = pst.difference_test("duo-trio", correct=5, answers=9).verdicts[0].next_step
    needed = sittings_needed(asked("triangle"), 9, 0.8, match=False)
    assert sittings_needed(asked("duo-trio"), 9, 0.8, match=False) is None
    assert f"by sitting again. {needed} sittings of a triangle test, one set for each of them, would." in told
