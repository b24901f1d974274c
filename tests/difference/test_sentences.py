""" "No difference found" never reads as "the same": every sentence the package can say is searched.

Two searches: the string literals of the whole package, docstrings apart, and the sentences themselves over a grid of
counts, kinds, tolerances, blanks, tasters and ratings.
"""

import ast
import re
from itertools import product
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import panelstats as pst
from panelstats.models.kinds import FORCED, SIGNAL, allot_orders
from panelstats.words import limit
from tests import known

PACKAGE = Path(pst.__file__).parent
# Claims of sameness that only an equivalence test may make, and then as "match within the tolerance".
ARE = r"\b(are|is|were|was|be|tastes?|tasted) (all )?"
FORBIDDEN = [
    r"\bno (significant |real )?differences?\b(?! (has|have) been)",
    r"\b(do|does|did) not differ\b",
    r"\bnot (significantly )?different\b",
    r"\bindistinguishable\b",
    r"\bidentical\b(?! (scores|marks))",  # marks on a sheet can be seen to be so
    ARE + r"(the same|equal|alike)\b(?! (direction|way|pot|brew|side|test|order))",
    r"\b(as )?the same (tea|blend|product)\b",
    r"\bequivalent\b",
]
# A literal that what people write is compared with, and null hypotheses named as such, claim nothing.
ALLOWED = [
    r"^no difference$",  # what a taster may write on the sheet: read as a blank
    r"if (nothing|nobody|no lot|all lots|the lots|all tasters)",
    r"test that",
    r"whether",
    r"cannot tell",
    r"may be (alike|the same)",
    r"column twice|twice the same|the same serving|the same column",
]


