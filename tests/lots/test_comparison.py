import numpy as np
import pandas as pd
import pytest
from scipy.stats import f as f_distribution

import panelstats as pst
from panelstats.errors import DesignError
from tests.models.published import frame, truth

OWN = {"machines": 1e-8, "machines_unbalanced": 1e-6, "unbalanced": 1e-6, "gauge": 1e-8, "disconnected": 1e-6}

# With three operators the gauge study's lot:taster has 18 df and lies below the error: REML would pool them into 78,
# and lots are tested against lot:taster itself instead. F of parts over the interaction, AIAG's own table.
CLASSICAL = {"F": truth("gauge")["reading"]["classical_F_lot"], "ndf": 9, "ddf": 18}
CLASSICAL["p"] = f_distribution.sf(CLASSICAL["F"], 9, 18)


def compare(name, pots, **options):
    return pst.compare_lots(pst.read_scores(frame(name)), pots=pots, **options)


@pytest.mark.parametrize(("name", "close"), OWN.items())
def test_published_panels_read_as_they_stand_and_answer_as_published(name, close):
    found = compare(name, "own", pairs=True, across="none")
    for descriptor, entry in truth(name).items():
        line = found.anova.set_index("descriptor").loc[descriptor]
        test = entry["lot_test"] if name != "gauge" else CLASSICAL
        np.testing.assert_allclose(
            line[["statistic", "df", "df_error", "p"]].to_numpy(float),
            [test["F"], test["ndf"], test["ddf"], test["p"]],
            rtol=max(close, 1e-8),
        )
        means = found.means[found.means["descriptor"] == descriptor].set_index("lot")
        if name == "gauge":  # its errors too are those of lot:taster alone
            continue
        for mean in entry["lot_means"]:
            got = means.loc[mean["lot"], ["mean", "se", "df", "low", "high"]].to_numpy(float)
            np.testing.assert_allclose(got, [mean[key] for key in ("mean", "se", "df", "low", "high")], rtol=close)
        pairs = found.pairs[found.pairs["descriptor"] == descriptor].set_index(["lot_a", "lot_b"])
        for pair in entry.get("pairs", []):
            got = pairs.loc[(pair["a"], pair["b"])]
            np.testing.assert_allclose(got["difference"], pair["estimate"], rtol=close, atol=1e-9)
            np.testing.assert_allclose(got["p"], pair["p"], rtol=10 * close)
            assert got["p_adjusted"] == pytest.approx(pair["p_range"], abs=1e-7)


def test_few_shared_pots_are_steadied_over_the_descriptors_of_the_stage():
    """Astringency's pots stand out (mean square 3.1 against 0.1 to 1.9): it neither lends nor borrows.

    The pairs with every pot variance lent are checked in tests/models/test_lending.py.
    """
    found = compare("shared_pots_two_lots", "shared", pairs=True)
    lines = found.anova.set_index("descriptor")
    assert set(lines["lot_pot_from"].drop("astringency")) == {"steadied"}
    assert lines.loc["astringency", "lot_pot_from"] == "reml"
    assert set(lines["lot_taster_from"]) == {"steadied"}  # nine df of lot:taster
    assert "few pots: pot SD" in found.method
    assert "steadied over 6 descriptors" in found.method
    assert "the variance of lot:taster is steadied" in found.method


@pytest.mark.parametrize(
    ("name", "descriptor"),
    [("shared_pots_balanced", "briskness"), ("shared_pots_unbalanced", "briskness")],
)
def test_two_descriptors_cannot_lend_so_shared_pots_are_plain_reml(name, descriptor):
    """Balanced astringency is left out: its pots lie below the error, and lot:taster's own 15 df are counted."""
    found = compare(name, "shared", across="none")
    entry, line = truth(name)[descriptor], found.anova.set_index("descriptor").loc[descriptor]
    np.testing.assert_allclose(
        [line["statistic"], line["df_error"]], [entry["lot_test"][k] for k in ("F", "ddf")], rtol=1e-8
    )
    assert "lot:pot" in line["error_term"]


