import numpy as np
import pandas as pd
import pytest

from panelstats.report.tables import columns


def texts(table):
    return {column.name: column.texts() for column in columns(table)}


def test_digits_follow_the_uncertainty():
    # JCGM 100:2008, 7.2.6: no digit beyond the uncertainty
    table = pd.DataFrame(
        {"lot": ["1", "2"], "mean": [5.4321, 6.0], "se": [0.31, 0.28], "low": [4.8, 5.4], "high": [6.0, 6.6]}
    )
    assert texts(table)["mean"] == ["5.4", "6.0"]
    assert texts(table.assign(se=0.03))["mean"] == ["5.43", "6.00"]
    assert texts(table.assign(se=3.0))["mean"] == ["5", "6"]


def test_digits_follow_the_interval_where_there_is_no_standard_error():
    table = pd.DataFrame({"quantity": ["d'"], "estimate": [1.23456], "low": [0.9], "high": [1.6]})
    assert texts(table)["estimate"] == ["1.2"]
    own = pd.DataFrame({"icc_mean": [0.91234], "icc_mean_low": [0.85], "icc_mean_high": [0.95]})
    assert texts(own)["icc_mean"] == ["0.91"]


def test_each_descriptor_has_its_own_digits():
    table = pd.DataFrame(
        {"descriptor": ["price", "price", "brisk"], "mean": [812.34, 900.0, 5.432], "se": [12.0, 14.0, 0.2]}
    )
    assert texts(table)["mean"] == ["812", "900", "5.4"]


@pytest.mark.parametrize(("p", "shown"), [(2e-9, "< 0.001"), (0.0412, "0.041"), (0.41, "0.41"), (np.nan, "–")])
def test_p_values(p, shown):
    assert texts(pd.DataFrame({"p_adjusted": [p]}))["p_adjusted"] == [shown]


def test_what_is_no_number_is_said():
    table = pd.DataFrame(
        {"low": [-np.inf, np.nan], "high": [1.0, 2.0], "listed": [True, False], "why": [None, "x"], "n": [3, 4]}
    )
    shown = texts(table)
    assert shown["low"] == ["no limit", "–"]
    assert shown["listed"] == ["yes", "no"]
    assert shown["why"] == ["", "x"]
    assert shown["n"] == ["3", "4"]
