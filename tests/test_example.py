"""The invented room: the same from its seed, as committed under data/, and with its planted truth in the scores."""

from functools import cache
from io import BytesIO
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from openpyxl import load_workbook

import panelstats as pst
from panelstats.errors import DesignError, PanelError
from panelstats.example import write_example
from panelstats.example.write import ROOMS, example_files
from panelstats.scores.cells import DESCRIPTOR, LOT, POT, TASTER

DATA = Path(__file__).parents[1] / "data"
COMMITTED = ["bench", "blends", "new-tasters", "row"]
KEEP_SMALL = 300_000  # bytes, a file


@cache
def made_once(name):
    return ROOMS[name]()


@cache
def files_once(name):
    return example_files(made_once(name))


def values(content):
    """Cell values of every sheet of a workbook."""
    book = load_workbook(BytesIO(content), data_only=True)
    return {page.title: list(page.iter_rows(values_only=True)) for page in book}


@pytest.fixture(scope="module", params=ROOMS)
def room(request):
    return made_once(request.param)


@pytest.fixture(scope="module")
def scored():
    """The bench as (lot, taster, pot, descriptor), NaN where not scored, with its truth."""
    made = made_once("bench")
    names, truth = list(made.truth["descriptors"]), made.truth
    keys = [sorted(set(made.frame[key])) for key in (LOT, TASTER, POT)]
    table = made.frame.set_index([LOT, TASTER, POT])[names].reindex(pd.MultiIndex.from_product(keys))
    return keys, names, table.to_numpy().reshape(*map(len, keys), len(names)), truth


@pytest.mark.parametrize("name", COMMITTED)
def test_what_is_committed_is_what_the_seed_gives(name):
    for path, content in files_once(name).items():
        committed = (DATA / path).read_bytes()
        assert len(committed) < KEEP_SMALL, path
        if path.endswith(".xlsx"):
            assert values(committed) == values(content), path
        else:
            assert committed == content, path


def test_no_sheet_is_committed_that_the_seed_does_not_give():
    made = {path for name in COMMITTED for path in files_once(name)}
    assert {
        str(path.relative_to(DATA)) for path in DATA.rglob("*") if path.is_file() and "-room." not in path.name
    } == made


def test_the_same_seed_gives_the_same_room_and_another_seed_does_not(room):
    again, other = ROOMS[room.name](seed=room.seed), ROOMS[room.name](seed=room.seed + 1)
    for kind in ("sheets", "registers"):
        first, second = getattr(room, kind), getattr(again, kind)
        assert list(first) == list(second)
        for name, table in first.items():
            pd.testing.assert_frame_equal(table, second[name])
    assert room.truth == again.truth
    assert not other.frame.equals(room.frame)


def test_the_same_room_gives_the_same_bytes():
    assert example_files(made_once("bench")) == files_once("bench")


def assert_read(scores, room):
    """Nothing is a problem, every cell is accounted for, and every score is the one that was written."""
    assert scores.problems.empty
    kinds = ["scores", "blanks", "faults", "words", "facts", "set_aside"]
    assert (scores.account["seen"] == scores.account[kinds].sum(axis=1)).all()
    sheet = room.frame
    if "code" in sheet:
        sheet = sheet.merge(room.registers["codes"], on=["session", "code"])
    keys = ["session", LOT, TASTER, POT, DESCRIPTOR]
    written = sheet.melt(keys[:-1], room.truth["descriptors"], DESCRIPTOR, "score").dropna()
    read = scores.frame[[*keys, "score"]].astype(dict.fromkeys(["session", LOT, TASTER, DESCRIPTOR], str))
    for table in (written, read):
        table[POT] = table[POT].astype(int)
    pd.testing.assert_frame_equal(
        read.sort_values(keys, ignore_index=True), written.sort_values(keys, ignore_index=True), check_dtype=False
    )


def test_every_set_is_read_without_loss(room):
    assert_read(pst.read_scores(room.frame, room=room.registers), room)


@pytest.mark.parametrize("name", COMMITTED)
@pytest.mark.parametrize("ending", ["", ".xlsx"])
def test_what_is_committed_is_read_without_loss(name, ending):
    assert_read(pst.read_scores(DATA / f"{name}{ending}"), made_once(name))