def test_the_wrong_declaration_gives_the_published_wrong_answer():
    """own_pots_model: the same scores without lot:pot."""
    found = compare("shared_pots_balanced", "own", across="none")
    for descriptor, entry in truth("shared_pots_balanced").items():
        line = found.anova.set_index("descriptor").loc[descriptor]
        np.testing.assert_allclose(
            [line["statistic"], line["df_error"]], [entry["own_pots_model"][k] for k in ("F", "ddf")], rtol=1e-8
        )


def test_identical_pots_fall_back_to_cell_means():
    found = compare("identical_pots", "own", across="none")
    entry = truth("identical_pots")["aroma"]
    line = found.anova.iloc[0]
    np.testing.assert_allclose(
        [line["statistic"], line["p"]], [entry["lot_test"]["F"], entry["lot_test"]["p"]], rtol=1e-10
    )
    variance = found.components.set_index("source")["variance"]
    np.testing.assert_allclose(variance[["taster", "residual"]], list(entry["variances"].values()), rtol=1e-10)


# Relative tolerance by data set: reading 1e12 + 0.4 into a double already costs SmLs07 its digits.
NIST = {"SiRstv": 1e-12, "SmLs01": 1e-12, "AtmWtAg": 1e-9, "SmLs04": 1e-9, "SmLs07": 1e-4}


@pytest.mark.parametrize(("name", "close"), NIST.items())
def test_one_taster_is_the_one_way_analysis_that_nist_certifies(name, close):
    table = pd.read_csv("tests/published/models/nist_anova.csv")
    table = table[table["dataset"] == name]
    sheet = pd.DataFrame(
        {
            "lot": table["treatment"].astype(str),
            "taster": "alder",
            "pot": table.groupby("treatment").cumcount() + 1,
            "descriptor": "response",
            "score": table["response"],
        }
    )
    found = pst.compare_lots(pst.read_scores(sheet), pots="own")
    certified = truth("nist_anova")[name]
    line = found.anova.iloc[0]
    assert line["statistic"] == pytest.approx(certified["F"], rel=close)
    assert (line["df"], round(line["df_error"], 6)) == (certified["between_df"], certified["within_df"])
    variance = found.components.set_index("source")["variance"]["residual"]
    assert variance == pytest.approx(certified["within_ms"], rel=close)
    assert "this taster only" in line["error_term"]


def sheet(scores, *, tasters=("alder", "beech", "elm"), pots=(1,), name="strength"):
    """Long sheet from an array (lot, taster, pot); NaN cells are left out."""
    lot, taster, pot = np.nonzero(np.isfinite(scores))
    return pst.read_scores(
        pd.DataFrame(
            {
                "lot": [f"{100 + i}" for i in lot],
                "taster": np.array(tasters)[taster],
                "pot": np.array(pots)[pot],
                "descriptor": name,
                "score": scores[lot, taster, pot],
            }
        )
    )


def only(found):
    (verdict,) = found.verdicts
    return verdict


@pytest.mark.parametrize(
    ("scores", "reason", "words"),
    [
        (np.full((4, 3, 1), 5.0), "no variation", "every score is one value"),
        (np.arange(4.0)[:, None, None] + np.arange(3.0)[:, None] * np.ones((1, 1)), "no error", "in step"),
        (np.arange(4.0)[:, None, None], "no degrees of freedom", "one look by one taster"),
        (np.array([[[5.0], [6.0], [4.5]]]), "one lot", "one lot"),
    ],
)
def test_data_that_cannot_answer_say_so_and_what_to_do(scores, reason, words):
    found = pst.compare_lots(sheet(scores, tasters=("alder", "beech", "elm")[: scores.shape[1]]))
    assert found.anova["reason"].iloc[0].startswith(reason)
    assert found.anova["p"].isna().all()
    assert only(found).call == "cannot tell"
    assert words in only(found).sentence
    assert only(found).next_step
    assert len(found.means) == len(scores)


def test_one_lot_has_a_mean_from_the_spread_of_its_tasters():
    """Student's t on T - 1 degrees of freedom (textbook)."""
    found = pst.compare_lots(sheet(np.array([[[5.0], [6.0], [4.5]]])))
    row = found.means.iloc[0]
    scores = np.array([5.0, 6.0, 4.5])
    assert row["mean"] == pytest.approx(scores.mean())
    assert row["se"] == pytest.approx(scores.std(ddof=1) / np.sqrt(3))
    assert row["df"] == pytest.approx(2)


