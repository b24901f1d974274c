"""Every public function refuses every wrong argument: one clear message that names it, and never an answer."""

import inspect
import math

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.arguments.rules import RULES

NUMBERS = (math.nan, math.inf, -1, "much", [1], True)
WRONG = {
    **dict.fromkeys(
        ("level", "error", "match_error", "power", "false_alarm", "wrong_pass", "wrong_fail"), (0, 1, 95, *NUMBERS)
    ),
    **dict.fromkeys(("within_share", "pass_share"), (0, 1.1, *NUMBERS)),
    **dict.fromkeys(("within_d", "pass_d"), (0, *NUMBERS)),
    "fail_share": (1, *NUMBERS),
    "true_d": NUMBERS,
    **dict.fromkeys(("seed", "weeks", "stop_after", "hits", "false", "n_a", "n_not_a"), (1.5, *NUMBERS)),
    **dict.fromkeys(("correct", "answers", "blanks", "first", "second"), (1.5, math.nan, -1, "much", [1, -2], {})),
    "counts": (math.nan, -1, "much", [[1, -2], [0, 1]], [1, 2]),
    "said": (None, 1, {"lots": pd.DataFrame()}, {"marks": pd.DataFrame()}, {"marks": "7-"}),
    "tolerance": (0, *NUMBERS, {"brisc": 1.0}, {"brisk": 0}, {"brisk": "much"}, {"brisk": math.nan}),
    "pots": ("owned", 1, ["own"], {"liquor": "own"}, {"": "owned"}),
    "scores": ("week.xlsx", None, 7, pd.DataFrame({"lot": [1]})),
    "past": ("week.xlsx", 7, pd.DataFrame({"lot": [1]})),
    "table": ("answers.csv", None, [1, 2]),
    "ratings": ("ratings.csv", None, [1, 2]),
    "kind": ("square", 7, None, ["triangle"]),
    "code": ("latin", 7, None, ["de"]),
    **dict.fromkeys(("standard", "control"), ("no such lot", 7, ["L1", "X"])),
    **dict.fromkeys(("trainees", "reference"), ("nobody", 7, ["elm", "nobody"])),
    "lots": ("no such word or lot", 7, ["nowhere"]),
    "session": ("never", 7),
    **dict.fromkeys(("adjust", "across"), ("twice", 7, None, ["tukey"])),
    "weights": ("twice", 7, None, ["tukey"], {"brisc": 1.0}, {"brisk": 0}, {"brisk": "much"}, {}),
    "baseline": (0, 4, 1.5, *NUMBERS),
    "until": ("never", 7, None, ["L1"]),
    "controls": ("no such lot", 7, ["L1", "X"]),
    "take": (0, 1.5, *NUMBERS),
    "by": ("gardn", 7, None, [], ["garden", "nothing"]),
    "garden": ("nowhere", 7, None),
    "makes": ("fermenting", 7, [7]),
    **dict.fromkeys(("searches", "shuffles"), (0, 1.5, *NUMBERS)),
    **dict.fromkeys(("grams", "millilitres", "batch"), (0, *NUMBERS)),
    "fill": (0, 1.1, *NUMBERS),
    **dict.fromkeys(("charge_cv", "capacity_cv"), (1, *NUMBERS)),
    "allowed": (0, 1, 95, *NUMBERS),
    "least_share": (1, *NUMBERS),
    "state": ("shaken", 7),
    "mix": ({"no such grade": 1.0}, 7, {}, {"": -1}),
    "densities": ("weighed.csv", 7, pd.DataFrame({"lot": [1]})),
    "stock": ("stock.csv", 7, pd.DataFrame({"kilograms": [1]})),
    "grades": ("leaf", [7], 7, ["no such grade"]),
    "descriptors": ("brisc", ["brisc"], 7),
    "found": (None, "lots", 7),
    **dict.fromkeys(("pairs", "shortlist", "shared_pots", "set_aside", "overwrite", "zeros"), ("yes", 1, [True])),
    "columns": ("Brisk", {"Brisk": 7}, {7: "brisk"}, ["Brisk"]),
    "leave_out": ("Sheet", [7], 7),
    "room": (7, ["room.xlsx"], {"lots": "x"}, "x" * 5000),
    **dict.fromkeys(("out", "path"), (7, "", ["page.html"], "x" * 5000, "a\0b")),
    **dict.fromkeys(("labels", "tasters"), ("first", [1, 2], 7, ["\udcff", "b"])),
    **dict.fromkeys(("subject", "trainee"), (7, ["B1"])),
    "tests": ("triangle", [("triangle", 5, 10)], [("square", 5, 10), ("triangle", 5, 10)], 7,
              [("triangle", 11, 10), ("triangle", 5, 10)], [("triangle", 5), ("triangle", 5, 10)]),
    **dict.fromkeys(("axes", "resamples"), (0, 1.5, *NUMBERS)),
    **dict.fromkeys(("within", "scale"), ("twice", 7, None)),
    "facts": ("gardn", 7, [], ["garden", "nothing"]),
    "anchors": ("brisk", ["brisc"], [7]),
    "reference": (None, 7, pd.DataFrame({"lot": [1]})),
    **dict.fromkeys(("besides", "joined", "fill_in"), ("yes", 1, [True])),
    "outcomes": (["perhaps"], 7, "right"),
    **dict.fromkeys(("review", "result", "assessment"), (None, "page", 7)),
    "taster": ("nobody", 7, None),
    "descriptor": ("brisc", 7),
    "ax": ("axes", 7),
    "progress": ("tell", 7),
    "source": (None, 7, "no such file.csv", ["no such file.csv"], "x" * 5000, ["a\0b"]),
    **dict.fromkeys(("pots_per_lot", "tasters_per_lot", "every", "flight", "trials"), (0, 1.5, *NUMBERS)),
    "pots_of_each": (0, 1.5, *NUMBERS),
    **dict.fromkeys(("limit", "sessions"), (0, 1.5, *NUMBERS)),
    "repeats": (1.5, *NUMBERS),
    **dict.fromkeys(("service", "order"), ("sideways", 7, None, ["random"])),
    **dict.fromkeys(("joining", "stop", "strong"), ("417", [417], 7)),
    "pot_minutes": (0, *NUMBERS),
    "plan": (None, "day", 7),
    "late": ("417", 7, ["1"], [""]),
    "absent": ("elm", 7, ["oak"], {"elm": "yew"}, {"elm": 7}),
    "earlier": ("codes.csv", 7, pd.DataFrame({"lot": ["1"]})),
    "variances": ("pot", 7, {"cup": 1.0}, {"pot": -1}, {"pot": "much"}, {}),
    "folder": (7, None, " ", "x" * 5000),
    "excluded": ("elm", 7, {"elm": "1"}, {"oak": ["1"]}, {"elm": ["99"]}),
    "brew": ("strong", 7, {"sugar": 1}, {"grams": 0}, {"minutes": "long"}),
    "warm_up": (7, None),
    "products": ("AB", ("A", "A"), ("A",), 7, None),
    "test": (7, None),
}  # fmt: skip
# What is wrong in one function alone: it names what is yet to be tasted.
OWN = {
    ("plan_session", "lots"): ("one lot", 7, [7], [], ["1", "1"]),
    ("plan_session", "controls"): ("S", 7, [7], ["S", "S"]),
    ("plan_difference", "session"): (7, None),
    ("change_plan", "sessions"): ("1", 7, ["never"]),
    ("read_plan", "room"): (7, ""),
}