def test_scores_are_half_points_from_0_to_10(room):
    scores = room.frame[room.truth["descriptors"]].to_numpy()
    seen = scores[~np.isnan(scores)]
    assert np.isin(seen, np.arange(21) / 2).all()
    assert np.isin(seen, [0, 10]).mean() < 0.02  # nothing is squeezed against an end of the scale


def test_no_number_of_a_name_is_planted_that_the_sheets_do_not_hold(room):
    lots = set(room.registers["lots"][LOT])
    tasters = set(room.registers["tasters"][TASTER])
    for fact in room.truth["planted"]:
        known = {"lot": lots, "pot": lots, "taster": tasters, "trainee": tasters}.get(fact["about"])
        assert known is None or fact["who"] in known
    assert set(room.truth["lots"]) == lots


def test_every_sheet_and_register_names_only_what_is_declared(room):
    sheet, registers = room.frame, room.registers
    assert set(sheet[TASTER]) == set(registers["tasters"][TASTER])
    assert set(sheet["session"]) == set(registers["sessions"]["session"])
    assert set(room.truth["descriptors"]) <= set(registers["descriptors"][DESCRIPTOR])


def test_csv_and_workbook_hold_the_same_sheets():
    room = made_once("bench")
    files = example_files(room)
    header, *rows = values(files["bench.xlsx"])["scores"]
    book = pd.DataFrame(rows, columns=header).astype({LOT: str})
    parts = [pd.read_csv(BytesIO(files[f"bench/{name}.csv"]), dtype={LOT: str}) for name in room.sheets]
    pd.testing.assert_frame_equal(book, pd.concat(parts, ignore_index=True), check_dtype=False)


def test_the_biased_taster_stands_above_the_others_by_what_was_planted(scored):
    (_, tasters, _), _, y, truth = scored
    fault = next(f for f in truth["planted"] if f["what"] == "level")
    level = np.nanmean(y, axis=(0, 2, 3))
    who = tasters.index(fault["who"])
    others = np.delete(level, who)
    assert level[who] - others.mean() == pytest.approx(fault["size"], abs=0.15)
    assert np.ptp(others) < 0.3  # nobody else is off by what the room calls a difference, 0.5


def test_the_narrow_taster_uses_the_planted_share_of_the_scale(scored):
    (lots, tasters, _), names, y, truth = scored
    fault = next(f for f in truth["planted"] if f["what"] == "scale_use")
    value = np.array([truth["lots"][lot] for lot in lots]).reshape(2, 12, len(names))
    x = (value - value.mean(axis=1, keepdims=True))[:, :, None, None]
    y = y.reshape(2, 12, len(tasters), 2, len(names))  # (class, lot, taster, pot, descriptor)
    d = y - np.nanmean(y, axis=(1, 3), keepdims=True)
    slope = np.nansum(x * d, axis=(0, 1, 3, 4)) / np.sum(x**2 * ~np.isnan(d), axis=(0, 1, 3, 4))
    who = tasters.index(fault["who"])
    assert slope[who] == pytest.approx(fault["size"], abs=0.1)
    assert np.abs(np.delete(slope, who) - 1).max() < 0.15


def test_only_the_weak_pot_is_far_from_its_sister(scored):
    (lots, _, _), names, y, truth = scored
    weak = [f for f in truth["planted"] if f["about"] == "pot"]
    apart = np.diff(np.nanmean(y, axis=1), axis=1)[:, 0]  # pot 2 less pot 1: (lot, descriptor)
    off = apart[:, [names.index(f["descriptor"]) for f in weak]].sum(axis=1)
    at = lots.index(weak[0]["who"])
    assert weak[0]["pot"] == 2
    assert off[at] == pytest.approx(sum(f["size"] for f in weak), abs=1.5)
    assert np.abs(np.delete(off, at)).max() < 0.5 * np.abs(off[at])


