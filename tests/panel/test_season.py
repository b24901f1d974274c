"""Who moved over a season: what was planted is found with its date, and nobody else is accused."""

import dataclasses
import json
import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.errors import DesignError
from panelstats.panel.season import words
from panelstats.panel.season.moved import move, rises, steps
from tests.calibration.rooms.months import Months
from tests.calibration.rooms.palates import Palates

PUBLISHED = Path(__file__).parents[1] / "published" / "models"
CELL = json.loads((PUBLISHED / "season_one_cell.json").read_text())
SHEET = pd.read_csv(PUBLISHED / "season_one_cell.csv")
MOVED = {"drifting", "jumped", "moved", "moved apart"}


# The one cell: fits by R's lm with weights, from the published file.
def test_line_and_step_agree_with_weighted_fits_of_r():
    there = SHEET["bias"].notna().to_numpy()
    y, w = SHEET["bias"].to_numpy()[there], 1 / (SHEET["se"].to_numpy()[there] ** 2 + 0.0225)
    at = SHEET["session"].to_numpy()[there]
    step, rise = steps(y, w, at), rises(y, w, at)
    assert step.rss[step.best] == pytest.approx(CELL["rss_step"], rel=1e-9)
    assert step.places[step.best] == CELL["step_first_session"]
    assert rise.rss[0] == pytest.approx(CELL["rss_line"], rel=1e-9)
    assert rise.size[0] == pytest.approx(CELL["slope"], rel=1e-9)
    assert np.sqrt(rise.variance[0]) == pytest.approx(CELL["slope_se"], rel=1e-9)


def test_the_one_cell_jumped():
    variance = SHEET["se"].to_numpy() ** 2 + 0.0225
    found = move(SHEET["bias"].to_numpy(), variance, now=(0.59, 0.15))
    assert found.call == "jumped"
    assert SHEET["session"][found.since] == CELL["step_first_session"]
    assert found.since_low <= found.since <= found.since_high
    assert found.low < 0.8 < found.high  # what was built in


def test_a_straight_rise_is_a_drift_and_dated_by_its_beginning():
    value = np.concatenate([np.zeros(12), 0.1 * np.arange(1, 15)])
    found = move(value, np.full(26, 0.01), now=(1.2, 0.1))
    assert (found.call, found.since) == ("drifting", 12)
    assert found.change == pytest.approx(1.4)


@pytest.fixture(scope="module")
def season():
    room = pst.example.season()
    return room, pst.read_scores(room.frame, room=room.registers).cells()


@pytest.fixture(scope="module")
def audit(season):
    return pst.audit_season(season[1])


def rows(audit, **wanted):
    table = audit.table
    for name, value in wanted.items():
        table = table[table[name] == value]
    return table


def test_what_was_planted_is_found_with_its_date(season, audit):
    days = list(season[0].registers["sessions"]["session"])
    chart = {"drifting": "level", "jumped": "level", "repeatability": "noise"}
    for fact in season[0].truth["planted"]:
        if fact["about"] != "taster" or fact["what"] not in chart:
            continue
        kind = chart[fact["what"]]
        found = rows(audit, taster=fact["who"], chart=kind, descriptor="" if kind == "noise" else fact["descriptor"])
        (row,) = found.to_dict("records")
        assert row["call"] == ("jumped" if kind == "noise" else fact["what"])
        assert row["since_low"] <= fact["since"] <= row["since_high"]
        assert abs(days.index(row["since"]) - days.index(fact["since"])) <= 1
        if kind == "level":
            assert row["low"] < fact["size"] < row["high"]
        assert row["alarm"] > fact["since"]


def test_swapped_words_are_found_with_their_date(season, audit):
    (row,) = audit.crossed_words.to_dict("records")
    facts = [fact for fact in season[0].truth["planted"] if fact["what"] == "swapped"]
    assert row["taster"] == facts[0]["who"]
    assert {row["descriptor"], row["other"]} == {fact["descriptor"] for fact in facts}
    assert row["since"] == facts[0]["since"]


def test_nobody_else_is_accused(season, audit):
    guilty = {fact["who"] for fact in season[0].truth["planted"] if fact["about"] == "taster"}
    assert set(audit.table.loc[audit.table["call"].isin(MOVED), "taster"]) <= guilty
    steady = audit.summary[~audit.summary["taster"].isin(guilty)]
    assert set(steady["call"]) == {"steady"}
    assert len(steady) == 5


