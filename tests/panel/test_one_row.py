"""Marks that sag along the one row of all tasters: no agreement on the lots, whatever asks."""

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.scores.rowline import without_row


def test_marks_that_sag_along_one_row_are_no_agreement_on_the_lots_whoever_asks():
    rng = np.random.default_rng(2)
    names = [f"word {k}" for k in range(6)]
    keys = [(str(101 + lot), who, lot + 1) for who in ("elm", "yew", "ash", "oak") for lot in range(12)]
    sheet = pd.DataFrame(keys, columns=["lot", "taster", "position"])
    for name in names:
        sheet[name] = (8 - 0.4 * sheet["position"] + rng.normal(0, 0.8, len(sheet))).round(1)
    scores = pst.read_scores(pd.concat([sheet.assign(pot=pot) for pot in (1, 2)]))
    assert (pst.panel_agreement(scores.cells()).table["call"] == "agree").all()  # cells know no places
    review = pst.review_session(scores)
    people = pst.review_tasters(scores)
    for made in (review, people):
        assert not (made.find(pst.PanelAgreement).table["call"] == "agree").any()
        assert not made.find(pst.TasterAssessment).summary["call"].isin(["with the panel", "with each other"]).any()
    assert any("one order" in verdict.sentence for verdict in review.find(pst.LotComparison).verdicts)


def test_the_line_along_the_row_is_that_of_least_squares_within_class():
    sheet = pd.DataFrame(
        {"lot": list("abcdef") * 2, "taster": ["elm"] * 6 + ["yew"] * 6, "position": [*range(1, 7)] * 2}
    )
    sheet["brisk"] = [5, 4, 6, 3, 2, 4, 7, 6, 6, 5, 5, 3]
    classes = {"lots": pd.DataFrame({"lot": list("abcdef"), "class": list("xxxyyy")})}
    scores = pst.read_scores(sheet, room=classes)
    found = without_row(scores, scores.cells()).frame.sort_values(["taster", "lot"])["mean"].to_numpy().reshape(2, 6)
    design = np.column_stack([np.arange(6), np.repeat([1, 0], 3), np.repeat([0, 1], 3)]).astype(float)
    for mine, marks in zip(found, sheet["brisk"].to_numpy(float).reshape(2, 6), strict=True):
        slope = np.linalg.lstsq(design, marks, rcond=None)[0][0]  # numpy's least squares
        assert mine == pytest.approx(marks - slope * np.tile([-1, 0, 1], 2))
