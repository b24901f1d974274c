import pandas as pd
import pytest

import panelstats as pst
from panelstats.result import Act


def read(rows, **columns):
    return pst.read_scores(pd.DataFrame(rows, columns=["lot", "taster", "brisk", *columns]))


def test_a_marked_fault_counts_noticed_of_asked_with_the_exact_interval():
    """Clopper & Pearson, 1 of 3: 1 to 91 % (exact binomial, recomputed with scipy.stats.binomtest)."""
    from scipy.stats import binomtest

    scores = read(
        [("12", "elm", 6, 1), ("12", "yew", 5, 0), ("12", "larch", 5, None), ("14", "elm", 4, 0), ("14", "yew", 4, 0)],
        smoky=None,
    )
    found = pst.faults_noticed(scores)
    row = found.table.iloc[0]
    assert (row["lot"], row["fault"], row["noticed"], row["asked"]) == ("12", "smoky", 1, 3)
    exact = binomtest(1, 3).proportion_ci(0.95, method="exact")
    assert (row["low"], row["high"]) == pytest.approx((exact.low, exact.high))
    assert found.verdicts[0].act == Act.NOW
    assert "taste again from a new pot" in found.verdicts[0].next_step
    assert len(found.table) == 1


def test_a_free_remark_has_no_number_asked():
    found = pst.faults_noticed(read([("12", "elm", 6, "slight smoke"), ("12", "yew", 5, "")], remarks=None))
    row = found.table.iloc[0]
    assert row["noticed"] == 1
    assert pd.isna(row["asked"])
    assert "slight smoke" in found.verdicts[0].sentence


def test_a_fault_marked_and_named_by_one_taster_is_one_taster():
    found = pst.faults_noticed(read([("12", "elm", 6, 1, "smoky!"), ("12", "yew", 5, 0, "")], smoky=None, remarks=None))
    assert found.table["noticed"].tolist() == [1]
    assert found.table["asked"].tolist() == [2]


def test_mould_is_never_tasted_again():
    found = pst.faults_noticed(read([("12", "elm", 6, "mouldy")], remarks=None))
    assert "Do not taste again" in found.verdicts[0].next_step
    assert "laboratory" in found.verdicts[0].next_step


def test_largest_share_comes_first_and_nothing_noticed_is_not_clean():
    found = pst.faults_noticed(
        read([("12", "elm", 6, 1), ("12", "yew", 5, 0), ("14", "elm", 4, 1), ("14", "yew", 4, 1)], smoky=None)
    )
    assert found.table["lot"].tolist() == ["14", "12"]
    nothing = pst.faults_noticed(read([("12", "elm", 6), ("12", "yew", 5)]))
    assert nothing.table.empty
    assert "leaves up to" in nothing.verdicts[0].sentence