@pytest.fixture(scope="module")
def calls(tmp_path_factory):
    """One right call of every public function: its arguments by name."""
    folder = tmp_path_factory.mktemp("written")
    rng = np.random.default_rng(2)
    rows = [
        (lot, taster, pot, n + rng.integers(0, 3) / 2, n / 2 + rng.integers(0, 4) / 2)
        for n, lot in enumerate(("L1", "L2", "L3", "L4"))
        for taster in ("elm", "yew", "larch", "beech")
        for pot in (1, 2)
    ]
    sheet = pd.DataFrame(rows, columns=["lot", "taster", "pot", "brisk", "body"])
    tasters = pd.DataFrame({"taster": ["elm", "yew", "larch", "beech"], "role": ["trainee"] + ["senior"] * 3})
    lots = pd.DataFrame(
        {"lot": ["L1", "L2", "L3", "L4"], "garden": ["Hill"] + ["Flats"] * 3, "rolling": [30, 30, 40, 40],
         "grade": ["leaf", "leaf", "dust", "dust"], "price": [3.1, 3.2, 2.9, 3.0]}
    )  # fmt: skip
    scores = pst.read_scores(sheet, room={"tasters": tasters, "lots": lots})
    panel = {"scores": scores}
    triangle = {"kind": "triangle", "correct": 12, "answers": 30}
    answers = pd.DataFrame(
        {"test": "B1", "kind": "triangle", "taster": [f"t{n}" for n in range(9)], "answer": ["right"] * 9}
    )
    ratings = pd.DataFrame(
        {"taster": list("abcd") * 2, "sample": ["blind"] * 4 + ["B1"] * 4, "rating": [0, 1, 1, 0, 2, 3, 2, 2]}
    )
    source = tmp_path_factory.mktemp("source")
    sheet.to_csv(source / "week.csv", index=False)
    weighed = pd.DataFrame({"lot": ["L1", "L2"], "state": "loose", "mass": [60.0, 62.0], "volume": [200.0, 200.0]})
    pack = {"densities": weighed, "grams": 250, "millilitres": 900}
    stock = pd.DataFrame({"lot": ["L2", "L3"], "kilograms": [200.0, 300.0]})
    marks = pd.DataFrame({"mark": ["7-"], "worth": [6.75]})
    triangle_test = pst.difference_test(**triangle)
    plan = pst.plan_session(["1", "2", "3"], ["elm", "yew"], limit=9)
    plan.write(folder / "plan")
    return {
        pst.compare_lots: panel,
        pst.panel_agreement: panel,
        pst.assess_tasters: panel,
        pst.assess_trainees: panel,
        pst.faults_noticed: panel,
        pst.audit_season: panel,
        pst.room_error: panel,
        pst.shortlist_lots: panel,
        pst.compare_makes: {**panel, "by": "rolling"},
        pst.garden_letter: {**panel, "garden": "Hill"},
        pst.review_garden: {**panel, "garden": "Flats"},
        pst.explain_value: {**panel, "by": "price", "shuffles": 9},
        pst.review_value: {**panel, "by": "price"},
        pst.grade_trend: {**panel, "grades": ["leaf", "dust"]},
        pst.fit_pack: pack,
        pst.weigh_lots: {"densities": weighed},
        pst.review_packs: pack,
        pst.suggest_blends: {**panel, "standard": "L1", "stock": stock, "batch": 100.0},
        pst.review_recipes: {**panel, "standard": "L1"},
        pst.describe_lots: {**panel, "found": pst.compare_lots(scores)},
        pst.review_summary: panel,
        pst.write_summary: {**panel, "path": folder / "buyer.html"},
        pst.match_standard: {**panel, "standard": "L1"},
        pst.map_lots: {**panel, "axes": 1, "standard": "L1", "resamples": 9},
        pst.review_map: {**panel, "standard": "L1"},
        pst.track_standard: {**panel, "standard": "L1", "lots": ["L2"]},
        pst.difference_test: triangle,
        pst.match_test: {**triangle, "within_share": 0.3},
        pst.repeated_test: {"kind": "triangle", "correct": [3, 4, 2], "answers": [6, 6, 6]},
        pst.answers_needed: {"kind": "triangle", "within_share": 0.3},
        pst.screen_trainee: {"kind": "triangle", "outcomes": [True, True, False]},
        pst.compare_tests: {"tests": [("triangle", 12, 30), ("2-afc", 20, 30)]},
        pst.compare_same_tasters: {"first": [1, 0, 1, 1, 0, 1], "second": [0, 0, 1, 0, 0, 1]},
        pst.language: {"code": "de"},
        pst.judge_answers: {"table": answers},
        pst.plan_session: {"lots": ["1", "2", "3"], "tasters": ["elm", "yew"], "limit": 9},
        pst.change_plan: {"plan": plan, "late": ["4"]},
        pst.read_plan: {"folder": folder / "plan"},
        pst.plan_difference: {"kind": "triangle", "tasters": ["elm", "yew"]},
        pst.difference_from_control: {"ratings": ratings, "control": "blind"},
        pst.weighted_kappa: {"counts": [[5, 1], [2, 6]]},
        pst.read_scores: {"source": sheet},
        pst.read_answers: {"source": answers},
        pst.answers_in: {"source": answers},
        pst.read_densities: {"source": weighed},
        pst.read_stock: {"source": stock},
        pst.read_cells: {"source": source},
        pst.examine_sheets: {"source": sheet},
        pst.check_pots: panel,
        pst.review_session: panel,
        pst.review_tasters: panel,
        pst.review_trainees: panel,
        pst.review_season: panel,
        pst.review_blends: {**panel, "standard": "L1"},
        pst.review_answers: {"answers": answers},
        pst.draw: {"result": triangle_test},
        pst.write_report: {"review": triangle_test, "path": folder / "page.html"},
        pst.write_workbook: {"review": triangle_test, "path": folder / "book.xlsx"},
        pst.write_sheets: {"review": pst.review_tasters(scores), "folder": folder / "people"},
        pst.write_taster_page: {"assessment": pst.assess_tasters(scores), "taster": "yew", "path": folder / "yew.html"},
        pst.write_room: {"source": sheet, "out": folder / "room.xlsx"},
        pst.write_starter: {"out": folder / "starter.xlsx"},
        pst.write_answers: {"source": sheet, "said": {"marks": marks}, "out": folder / "answered.xlsx"},
    }  # fmt: skip