def test_the_answer_as_it_stood_then(season):
    early = pst.audit_season(season[1], until="2026-04-20")
    assert not early.table["call"].isin(MOVED).any()
    assert early.series["session"].max() == "2026-04-20"
    assert pst.audit_season(season[1], until="20 April 2026").table.equals(early.table)


def test_an_unknown_day_is_refused(season):
    with pytest.raises(DesignError, match="neither a session nor a date"):
        pst.audit_season(season[1], until="some time")
    with pytest.raises(DesignError, match="no session up to then"):
        pst.audit_season(season[1], until="2020-01-01")
    with pytest.raises(DesignError, match="too short a baseline"):
        pst.audit_season(season[1], baseline=4)


@pytest.mark.parametrize(("tasters", "seasons"), [(3, 15), (6, 15)])
def test_quiet_seasons_rarely_alarm(tasters, seasons):
    """5 % are promised: more than 4 of 15 have a chance below 1 in 1,000 (binomial)."""
    room = Months(tasters=tasters, sessions=24, lots=6, descriptors=3)
    found = [pst.audit_season(room.draw(np.random.default_rng([11, run]))) for run in range(seasons)]
    assert sum((each.table["alarm"] != "").any() for each in found) <= 4
    assert sum(each.table["call"].isin(MOVED).any() for each in found) <= 4


def audited(room, seed=5, **more):
    return pst.audit_season(room.draw(np.random.default_rng(seed)), **more)


FEW = Months(tasters=3, sessions=24, lots=6, descriptors=2, absent=0.0, jump=2.0)


def test_of_three_one_is_apart_from_the_two_who_kept_together():
    found = audited(FEW)
    assert rows(found, taster="taster 01", descriptor="word 01", chart="level")["call"].tolist() == ["moved apart"]
    assert set(found.table.loc[found.table["call"].isin(MOVED) & (found.table["chart"] == "level"), "taster"]) == {
        "taster 01"
    }
    assert "Two against one" in str(found)
    assert "hidden control" in str(found)


def test_three_who_often_miss_a_session_are_three_and_not_two():
    found = audited(dataclasses.replace(FEW, absent=0.15))
    moved = found.table[found.table["call"].isin(MOVED) & (found.table["chart"] == "level")]
    assert moved[["taster", "descriptor"]].to_numpy().tolist() == [["taster 01", "word 01"]]
    assert "Two against one, taster 02 and taster 03" in str(found)
    assert "nobody can tell which" not in str(found)


def test_of_two_nobody_can_tell_which():
    found = audited(dataclasses.replace(FEW, tasters=2))
    told = [v for v in found.verdicts if v.call == "moved apart"]
    assert len(told) == 1
    assert "nobody can tell which" in told[0].sentence


def test_a_taster_alone_is_told_so():
    found = audited(dataclasses.replace(FEW, tasters=1))
    assert not (found.table["chart"] == "level").any()
    assert any("tasted alone" in v.sentence for v in found.verdicts)


def test_who_came_late_has_a_short_baseline_and_who_came_once_none():
    cells = dataclasses.replace(FEW, tasters=6, jump=0.0).draw(np.random.default_rng(5))
    days = sorted(set(cells.frame["session"].astype(str)))
    day, who = cells.frame["session"].astype(str), cells.frame["taster"].astype(str)
    gone = ((who == "taster 02") & (day < days[14])) | ((who == "taster 03") & (day != days[3]))
    found = pst.audit_season(cells.where(~gone.to_numpy()))
    late = rows(found, taster="taster 02", chart="level")
    assert (late["baseline"] == 5).all()
    assert (late["attended"] == 10).all()
    assert late["low"].notna().all()
    once = rows(found, taster="taster 03")
    assert set(once["call"]) == {"cannot tell"}
    assert set(once["reason"]) == {"baseline only"}
    (verdict,) = [v for v in found.verdicts if v.subject == "taster 03"]
    assert "1 session so far" in verdict.sentence
    assert verdict.next_step


