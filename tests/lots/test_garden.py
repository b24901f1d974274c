"""A letter to a garden: what stands off its class, since when, what to look at first."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.errors import DesignError
from panelstats.lots.garden.ownlots import gardens_of, making_columns
from tests import known

MONDAY = dt.date(2026, 1, 5)


def room(*, weeks=8, own=3, others=6, shift=0.0, since=0, seed=0, sessions=False, **columns):
    """Lots of "Hill" and of others, week after week; from a week on the Hill's lots are brisker by `shift`."""
    rng = np.random.default_rng(seed)
    lots = pd.DataFrame(
        [(f"{garden[0]}{week:02d}{n}", garden, (MONDAY + dt.timedelta(days=7 * week + n)).isoformat(), week)
         for week in range(weeks) for garden, count in (("Hill", own), ("Flats", others)) for n in range(count)],
        columns=["lot", "garden", "made", "week"],
    )  # fmt: skip
    late = (lots["garden"] == "Hill") & (lots["week"] >= since)
    sheet = pd.DataFrame({"lot": np.repeat(lots["lot"], 2), "taster": ["elm", "yew"] * len(lots)})
    for name in ("brisk", "body"):
        value = rng.normal(5, 0.7, len(lots)) + (shift * late if name == "brisk" else 0)
        sheet[name] = np.repeat(np.asarray(value), 2) + rng.normal(0, 0.3, len(sheet))
    if sessions:
        sheet["session"] = np.repeat([(MONDAY + dt.timedelta(days=7 * w)).isoformat() for w in lots["week"]], 2)
    for name, (before, after) in columns.items():
        lots[name] = np.where(late, after, before)
    register = lots.drop(columns=["week", *(["made"] if sessions else [])])
    told = pd.DataFrame({"descriptor": ["brisk", "body"], "stage": "liquor", "wanted": ["more", "either"],
                         "tells": ["firing", "rolling"], "tolerance": 0.8})  # fmt: skip
    return pst.read_scores(sheet, room={"lots": register, "descriptors": told})


def calls(letter):
    return dict(zip(letter.summary["descriptor"], letter.summary["call"], strict=True))


@pytest.fixture(scope="module")
def row():
    return known.scores("row.xlsx"), known.truth("row")["planted"]


def test_a_garden_that_moved_is_told_since_when_and_by_how_much():
    letter = pst.garden_letter(room(shift=-2.0, since=4), "Hill")
    brisk = letter.summary.set_index("descriptor").loc["brisk"]
    assert calls(letter)["brisk"] == "below its class"
    assert brisk["since"] >= (MONDAY + dt.timedelta(weeks=4)).isoformat()
    assert brisk["low"] < -1.0
    assert calls(letter)["body"] != "below its class"


def test_the_difference_of_a_week_is_that_of_its_lots_from_the_others_of_the_class():
    scores = room(weeks=4)
    letter = pst.garden_letter(scores, "Hill")
    means = scores.frame[scores.frame["descriptor"] == "brisk"].groupby("lot", observed=True)["score"].mean()
    others = means[means.index.str.startswith("F")]
    first = letter.weeks[(letter.weeks["week"] == MONDAY.isoformat()) & (letter.weeks["descriptor"] == "brisk")].iloc[0]
    assert first["lots"] == 3
    assert first["difference"] == pytest.approx(means[means.index.str.startswith("H00")].mean() - others.mean())
    assert first["se"] == pytest.approx(others.std() / 3**0.5)
    lot = letter.lots[letter.lots["descriptor"] == "brisk"].iloc[0]
    low, high = np.quantile(others, [0.1, 0.9]) - others.mean()
    assert (lot["band_low"], lot["band_high"]) == pytest.approx((low, high))


def test_what_to_look_at_first_is_the_step_that_tells_of_what_is_not_wanted():
    first = pst.garden_letter(room(shift=-2.0), "Hill").first
    assert first.sentence.startswith("Look at firing first: brisk −")
    better = pst.garden_letter(room(shift=2.0), "Hill").first
    assert "Nothing of the making stands out" in better.sentence  # more of it is wanted