def test_every_public_function_is_called(calls):
    assert {f for name in dir(pst) if inspect.isfunction(f := getattr(pst, name))} == set(calls)


def test_every_right_call_answers(calls):
    for function, right in calls.items():
        function(**right)


def test_every_wrong_argument_is_refused_by_name(calls):
    passed = []
    for function, right in calls.items():
        for name in inspect.signature(function).parameters:
            for value in OWN.get((function.__name__, name)) or WRONG[name]:
                if value is None and inspect.signature(function).parameters[name].default is None:
                    continue
                try:
                    function(**{**right, name: value})
                    passed.append(f"{function.__name__}({name}={value!r}) answers")
                except pst.PanelError as error:
                    if not all(error.args):
                        passed.append(f"{function.__name__}({name}={value!r}) says too little: {error.args}")
                except Exception as error:  # noqa: BLE001 - any other is what the test looks for
                    passed.append(f"{function.__name__}({name}={value!r}): {type(error).__name__}: {error}")
    assert passed == []


def test_a_path_where_scores_are_wanted_says_to_read_it_first():
    with pytest.raises(pst.DesignError, match=r"read_scores\('week.xlsx'\)"):
        pst.compare_lots("week.xlsx")


def test_a_misspelt_descriptor_is_told_its_neighbour(calls):
    with pytest.raises(pst.DesignError, match="did you mean 'brisk'"):
        pst.compare_lots(**calls[pst.compare_lots], tolerance={"brisc": 1.0})


def test_every_rule_is_a_word_of_a_public_function():
    public = [getattr(pst, name) for name in dir(pst)]
    words = {name for f in public if inspect.isfunction(f) for name in inspect.signature(f).parameters}
    assert set(RULES) <= words


@pytest.mark.parametrize("seed", [0, 2**31, 2**32 - 1, np.uint64(2**64 - 1)])
def test_every_seed_that_generators_give_is_taken(seed):
    assert pst.weighted_kappa([[5, 1], [1, 5]], seed=seed).value == pytest.approx(2 / 3)  # (10/12 - 1/2) / (1 - 1/2)
