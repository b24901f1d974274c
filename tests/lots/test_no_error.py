"""Marks that leave no error at all: a likelihood without a bound, yet an answer and no warning."""

import itertools

import numpy as np
import pandas as pd
import pytest

import panelstats as pst

GRADES = {"41": "BP", "42": "OP", "43": "", "44": "BP"}


@pytest.mark.parametrize("seed", range(6))
def test_tasters_who_give_one_class_the_same_marks_are_answered(seed):
    """Zero residual in one class of two lots, none in the rest: every number said is finite or missing."""
    rng = np.random.default_rng(seed)
    rows = list(itertools.product(GRADES, ["elm", "yew"]))
    frame = pd.DataFrame(rows, columns=["lot", "taster"]).assign(grade=[GRADES[lot] for lot, _ in rows])
    for word in ("brisk", "body"):
        own = dict(zip(GRADES, rng.integers(3, 8, 4), strict=True))
        noise = rng.integers(0, 2, len(frame)) * (frame["grade"] == "OP")
        frame[word] = frame["lot"].map(own) + noise + (frame["taster"] == "elm") * int(rng.integers(0, 2))
    found = pst.compare_lots(pst.read_scores(frame))
    assert not any(np.isinf(found.components.select_dtypes("number").to_numpy(float)).ravel())
    assert found.verdicts