def test_too_few_sessions_tell_nothing():
    found = audited(dataclasses.replace(FEW, sessions=3))
    assert set(found.table["call"]) == {"cannot tell"}
    assert all(v.next_step for v in found.verdicts)


def test_equal_marks_without_any_spread_are_no_alarm():
    cells = FEW.draw(np.random.default_rng(5))
    flat = dataclasses.replace(cells, frame=cells.frame.assign(mean=5.0, within_ss=0.0, rest=0.0), _memo={})
    found = pst.audit_season(flat)
    assert not found.table["call"].isin(MOVED).any()


def test_sessions_whose_marks_leave_no_spread_are_left_out_and_told_never_taken_as_exact():
    cells = dataclasses.replace(FEW, tasters=5, lots=1, jump=0.0).draw(np.random.default_rng(5))
    found = pst.audit_season(cells)  # one lot a session: a level, and nothing that says how sure it is
    assert not (found.series["chart"] == "level").any()
    (told,) = [v for v in found.verdicts if "Left out" in v.sentence]
    assert "taster 01 on word 01 (24 sessions)" in told.sentence
    assert "5 charts besides" in told.sentence
    assert "more lots" in told.next_step
    cells = dataclasses.replace(FEW, tasters=5, jump=0.0).draw(np.random.default_rng(5))
    day, who = cells.frame["session"].astype(str), cells.frame["taster"].astype(str)
    exact = ((who == "taster 02") & (day < "2031-01-20")).to_numpy()
    frame = cells.frame.assign(within_ss=np.where(exact, 0.0, cells.frame["within_ss"]))
    found = pst.audit_season(dataclasses.replace(cells, frame=frame, _memo={}))
    (told,) = [v for v in found.verdicts if "Left out" in v.sentence]
    assert "taster 02 on repeats (3 sessions)" in told.sentence
    assert rows(found, taster="taster 02", chart="noise")["attended"].tolist() == [21]


def with_controls(shift, *, replaced=False, overlap=3, whose="", gone=lambda _, __: False):
    """Five tasters, a hidden control, and a shift of all marks, or of one taster's, from session 12 on."""
    rng = np.random.default_rng(8)
    out = []
    for week in range(24):
        day = f"2031-{1 + week // 4:02d}-{1 + 7 * (week % 4):02d}"
        old = ["C1"] if not replaced or week < 12 + overlap else []
        new = ["C2"] if replaced and week >= 12 else []
        for lot in [f"{week}-{n}" for n in range(4)] + old + new:
            tea = {"C1": 5.0, "C2": 6.5}.get(lot, 5 + rng.normal())
            out += [
                (day, lot, taster, tea + shift * (week >= 12 and whose in ("", taster)) + rng.normal(0, 0.3))
                for taster in ("elm", "yew", "larch", "beech", "alder")
                if not (taster == "yew" and gone(week, lot))
            ]
    sheet = pd.DataFrame(out, columns=["session", "lot", "taster", "brisk"]).round(1)
    lots = pd.DataFrame({"lot": ["C1", "C2"][: 1 + replaced], "role": "control"})
    descriptors = pd.DataFrame({"descriptor": ["brisk"], "low": [0.0], "high": [10.0], "tolerance": [0.5]})
    return pst.audit_season(pst.read_scores(sheet, room={"lots": lots, "descriptors": descriptors}))


def test_all_who_move_together_are_seen_on_hidden_controls_only():
    found = with_controls(1.0)
    assert not rows(found, chart="level")["call"].isin(MOVED).any()
    (panel,) = rows(found, taster="").to_dict("records")
    assert panel["call"] == "jumped"
    assert panel["since"] == "2031-04-01"
    assert not rows(found, chart="controls")[rows(found, chart="controls")["taster"] != ""]["call"].isin(MOVED).any()
    (told,) = [v for v in found.verdicts if "all tasters together" in v.sentence]
    assert told.call == "cannot tell"
    assert "fresh control" in told.next_step


def test_without_controls_a_move_of_all_is_said_to_be_invisible():
    assert any("cannot be seen" in v.sentence for v in audited(FEW).verdicts)


def test_a_replaced_control_is_no_move_where_old_and_new_stood_together():
    found = with_controls(0.0, replaced=True)
    assert not found.table["call"].isin(MOVED).any()
    assert rows(found, taster="")["attended"].tolist() == [24]


