"""What is said of a plan, branch by branch, from figures made up here; what it proves, from the formulas by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy.stats import chi2, nct, norm, t

import panelstats as pst
from panelstats.plan.session import words
from panelstats.plan.session.plancalls import (
    codes_verdict,
    compare_verdict,
    load_verdict,
    order_verdicts,
    proof_verdict,
    repeat_verdict,
)
from panelstats.plan.session.proof import Looks, least_differences, noncentrality, room_variances, sd_factors
from panelstats.result import Act


def request(**more):
    told = {"tasters": ["elm", "yew"], "lots": list("abcd"), "names": list("abcd"), "repeats": 0, "service": "tray",
            "order": "random", "pots": 1, "every": 25, "controls": []}  # fmt: skip
    return SimpleNamespace(**(told | more))


def audit(gap=0, most=1, least=1, beside=0):
    return SimpleNamespace(position_gap=gap, neighbours_most=most, neighbours_least=least, beside_itself=beside)


def order(found, **more):
    return order_verdicts(request(**more), found, audit(most=3))[0]


# --- orders ---


@pytest.mark.parametrize(
    ("found", "asked", "call", "step"),
    [
        (audit(), {}, words.BALANCED, ""),
        (audit(gap=1), {}, words.BALANCED, ""),
        (audit(gap=2), {}, words.PARTLY, ""),
        (audit(most=2), {}, words.PARTLY, "4 tasters"),  # four lots, an even number: once each
        (audit(most=2), {"names": list("abcde")}, words.PARTLY, ""),  # 10 orders, more than four times 2 tasters
        (audit(most=2), {"names": list("abcde"), "tasters": list("xyz")}, words.PARTLY, "10 tasters"),
        (audit(most=2), {"names": list("abc"), "repeats": 1}, words.PARTLY, "4 tasters"),
        (audit(most=2), {"tasters": ["elm"]}, words.NOT_BALANCED, ""),
        (audit(most=2), {"tasters": ["elm"], "service": "bench"}, words.NOT_BALANCED, ""),
        (audit(), {"service": "bench"}, words.PARTLY, words.SECOND_ROUND),
        (audit(), {"service": "bench", "pots": 2}, words.PARTLY, ""),
        (audit(), {"order": "class", "service": "bench"}, words.NOT_BALANCED, words.RANDOM_STEP),
    ],
)
def test_an_order_is_balanced_partly_or_not_with_what_would_help(found, asked, call, step) -> None:
    verdict = order(found, **asked)
    assert verdict.call == call
    assert str(step) in verdict.next_step
    assert bool(verdict.next_step) == bool(step)


def test_one_taster_is_told_by_how_he_is_served_and_class_order_by_its_places() -> None:
    one = {"tasters": ["elm"]}
    assert order(audit(), **one).sentence == words.ORDER_ONE
    assert order(audit(), service="bench", **one).sentence == words.ORDER_BENCH_ONE
    assert "25" in order(audit(), order="class").sentence
    assert order(audit(), order="class", every=30).sentence != order(audit(), order="class").sentence


def test_no_number_of_tasters_balances_blocks_and_one_pot_has_no_order() -> None:
    assert order_verdicts(request(), audit(most=2), audit(most=3), complete=False)[0].next_step == ""
    assert order_verdicts(request(service="bench"), audit(), audit(), complete=False)[0].next_step == words.SECOND_ROUND
    blocks = pst.plan_session([str(n) for n in range(8)], ["a", "b", "c", "d"], service="tray", limit=4)
    said = next(v for v in blocks.verdicts if v.question == words.ORDER_QUESTION)
    assert "tasters every lot follows" not in said.next_step
    assert order_verdicts(request(names=["a"]), audit(), audit()) == []
    assert order_verdicts(request(names=["a"], repeats=1), audit(), audit()) != []
    assert order_verdicts(request(names=["a"], pots=2), audit(), audit()) != []


def test_figures_of_an_order_are_in_its_sentence_and_numbers() -> None:
    verdict = order(audit(gap=2, most=5, least=1))
    assert verdict.numbers == {"position_gap": 2, "neighbours_most": 5}
    assert "nearly balanced" in verdict.sentence
    assert "5 times" in verdict.sentence
    assert "nearly" not in order(audit(gap=1)).sentence
    assert str(words.NO_GAP) in order(audit(gap=0), service="bench").sentence
    assert "1 time" in order(audit(gap=1), service="bench").sentence


def test_a_lot_beside_itself_is_told_apart() -> None:
    assert len(order_verdicts(request(), audit(), audit())) == 1
    (_, verdict) = order_verdicts(request(), audit(beside=1), audit())
    assert (verdict.subject, verdict.call, verdict.next_step) == ("neighbours", words.PARTLY, words.BESIDE_STEP)
    assert verdict.sentence.startswith("1 time ")


# --- comparing ---


def compared(
    efficiency=0.8, variance=0.5, worst=0.6, *, chance=0.7, bound=np.nan, way=words.REPLICATES, parts=1, **more
):
    found = SimpleNamespace(efficiency=efficiency, variance=variance, worst=worst, parts=parts)
    return compare_verdict(request(**more), found, chance, bound, way)


def test_one_lot_is_compared_with_nothing_and_two_are_told_so() -> None:
    one = compared(lots=["a"])
    assert (one.call, one.act, one.next_step) == (words.NO, Act.DECIDE, words.ONE_LOT_STEP)
    for efficiency in (1.0, 0.8):
        assert compared(efficiency, lots=["a", "b"]).next_step == words.TWO_LOTS
        assert compared(efficiency, lots=["a", "b", "c"]).next_step == ""


def test_the_half_width_is_1_96_standard_errors_of_the_variance() -> None:
    assert f"{1.96 * np.sqrt(0.5):.2f} times" in compared().sentence
    assert f"{1.96 * np.sqrt(0.6):.2f}" in compared().sentence
    whole = compared(1.0, 2.0)
    assert f"{1.96 * np.sqrt(2):.2f} times" in whole.sentence
    assert str(words.OF_A_LOOK) in whole.sentence
    assert str(words.OF_A_POT) in compared(1.0, 2.0, service="bench").sentence
    assert "the plan" in whole.sentence
    assert "every session" in compared(1.0, 2.0, way=words.COMPLETE).sentence
    assert whole.numbers == {"efficiency": 1.0, "variance": 2.0}


def test_sessions_joined_by_controls_say_what_each_costs_and_more_are_asked_for_below_three() -> None:
    """linking.json: 2 + 2 / c against 2."""
    for controls, times in ((["S"], "2.00"), (["S", "T"], "1.50"), (["S", "T", "U"], "1.33")):
        verdict = compared(way=words.SPLIT, controls=controls)
        assert f"{times} times" in verdict.sentence
        assert verdict.next_step == (str(words.MORE_CONTROLS) if len(controls) < 3 else "")
    assert compared(1.0, way=words.SPLIT, controls=["S"]).next_step == ""


def test_blocks_stand_beside_their_bound_and_lots_dealt_at_random() -> None:
    told = compared(0.81, chance=0.62, bound=0.88).sentence
    assert all(part in told for part in ("81 %", "62 %", "88 %"))
    assert "88 %" not in compared(0.81, chance=0.62).sentence
    assert str(words.RANDOM_APART) in compared(0.81, chance=0.0).sentence


def test_lots_that_nothing_joins_are_told_by_parts_with_what_to_do() -> None:
    apart = compared(parts=3)
    assert (apart.call, apart.act, apart.numbers) == (words.NO, Act.DECIDE, {"parts": 3})
    assert "3 parts" in apart.sentence
    assert apart.next_step == words.FALL_APART_STEP


# --- repeats, codes, cups ---


def servings(*rows):
    return pd.DataFrame(rows, columns=["taster", "session", "lot"])


def test_repeats_are_counted_within_sessions_for_the_taster_who_has_fewest() -> None:
    """sd interval: sqrt(df / chi-square), scipy."""
    rows = [("elm", "1", "a")] * 3 + [("elm", "2", "a")] + [("yew", "1", "a")] * 2 + [("yew", "1", "b")] * 2
    verdict = repeat_verdict(servings(*rows))
    low, high = (np.sqrt(2 / chi2.ppf(p, 2)) for p in (0.975, 0.025))
    assert verdict.numbers == {"df": 2, "low": pytest.approx(low), "high": pytest.approx(high)}
    assert (verdict.call, verdict.act) == (words.YES, Act.KNOW)
    assert "10 repeats" in verdict.next_step
    none = repeat_verdict(servings(*rows[:3], ("yew", "1", "a"), ("yew", "2", "a")))
    assert (none.call, none.act, none.numbers) == (words.NO, Act.DECIDE, {"df": 0})
    assert f"{low:.2f} to {high:.2f}" in verdict.sentence
    one = repeat_verdict(servings(("elm", "1", "a"), ("elm", "1", "a")))
    assert (one.call, one.numbers["df"]) == (words.YES, 1)
    for more, step in ((10, True), (11, False)):
        assert bool(repeat_verdict(servings(*[("elm", "1", "a")] * more)).next_step) == step
    assert sd_factors(4) == pytest.approx(tuple(np.sqrt(4 / chi2.ppf(p, 4)) for p in (0.975, 0.025)))


def test_codes_that_a_slip_may_turn_into_one_another_say_how_many_do() -> None:
    """A changed digit or two changed places lead to a number in use: taken numbers over the half that may be used."""
    codes = pd.DataFrame({"session": ["1"] * 30 + ["2"] * 45, "taster": "", "code": [f"{100 + n}" for n in range(75)]})
    verdict = codes_verdict(codes, safe=False)
    assert verdict.numbers["share"] == pytest.approx(2 * 45 / 900)
    assert (verdict.call, verdict.act) == (words.NO, Act.DECIDE)
    assert "10 %" in verdict.sentence
    longer = pd.concat([codes, codes.tail(1).assign(code="1000")])
    assert codes_verdict(longer, safe=False).numbers["share"] == pytest.approx(2 * 46 / 9000)
    safe = codes_verdict(codes, safe=True)
    assert (safe.call, safe.act, safe.next_step) == (words.YES, Act.KNOW, "")
    assert safe.sentence == words.SAFE.format(digits="3")


def test_cups_are_those_served_and_brews_those_coded() -> None:
    table = servings(*[("elm", "1", lot) for lot in "abc"], *[("yew", "1", lot) for lot in "abcd"], ("elm", "2", "a"))
    table["flight"] = [1, 1, 1, 1, 1, 2, 3, 1]
    verdict = load_verdict(table, pd.DataFrame({"code": range(5)}))
    assert verdict.numbers == {"most": 4, "cups": 8}
    assert "2 breaks" in verdict.sentence
    assert "minutes" not in verdict.sentence
    assert not verdict.next_step
    whole = load_verdict(table.assign(flight=1), pd.DataFrame({"code": range(5)}), 2.5)  # 4 pots of 2.5 minutes
    assert whole.numbers["minutes"] == 10
    assert "10 minutes" in whole.sentence
    assert "A sheet has" not in whole.sentence
    assert whole.next_step == words.LOAD_STEP
    assert all(part in verdict.sentence for part in ("2 sessions", "4 pots", "8 cups", "5 pots"))


# --- proof ---


def test_a_lot_rests_on_its_pots_tasters_and_looks() -> None:
    shared, own = Looks(6, 3, 2, 4, shared=True), Looks(6, 3, 2, 4, shared=False)
    assert (shared.brews, shared.cups) == (12, 144)
    assert (own.brews, own.cups) == (36, 144)
    parts = (np.array([0.6]), np.array([0.9]), np.array([2.4]))
    assert shared.variance(*parts)[0] == pytest.approx(0.6 / 2 + 0.9 / 3 + 2.4 / 24)
    assert own.variance(*parts)[0] == pytest.approx(0.6 / 6 + 0.9 / 3 + 2.4 / 24)
    assert [(x.tasters, x.pots, x.looks) for x in own.more()] == [(3, 2, 4), (4, 2, 4), (3, 3, 4), (3, 2, 5)]


@pytest.mark.parametrize("df", [7.0, np.inf])
def test_least_differences_are_found_with_their_power_at_the_efficiency_of_the_plan(df) -> None:
    """scipy's noncentral t: chance beyond the limit; half-width: t times the standard error of a difference."""
    table = pd.DataFrame(
        {"class": ["x"], "descriptor": ["brisk"], "pot": 0.1, "taster_lot": 0.2, "look": 0.4, "df": df}
    )
    looks = Looks(10, 2, 1, 1, shared=True)
    found = least_differences(table, looks, 0.8, 0.9).set_index("change")
    for change, tasters, pots, each in (
        ("as planned", 2, 1, 1), ("one more taster", 3, 1, 1), ("one more pot of each lot", 2, 2, 1),
        ("one more look at each cup", 2, 1, 2),
    ):  # fmt: skip
        se = np.sqrt(2 * (0.1 / pots + 0.2 / tasters + 0.4 / (tasters * pots * each)) / 0.8)
        row = found.loc[change]
        reach = norm.ppf(0.95) if np.isinf(df) else t.ppf(0.95, df)
        assert row["half_width"] == pytest.approx(reach * se, rel=1e-6)
        for power in (0.8, 0.95):
            shift = row[f"least_{100 * power:.0f}"] / se
            chance = norm.sf(reach - shift) if np.isinf(df) else nct.sf(reach, df, shift)
            assert chance == pytest.approx(power, abs=1e-4)
    assert list(found["brews"]) == [0, 0, 10, 0]
    assert list(found["cups"]) == [0, 10, 20, 20]