def test_a_lot_nobody_scored_on_a_word_keeps_its_row_there():
    rng = np.random.default_rng(0)
    scores = rng.normal(5, 1, (4, 3, 2)).round(1)
    first = sheet(scores, pots=(1, 2)).frame
    second = first[first["lot"] != "103"].assign(descriptor="body")
    both = pd.concat([first.astype({"descriptor": str}), second.astype({"descriptor": str})])
    found = pst.compare_lots(pst.read_scores(both.drop(columns=["position", "session"])))
    row = found.means[(found.means["descriptor"] == "body") & (found.means["lot"] == "103")].iloc[0]
    assert np.isnan(row["mean"])
    assert row["tasters"] == 0
    assert found.anova.set_index("descriptor")["df"].to_dict() == {"strength": 3.0, "body": 2.0}


def test_the_charts_of_all_descriptors_are_those_of_each():
    room = pst.example.bench()
    found = pst.compare_lots(pst.read_scores(room.frame, room=room.registers))
    charts = found.charts()
    assert {*charts} == {*found.means["descriptor"]}
    assert all(repr(chart) == repr(found.chart(name)) for name, chart in charts.items())


def panel(rng, lots, tasters, pots, sd, spread):
    return (
        5
        + rng.normal(0, spread, (lots, 1, 1))
        + rng.normal(0, 0.5, (1, tasters, 1))
        + rng.normal(0, 0.4, (lots, tasters, 1))
        + rng.normal(0, sd, (lots, 1, pots))
        + rng.normal(0, 0.7, (lots, tasters, pots))
    )


NAMES = ("alder", "beech", "elm", "larch", "yew", "spruce", "poplar", "hornbeam")


def test_control_is_shown_but_in_no_pair_and_in_no_test():
    rng = np.random.default_rng(4)
    scores = panel(rng, 5, 6, 2, 0.0, 0.0)
    scores[4] += 4  # the control is far from all others
    source = sheet(scores, tasters=NAMES[:6], pots=(1, 2))
    room = {"lots": pd.DataFrame({"lot": ["104"], "role": ["control"]})}
    source = pst.read_scores(source.frame.drop(columns=["session", "position"]), room=room)
    found = pst.compare_lots(source, pots="own", pairs=True)
    assert found.anova["df"].iloc[0] == 3
    assert "104" not in set(found.pairs["lot_a"]) | set(found.pairs["lot_b"])
    assert "104" in set(found.means["lot"])
    assert found.anova["p"].iloc[0] > 0.05
    against = pst.compare_lots(source, pots="own", control="104")
    assert set(against.pairs["lot_b"]) == {"104"}
    assert len(against.pairs) == 4
    assert (against.pairs["p_adjusted"] < 0.001).all()


def test_dunnett_on_complete_data_equals_the_exact_quadrature():
    """scipy.stats.dunnett is one-way and randomised; the product form is checked in tests/models. Here: k = 1 is t."""
    rng = np.random.default_rng(5)
    found = pst.compare_lots(
        sheet(panel(rng, 2, 5, 2, 0, 1), tasters=NAMES[:5], pots=(1, 2)), pots="own", control="100"
    )
    row = found.pairs.iloc[0]
    assert row["p_adjusted"] == pytest.approx(row["p"], rel=1e-7)


def test_more_than_twenty_lots_get_merit_and_no_letters():
    rng = np.random.default_rng(6)
    source = sheet(panel(rng, 25, 4, 1, 0, 1.0), tasters=NAMES[:4])
    found = pst.compare_lots(source)
    assert len(found.merit) == 25
    assert found.pairs.empty
    assert (found.means["letters"] == "").all()
    assert "before this panel tells them apart" in found.verdicts[0].sentence
    few = pst.compare_lots(sheet(panel(rng, 6, 4, 1, 0, 1.0), tasters=NAMES[:4]))
    assert few.merit.empty


