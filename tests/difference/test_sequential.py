"""Sequential screening against Wald's lines, whole-number boundaries and exact recursion.

Sources of each file stand in tests/published/difference/README.md.
"""

from fractions import Fraction
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.errors import DesignError
from panelstats.models.sequential import Lines, course, shortest

PUBLISHED = Path(__file__).parents[1] / "published" / "difference"


def published(file):
    table = pd.read_csv(PUBLISHED / file)
    for name in ("p0", "p1", "true_p"):
        if name in table:
            table[name] = [float(Fraction(str(value))) for value in table[name]]
    return table


def lines_of(row):
    return Lines(row.p0, row.p1, row.alpha, row.beta)


def test_lines_are_walds():
    for row in published("sequential_lines.csv").itertuples():
        lines = lines_of(row)
        assert lines.slope == pytest.approx(row.slope, abs=1e-10)
        assert lines.above == pytest.approx(row.intercept_pass, abs=1e-10)
        assert lines.below == pytest.approx(-row.intercept_fail, abs=1e-10)


def test_boundaries_are_the_whole_numbers():
    for row in published("sequential_boundaries.csv").itertuples():
        trial = np.array(row.trial)
        passes, fails = lines_of(row).passes(trial), lines_of(row).fails(trial)
        assert (passes if passes <= trial else -1) == (-1 if np.isnan(row.pass_at_or_above) else row.pass_at_or_above)
        assert (fails if fails >= 0 else -1) == (-1 if np.isnan(row.fail_at_or_below) else row.fail_at_or_below)


def test_exact_properties():
    for row in published("sequential_properties.csv").itertuples():
        true_p = next((p for p in (row.p0, row.p1, (row.p0 + row.p1) / 2) if abs(p - row.true_p) < 1e-5), row.true_p)
        trials = 1500 if row.truncated_at == "none" else int(row.truncated_at)
        found = course(lines_of(row), true_p, trials)
        assert found.passed[-1] == pytest.approx(row.prob_pass_crossing, abs=1e-8)
        assert found.failed[-1] == pytest.approx(row.prob_fail_crossing, abs=1e-8)
        assert found.undecided[-1] == pytest.approx(row.prob_undecided, abs=1e-8)
        assert found.trials[-1] == pytest.approx(row.expected_trials, abs=1e-8)
        if row.truncated_at != "none":
            assert found.closing[-1] == pytest.approx(row.prob_pass_after_truncation_rule, abs=1e-8)


def test_ruin_problem_in_closed_form():
    lines = Lines(1 / 3, 2 / 3, 0.05, 0.10)
    found = course(lines, 1 / 3, 2000)
    assert found.passed[-1] == pytest.approx(15 / 511, abs=1e-12)  # gambler's ruin, two steps a trial
    assert found.trials[-1] == pytest.approx(11.20743640, abs=1e-8)


def test_least_truncation_keeps_both_errors():
    for row in published("sequential_truncation.csv").itertuples():
        lines = lines_of(row)
        n = shortest(lines)
        assert n == row.smallest_N_with_both_errors_kept
        unfit, fit = course(lines, lines.p0, n), course(lines, lines.p1, n)
        assert unfit.closing[-1] == pytest.approx(row.prob_pass_at_p0, abs=1e-8)
        assert 1 - fit.closing[-1] == pytest.approx(row.prob_fail_at_p1, abs=1e-8)
        assert unfit.trials[-1] == pytest.approx(row.expected_trials_at_p0, abs=1e-6)
        assert fit.trials[-1] == pytest.approx(row.expected_trials_at_p1, abs=1e-6)


def screened(rights):
    """Call of a trainee who answers until the screening is over."""
    for n in range(4, len(rights) + 1):  # the first decision can fall at trial 4
        found = pst.screen_trainee("triangle", rights[:n])
        if found.call != "cannot tell":
            return found
    raise AssertionError(rights)


def test_risks_of_the_public_call_by_simulation():
    rights = (np.random.default_rng(5).random((30, 22)) < 1 / 3).tolist()
    found = [screened(row) for row in rights]
    exact = found[0].risks["passes"].iloc[0]
    assert exact <= 0.05
    assert np.mean([one.call == "pass" for one in found]) == pytest.approx(exact, abs=4 * np.sqrt(exact / 30))


def test_a_blank_is_a_wrong_answer():
    blank = pst.screen_trainee("triangle", [True, None, True, True])
    wrong = pst.screen_trainee("triangle", [True, False, True, True])
    pd.testing.assert_frame_equal(blank.table, wrong.table)


def test_calls_and_what_comes_next():
    assert pst.screen_trainee("triangle", [True] * 5).call == "pass"
    assert pst.screen_trainee("triangle", [False] * 4).call == "fail"
    open_ = pst.screen_trainee("triangle", [])
    assert open_.call == "cannot tell"
    assert "at most 22 more" in open_.verdicts[0].next_step
    last = pst.screen_trainee("triangle", [True, False] * 11)
    assert last.call == "fail"  # 11 of 22: nearer the fail line, 11 < 11 + (2.085 - 1.624) / 2


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"outcomes": [2, 1]}, "neither right"),
        ({"outcomes": [False] * 6}, "after the screening was over"),
        ({"outcomes": [], "pass_share": 0.2, "fail_share": 0.4}, "more often"),
        ({"outcomes": [], "wrong_pass": 0.6, "wrong_fail": 0.5}, "add up"),
        ({"outcomes": [], "fail_share": -0.1}, "no share"),
        ({"outcomes": [], "pass_share": 0.01}, "keeps both risks"),
    ],
)
def test_impossible_screenings_are_refused_in_words(arguments, words):
    with pytest.raises(DesignError, match=words):
        pst.screen_trainee("triangle", **arguments)


def test_a_preference_cannot_be_screened():
    with pytest.raises(DesignError, match="no right answer"):
        pst.screen_trainee("paired", [])