def test_lots_of_a_class_differ_clearly_on_some_descriptors_and_not_at_all_on_others(scored):
    (lots, _, _), names, _, truth = scored
    value = np.array([truth["lots"][lot] for lot in lots]).reshape(2, 12, len(names))
    spread = dict(zip(names, value.std(axis=1, ddof=1).T, strict=True))
    alike = [f["who"] for f in truth["planted"] if f["what"] == "lots of a class alike"]
    assert all((spread[name] == 0).all() for name in alike)
    assert (spread["strength"] > 0.5).all()  # more than the room calls a difference
    assert (np.abs(np.diff(value.mean(axis=1), axis=0))[0] > 1.5).sum() >= 4  # the classes are far apart


def test_the_taint_is_marked_by_those_who_noticed_and_nobody_else():
    made = made_once("bench")
    fault = next(f for f in made.truth["planted"] if f["what"] == "taint")
    marked = made.frame[made.frame["smoky"].notna()]
    assert set(marked[LOT]) == {fault["who"]}
    assert sorted(set(marked[TASTER])) == fault["noticed_by"]
    said = made.frame[made.frame["remarks"].str.contains("smok")]
    assert set(said.index) == set(marked.index)


def facts(room, what):
    return [fact for fact in room.truth["planted"] if fact["what"] == what]


def excess(room, sheet):
    """Scores less the true value of their lot: (row, descriptor)."""
    names = room.truth["descriptors"]
    true = pd.DataFrame(room.truth["lots"], index=names).T
    return sheet[names] - true.loc[sheet[LOT]].to_numpy()


def test_the_row_has_its_repeats_and_a_control_after_every_25_lots():
    made = made_once("row")
    codes, lots = made.registers["codes"], made.registers["lots"].set_index(LOT)
    assert codes["code"].is_unique
    pots = codes.groupby(LOT)[POT].nunique()
    assert (pots[lots.index[lots["role"] == "repeat"]] == 2).all()
    assert (lots["role"] == "repeat").sum() == 12
    assert (pots[lots.index[lots["role"] == ""]] == 1).all()
    first = codes[codes[POT] == 1].assign(row=lambda t: (t[LOT] != "9001").cumsum())
    control = codes.index[codes[LOT] == "9001"]
    before = [first.loc[:at, "row"].iloc[-1] for at in control]
    assert before == list(range(25, 301, 25))
    again = codes[codes[POT].eq(2) & codes[LOT].ne("9001")]
    assert (again.index - codes[codes[POT] == 1].reset_index().set_index(LOT).loc[again[LOT], "index"]).min() >= 40


def test_the_changed_make_went_with_what_was_planted():
    made = made_once("row")
    sheet = made.frame.merge(made.registers["codes"], on=["session", "code"]).merge(made.registers["lots"], on=LOT)
    changed = facts(made, "went with")
    shorter = sheet["fermenting"] == changed[0]["setting"]
    assert set(sheet.loc[shorter, "garden"]) == {changed[0]["who"]}
    assert sheet.loc[shorter, "made"].min() >= changed[0]["since"]
    lot_means = sheet.groupby([LOT, shorter.rename("shorter")], as_index=False)[["brisk", "colour"]].mean()
    after, before = lot_means[lot_means["shorter"]], lot_means[~lot_means["shorter"]]
    for fact in changed:
        name = fact["descriptor"]
        # four standard errors of a difference of two means
        error = np.sqrt(after[name].var() / len(after) + before[name].var() / len(before))
        assert after[name].mean() - before[name].mean() == pytest.approx(fact["size"], abs=4 * error)
        assert abs(fact["size"]) > 4 * error


def test_only_the_light_lot_overflows_the_pack():
    made = made_once("row")
    (fact,) = facts(made, "overflows the pack")
    filled = (
        made.registers["densities"].assign(density=lambda t: t["mass"] / t["volume"]).groupby(LOT)["density"].mean()
    )
    needs = fact["pack"]["grams"] / filled
    assert list(needs.index[needs > fact["pack"]["millilitres"]]) == [fact["who"]]


def test_the_row_says_the_taint_once():
    made = made_once("row")
    (fact,) = facts(made, "taint")
    sheet = made.frame.merge(made.registers["codes"], on=["session", "code"])
    said = sheet[sheet["remarks"] == "smoky"]
    assert list(said[LOT]) == [fact["who"]]
    assert list(said[TASTER]) == fact["noticed_by"]