def test_many_degrees_of_freedom_are_all_but_known_variances() -> None:
    near, beyond, known = noncentrality(np.array([999.0, 1000.0, np.inf]), 0.95, 0.8)
    assert near == pytest.approx(beyond, rel=1e-3)
    assert beyond == pytest.approx(known, rel=1e-3)


def test_the_rooms_record_is_taken_at_the_row_of_as_many_tasters_three_at_most() -> None:
    record = pd.DataFrame({"class": "x", "descriptor": "brisk", "tasters": [1, 2, 3], "pot_sd": [0.1, 0.2, np.nan],
                           "taster_lot_sd": [0.3, 0.4, 0.5], "look_sd": [0.6, 0.7, 0.8], "df": [4.0, 5.0, 6.0],
                           "half_width": [1.0, 0.9, 0.8]})  # fmt: skip
    for tasters, row in ((1, 0), (2, 1), (3, 2), (9, 2)):
        found, whole = room_variances(record, tasters)
        assert len(found) == 1
        assert found["df"][0] == record["df"][row]
        assert found["taster_lot"][0] == pytest.approx(record["taster_lot_sd"][row] ** 2)
        assert found["look"][0] == pytest.approx(record["look_sd"][row] ** 2)
        assert found["pot"][0] == pytest.approx(np.nan_to_num(record["pot_sd"][row]) ** 2)
        assert whole == (row < 2)
    assert room_variances(record.assign(half_width=np.nan), 2)[0].empty