def test_letters_share_exactly_where_pairs_are_not_told_apart():
    rng = np.random.default_rng(8)
    found = pst.compare_lots(sheet(panel(rng, 9, 8, 2, 0, 1.0), tasters=NAMES, pots=(1, 2)), pots="own")
    letters = dict(zip(found.means["lot"], found.means["letters"], strict=True))
    assert len(found.pairs) == 36
    for row in found.pairs.itertuples():
        assert bool(set(letters[row.lot_a]) & set(letters[row.lot_b])) == (row.p_adjusted >= 0.05)


def test_lots_shown_to_be_within_tolerance_are_called_so():
    rng = np.random.default_rng(9)
    scores = panel(rng, 3, 8, 6, 0, 0.0)
    found = pst.compare_lots(sheet(scores, tasters=NAMES, pots=range(1, 7)), pots="own", tolerance=1.5)
    assert only(found).call == "within tolerance"
    assert "at most" in only(found).sentence


def test_one_shared_brew_a_lot_is_said():
    rng = np.random.default_rng(10)
    found = pst.compare_lots(sheet(panel(rng, 4, 6, 1, 0.3, 1.5), tasters=NAMES[:6]))
    assert "Each lot stands on one brew" in found.method
    assert found.verdicts[0].call == "these brews differ"
    assert "whether the teas do, one brew cannot tell" in found.verdicts[0].sentence
    assert "Brew each lot at least twice" in found.verdicts[0].next_step
    assert "Pots were not declared; taken as shared, the careful choice." in found.method


@pytest.mark.parametrize(("stage", "call"), [("liquor", "these brews differ"), ("dry leaf", "differ")])
def test_one_brew_that_all_tasted_again_is_one_brew_still(stage, call):
    """Two tastings of it tell the palates' error and nothing of a second brew; of a tray of leaf nothing is brewed."""
    rng = np.random.default_rng(12)
    source = sheet(panel(rng, 4, 6, 2, 0.3, 1.5), tasters=NAMES[:6], pots=(1, 2)).frame
    source = source.drop(columns=["session", "position"])
    words = pd.DataFrame({"descriptor": source["descriptor"].astype(str).unique(), "stage": stage})
    scores = pst.read_scores(source, room={"descriptors": words})
    assert pst.compare_lots(scores, pots="same").verdicts[0].call == call
    assert pst.compare_lots(scores, pots="own").verdicts[0].call == "differ"
    lots = sorted(source["lot"].astype(str).unique())
    matched = pst.match_standard(scores, lots[0], tolerance=9.0, pots="same").table["call"]
    assert set(matched) == ({"cannot tell"} if stage == "liquor" else {"match"})


def test_tasters_blind_within_far_classes_are_not_said_to_tell_lots_apart():
    """Classes three points apart, nothing but noise inside them."""
    rng = np.random.default_rng(11)
    scores = panel(rng, 30, 6, 1, 0, 0.0) + np.repeat([0.0, 3.0, 6.0], 10)[:, None, None] - 3
    source = sheet(scores, tasters=NAMES[:6]).frame.drop(columns=["session", "position"])
    lots = pd.DataFrame({"lot": [f"{100 + i}" for i in range(30)], "class": np.repeat(["low", "middle", "high"], 10)})
    scores = pst.read_scores(source, room={"lots": lots})
    assert all(verdict.call == "cannot tell" for verdict in pst.compare_lots(scores).verdicts)
    agreement = pst.panel_agreement(scores)
    assert set(agreement.table["call"]) == {"too alike to judge"}
    assert all("agree on the lots. Share" not in verdict.sentence for verdict in agreement.verdicts)
    assert agreement.classes["p"].iloc[0] < 1e-6
    assert agreement.classes["classes"].iloc[0] == 3


def test_lots_without_a_link_are_named():
    found = compare("disconnected", "own")
    lines = found.checks[found.checks["check"] == "not linked"]
    assert len(lines) == 1
    for part in truth("disconnected")["strength"]["components"]:
        assert ", ".join(part["lots"]) in lines["sentence"].iloc[0]


@pytest.mark.parametrize("bad", [{"adjust": "bonferroni"}, {"across": "x"}, {"lots": "mixed"}, {"control": "999"}])
def test_impossible_arguments_are_refused(bad):
    with pytest.raises(DesignError, match="do:"):
        compare("machines", "own", **bad)


