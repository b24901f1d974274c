"""Figures worked out from the scores are never read as scores; what only looks alike is."""

import numpy as np
import pandas as pd
import pytest

import panelstats as pst

from .messy import DESCRIPTORS, LOTS, TASTERS, TRUE, WIDE, delimited
from .test_messy import adds_up, found


def table():
    return pd.DataFrame(WIDE[1:], columns=WIDE[0])


def panel(of, name):
    means = table().groupby("lot", sort=False)[DESCRIPTORS].agg(of).round(2).reset_index()
    return means.assign(taster=name)[["lot", "taster", *DESCRIPTORS]]


@pytest.mark.parametrize(
    ("of", "name"), [("mean", "Average"), ("mean", "panel"), ("mean", "hazel"), ("sum", "Total"), ("sum", "rowan")]
)
def test_a_taster_who_is_worked_out_is_left_out_and_said(of, name):
    scores = pst.read_scores(pd.concat([table(), panel(of, name)]))
    assert found(scores) == TRUE
    assert any(repr(name) in line for line in scores.said)
    adds_up(scores)


@pytest.mark.parametrize("name", ["Total", "Overall", "Points"])
@pytest.mark.parametrize("of", ["sum", "mean"])
def test_a_column_that_is_worked_out_is_left_out_and_said(name, of):
    sheet = table()
    scores = pst.read_scores(sheet.assign(**{name: sheet[DESCRIPTORS].agg(of, axis=1)}))
    assert found(scores) == TRUE
    assert any(repr(name) in line or repr(name.casefold()) in line for line in scores.said)
    adds_up(scores)


def test_a_column_of_its_own_is_a_score_whatever_it_is_called():
    sheet = table().assign(Overall=np.arange(18) % 7 + 0.5)
    assert set(pst.read_scores(sheet).descriptors["descriptor"]) == {*DESCRIPTORS, "Overall"}


def test_a_taster_close_to_the_others_is_a_taster():
    rng = np.random.default_rng(3)
    level = rng.integers(2, 8, 20)
    rows = {t: np.clip(level + rng.integers(-1, 2, 20) * (t != "larch"), 1, 9) for t in TASTERS}
    sheet = pd.concat(
        [pd.DataFrame({"lot": [str(300 + n) for n in range(20)], "taster": t, "brisk": v}) for t, v in rows.items()]
    )
    assert set(pst.read_scores(sheet).tasters["taster"]) == set(TASTERS)


def test_std_is_a_standard_where_it_is_no_spread(tmp_path):
    rows = [WIDE[0], *WIDE[1:], *(["STD", t, 5, 6, 4.5, 7] for t in TASTERS)]
    path = tmp_path / "sheet.csv"
    path.write_bytes(delimited(rows))
    scores = pst.read_scores(path)
    assert dict(zip(scores.lots["lot"], scores.lots["role"], strict=True))["STD"] == "standard"
    assert scores.frame["lot"].nunique() == len(LOTS) + 1


def test_the_same_file_twice_is_read_once(tmp_path):
    for name in ("week 14.csv", "week 14 copy.csv"):
        (tmp_path / name).write_bytes(delimited(WIDE))
    scores = pst.read_scores(tmp_path)
    assert found(scores) == TRUE
    assert any("copy" in line for line in scores.said)


def test_a_median_of_the_tasters_is_no_taster_whatever_its_name():
    marks = np.random.default_rng(3).integers(4, 19, (8, 4, 3)) / 2
    rows = [(n, who, *marks[n, t]) for n in range(8) for t, who in enumerate(("alder", "beech", "elm", "yew"))]
    rows += [(n, "zz", *np.median(marks[n], axis=0)) for n in range(8)]
    read = pst.read_scores(pd.DataFrame(rows, columns=["Lot", "Taster", "Brisk", "Body", "Colour"]))
    assert set(read.tasters["taster"]) == {"alder", "beech", "elm", "yew"}
    assert any("their median" in said for said in read.said)


