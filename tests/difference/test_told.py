"""The terminal's text: verdict first, within its columns, next step and method; the example runs."""

import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest

import panelstats as pst
from panelstats.difference.terminal import differ_text

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize(
    "result",
    [
        pst.match_test("triangle", correct=14, answers=36, within_share=0.3),
        pst.difference_test("2-afc", correct=12, answers=12),
        pst.difference_test("a-not-a", hits=6, n_a=10, false=3, n_not_a=10),
        pst.answers_needed("triangle", within_d=1.0, answers=9),
        pst.screen_trainee("triangle", [True, True]),
    ],
)
def test_text_starts_with_the_call_and_fits_eighty_columns(result):
    lines = differ_text(result).splitlines()
    assert lines[0].startswith(result.verdicts[0].call.upper())
    assert max(map(len, lines)) <= 80
    assert any(line.strip().startswith("Next:") for line in lines) == any(v.next_step for v in result.verdicts)


def test_a_perfect_score_reads_without_infinities():
    text = differ_text(pst.difference_test("2-afc", correct=12, answers=12))
    assert "inf" not in text
    assert "no limit" in text


def test_several_tests_are_listed():
    sheet = pd.DataFrame({"test": ["B1", "B2"], "taster": "elm", "kind": "triangle", "answer": ["right", "wrong"]})
    text = differ_text(pst.judge_answers(sheet))
    assert "test                    kind" in text
    assert text.count("triangle") >= 4


def test_the_example_runs_and_tells_what_was_planted():
    run = subprocess.run(
        [sys.executable, ROOT / "examples" / "two_blends.py"], capture_output=True, text=True, check=True
    )
    assert "B1: matches S" in run.stdout
    assert "B2: differs from S" in run.stdout
    assert "Two pots of each leave pot-to-pot differences uncertain" in run.stdout
