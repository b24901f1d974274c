"""The page of a season: who moved and since when first, a picture for each, everybody in a table."""

import contextlib
import dataclasses

import numpy as np
import openpyxl
import pandas as pd
import pytest
from browser import needs_browser
from checks import figures_have_words, fits, stays_silent

import panelstats as pst
from panelstats.cli import main
from panelstats.panel.season.words import HONEST_RATES
from panelstats.report.pages.page import page_of, write_report
from panelstats.report.pages.seasontaster import season_taster_page
from panelstats.review import Review
from tests.calibration.table import RATES, read
from tests.calibration.trials.seasons import ALARM, DRIFTING

# Rooms of tests/calibration/rates.md whose rates the page gives.
MEASURED = {
    "three": (ALARM, " 3 tasters, 2 own pots"),
    "six": (ALARM, " 6 tasters, 2 own pots"),
    "ten": (ALARM, " 10 tasters, 2 own pots"),
    "alike": (ALARM, "neighbouring sessions alike (0.3)"),
    "trends": (DRIFTING, "neighbouring sessions alike (0.3)"),
    "more": (ALARM, "neighbouring sessions more alike (0.5)"),
    "more_trends": (DRIFTING, "neighbouring sessions more alike (0.5)"),
}
NAMES = ["<b>elm</b>", "yew", "larch", "beech", "שקד"]


def sheet(*, jump=2.0, tasters=tuple(NAMES), sessions=24, lots=6):
    """A season in which the first taster jumps on strength and loses repeats from session 12 on."""
    rng = np.random.default_rng(4)
    rows = [
        (f"2031-{1 + week // 4:02d}-{1 + 7 * (week % 4):02d}", f"{week}-{lot}", taster, pot, *(
            tea + rng.normal(0, 0.4 + 0.6 * bool(jump) * (at == 0 and week >= 12), 2)
            + [jump * (at == 0 and week >= 12), 0.0]
        ))
        for week in range(sessions) for lot in range(lots) for tea in [5 + rng.normal()]
        for at, taster in enumerate(tasters) for pot in (1, 2)
    ]  # fmt: skip
    columns = ["session", "lot", "taster", "pot", "strength", "=brisk"]
    return pd.DataFrame(rows, columns=columns).round(1)


@pytest.fixture(scope="module")
def moved():
    return pst.review_season(pst.read_scores(sheet()))


@pytest.fixture(scope="module")
def quiet():
    return pst.review_season(pst.read_scores(sheet(jump=0.0, sessions=14)))


def test_it_opens_with_who_moved_and_since_when(moved):
    page = page_of(moved).decode()
    opening = page[page.index('id="first-screen"') : page.index('id="everyone"')]
    assert "since 2031-04-01" in opening
    assert "&lt;b&gt;elm&lt;/b&gt;" in opening
    assert "<b>elm</b>" not in page
    assert opening.count("<figure") >= 2  # level and repeats


def test_everybody_has_a_row(moved):
    page = page_of(moved).decode()
    table = page[page.index('id="everyone"') :]
    table = table[: table.index("</table>")]
    assert table.count("<tr>") == 1 + len(NAMES)
    assert "strength: jumped since 2031-04-01" in table


def test_who_no_longer_comes_is_greyed_and_said_so():
    rows = sheet()
    gone = rows[(rows["taster"] != NAMES[0]) | (rows["session"] < "2031-06-01")]
    review = pst.review_season(pst.read_scores(gone))
    page = page_of(review).decode()
    table = page[page.index('id="everyone"') :]
    assert table[: table.index("</table>")].count('class="quiet">not seen since 2031-05-22') == 1
    assert "Jumped, since 2031-04-01; not seen since 2031-05-22" in " ".join(page.split())
    assert 'class="level unjudged"' in page
    assert 'class="level urgent"' not in page
    own = season_taster_page(review, NAMES[0]).decode()
    assert own.count('<tr class="quiet">') == 4


def test_who_wanders_is_told_beside_the_charts(quiet):
    assert 'id="cautions"' not in page_of(quiet).decode()
    rng, rows = np.random.default_rng(6), sheet(jump=0.0)
    day = rows["session"].map({name: 1.5 * rng.normal() for name in rows["session"].unique()})
    rows["=brisk"] = (rows["=brisk"] + day * (rows["taster"] == "yew")).round(1)
    page = page_of(pst.review_season(pst.read_scores(rows))).decode()
    section = page[page.index('aria-labelledby="cautions"') :]
    assert "yew" in section[: section.index("</section>")]
    assert "wanders from session to session" in section[: section.index("</section>")]