@pytest.mark.parametrize("digits", [2, 6])
def test_a_weighted_sum_of_the_descriptors_is_no_descriptor(digits):
    marks = np.random.default_rng(4).integers(4, 19, (32, 3)) / 2
    frame = pd.DataFrame(marks, columns=["Brisk", "Body", "Colour"])
    frame.insert(0, "Lot", np.repeat(np.arange(101, 109), 4))
    frame.insert(1, "Taster", np.tile(["alder", "beech", "elm", "yew"], 8))
    frame["Merit"] = (marks @ [0.37, 0.41, 0.22]).round(digits)
    assert list(pst.read_scores(frame).descriptors["descriptor"]) == ["Brisk", "Body", "Colour"]


MARKS = np.random.default_rng(5).integers(4, 19, (24, 4)) / 2


def sheet_of(marks, heads):
    frame = pd.DataFrame(marks, columns=heads)
    frame.insert(0, "Lot", np.repeat(np.arange(101, 101 + len(marks) // 4), 4))
    frame.insert(1, "Taster", np.tile(["alder", "beech", "elm", "yew"], len(marks) // 4))
    return frame


def test_a_sum_of_some_descriptors_is_no_descriptor():
    frame = sheet_of(MARKS, ["Brisk", "Body", "Colour", "Flavour"]).assign(Liquor=MARKS[:, 0] + MARKS[:, 2])
    assert list(pst.read_scores(frame).descriptors["descriptor"]) == ["Brisk", "Body", "Colour", "Flavour"]


def test_of_a_difference_and_what_it_is_made_of_the_difference_is_left_out():
    frame = pd.DataFrame({"Lot": np.arange(101, 125), "alder": MARKS[:, 0], "beech": MARKS[:, 1]})
    frame["Gap"] = frame["alder"] - frame["beech"]
    long = frame.melt("Lot", var_name="Taster", value_name="Brisk")
    assert set(pst.read_scores(long).tasters["taster"]) == {"alder", "beech"}


def test_figures_named_for_what_they_differ_from_are_asked_about():
    frame = sheet_of(MARKS, ["Brisk", "Body", "Colour", "Flavour"]).assign(**{"Brisk +/-": MARKS[:, 0]})
    with pytest.raises(pst.SheetError, match="may be a figure"):
        pst.read_scores(frame)


def test_a_fine_weighted_sum_of_few_lots_is_asked_about():
    frame = sheet_of(MARKS[:4], ["Brisk", "Body", "Colour", "Flavour"])
    frame["Merit"] = (MARKS[:4] @ [0.4, 0.3, 0.2, 0.1]).round(2)
    with pytest.raises(pst.SheetError, match="may be a figure"):
        pst.read_scores(frame)


def test_a_descriptor_scored_more_finely_is_a_descriptor():
    frame = sheet_of(MARKS, ["Brisk", "Body", "Colour", "Flavour"])
    frame["Merit"] = np.random.default_rng(6).uniform(2, 9, 24).round(2)
    assert "Merit" in list(pst.read_scores(frame).descriptors["descriptor"])


PIVOT = "Lot,Average of Brisk,Average of Body\n411,5.5,6\n412,6.25,5\n413,4.75,5\nGrand Total,5.5,5.33\n"


def test_a_sheet_of_means_alone_says_that_they_are_means_and_what_to_do(tmp_path):
    path = tmp_path / "pivot.csv"
    path.write_text(PIVOT)
    with pytest.raises(pst.SheetError) as told:
        pst.read_scores(path)
    assert "worked out from several: Average of Brisk, Average of Body" in str(told.value)
    assert "put taster and pot among its rows" in str(told.value)
    said = pst.read_scores(path, columns={"Average of Brisk": "brisk", "Average of Body": "body"})
    assert found(said) == {("411", "one taster", "brisk"): 5.5, ("411", "one taster", "body"): 6.0,
                           ("412", "one taster", "brisk"): 6.25, ("412", "one taster", "body"): 5.0,
                           ("413", "one taster", "brisk"): 4.75, ("413", "one taster", "body"): 5.0}  # fmt: skip


def test_a_form_that_nobody_filled_in_holds_no_score_whatever_its_total_says(tmp_path):
    path = tmp_path / "form.csv"
    path.write_text("lot,taster,brisk,body,Total\n411,elm,,,0\n412,elm,,,0\n")
    with pytest.raises(pst.SheetError, match="hold no score"):
        pst.read_scores(path)