@pytest.mark.parametrize(("level", "said"), [(0.95, "95 %"), (0.975, "97.5 %"), (0.999, "99.9 %")])
def test_a_sentence_names_the_level_that_was_asked_for(level, said):
    found = compare("machines", "own", level=level)
    assert f"({said} interval" in found.verdicts[0].sentence


def test_order_of_rows_changes_nothing():
    table = frame("unbalanced")
    shuffled = table.sample(frac=1, random_state=1)
    one, two = (pst.compare_lots(pst.read_scores(t), pots="own").means for t in (table, shuffled))
    merged = one.merge(two, on=["descriptor", "lot"], suffixes=("", "_again"))
    np.testing.assert_allclose(merged["mean"], merged["mean_again"], rtol=1e-10)
    np.testing.assert_allclose(merged["se"], merged["se_again"], rtol=1e-8)


def test_classical_table_is_the_published_one():
    """AIAG gauge study: sums of squares 88.3619, 3.1673, 0.3590, 2.7589; F of lots over interaction."""
    found = compare("gauge", "own")
    table = found.mean_squares.set_index("source")
    sums = table["mean_square"] * table["df"]
    np.testing.assert_allclose(
        sums[["lot", "taster", "lot:taster", "residual"]], [88.3619, 3.1673, 0.3590, 2.7589], atol=5e-5
    )
    assert table.loc["lot", "statistic"] == pytest.approx(truth("gauge")["reading"]["classical_F_lot"], rel=1e-9)


def test_own_pots_that_move_together_are_reported():
    rng = np.random.default_rng(12)
    scores = panel(rng, 12, 8, 2, 0.6, 1.0)
    room = {"sessions": pd.DataFrame({"session": ["1"], "pots": ["own"]})}
    table = sheet(scores, tasters=NAMES, pots=(1, 2)).frame.drop(columns=["position"]).assign(session="1")
    assert "were the pots shared?" in pst.compare_lots(pst.read_scores(table, room=room)).method
    apart = sheet(panel(rng, 12, 8, 2, 0.0, 1.0), tasters=NAMES, pots=(1, 2)).frame.drop(columns=["position"])
    assert "were the pots shared?" not in pst.compare_lots(pst.read_scores(apart.assign(session="1"), room=room)).method


def test_limits_of_a_component_hold_its_estimate():
    table = compare("machines", "own").components.dropna(subset=["high"])
    assert set(table["source"]) == {"lot", "taster", "lot:taster", "residual"}
    assert (table["low"] < table["sd"]).all()
    assert (table["sd"] < table["high"]).all()


def test_all_pairs_of_many_lots_are_given_without_letters():
    rng = np.random.default_rng(16)
    found = pst.compare_lots(
        sheet(panel(rng, 24, 4, 2, 0, 1.0), tasters=NAMES[:4], pots=(1, 2)), pots="own", pairs=True
    )
    assert len(found.pairs) == 24 * 23 / 2
    assert (found.means["letters"] == "").all()


def test_limits_in_sentences_are_never_rounded_onto_what_they_keep_clear_of():
    rng, seen = np.random.default_rng(17), 0
    for _ in range(7):
        scores = sheet(panel(rng, 2, 8, 2, 0, 0.0), tasters=NAMES, pots=(1, 2))
        wide = pst.compare_lots(scores, pots="own", pairs=True).pairs.iloc[0]
        size = max(abs(wide["low"]), abs(wide["high"])) * 1.005
        (verdict,) = pst.compare_lots(scores, pots="own", tolerance=size).verdicts
        if verdict.call == "within tolerance":
            assert verdict.numbers["high"] <= float(verdict.sentence.split("(at most ")[1].split(")")[0]) < size
            seen += 1
    assert seen > 3


def _served(session, lots, pots, rng, pot_sd=0.5, tasters=5):
    rows = []
    for lot in lots:
        for pot in range(1, pots + 1):
            brew = pot_sd * rng.standard_normal()
            rows += [
                (session, lot, f"t{k}", pot, 5 + brew + 0.3 * k + 0.5 * rng.standard_normal()) for k in range(tasters)
            ]
    return rows


