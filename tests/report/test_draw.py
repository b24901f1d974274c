import subprocess
import sys

import pytest
from invented import assessment, learning, review
from matplotlib.figure import Figure

import panelstats as pst
from panelstats.errors import DesignError

MADE = review(lots=6, descriptors=2, faults=1)
RESULTS = {
    "lots": MADE.lots,
    "faults": MADE.faults,
    "agreement": MADE.agreement,
    "tasters": assessment(),
    "trainees": learning(),
    "one test": pst.difference_test("triangle", correct=20, answers=36),
    "three tests": pst.difference_test("triangle", correct=[20, 12, 5], answers=[36, 36, 12]),
    "answers": pst.answers_needed("triangle", within_share=0.3),
    "tests compared": pst.compare_tests([("triangle", 20, 36), ("duo-trio", 20, 36)]),
    "screening": pst.screen_trainee("triangle", [1, 1, 0], pass_share=0.6),
}


@pytest.mark.parametrize("name", RESULTS)
def test_every_result_is_drawn_into_the_axes_given(name, tmp_path):
    figure = Figure()
    ax = figure.subplots()
    assert pst.draw(RESULTS[name], ax) is ax
    figure.savefig(tmp_path / "figure.svg")
    assert pst.draw(RESULTS[name]).figure is not figure


def test_lots_stand_in_order_and_where_the_table_says():
    means = MADE.lots.means.query("descriptor == 'length'").sort_values("deviation", ascending=False)
    ax = pst.draw(MADE.lots, descriptor="length")
    assert [label.get_text() for label in ax.get_yticklabels()] == means["lot"].tolist()
    dots = next(line for line in ax.lines if line.get_marker() == "o")
    assert dots.get_xdata() == pytest.approx(means["deviation"].to_numpy())


def test_an_unknown_descriptor_is_told():
    with pytest.raises(DesignError, match="point"):
        pst.draw(MADE.lots, descriptor="nothing")


def test_who_is_apart_has_another_shape_and_a_word():
    ax = pst.draw(RESULTS["tasters"])
    level = ax.child_axes[0]
    assert [line.get_marker() for line in level.lines if len(line.get_xdata())] == ["o", ">"]
    assert [text.get_text() for text in ax.texts] == ["apart", "with the panel"]


def test_what_cannot_be_told_has_no_dot():
    ax = pst.draw(pst.difference_test("triangle", correct=[12, 5], answers=[36, 12]))
    assert [text.get_text() for text in ax.texts] == ["cannot tell", "cannot tell"]
    assert not any(len(line.get_xdata()) for line in ax.lines)


def test_a_dollar_in_a_name_starts_no_formula(tmp_path):
    made = review(lots=2, descriptors=1, names=["$x^2$", r"$\bad{"], faults=0)
    pst.draw(made.lots).figure.savefig(tmp_path / "figure.svg")


def test_drawing_leaves_pyplot_alone():
    code = "import sys, panelstats.report.charts.rows; sys.exit('matplotlib.pyplot' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