def test_a_replaced_control_that_stood_alone_is_not_counted():
    found = with_controls(0.0, replaced=True, overlap=1)
    assert rows(found, taster="")["attended"].tolist() == [13]
    assert any(v.subject == "C2" and "not counted" in v.sentence for v in found.verdicts)


def away(week, _):
    """Six sessions in the middle of the season, over the one at which marks shift."""
    return 10 <= week < 16


def test_who_moved_while_away_is_dated_by_the_first_session_back():
    found = with_controls(1.5, whose="yew", gone=away)
    for chart in ("level", "controls"):
        (mine,) = rows(found, taster="yew", chart=chart).to_dict("records")
        assert (mine["call"], mine["since"], mine["attended"]) == ("jumped", "2031-05-01", 18)
        assert mine["low"] < 1.5 < mine["high"]
    assert set(found.table.loc[found.table["call"].isin(MOVED), "taster"]) == {"yew"}


def test_weeks_away_are_no_move_and_not_counted():
    found = with_controls(0.0, gone=away)
    assert not found.table["call"].isin(MOVED).any()
    assert set(rows(found, taster="yew")["attended"]) == {18}
    assert set(rows(found, taster="")["attended"]) == {24}
    assert not found.series[found.series["taster"] == "yew"]["session"].between("2031-03-15", "2031-04-22").any()


def test_who_never_met_a_control_is_judged_by_the_others_alone():
    found = with_controls(0.0, gone=lambda _, lot: lot == "C1")
    assert rows(found, taster="yew", chart="level")["call"].tolist() == ["steady"]
    assert rows(found, taster="yew", chart="controls").empty
    assert rows(found, taster="")["attended"].tolist() == [24]
    (told,) = [v for v in found.verdicts if v.subject == "yew"]
    assert "control" not in told.sentence


def test_two_who_move_apart_from_the_others_split_a_panel_of_four():
    rng = np.random.default_rng(3)
    cells = dataclasses.replace(FEW, tasters=4, jump=0.0).draw(rng)
    day, who = cells.frame["session"].astype(str), cells.frame["taster"].astype(str)
    here = (day > "2031-04") & (cells.frame["descriptor"] == "word 01")
    moved = (who.isin(["taster 01", "taster 02"]) & here).to_numpy()
    found = pst.audit_season(
        dataclasses.replace(cells, frame=cells.frame.assign(mean=cells.frame["mean"] + 2.0 * moved), _memo={})
    )
    level = rows(found, chart="level", descriptor="word 01")
    assert not level["call"].isin(MOVED).any()
    assert "the panel is split" in set(level["reason"])


def test_sessions_of_one_lot_chart_the_level_and_nothing_else():
    found = audited(dataclasses.replace(FEW, tasters=5, lots=1, sessions=30, jump=0.0, palates=Palates(day_sd=0.0)))
    assert set(found.table["chart"]) <= {"level", "noise"}


def test_the_same_seed_gives_the_same_audit():
    room = dataclasses.replace(FEW, tasters=5)
    assert audited(room).table.equals(audited(room).table)


def test_what_is_said_of_a_mover_is_short_whoever_moved_and_however_sure_the_date_is():
    since = words.SINCE_BETWEEN.format(since="2031-04-01", low="2031-03-18", high="2031-04-15")
    stands = dict.fromkeys(("taster", "other", "others", "tasters", "controls", "descriptor", "word"), "elm")
    stands |= dict.fromkeys(("before", "after", "change", "more"), "1.0") | {"since": since, "last": "2031-06-01"}
    stands |= {"interval": "0.5 to 1.5", "way": "down", "what": words.KEPT}
    said = [words.JUMPED, words.DRIFTED, words.MOVED, words.NOISIER, words.LESS_AGREED, words.SWAPPED, words.FOLLOWS,
            words.TWO_AGAINST_ONE, words.PAIR, words.TRAIN, words.REST, words.RELEARN, words.ASK_WORDS,
            words.ASK_CONTROL, words.PANEL_MOVED, words.OUT_OF_REACH]  # fmt: skip
    for sentence in said:
        for part in re.split(r"[.;:] ", sentence.format(**stands)):
            assert len(part.split()) <= 20, part