def test_a_quiet_season_does_not_say_that_nobody_moved(quiet):
    page = page_of(quiet).decode()
    assert "not the same as no move" in page
    assert "<figure" not in page[: page.index('id="everyone"')]


def test_the_honest_rate_of_false_alarms_is_printed(quiet):
    page = page_of(quiet).decode()
    assert "has a chance of at most 5 % if nobody moves" in page
    rates = {key: row.cells for key, row in read(RATES).items()}
    assert set(HONEST_RATES) == set(MEASURED)
    for name, told in HONEST_RATES.items():
        claim, ending = MEASURED[name]
        (cells,) = [cells for (said, room), cells in rates.items() if said == claim and room.endswith(ending)]
        assert f"{cells[3].split()[0]} %" == told
        assert told in page


def test_what_the_row_does_is_told_in_a_section_of_its_own_where_places_are_known(moved):
    assert 'id="row"' not in page_of(moved).decode()  # no place was recorded
    rng = np.random.default_rng(3)
    rows = [
        (f"2031-01-{1 + day:02d}", f"{day}-{lot}", taster, place + 1, tea[lot] + 0.2 * place * (taster == NAMES[0]))
        for day in range(4) for tea in [rng.normal(5, 1, 8)] for taster in NAMES
        for place, lot in enumerate(rng.permutation(8))
    ]  # fmt: skip
    table = pd.DataFrame(rows, columns=["session", "lot", "taster", "position", "strength"])
    table["strength"] = (table["strength"] + rng.normal(0, 0.2, len(table))).round(1)
    page = page_of(pst.review_season(pst.read_scores(table))).decode()
    section = page[page.index('aria-labelledby="row"') :]
    section = section[: section.index("</section>")]
    assert "marks for strength rise along the row by" in section
    assert "&lt;b&gt;elm&lt;/b&gt;" in section
    assert page.count("Shorten the row") == 1  # once, among what to do next
    assert "No sway of the row or of the lot before was shown for" in section


def test_repeats_half_against_half_have_a_section_of_their_own(moved):
    page = page_of(moved).decode()
    section = page[page.index('aria-labelledby="halves"') :]
    section = section[: section.index("</section>")]
    assert "repeats wider" in section
    assert "&lt;b&gt;elm&lt;/b&gt;" in section
    assert "No change of repeats from the first half to the second was shown for" in section
    assert "Repeats, half against half" in page


def test_the_workbook_holds_every_table(moved, tmp_path):
    book = openpyxl.load_workbook(pst.write_workbook(moved, tmp_path / "season.xlsx"))
    said = "\n".join(str(cell.value) for page in book for row in page.iter_rows() for cell in row if cell.value)
    assert "since_low" in said or "since low" in said
    assert "2031-04-01" in said


def test_the_picture_of_a_taster_leaves_a_gap_where_he_was_absent(moved):
    audit = moved.find(pst.SeasonAudit)
    gone = audit.series[(audit.series["taster"] != "yew") | (audit.series["session"] != "2031-02-08")]
    chart = dataclasses.replace(audit, series=gone).chart("strength", taster="yew")
    assert len(chart.rows) == 24
    assert np.isnan([row.value for row in chart.rows if row.label == "2031-02-08"]).all()
    assert pst.draw(audit).get_xlabel()


def test_the_command_reads_a_folder_of_sessions_and_stops_where_told(tmp_path, capsys):
    folder = tmp_path / "year"
    folder.mkdir()
    for day, rows in sheet(tasters=("elm", "yew", "larch", "beech", "alder")).groupby("session"):
        rows.to_csv(folder / f"{day}.csv", index=False)
    assert main(["season", str(folder), "--out", str(tmp_path)]) == 0
    told = capsys.readouterr().out.replace("\n  ", " ")
    assert "elm has scored strength higher since 2031-04-01" in told
    assert (tmp_path / "year-season.html").exists()
    assert main(["season", str(folder), "--out", str(tmp_path), "--until", "2031-03-22"]) == 0
    told = capsys.readouterr().out.replace("\n  ", " ")
    assert "Season 2031-01-01 to 2031-03-22" in told
    assert "elm has" not in told
    assert main(["season", str(folder), "--out", str(tmp_path), "--until", "yesterday"]) == 2
    assert "neither a session nor a date" in capsys.readouterr().err


