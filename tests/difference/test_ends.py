"""Risks of a screening by all its paths; what sentences on ratings tell; charts of plans; checks of places by name."""

import re
from math import ceil, floor, log

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import panelstats as pst
from panelstats.errors import DesignError


@pytest.mark.parametrize("stop", [None, 15])
def test_risks_of_a_screening_are_those_of_all_its_paths(stop):
    """Wald 1947, chapter 5, cut off: every count of right answers carried from trial to trial in a plain loop."""
    found = pst.screen_trainee("triangle", [True], stop_after=stop)
    p0, p1, last = 1 / 3, 2 / 3, found.stop_after
    odds = log(p1 * (1 - p0) / (p0 * (1 - p1)))
    slope, above, below = log((1 - p0) / (1 - p1)) / odds, log(0.9 / 0.05) / odds, log(0.95 / 0.1) / odds
    for row in found.risks.to_dict("records"):
        p, going, passes, trials = row["share_right"], {0: 1.0}, 0.0, 0.0
        for n in range(1, last + 1):
            trials += sum(going.values())
            after: dict[int, float] = {}
            for k, chance in going.items():
                for right, share in ((1, p), (0, 1 - p)):
                    after[k + right] = after.get(k + right, 0.0) + chance * share
            passes += sum(c for k, c in after.items() if k >= ceil(slope * n + above))
            going = {k: c for k, c in after.items() if floor(slope * n - below) < k < ceil(slope * n + above)}
        passes += sum(c for k, c in going.items() if k >= slope * last + (above - below) / 2)  # the nearer line
        assert (row["passes"], row["expected_trials"]) == pytest.approx((passes, trials), abs=1e-9)


def ratings(shift, tasters=12, seed=4):
    rng = np.random.default_rng(seed)
    base = rng.integers(1, 4, tasters)
    rows = [(f"t{n}", "S", int(base[n])) for n in range(tasters)]
    rows += [(f"t{n}", "B1", int(base[n] + shift + rng.integers(-1, 2))) for n in range(tasters)]
    return pd.DataFrame(rows, columns=["taster", "sample", "rating"])


@pytest.mark.parametrize("shift", [0, 2])
def test_a_sentence_on_ratings_tells_the_ends_of_its_own_interval(shift):
    found = pst.difference_from_control(ratings(shift), control="S")
    row, (verdict,) = found.table.iloc[0], found.verdicts
    assert [verdict.numbers[name] for name in ("low", "high")] == [row["low"], row["high"]]
    told = [float(part) for part in re.findall(r"\d+\.\d\d", verdict.sentence)]
    for name in ("low", "high"):  # rounded outward
        assert min(abs(each - abs(row[name])) for each in told) <= 0.0101


def test_tasters_that_would_settle_ratings_are_those_for_a_point_where_no_tolerance_was_given():
    """Normal approximation (n = ((z_error + z_power) sd / size)^2, Fleiss 1981), and two for Student's t (ours)."""
    found = pst.difference_from_control(ratings(0, seed=9), control="S")
    (verdict,) = found.verdicts
    assert verdict.call == "cannot tell"
    spread = found.table["se"].iloc[0] * np.sqrt(12)
    numbers = [ceil(((stats.norm.isf(tail) + stats.norm.ppf(0.8)) * spread) ** 2) + 2 for tail in (0.05, 0.025)]
    assert any(f"{n} tasters" in verdict.next_step for n in numbers)


def test_a_plan_draws_the_claims_it_has_numbers_for_and_none_where_it_has_none():
    found = pst.answers_needed("triangle", within_d=1.0)
    rows = found.chart().rows
    assert [row.value for row in rows] == found.table["served"].tolist()
    hopeless = pst.answers_needed("triangle", within_share=0.01)
    if hopeless.table["first"].isna().all():
        with pytest.raises(DesignError, match="nothing to draw"):
            hopeless.chart()
    else:
        assert len(hopeless.chart().rows) == hopeless.table["first"].notna().sum()


def test_a_check_of_places_tells_its_statistic_degrees_of_freedom_and_chance():
    orders = ["ABB", "BAB", "BBA", "BAA", "ABA", "AAB"]
    rows = [("T1", f"t{n}", "triangle", orders[n % 6], 1 + (n * n) % 3) for n in range(24)]
    table = pd.DataFrame(rows, columns=["test", "taster", "kind", "order", "answer"])
    found = pst.judge_answers(table)
    (numbers,) = [v.numbers for v in found.verdicts if "statistic" in v.numbers]
    assert list(numbers) == ["statistic", "df", "p"]
    assert np.isfinite(numbers["p"])
    assert numbers["p"] == pytest.approx(stats.chi2.sf(numbers["statistic"], numbers["df"]), rel=1e-6)
