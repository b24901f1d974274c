"""The same sheet gives the same bytes whatever the processor and the threads."""

import platform

import numpy as np
import pandas as pd
import pytest

from panelstats.models.ties import tied
from panelstats.report.tables import columns
from panelstats.words import number, p_value, percent
from tests.hostile.processors import differing, of_job, tied_room

CHARTED = [("Haswell", 1), ("Nehalem", 2)]


@pytest.mark.skipif(platform.machine() not in ("x86_64", "AMD64"), reason="kernels of another family of processors")
def test_a_room_of_ties_gives_the_same_files_on_two_kinds_of_kernel(tmp_path):
    path = tmp_path / "ties.csv"
    tied_room(0).to_csv(path, index=False)
    assert not differing(tmp_path / "out", of_job(["session", str(path)]), CHARTED)


def test_half_ways_read_alike_whatever_the_last_digits():
    for below, above in [(2.7499999999999996, 2.75), (0.30000000000000004, 0.3)]:
        assert number(below, 1) == number(above, 1)
    assert p_value(0.0009999999999999998) == p_value(0.001)
    assert percent(0.4949999999999999) == percent(0.495)


def test_a_table_is_written_without_the_digits_in_which_processors_differ():
    table = pd.DataFrame({"mean": [5.0, 5.5], "se": [0.1, 0.1], "size": [1e-17, 3.0], "p": [1e-40, 0.3]})
    noisy = table * (1 + np.array([[3e-13], [-2e-13]])) + np.array([0, 0, 2e-16, 0])
    kept, other = ([column.written() for column in columns(each)] for each in (table, noisy))
    assert kept == other
    assert kept[2][0] == 0.0


def test_ties_are_ties():
    values = np.array([1 / 3 + 1e-16, 1 / 3, 7.1])
    assert tied(values)[0] == tied(values)[1]
    np.testing.assert_allclose(tied(values), values, rtol=0, atol=1e-12)