def test_reading_several_files_says_which_of_how_many(tmp_path):
    for day, rows in sheet(tasters=("elm", "yew"), sessions=3).groupby("session"):
        rows.to_csv(tmp_path / f"{day}.csv", index=False)
    told: list[str] = []
    pst.read_scores(tmp_path, progress=told.append)
    assert told == [f"reading {at} of 3: 2031-01-{day}.csv" for at, day in ((1, "01"), (2, "08"), (3, "15"))]
    told.clear()
    pst.read_scores(tmp_path / "2031-01-01.csv", progress=told.append)
    assert told == []


def test_a_tasters_own_page_opens_with_what_moved_and_shows_every_chart(moved):
    page = season_taster_page(moved, NAMES[0]).decode()
    opening = page[: page.index('id="picture"')]
    assert "&lt;b&gt;elm&lt;/b&gt;" in opening
    assert "<b>elm</b>" not in page
    assert "has scored strength higher since 2031-04-01" in opening
    table = page[page.index('id="charts"') : page.index("</table>")]
    assert table.count("<tr>") == 1 + 4  # two descriptors' level, repeats, order
    assert page.count("<figure") == 3
    other = season_taster_page(moved, "yew").decode()
    assert "jumped" not in other[: other.index('id="method"')]
    said = other[other.index("<h1>") : other.index('id="picture"')]
    assert "yew" in said
    assert "steady on" in said
    assert "since 2031" not in said


def test_a_page_of_nobody_is_refused(moved):
    with pytest.raises(pst.DesignError, match="no such taster"):
        season_taster_page(moved, "birch")


def test_a_newcomer_of_few_sessions_has_a_page_that_says_so():
    late = sheet(tasters=("elm", "yew", "larch", "beech"), jump=0.0, sessions=12)
    late = late[(late["taster"] != "beech") | (late["session"] > "2031-03-20")]
    page = season_taster_page(pst.review_season(pst.read_scores(late)), "beech").decode()
    assert "1 session so far, too few to say anything" in page


def test_the_command_writes_a_page_for_each_taster_or_nothing_at_all(tmp_path, capsys, monkeypatch):
    source = tmp_path / "year.csv"
    sheet(tasters=("elm", "yew", "larch"), sessions=9).to_csv(source, index=False)
    assert main(["season", str(source), "--taster-sheets"]) == 0
    assert "sheets:" in capsys.readouterr().out
    folder = tmp_path / "year-season-tasters"
    assert sorted(path.stem for path in folder.iterdir()) == ["elm", "larch", "yew"]
    before = {path: path.read_bytes() for path in [*folder.iterdir(), *tmp_path.glob("year-season.*")]}

    def stopped(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("panelstats.report.pages.seasontaster.season_taster_page", stopped)
    with contextlib.suppress(KeyboardInterrupt):
        main(["season", str(source), "--taster-sheets", "--until", "2031-02-08"])
    assert {path: path.read_bytes() for path in [*folder.iterdir(), *tmp_path.glob("year-season.*")]} == before
    assert {path.name for path in tmp_path.iterdir()} == {
        "year.csv", "year-season.html", "year-season.xlsx", "year-season-tasters",
    }  # fmt: skip


def test_a_corrupt_session_stops_the_season_or_is_set_aside_when_told(tmp_path, capsys):
    folder = tmp_path / "year"
    folder.mkdir()
    rows = sheet(tasters=("elm", "yew", "larch"), sessions=3)
    for day, some in rows.groupby("session"):
        some.astype({"strength": object}).to_csv(folder / f"{day}.csv", index=False)
    text = (folder / "2031-01-08.csv").read_text().splitlines()
    cells = text[3].split(",")
    cells[4] = "six"
    (folder / "2031-01-08.csv").write_text("\n".join([*text[:3], ",".join(cells), *text[4:]]))
    assert main(["season", str(folder), "--out", str(tmp_path)]) == 2
    told = capsys.readouterr().err
    assert "2031-01-08.csv" in told
    assert "six" in told
    assert not list(tmp_path.glob("*.html"))
    assert main(["season", str(folder), "--out", str(tmp_path), "--set-aside"]) == 0
    assert "set aside" in (tmp_path / "year-season.html").read_text()


@needs_browser
@pytest.mark.parametrize("case", ["moved", "quiet", "taster"])
def test_in_a_browser_it_fits_is_silent_and_has_its_words(driver, tmp_path, case, moved, quiet):
    review: Review = {"moved": moved, "quiet": quiet}.get(case, moved)
    page = write_report(review, tmp_path / "page.html")
    if case == "taster":
        page.write_bytes(season_taster_page(moved, NAMES[0]))
    fits(driver, page, 390)
    fits(driver, page, 1280)
    stays_silent(driver, page)
    if case != "quiet":
        figures_have_words(driver, page)