def test_what_is_proved_is_told_for_the_weakest_word_with_what_each_step_buys() -> None:
    table = pd.DataFrame({"class": "x", "descriptor": ["a", "b"], "pot": [0.1, 0.2], "taster_lot": 0.2, "look": 0.4,
                          "df": np.inf})  # fmt: skip
    looks = Looks(10, 2, 1, 1, shared=True)
    proof = least_differences(table, looks, 1.0, 0.95)
    verdict = proof_verdict(request(), proof, 2, words.RECORD, whole=True)
    assert list(proof.index) == list(range(8))
    now = proof[proof["change"] == "as planned"]
    assert verdict.numbers == {"least_80": now["least_80"].max(), "least_95": now["least_95"].max()}
    assert f"{now['least_80'].min():.2f} to {now['least_80'].max():.2f} points" in verdict.sentence
    assert str(words.PARTS_UNKNOWN) not in verdict.sentence
    assert str(words.PARTS_UNKNOWN) in proof_verdict(request(), proof, 2, words.RECORD, whole=False).sentence
    steps = verdict.next_step.split("; ")
    assert len(steps) == 3
    assert "10 cups" in steps[0]
    assert "(10 brews)" in steps[1]
    assert "brew" not in steps[0]
    none = proof_verdict(request(), proof.iloc[:0], 2, "", whole=True)
    assert (none.call, none.act) == (words.UNKNOWN, Act.TASTE_AGAIN)
    assert none.next_step


def test_a_plan_states_one_source_of_its_error() -> None:
    asked = {"lots": list("abc"), "tasters": ["elm", "yew"], "limit": 9}
    with pytest.raises(pst.DesignError, match="no variance is stated"):
        pst.plan_session(**asked, variances={"pot": 0})
    with pytest.raises(pst.DesignError, match="points squared"):
        pst.plan_session(**asked, variances={"pot": np.inf})
    one = pst.plan_session(**asked, variances={"look": 0.5}).proof.set_index("change")["half_width"]
    assert one["as planned"] == pytest.approx(1.959964 * np.sqrt(2 * 0.25), rel=1e-6)
