"""Calls, charts and sentences of difference tests follow from the numbers beside them, by the written rules."""

from math import ceil, floor, log
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

import panelstats as pst
from panelstats.difference.counts.forced import ask
from panelstats.difference.counts.sittings import match_shown
from panelstats.difference.counts.words import favour_text
from panelstats.difference.repeated.fit import _note
from panelstats.errors import DesignError
from panelstats.result import Mark
from tests.difference.test_columns import sheet


def walds(p0, p1, wrong_pass=0.05, wrong_fail=0.10):
    """Slope and heights of Wald's lines: Sequential Analysis (1947), chapter 5."""
    odds = log(p1 * (1 - p0) / (p0 * (1 - p1)))
    slope = log((1 - p0) / (1 - p1)) / odds
    return slope, log((1 - wrong_fail) / wrong_pass) / odds, log((1 - wrong_pass) / wrong_fail) / odds


@given(st.lists(st.booleans(), min_size=30, max_size=30), st.sampled_from([None, 9]))
def test_a_screening_stops_where_walds_lines_or_its_last_trial_say(right, stop):
    """Triangle, 1/3 against 2/3: 22 trials at most unless fewer are asked for; there the nearer line decides."""
    slope, above, below = walds(1 / 3, 2 / 3)
    last, so_far = stop or 22, 0
    for n, one in enumerate(right, 1):
        so_far += one
        if so_far >= ceil(slope * n + above):
            call = "pass"
        elif so_far <= floor(slope * n - below):
            call = "fail"
        elif n == last:
            call = "pass" if so_far >= slope * n + (above - below) / 2 else "fail"
        else:
            continue
        break
    found = pst.screen_trainee("triangle", right[:n], stop_after=stop)
    assert (found.call, len(found.table), found.stop_after) == (call, n, last)
    marks = [row.mark for row in found.chart().rows]
    assert marks == [None] * (n - 1) + [Mark.HIGHER if call == "pass" else Mark.LOWER]
    with pytest.raises(DesignError, match=f"trial {n + 1} of {n + 1}"):
        pst.screen_trainee("triangle", right[: n + 1], stop_after=stop)
    if n > 1:
        before = pst.screen_trainee("triangle", right[: n - 1], stop_after=stop)
        assert before.call == "cannot tell"
        assert before.chart().rows[-1].mark == Mark.WITHIN
        assert f"{last - n + 1} more" in before.verdicts[0].next_step or f"{last}" in before.verdicts[0].next_step


def test_a_screening_says_the_risks_of_its_table():
    found = pst.screen_trainee("triangle", [True, False])
    unfit, middle, fit = found.risks.to_dict("records")
    assert [unfit["share_right"], middle["share_right"], fit["share_right"]] == pytest.approx([1 / 3, 1 / 2, 2 / 3])
    said = found.method.replace("\u00a0", " ").replace("\u202f", " ")
    for row in (unfit, fit):
        assert f"{row['expected_trials']:.1f}" in said
        assert f"{100 * row['passes']:.0f}" in said
    assert said.index(f"{unfit['expected_trials']:.1f}") < said.index(f"{fit['expected_trials']:.1f}")
    slope, above, below = walds(1 / 3, 2 / 3)
    for value in (slope, above, below):
        assert f"{value:.3f}" in said


def test_whoever_should_always_be_right_fails_by_one_error():
    found = pst.screen_trainee("duo-trio", [True, True, False], pass_share=1.0)
    assert found.call == "fail"
    assert found.lines.p1 == pytest.approx(1)
    assert pst.screen_trainee("duo-trio", [True], pass_share=0.9).lines.p1 == pytest.approx(0.95)


def test_the_picture_of_one_test_is_a_row_with_what_the_table_says():
    found = pst.judge_answers(sheet().iloc[:12])
    (row,), told = found.chart().rows, found.table.iloc[0]
    assert (row.value, row.low, row.high) == pytest.approx(
        tuple(told[["share_who_can_tell", "share_who_can_tell_low", "share_who_can_tell_high"]])
    )


def test_the_picture_of_two_tests_has_their_rows_in_order_on_one_axis():
    both = pd.concat([sheet().iloc[:12], sheet().iloc[:6].assign(test="B2 with S", taster=[*"abcdef"])])
    found = pst.judge_answers(both)
    chart = found.chart()
    assert chart.axis == found.tests[0].chart().axis
    assert [row.label for row in chart.rows] == found.table["test"].tolist()
    assert [row.value for row in chart.rows] == pytest.approx(found.table["share_who_can_tell"].tolist())
    assert chart.title == "Tests of answers"


def test_tests_on_two_scales_are_drawn_by_d_prime():
    found = pst.judge_answers(sheet())
    rows = found.chart().rows
    for row, told in zip(rows, found.table.to_dict("records"), strict=True):
        assert (row.value, row.low, row.high) == pytest.approx((told["d"], told["d_low"], told["d_high"]))
        assert row.group == told["kind"]