@pytest.mark.parametrize("name", ["new-tasters", "season"])
def test_who_swaps_follows_the_other_descriptor_and_nobody_else_does(name):
    made = made_once(name)
    for fact in facts(made, "swapped"):
        own, other = fact["descriptor"], fact["reads"]
        since = made.frame[made.frame["session"] >= (fact["since"] or "")].reset_index(drop=True)
        assert following(made, since, own, other) == {fact["who"]}
        before = made.frame[made.frame["session"] < (fact["since"] or "")].reset_index(drop=True)
        assert following(made, before, own, other) == set()


def following(made, sheet, own, other):
    """The tasters whose column `own` goes with the true values of `other` more than with its own."""
    true = pd.DataFrame(made.truth["lots"], index=made.truth["descriptors"]).T.loc[sheet[LOT]].reset_index(drop=True)
    return {
        taster
        for taster, rows in sheet.groupby(TASTER).groups.items()
        if rows_corr(sheet.loc[rows, own], true.loc[rows, other]) > rows_corr(sheet.loc[rows, own], true.loc[rows, own])
    }


def rows_corr(a, b):
    return np.corrcoef(a, b)[0, 1]


def test_the_noisy_taster_repeats_himself_as_badly_as_planted():
    made = made_once("new-tasters")
    (fact,) = facts(made, "repeatability")
    names, seniors = made.truth["descriptors"], set(made.registers["tasters"].query("role == 'senior'")[TASTER])
    within = made.frame.groupby(["session", TASTER, LOT])[names].var().groupby(TASTER).mean().mean(axis=1)
    errors = made.truth["errors_sd"]
    look = within - errors["pot"] ** 2 - 1 / 48  # half points add step^2 / 12
    ratio = np.sqrt(look[fact["who"]]) / np.sqrt(look[list(seniors - {fact["who"]})])
    # some 650 degrees of freedom each, for errors correlated 0.3 over 16 descriptors: four standard errors
    assert ratio.to_numpy() == pytest.approx(fact["size"], rel=4 * 650**-0.5)


@pytest.mark.parametrize(("name", "late"), [("new-tasters", slice(8, None)), ("season", slice(22, None))])
def test_one_trainee_gets_there_and_the_other_does_not(name, late):
    made = made_once(name)
    days = list(made.registers["sessions"]["session"])
    sheet = made.frame.reset_index(drop=True)
    off = (excess(made, sheet) ** 2).mean(axis=1) ** 0.5
    sound = set(made.registers["tasters"][TASTER]) - {f["who"] for f in made.truth["planted"]}
    table = sheet[[TASTER]].assign(late=sheet["session"].isin(days[late]), off=off)
    size = table.pivot_table(index="late", columns=TASTER, values="off")
    (gets,), (stays,) = ([f["who"] for f in facts(made, what)] for what in ("ready", "not yet"))
    usual = size[list(sound)].loc[True]
    assert size.loc[True, gets] < usual.max() * 1.05
    assert size.loc[False, gets] > usual.max() * 1.05
    assert (size[stays] > usual.max() * 1.7).all()


def test_a_beginner_errs_by_what_was_planted():
    made = made_once("new-tasters")
    (fact,) = facts(made, "not yet")
    begins = fact["begins"]
    own = made.frame[made.frame[TASTER] == fact["who"]].reset_index(drop=True)
    cells = excess(made, own).groupby([own["session"], own[LOT]]).mean()
    assert np.abs(cells.mean()).mean() == pytest.approx(begins["level"], abs=0.2)  # up and down by descriptor
    sd, pots, rounding = made.truth["errors_sd"], 2, 1 / 48  # step^2 / 12 for half points
    look = (sd["look"] * begins["look_factor"]) ** 2 + sd["pot"] ** 2 + rounding
    expected = (sd["crossing"] * begins["crossing_factor"]) ** 2 + sd["visit"] ** 2 + look / pots
    assert cells.var().mean() == pytest.approx(expected, rel=0.15)  # 95 df, 16 descriptors: four standard errors