def literals(path):
    """String literals of a module that are not docstrings, f-strings joined."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    docstrings = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    inside = {
        id(part)
        for node in ast.walk(tree)
        if isinstance(node, ast.JoinedStr)
        for part in ast.walk(node)
        if part is not node
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            yield "".join(part.value if isinstance(part, ast.Constant) else "{}" for part in node.values), node.lineno
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docstrings | inside:
            yield node.value, node.lineno


def claims_sameness(text):
    lowered = " ".join(text.lower().split())
    if any(re.search(allowed, lowered) for allowed in ALLOWED):
        return False
    return any(re.search(forbidden, lowered) for forbidden in FORBIDDEN)


def test_no_string_of_the_package_claims_sameness():
    found = [
        f"{path.relative_to(PACKAGE.parent)}:{line}: {text[:90]!r}"
        for path in sorted(PACKAGE.rglob("*.py"))
        for text, line in literals(path)
        if claims_sameness(text)
    ]
    assert not found, "say what was found and what was not ruled out:\n" + "\n".join(found)


@pytest.mark.parametrize(
    "text",
    [
        "No difference was found.",
        "B1 and S are the same.",
        "the two do not differ",
        "They taste the same",
        "the blends are identical",
        "no significant difference",
        "the lots are all alike",
    ],
)
def test_the_search_finds_what_it_looks_for(text):
    assert claims_sameness(text)


def verdicts_of_counts():
    for kind, (x, n), blanks, share in product(
        FORCED,
        [(0, 0), (0, 12), (1, 3), (5, 12), (12, 12), (20, 60), (33, 60), (60, 60)],
        (0, 2),
        (None, 0.05, 0.3, 0.8),
    ):
        if x + blanks > n:
            continue
        arguments = {"correct": x, "answers": n, "blanks": blanks}
        if share is None:
            yield from pst.difference_test(kind, **arguments).verdicts
        else:
            yield from pst.match_test(kind, **arguments, within_share=share).verdicts


def verdicts_of_signals():
    for kind, hits, false, d in product(SIGNAL, (0, 5, 10), (0, 5, 10), (None, 0.5, 2.0)):
        counts = {"hits": hits, "n_a": 10, "false": false, "n_not_a": 10}
        found = pst.difference_test(kind, **counts) if d is None else pst.match_test(kind, **counts, within_d=d)
        yield from found.verdicts


def verdicts_of_the_rest():
    for kind, x in product(("triangle", "paired"), ([0, 1, 0], [3, 0, 3], [3, 3, 3])):
        yield from pst.repeated_test(kind, correct=x, answers=[3] * 3, within_share=0.4).verdicts
        yield from pst.repeated_test(kind, correct=x, answers=[3] * 3).verdicts
    for outcomes in ([], [True] * 5, [False] * 4, [True, False] * 3):
        yield from pst.screen_trainee("triangle", outcomes).verdicts
    for second in (6, 14, 20):
        yield from pst.compare_tests([("triangle", 12, 20), ("triangle", second, 20)]).verdicts
    yield from pst.compare_same_tasters([1, 0, 1], [0, 1, 1]).verdicts
    yield from pst.answers_needed("tetrad", within_d=1.0, answers=12).verdicts
    yield from pst.answers_needed("a-not-a", within_d=1.0, answers=12).verdicts
    rng = np.random.default_rng(1)
    for apart, tolerance in product((0, 2), (None, 1.0)):
        rows = pd.DataFrame({"taster": list("abcdef") * 2, "sample": ["s"] * 6 + ["t"] * 6})
        rows["rating"] = rng.integers(0, 3, 12) + np.repeat([0, apart], 6)
        yield from pst.difference_from_control(rows, control="s", tolerance=tolerance).verdicts
    for kind in FORCED:
        orders, _ = allot_orders(kind, 20, rng=rng)
        places = ["1 2" if kind in ("tetrad", "two-out-of-five") else "1"] * 20
        sheet = pd.DataFrame({"taster": range(20), "kind": kind, "order": orders, "answer": places})
        yield from pst.judge_answers(sheet, within_share=0.3).verdicts


def verdicts_of_blends():
    scores = known.scores("blends")
    for tolerance in (0.2, 1.0):
        yield from pst.match_standard(scores, "S", tolerance=tolerance).verdicts
    yield from pst.track_standard(scores, "S", lots=["B1"]).verdicts


@pytest.mark.parametrize("source", [verdicts_of_counts, verdicts_of_signals, verdicts_of_the_rest, verdicts_of_blends])
def test_no_sentence_claims_sameness_and_every_open_one_has_a_next_step(source):
    seen = 0
    for verdict in source():
        seen += 1
        text = str(verdict).lower()
        assert not any(re.search(forbidden, text) for forbidden in FORBIDDEN), verdict
        if verdict.call == "match":
            assert "within the" in text or "tolerance" in text, verdict
        if verdict.call == "cannot tell":
            assert verdict.next_step, verdict
            assert "cannot tell" in text, verdict
    assert seen >= 4


def test_a_large_p_value_alone_is_never_a_match():
    for verdict in verdicts_of_counts():
        if verdict.call == "match":
            assert "p_match" in verdict.numbers
            assert verdict.numbers["p_match"] <= 0.05 * (1 + 1e-12)


def as_float(text):
    return float(text.replace("−", "-").replace(",", ""))


@settings(deadline=None)
@given(st.floats(-3, 3), st.integers(0, 2), st.booleans(), st.sampled_from([0.0, 0.3, 1.0]))
def test_limits_are_rounded_outward_and_never_onto_a_line(value, places, up, line):
    told = as_float(limit(value, places, up=up, clear=[line]))
    assert told >= value - 1e-9 if up else told <= value + 1e-9
    assert abs(told - value) < 10**-places
    if abs(value - line) > 2e-4:  # four decimals are the most
        assert (told - line) * (value - line) > 0


def test_a_match_is_never_printed_at_its_tolerance_nor_a_difference_at_none():
    match = pst.match_test("triangle", correct=22, answers=60, within_share=0.221)
    assert match.call == "match"
    assert "none to 22.099 %" in match.verdicts[0].sentence  # 22.09898 %, tolerance 22.1 %
    differ = pst.difference_test("triangle", correct=np.arange(200, 400), answers=600)
    for verdict in differ.verdicts:
        if verdict.call == "differ":
            low = re.search(r"them apart \(([\d.]+) %", verdict.sentence)[1]
            assert 0 < float(low) <= 100 * verdict.numbers["can_tell_low"] + 1e-9


def test_a_preference_is_told_by_what_was_named_and_for_whom():
    said = [pst.difference_test("paired", correct=x, answers=26).verdicts[0].sentence for x in (21, 5, 13, 12)]
    assert "81 % named A: beyond guessing, 62 % favour A (21 % to 87 %)" in said[0]
    assert "19 % named A: beyond guessing, 62 % favour the other (21 % to 87 %)" in said[1]
    assert "50 % named A: beyond guessing, neither is favoured" in said[2]
    assert "8 % favour the other (from 47 % for the other to 34 % for A)" in said[3]
    assert not any("−" in text.split("d'")[0] for text in said)
