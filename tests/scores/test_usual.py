"""What is usual where nobody says: steps, ranges, tolerances, dates, places in a list; each by hand or numpy."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.scores.dates import date_in, label_parts, same_dates, session_order
from panelstats.scores.places import listed, one_order, places, runs
from panelstats.scores.spelling import natural
from panelstats.scores.usual import ENOUGH, STEPS, Tally, classes, grade_family, step_of, tolerance_of

# --- steps and tolerances ---


@pytest.mark.parametrize("step", [1.0, 0.5, 0.25, 0.1, 0.05, 0.01])
def test_a_step_is_the_largest_that_divides_all_marks(step) -> None:
    assert step in STEPS
    assert step_of(np.arange(3, 11) * step) == step
    assert step_of(np.array([0.0, step])) == step
    assert np.isnan(step_of(np.array([0.0, step, 0.003])))
    assert np.isnan(step_of(np.zeros(0)))


@pytest.mark.parametrize("share", [0, 1, 12.5, 37, 50, 99, 100])
def test_a_percentile_of_a_tally_is_that_of_its_marks(share) -> None:
    marks = np.random.default_rng(1).integers(0, 21, 137) / 2
    tally = Tally.of(marks)
    assert tally.percentile(share) == pytest.approx(np.percentile(marks, share))
    assert len(tally) == 137
    assert Tally.of(np.array([1.0, 2, 4, 8])).percentile(share) == pytest.approx(np.percentile([1, 2, 4, 8], share))
    both = tally + Tally.of(np.array([3.25, 10.0, 10.0]))
    again = Tally.of(np.concatenate([marks, [3.25, 10.0, 10.0]]))
    np.testing.assert_array_equal(both.scores, again.scores)
    np.testing.assert_array_equal(both.counts, again.counts)


def test_a_tolerance_is_a_twentieth_of_the_range_or_a_step_where_that_is_more() -> None:
    few = np.array([2.0, 3.0, 7.0])
    assert tolerance_of(few, 0.1, 0.0, 10.0) == (pytest.approx(0.5), "5 % of the scale, 0 to 10")
    assert tolerance_of(few, 0.1, np.nan, 10.0) == (pytest.approx(0.25), "5 % of the range seen, 2 to 7")
    assert tolerance_of(few, 0.5, 0.0, 10.0)[1] == "5 % of the scale, 0 to 10"  # as much as a step
    assert tolerance_of(few, 0.51, 0.0, 10.0) == (0.51, "one step of the scale")
    assert tolerance_of(few, np.nan, 0.0, 10.0)[0] == pytest.approx(0.5)
    assert np.isnan(tolerance_of(np.zeros(0), np.nan, np.nan, np.nan)[0])
    assert tolerance_of(np.zeros(0), 0.5, np.nan, np.nan) == (0.5, "one step of the scale")
    many = np.linspace(0, 10, ENOUGH + 1)
    bottom, top = np.percentile(many, [1, 99])
    assert tolerance_of(many, 0.1, 0.0, 20.0)[0] == pytest.approx(0.05 * (top - bottom))
    assert "the range used" in tolerance_of(many[:ENOUGH], 0.1, 0.0, 20.0)[1]
    assert "the scale" in tolerance_of(many[: ENOUGH - 1], 0.1, 0.0, 20.0)[1]


def test_grades_fall_into_their_families() -> None:
    """As made tea is sorted by sieve, large to small (common practice)."""
    families = {"whole leaf": ["OP", "FOP 1", "Pekoe", "leaf"], "broken": ["BOP", "B.P.", "broken leaf", "BPS"],
                "fannings": ["BOPF", "PF1", "F", "OF", "Fannings 2"], "dust": ["D", "PD", "RD 1", "Dust", "SRD", "CD"],
                "": ["", "  "]}  # fmt: skip
    for family, grades in families.items():
        assert {grade_family(grade) for grade in grades} == {family}


def test_elevation_parts_classes_only_while_each_keeps_three_lots() -> None:
    lots = pd.DataFrame({"kind": "black", "grade": ["OP"] * 3 + ["BOP"] * 6, "elevation": ["high"] * 6 + ["low"] * 3})
    found, why = classes(lots)
    names = ("black whole leaf high", "black broken high", "black broken low")
    assert found.value_counts().to_dict() == dict.fromkeys(names, 3)
    assert "every class keeps 3" in why
    found, why = classes(lots.drop(index=8))
    assert found.value_counts().to_dict() == {"black broken": 5, "black whole leaf": 3}
    assert "under 3 lots" in why
    assert classes(lots.drop(columns="elevation"))[1] == "kind and grade family"
    own = lots.assign(**{"class": ["x"] * 8 + [""]})
    assert classes(own)[1] == "the column class"
    assert "one class" in classes(lots[["elevation"]])[1]


# --- dates ---


@pytest.mark.parametrize(
    ("label", "date"),
    [
        ("2024-03-01", (2024, 3, 1)), ("20240301", (2024, 3, 1)), ("1/3/24", (2024, 3, 1)), ("1.3.99", (2099, 3, 1)),
        ("1 March 24", (2024, 3, 1)), ("1 mar", (1, 3, 1)), ("March 5, 2024", (2024, 3, 5)), ("dec 31", (1, 12, 31)),
        ("31/12/2024", (2024, 12, 31)), ("12 jan 2", None), ("30 feb 2024", None),
        ("13/13/2024", None), ("week 3", None),
    ],
)  # fmt: skip
def test_a_date_is_read_as_it_is_written(label, date) -> None:
    found = date_in(label)
    assert found == (None if date is None else dt.date(*date)) or (date is None and found.year == 1)


def test_the_month_stands_first_only_where_that_is_told() -> None:
    assert date_in("3/4/2024") == dt.date(2024, 4, 3)
    assert date_in("3/4/2024", month_first=True) == dt.date(2024, 3, 4)
    assert session_order(["1/2/2024", "3/1/2024"]) == ["3/1/2024", "1/2/2024"]
    assert session_order(["1/2/2024", "12/25/2023", "3/1/2024"]) == ["12/25/2023", "1/2/2024", "3/1/2024"]
    assert same_dates(["1/3/2024", "2/3/2024"]) == {}
    assert same_dates(["1/3/2024", "2024-03-02", "week 3"]) == {}
    assert same_dates(["1/3/2024", "2024-03-02"]) == {"1/3/2024": "2024-03-01", "2024-03-02": "2024-03-02"}
    assert session_order(["week 10", "week 9"]) == ["week 9", "week 10"]


@pytest.mark.parametrize(
    ("label", "parts"),
    [("12-06", ("12-06", "")), ("Monday", ("Monday", "")), ("alder week 14", ("week 14", "alder")),
     ("alder_week14", ("week14", "alder")), ("week_14_alder", ("week_14", "alder")), ("week_14", ("week_14", "")),
     ("alder", ("", "alder")), ("1 March beech", ("1 March", "beech"))],
)  # fmt: skip
def test_a_label_is_a_sitting_and_what_else_it_says(label, parts) -> None:
    assert label_parts(label) == parts


def test_numbers_in_names_stand_before_words_and_in_their_order() -> None:
    assert sorted(["b", "10", "9", "a2", "a10", "a"], key=natural) == ["9", "10", "a", "a2", "a10", "b"]


# --- places in a list ---


def walked(moves, *, lots=8, tasters=("elm", "yew", "oak"), noise=0.05, seed=0, **columns):
    """Sheets that list the lots in one order; marks move by so many points from the first to the last."""
    rng = np.random.default_rng(seed)
    order = [f"L{n}" for n in rng.permutation(lots)]
    rows = []
    for taster in tasters:
        for at, lot in enumerate(order):
            marks = {word: 5 + size * at / (lots - 1) + rng.normal(0, noise) for word, size in moves.items()}
            rows.append({"session": "1", "taster": taster, "lot": lot, **marks})
    return pd.DataFrame(rows).round(2).assign(**columns)


def test_marks_that_run_along_the_list_are_told_with_their_points_the_closest_first() -> None:
    (run,) = runs(pst.read_scores(walked({"body": -1.0, "brisk": 3.0, "dull": 0.0})))
    assert run.session == "1"
    assert list(run.moves)[:2] == ["brisk", "body"]
    assert run.moves["brisk"] == pytest.approx(3.0, abs=0.1)
    assert run.moves["body"] == pytest.approx(-1.0, abs=0.1)
    assert abs(run.moves["dull"]) < 0.1


def test_nothing_runs_where_marks_do_not_or_orders_differ_or_places_are_known() -> None:
    assert not runs(pst.read_scores(walked({"brisk": 0.0}, noise=1.0, seed=3)))
    sheet = walked({"brisk": 3.0})
    other = pd.concat([sheet[sheet["taster"] != "oak"], sheet[sheet["taster"] == "oak"].iloc[::-1]])
    assert not runs(pst.read_scores(other))
    assert not runs(pst.read_scores(sheet.assign(position=list(range(1, 9)) * 3)))
    said = pd.DataFrame({"session": ["1"], "order": ["as listed"]})
    assert not runs(pst.read_scores(sheet, room={"sessions": said}))


def test_one_order_needs_three_lots_and_two_tasters() -> None:
    assert one_order(pd.DataFrame({"a": [1, 2, 3], "b": [2, 5, 9]}))
    assert not one_order(pd.DataFrame({"a": [1, 2, 3], "b": [2, 9, 5]}))
    assert not one_order(pd.DataFrame({"a": [1, 2], "b": [2, 5]}))
    assert not one_order(pd.DataFrame({"a": [1, 2, 3]}))
    assert one_order(pd.DataFrame({"a": [1, 2, 3, 4], "b": [2, 5, np.nan, 9]}))


def test_places_are_counted_anew_for_each_taster_and_session_by_servings() -> None:
    served = [("1", "elm", "B", 1), ("1", "elm", "A", 1), ("1", "elm", "B", 2), ("1", "yew", "A", 1),
              ("1", "yew", "B", 1), ("2", "elm", "A", 1)]  # fmt: skip
    sheet = pd.DataFrame(served, columns=["session", "taster", "lot", "pot"])
    sheet = sheet.assign(brisk=[5, 6, 7, 5, 6, 7], body=[4, 5, 6, 4, 5, 6])
    lots = pd.DataFrame({"lot": ["A", "B"], "same": ["A", "B"]})
    said = pd.DataFrame({"session": ["1", "2"], "order": ["As listed ", ""]})
    scores = pst.read_scores(sheet, room={"lots": lots, "sessions": said})
    keys = scores.frame[["session", "taster", "lot", "pot"]].astype(str).agg(tuple, axis=1)
    at = (1, 2, 3, 1, 2, 1)
    wanted = {(*map(str, key),): place for key, place in zip(served, at, strict=True)}
    assert list(listed(scores.frame)) == [wanted[key] for key in keys]
    told = places(scores)
    assert [value for value, key in zip(told, keys, strict=True) if key[0] == "1"] == [
        wanted[key] for key in keys if key[0] == "1"
    ]
    assert np.isnan([value for value, key in zip(told, keys, strict=True) if key[0] == "2"]).all()