def test_in_the_season_never_more_than_two_are_at_fault():
    made = made_once("season")
    faults = [fact for fact in made.truth["planted"] if fact["about"] == "taster"]
    for day in made.registers["sessions"]["session"]:
        at_fault = {f["who"] for f in faults if f["since"] <= day <= (f["until"] or day)}
        assert len(at_fault) <= 2


def test_in_the_season_drift_and_jump_lie_where_they_were_planted():
    made = made_once("season")
    days = list(made.registers["sessions"]["session"])
    sheet = made.frame.reset_index(drop=True)
    level = excess(made, sheet).groupby([sheet[TASTER], sheet["session"]]).mean()
    (drift,), (jump,) = facts(made, "drifting"), facts(made, "jumped")
    moved = level.loc[drift["who"], drift["descriptor"]]
    assert moved.index.max() == drift["until"]
    since = moved[moved.index >= drift["since"]]
    slope = np.polyfit([days.index(day) for day in since.index], since, 1)[0]
    assert slope == pytest.approx(drift["per_session"], abs=0.04)
    jumped = level.loc[jump["who"], jump["descriptor"]]
    after = jumped.index >= jump["since"]
    assert jumped[after].mean() - jumped[~after].mean() == pytest.approx(jump["size"], abs=0.25)


def test_the_weekly_blend_creeps_from_the_standard():
    made = made_once("season")
    names = made.truth["descriptors"]
    standard = np.array(made.truth["lots"]["S"])
    weeks = np.array([made.truth["lots"][f"B{week}"] for week in range(1, 35)]) - standard
    slope = dict(zip(names, np.polyfit(np.arange(34), weeks, 1)[0], strict=True))
    planted = {fact["descriptor"]: fact["per_session"] for fact in facts(made, "creeps from the standard")}
    for name in names:
        assert slope[name] == pytest.approx(planted.get(name, 0.0), abs=0.01)


def test_blends_differ_by_what_was_planted_and_are_told_apart_accordingly():
    made = made_once("blends")
    names, registers = made.truth["descriptors"], made.registers
    means = made.frame.merge(registers["codes"], on=["session", "code"]).groupby(LOT)[names].mean()
    planted = {fact["descriptor"]: fact["size"] for fact in facts(made, "differs")}
    for name in names:
        assert means.loc["B1", name] - means.loc["S", name] == pytest.approx(0.0, abs=0.7)
        assert means.loc["B2", name] - means.loc["S", name] == pytest.approx(planted.get(name, 0.0), abs=0.7)
    answers = registers["answers"]
    served = answers["order"].str.rpartition(":")
    wanted = [ref or min(set(cups), key=cups.count) for ref, cups in zip(served[0], served[2], strict=True)]
    right = [cups[place - 1] == cup for cups, place, cup in zip(served[2], answers["answer"], wanted, strict=True)]
    share = answers.assign(right=right).groupby(["kind", "test"])["right"].mean()
    for kind, chance in (("triangle", 1 / 3), ("duo-trio", 1 / 2)):
        assert share[kind, "S with B1"] == pytest.approx(chance, abs=0.25)  # three standard errors
        assert share[kind, "S with B2"] == pytest.approx(0.6 + 0.4 * chance, abs=0.25)
        times = answers.loc[answers["kind"] == kind, "order"].value_counts()
        assert times.min() == times.max()  # every order equally often
    assert not set(answers["code"]) & set(registers["codes"]["code"])


def test_nothing_is_overwritten_unless_it_is_allowed(tmp_path):
    write_example(tmp_path)
    write_example(tmp_path)  # the same again stands in nobody's way
    sheet = tmp_path / "bench" / "alder.csv"
    sheet.write_text("somebody's own\n")
    (tmp_path / "README.md").unlink()
    with pytest.raises(PanelError, match="stand where the example should go"):
        write_example(tmp_path)
    assert sheet.read_text() == "somebody's own\n"
    assert not (tmp_path / "README.md").exists()  # refused before the first file was written
    write_example(tmp_path, overwrite=True)
    assert sheet.read_bytes() == (DATA / "bench" / "alder.csv").read_bytes()


def test_an_unknown_example_is_told_what_there_is():
    with pytest.raises(DesignError, match="bench"):
        write_example("unused", which="bank")
