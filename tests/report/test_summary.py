"""The buyer's summary: nothing that an interval does not support, nobody named, faults, cautions, a leaf a lot."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.stats import t as student

import panelstats as pst
from panelstats.__main__ import main
from panelstats.lots.buyer import words
from panelstats.report.pages import summary

NAMES = ["bright", "brisk", "body", "strength"]


def room(
    lots: int = 8, tasters: int = 6, *, effect: float = 0.0, seed: int = 0, sessions: tuple[str, ...] = ("2026-03-02",),
    standard: bool = False, moved: float = 0.0,
) -> pst.Scores:  # fmt: skip
    """Lots that differ by `effect` on brisk; earlier sessions hold other lots and marks `moved` higher."""
    rng = np.random.default_rng(seed)
    rows, register = [], []
    for at, day in enumerate(sessions):
        names = [f"{at}{k:02d}" for k in range(lots)] + (["S"] if standard else [])
        true = np.zeros((len(names), 4))
        true[: lots // 2, 1], true[lots // 2 : lots, 1] = effect, -effect
        shift = moved * (len(sessions) - 1 - at)
        for k, name in enumerate(names):
            for taster in range(tasters):
                for pot in (1, 2):
                    marks = 5 + shift + true[k] + 0.5 * rng.standard_normal(4)
                    rows.append({"session": day, "lot": name, "taster": f"taster{taster}", "pot": pot}
                                | dict(zip(NAMES, marks.round(2), strict=True)))  # fmt: skip
        register += [
            {"lot": n, "class": "all", "role": "standard" if n == "S" else "", "garden": "Hill"} for n in names
        ]
    known = pd.DataFrame(register).drop_duplicates("lot")
    stages = pd.DataFrame({"descriptor": NAMES, "stage": ["infused leaf", *["liquor"] * 3]})
    return pst.read_scores(pd.DataFrame(rows), room={"lots": known, "descriptors": stages})


def described(scores: pst.Scores, **asked: object) -> pst.LotProfiles:
    found = pst.review_summary(scores, **asked).find(pst.LotProfiles)
    assert found is not None
    return found


@pytest.mark.parametrize(("seed", "code"), [(0, "en"), (1, "de"), (2, "en"), (3, "de"), (4, "en"), (5, "de")])
def test_no_word_stands_that_its_widened_interval_does_not_support(seed: int, code: str) -> None:
    """Bonferroni over the words of a lot from the means table, by hand (scipy's t); in every language."""
    scores = room(effect=0.25, seed=seed)
    with pst.language(code):
        found, means = described(scores), pst.compare_lots(scores).means
    m = len(NAMES)
    for row in found.table.to_dict("records"):
        mine = means[(means["lot"] == row["lot"]) & (means["descriptor"] == row["descriptor"])].iloc[0]
        half = (mine["deviation_high"] - mine["deviation_low"]) / 2
        wide = half * student.ppf(1 - 0.025 / m, mine["df"]) / student.ppf(0.975, mine["df"])
        assert row["difference"] == pytest.approx(mine["deviation"])
        expected = "more" if mine["deviation"] > wide else "less" if mine["deviation"] < -wide else ""
        assert row["said"] == expected
    for row in found.lots.to_dict("records"):
        table = found.of_lot(row["lot"])
        told = {name for name in NAMES if name in row["said"].replace("bright, brisk", "bright brisk")}
        assert told <= set(table.loc[table["said"] != "", "descriptor"])


def test_alike_lots_are_seldom_said_to_differ_and_never_called_alike() -> None:
    """24 alike lots: words at 5 % a lot; 4 or fewer is what 19 of 20 panels would show (binomial)."""
    with pst.language("de"):
        german = described(room(seed=13)).lots
    lots = pd.concat([*(described(room(seed=seed)).lots for seed in (11, 12)), german])
    apart = lots["said"].str.startswith(("More", "Less", "Mehr", "Weniger"))
    assert apart.sum() <= 4
    unknown = "whether it differs from them is not known|ob sie sich davon unterscheidet, ist nicht bekannt"
    assert lots.loc[~apart, "said"].str.contains(unknown).all()


def test_what_sets_a_lot_apart_is_said_in_the_words_of_the_sheet() -> None:
    told = described(room(effect=1.0)).lots.set_index("lot")["said"]
    assert told["000"] == "More brisk than its class (all; 7 other lots)."
    assert told["007"] == "Less brisk than its class (all; 7 other lots)."


def test_the_standard_and_the_class_last_season_stand_where_they_lie() -> None:
    """Last season's marks lay a point higher; the standard, served in both, says by how much."""
    scores = room(effect=0.5, sessions=("2025-03-02", "2026-03-02"), standard=True, moved=1.0)
    table = described(scores).table
    frame = scores.frame.assign(lot=scores.frame["lot"].astype(str), session=scores.frame["session"].astype(str))
    mean = frame.groupby(["session", "lot", "descriptor"], observed=True)["score"].mean()
    for name in NAMES:
        mine = table[table["descriptor"] == name].iloc[0]
        now, then = (mean[day].xs(name, level="descriptor") for day in ("2026-03-02", "2025-03-02"))
        middle = now.drop("S").mean()
        assert mine["standard"] == pytest.approx(now["S"] - middle, abs=1e-6)
        assert mine["last_season"] == pytest.approx(then.drop("S").mean() + now["S"] - then["S"] - middle, abs=1e-6)


def test_seasons_that_nothing_joins_are_not_compared() -> None:
    found = described(room(sessions=("2025-03-02", "2026-03-02")))
    assert found.table["last_season"].isna().all()
    assert "not shown" in found.method


def test_a_lot_alone_and_words_not_tasted_are_told() -> None:
    scores = room(lots=2)
    frame = scores.frame[["session", "lot", "taster", "pot", "descriptor", "score"]]
    frame = frame[~((frame["lot"] == "000") & (frame["descriptor"] == "bright"))]
    register = pd.DataFrame({"lot": ["000", "001"], "class": ["a", "b"]})
    told = described(pst.read_scores(frame, room={"lots": register, "descriptors": scores.descriptors})).lots.iloc[0]
    assert told["said"] == words.BY_ITSELF
    assert told["not_tasted"] == "Not tasted: infused leaf (nothing of it)."


def test_the_page_names_no_taster_tells_faults_and_keeps_to_one_leaf_a_lot(tmp_path: Path) -> None:
    scores = pst.read_scores(Path(__file__).parents[2] / "data" / "bench")
    page = pst.write_summary(scores, tmp_path / "buyer.html", lots=["418", "411"]).read_text("utf-8")
    for taster in scores.tasters["taster"].astype(str):
        assert not re.search(rf"\b{taster}\b", page), taster
    assert "noticed by" in page
    assert "smoky" in page.casefold()
    assert page.count('class="lot-page"') == 2
    for caution in ("let it cool", "caffeine", "mouldy", "allergens"):
        assert caution in page.casefold()
    assert "nan" not in re.sub(r"<style.*?</style>", "", page, flags=re.S)
    assert scores.digest in page


def test_the_code_of_a_lot_hangs_on_the_input_and_the_lot(tmp_path: Path) -> None:
    codes = [
        re.findall(r"Code ([0-9a-f]{8})", pst.write_summary(each, tmp_path / f"{at}.html").read_text("utf-8"))
        for at, each in enumerate((room(seed=1), room(seed=1), room(seed=2)))
    ]
    assert codes[0] == codes[1]
    assert len(set(codes[0])) == 8
    assert not set(codes[0]) & set(codes[2])
    other = pst.write_summary(room(seed=1), tmp_path / "other.html", level=0.9).read_text("utf-8")
    assert not set(codes[0]) & set(re.findall(r"Code ([0-9a-f]{8})", other))


def test_a_day_of_one_look_is_told_from_its_short_list(tmp_path: Path) -> None:
    source = Path(__file__).parents[2] / "data" / "row"
    asked = ["summary", str(source), "--lots", "1101", "1106", "--densities", str(source / "densities.csv"), "--grams",
             "250", "--millilitres", "900", "--out", str(tmp_path / "row.html")]  # fmt: skip
    assert main(asked) == 0
    page = (tmp_path / "row.html").read_text("utf-8")
    assert "g/ml" in page
    assert "one look each" in page


def test_a_lot_that_was_not_tasted_is_refused() -> None:
    with pytest.raises(pst.DesignError, match="no such lot"):
        described(room(), lots=["999"])


def test_the_answer_names_the_lots_asked_for_and_no_other() -> None:
    """Twelve lots of the row are weighed, 1106 light for its grade: nothing of it where 1101 alone is told of."""
    day = pst.read_scores(Path(__file__).parents[2] / "data" / "row")
    told = {verdict.subject: str(verdict) for verdict in pst.review_summary(day, lots=["1101"]).verdicts}
    assert set(told) <= {"1101", "", "no fault"}
    assert told["1101"].startswith("1101: less strength")
    assert "1106" in {verdict.subject for verdict in pst.review_summary(day, lots=["1106"]).verdicts}


def test_lots_may_be_named_with_spaces_or_commas(tmp_path: Path) -> None:
    sheet = tmp_path / "week.csv"
    named = [f"{lot},{who},{4 + (n * 3 + k) % 5}\n" for n, lot in enumerate(["1", "2", "3", '"4,5"'])
             for k, who in enumerate("ab")]  # fmt: skip
    sheet.write_text("lot,taster,brisk\n" + "".join(named))
    for typed in (["1,2", "4,5"], ["1", "2", "4,5"]):
        assert main(["summary", str(sheet), "--lots", *typed]) == 0
        page = sheet.with_name("week-summary.html").read_text("utf-8")
        assert re.findall(r'<h2 id="lot-\d"><bdi>(.*?)</bdi>', page) == ["1", "2", "4,5"]


def test_a_catalogue_is_put_on_one_scale_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The scale looks at every strip of every lot: once for each lot, 2,000 lots took minutes."""
    asked: list[int] = []
    whole = summary.scale_of

    def counted(charts: list, **how: int) -> object:
        asked.append(len(charts))
        return whole(charts, **how)

    monkeypatch.setattr(summary, "scale_of", counted)
    values = summary.blocks(pst.review_summary(room(lots=8)))
    assert asked == [sum(len(lot.strips) for lot in values["lots"])] == [16]