def test_a_change_of_make_that_something_went_with_is_looked_at_first():
    review = pst.review_garden(room(shift=2.0, since=4, fermenting=("75", "55")), "Hill")
    letter = review.find(pst.GardenLetter)
    change = letter.changes.iloc[0]
    assert (change["before"], change["after"], change["lots_before"], change["lots_after"]) == ("75", "55", 12, 12)
    assert change["since"] == (MONDAY + dt.timedelta(weeks=4)).isoformat()
    assert "Look at fermenting first: since 2026-02-02 it is 55 in place of 75" in letter.first.sentence
    assert "not for certain because of it" in letter.first.sentence


def test_few_weeks_are_points_and_the_garden_is_judged_over_all_its_lots():
    letter = pst.garden_letter(room(weeks=3, shift=-2.5, own=4), "Hill")
    assert np.isnan(letter.limit)
    assert letter.weeks["smoothed"].isna().all()
    assert calls(letter)["brisk"] == "below its class"
    assert "points only" in letter.method


def test_sessions_stand_in_for_days_that_are_not_written():
    scores = room(weeks=6, sessions=True)
    letter = pst.garden_letter(scores, "Hill")
    assert letter.weeks["week"].nunique() == 6
    assert set(letter.lots["date"]) == set(scores.sessions["session"])


def test_a_garden_without_a_class_beside_it_cannot_be_told():
    letter = pst.garden_letter(room(others=0), "Hill")
    assert set(letter.summary["call"]) == {"cannot tell"}
    assert "fewer than 3 lots of others" in " ".join(map(str, letter.verdicts))


def test_a_steady_garden_is_accused_of_nothing_more_often_than_stated():
    """5 % a letter, within four standard errors, two descriptors."""
    runs = 15
    off = [set(pst.garden_letter(room(seed=seed), "Hill").summary["call"]) & {"above its class", "below its class"}
           for seed in range(runs)]  # fmt: skip
    assert np.mean([bool(each) for each in off]) <= 0.05 + 4 * (0.05 * 0.95 / runs) ** 0.5


def test_a_column_dealt_out_lot_by_lot_is_no_change():
    scores = room(weeks=4)
    lots = scores.lots.assign(rolling=["30", "40"] * (len(scores.lots) // 2))
    assert "rolling" in making_columns(lots)
    assert not {"made", "garden", "lot"} & set(making_columns(lots))


def test_the_planted_change_is_found_and_no_other_garden_is_told_of_one(row):
    scores, planted = row
    changed = {fact["who"] for fact in planted if fact["about"] == "make"}
    told = {}
    for garden in {*changed, *gardens_of(scores)[::3]}:
        letter = pst.review_garden(scores, garden).find(pst.GardenLetter)
        told[garden] = letter.first
    assert {garden for garden, verdict in told.items() if "went with it" in verdict.sentence} == changed
    (garden,) = changed
    assert "fermenting" in told[garden].sentence
    assert all(fact["descriptor"] in told[garden].sentence for fact in planted if fact["about"] == "make")
    apart = [garden for garden, verdict in told.items() if "from its class" in verdict.sentence]
    assert not apart


def test_a_misspelt_garden_is_answered_with_the_nearest(row):
    with pytest.raises(DesignError, match="did you mean 'Mid Brallow 2'"):
        pst.review_garden(row[0], "Mid Bralow 2")


def test_lots_without_gardens_are_told_to_write_them():
    scores = pst.read_scores(pd.DataFrame({"lot": list("abc"), "taster": "elm", "brisk": [4, 5, 6]}))
    with pytest.raises(DesignError, match="no garden is known"):
        pst.review_garden(scores, "Hill")
    with pytest.raises(DesignError, match="no garden is known"):
        gardens_of(scores)


def test_it_can_be_drawn():
    letter = pst.garden_letter(room(), "Hill")
    pst.draw(letter)
    pst.draw(letter, "brisk")