@pytest.mark.parametrize("kind", ["A not A", "a_not_a", "A-NOT-A", "a  not a", "a _ not_a"])
def test_a_kind_is_known_however_its_words_are_joined(kind):
    rows = sheet().iloc[12:].assign(kind=kind)
    assert pst.judge_answers(rows).table["kind"].tolist() == ["a-not-a"]


def test_paired_limits_are_the_wider_of_the_tasters_t_and_the_exact_ones():
    """A blank counts for neither side: the lower end without it, the upper end with it."""
    correct, answers, blanks = np.array([7, 4, 6, 8, 3, 7]), np.full(6, 10), np.array([1, 0, 2, 0, 1, 0])
    found = pst.repeated_test("paired", correct=correct, answers=answers, blanks=blanks, within_share=0.6)
    least, most = correct / answers, (correct + blanks) / answers
    reach = stats.t.ppf(0.975, 5) / np.sqrt(6)
    by_t = least.mean() - reach * least.std(ddof=1), most.mean() + reach * most.std(ddof=1)
    exact = (proportion_confint(correct.sum(), 60, method="beta")[0],
             proportion_confint((correct + blanks).sum(), 60, method="beta")[1])  # fmt: skip
    assert found.share_correct.low == pytest.approx(min(by_t[0], exact[0]), abs=1e-9)
    assert found.share_correct.high == pytest.approx(max(by_t[1], exact[1]), abs=1e-9)
    beyond = [
        stats.ttest_1samp(shares, 0.8, alternative="less").pvalue for shares in (most, 1 - least)
    ]  # 0.5 + 0.6 / 2
    assert found.p_match == pytest.approx(max(beyond), abs=1e-9)


def test_paired_limits_end_at_nobody_and_everybody():
    found = pst.repeated_test("paired", correct=[10, 10, 2, 10], answers=[10] * 4)
    assert found.share_correct.high == 1.0
    assert pst.repeated_test("paired", correct=[0, 0, 8, 0], answers=[10] * 4).share_correct.low == 0.0


def test_a_share_for_one_product_that_may_be_none_is_told_one_way():
    assert favour_text(0.3, 0.0, 0.5) == "30 % favour A (0 % to 50 %)"
    assert "for the other" not in favour_text(0.3, 0.1, 0.5)
    assert "for the other" in favour_text(0.3, -0.1, 0.5)
    assert "favour the other" in favour_text(-0.3, -0.5, -0.1)


GUESS = {"triangle": 1 / 3, "duo-trio": 1 / 2, "3-afc": 1 / 3, "tetrad": 1 / 3, "two-out-of-five": 1 / 10}


@pytest.mark.parametrize("kind", GUESS)
def test_calls_follow_from_p_and_the_error_rates(kind):
    """Fewer right than guessing gives, itself a result at one in a hundred, is no match."""
    for x in range(21):
        found = pst.match_test(kind, correct=x, answers=20, within_share=0.3)
        above, below = (stats.binomtest(x, 20, GUESS[kind], alternative=way).pvalue for way in ("greater", "less"))
        share = stats.binomtest(x, 20, GUESS[kind] + (1 - GUESS[kind]) * 0.3, alternative="less").pvalue
        assert (found.p_difference, found.p_match) == pytest.approx((above, share), abs=1e-12)
        match, differ = share <= 0.05 and below > 0.01, above <= 0.05
        assert found.call == ("match" if match else "differ" if differ else "cannot tell")


def test_no_match_can_be_shown_by_tasters_too_few_to_hold_one_who_can_tell():
    """0.7 ** 2 of panels of two hold nobody of 30 % who can tell: no result of theirs shows a match."""
    question = ask("triangle", error=0.05, match_error=0.05, within_share=0.3)
    assert match_shown(question, 2, 12) == 0.0
    assert match_shown(question, 12, 1) == 0.0
    assert 0 < match_shown(question, 12, 8) < 1


@pytest.mark.parametrize(("p", "gamma", "said"), [
    (0.05, 0.4, "they differ in how well"), (0.06, 0.4, "is not shown"), (0.5, np.nan, "cannot be told apart"),
])  # fmt: skip
def test_tasters_are_said_to_differ_at_five_per_cent(p, gamma, said):
    counts = SimpleNamespace(answers=np.array([4, 4]))
    told = _note(["elm", "yew"], counts, SimpleNamespace(p_alike=p, gamma=gamma))
    assert told.startswith("2 tasters answered 4 times each")
    assert said in told
    apart = _note(["elm", "yew"], SimpleNamespace(answers=np.array([3, 5])), None)
    assert apart == "2 tasters answered 3 to 5 times."
    assert "elm" in _note(["elm"], counts, None)
