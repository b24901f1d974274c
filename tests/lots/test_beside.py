"""A lot beside its standard: the correlation of errors, the distance, and the verdict's own numbers."""

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.lots.classfit import class_fits
from panelstats.lots.compare.tables import PAIRS
from panelstats.lots.standard.beside import error_correlation
from panelstats.models.distance import _square_trace

WORDS = ["brisk", "body", "colour"]


def panel(seed=1, tasters=7, pots=2):
    """A standard and two lots, own pots for each taster, errors correlated between words."""
    rng = np.random.default_rng(seed)
    rows = [
        (lot, f"t{t}", pot, *(5 + apart + rng.multivariate_normal(np.zeros(3), 0.3 + 0.5 * np.eye(3))).round(1))
        for lot, apart in (("S", 0.0), ("B1", 0.4), ("B2", -1.5))
        for t in range(tasters)
        for pot in range(1, pots + 1)
    ]
    return pst.read_scores(pd.DataFrame(rows, columns=["lot", "taster", "pot", *WORDS]))


@pytest.mark.parametrize("pots", [1, 2])
def test_errors_of_descriptors_correlate_as_the_tasters_own_differences_do(pots):
    scores = panel(pots=pots)
    (group,) = class_fits(scores.cells(pots="own"), tolerance=None, across="holm", level=0.95)
    found, df = error_correlation(group, WORDS, "B1", "S")
    means = scores.frame.astype({"lot": str, "taster": str, "descriptor": str})
    means = means.pivot_table("score", "taster", ["lot", "descriptor"])
    apart = means["B1"][WORDS] - means["S"][WORDS]
    np.testing.assert_allclose(found, np.corrcoef(apart.to_numpy().T))
    assert df == 6


def test_two_tasters_do_not_tell_how_errors_correlate():
    (group,) = class_fits(panel(tasters=2).cells(pots="own"), tolerance=None, across="holm", level=0.95)
    found, df = error_correlation(group, WORDS, "B1", "S")
    assert (found == 1).all()
    assert np.isinf(df)


def test_a_verdict_carries_the_numbers_of_its_row():
    found = pst.match_standard(panel(), "S", pots="own")
    rows = found.summary.set_index("lot")
    for verdict in found.verdicts:
        for name in ("distance", "low", "high"):
            assert verdict.numbers[name] == rows.loc[verdict.subject, name]
    assert (rows["low"] < rows["high"]).all()


def test_without_a_pair_the_table_keeps_the_columns_of_pairs():
    filled = pst.compare_lots(panel(), pots="own", pairs=True).pairs
    assert set(PAIRS) == {"descriptor", "lot_a", "lot_b", *filled.select_dtypes("number").columns}


def test_the_trace_of_a_squared_covariance_is_unbiased():
    # Bai and Saranadasa 1996, Statistica Sinica 6: 311, equation 3.9, for Wishart matrices of 5 degrees of freedom.
    rng = np.random.default_rng(3)
    truth = np.diag([1.0, 0.5, 0.2]) + 0.3
    found = []
    for _ in range(4000):
        x = rng.multivariate_normal(np.zeros(3), truth, size=5)
        v = x.T @ x / 5
        square = float((v**2).sum())
        trace = float(np.trace(v))
        found.append(25 / (4 * 7) * (square - trace**2 / 5))
        bounds = float((np.diag(v) ** 2).sum()), trace**2
        assert _square_trace(v, trace, 5.0) == pytest.approx(min(max(found[-1], bounds[0]), bounds[1]))
    error = np.std(found) / np.sqrt(len(found))
    assert np.mean(found) == pytest.approx((truth**2).sum(), abs=4 * error)