def test_the_rooms_record_stands_in_for_one_pot_a_lot():
    """Oracle in closed form: a pair's squared error is 2 (MS of lot:taster / T + the record's pot variance)."""
    rng = np.random.default_rng(4)
    columns = ["session", "lot", "taster", "pot", "brisk"]
    past = pd.DataFrame(
        [row for k in range(4) for row in _served(f"s{k}", [f"p{k}{n}" for n in range(4)], 3, rng)], columns=columns
    )
    today = pd.DataFrame(_served("s9", [f"L{n}" for n in range(6)], 1, rng), columns=columns)
    room = pst.room_error(pst.read_scores(past), pots="shared")
    scores = pst.read_scores(today)
    alone = pst.compare_lots(scores, pots="shared", pairs=True)
    found = pst.compare_lots(scores, pots="shared", pairs=True, error=room)
    squares = room.squares.groupby("source").apply(
        lambda s: pd.Series(
            {"df": s["df"].sum(), "ss": (s["df"] * s["mean_square"]).sum(), "k_df": (s["df"] * s["pot"]).sum()}
        )
    )
    pots, cups = squares.loc["repeats"], squares.loc["cups"]
    expected = (pots["ss"] - pots["df"] * cups["ss"] / cups["df"]) / pots["k_df"]
    table = today.pivot_table(index="lot", columns="taster", values="brisk")
    residual = table.sub(table.mean(axis=1), axis=0) - table.mean() + table.to_numpy().mean()
    ms = (residual.to_numpy() ** 2).sum() / 20
    assert found.pairs["se"].iloc[0] ** 2 == pytest.approx(2 * (ms / 5 + expected), rel=0.02)
    assert alone.pairs["se"].iloc[0] ** 2 == pytest.approx(2 * ms / 5, rel=1e-6)
    assert found.pairs["df"].iloc[0] < alone.pairs["df"].iloc[0] + 1e-9 or found.pairs["df"].iloc[0] < 200
    assert set(found.anova["lot_pot_from"]) == {"room's record"}
    assert "one brew" not in " ".join(map(str, found.verdicts)).lower()
    assert "earlier sessions" in found.method


def test_a_short_record_changes_nothing():
    rng = np.random.default_rng(5)
    columns = ["session", "lot", "taster", "pot", "brisk"]
    past = pd.DataFrame(_served("s1", ["p1", "p2"], 2, rng), columns=columns)
    today = pst.read_scores(pd.DataFrame(_served("s2", [f"L{n}" for n in range(4)], 2, rng), columns=columns))
    room = pst.room_error(pst.read_scores(past), pots="shared")
    with_record = pst.compare_lots(today, pots="shared", error=room)
    pd.testing.assert_frame_equal(with_record.anova, pst.compare_lots(today, pots="shared").anova)


@pytest.mark.parametrize("seed", range(4))
def test_one_lot_of_two_pots_shows_no_variance_below_none(seed):
    rng = np.random.default_rng(seed)
    marks = [("L1", t, pot, *np.round(2 * rng.normal(5, 1, 2)) / 2) for t in ("elm", "yew") for pot in (1, 2)]
    sheet = pd.DataFrame(marks, columns=["lot", "taster", "pot", "brisk", "body"])
    found = pst.compare_lots(pst.read_scores(sheet)).components
    assert not (found["variance"] < 0).any()
    assert found.loc[found["variance"].notna(), "sd"].notna().all()


def test_merits_of_unlike_classes_are_those_of_their_own_lots():
    """Classes of one session share a fit; each has the merits of its lots, and of no others."""
    rng = np.random.default_rng(4)
    lots = [f"L{n}" for n in range(9)]
    sheet = pd.DataFrame([(lot, "few" if n < 3 else "many", taster, pot, 5 + n % 4 + rng.normal())
                          for n, lot in enumerate(lots) for taster in "tuv" for pot in (1, 2)],
                         columns=["lot", "class", "taster", "pot", "brisk"])  # fmt: skip
    found = pst.compare_lots(pst.read_scores(sheet), lots="random", pots="shared")
    assert found.merit.groupby("class", sort=False)["lot"].agg(list).to_dict() == {"few": lots[:3], "many": lots[3:]}
    wide = found.merit.merge(found.means, on=["class", "descriptor", "lot"])
    assert (wide["merit"].abs() < wide["deviation"].abs()).all()
    assert (np.sign(wide["merit"]) == np.sign(wide["deviation"])).all()
