"""Where the model is doubted: each check is shown a panel that has the trouble and one that has not."""

import numpy as np
import pytest

import panelstats as pst
from tests.lots.test_comparison import NAMES, sheet


def panel(rng, lots=40, tasters=6):
    lot, taster = rng.normal(0, 1, (lots, 1, 1)), rng.normal(0, 0.4, (1, tasters, 1))
    return 5 + lot + taster + rng.normal(0, 0.5, (lots, tasters, 1))


def flags(scores):
    return set(pst.compare_lots(sheet(scores, tasters=NAMES[: scores.shape[1]])).checks["check"])


def test_a_sound_panel_raises_no_flag():
    assert flags(panel(np.random.default_rng(1))) == set()


def squeezed(scores, rng):
    return np.minimum(scores, np.quantile(scores, 0.6))


def heaped(scores, rng):
    return np.where(rng.random(scores.shape) < 0.7, 5.0, scores)


def one_wild_taster(scores, rng):
    scores[:, 2] += rng.normal(0, 2.0, scores[:, 2].shape)
    return scores


def wilder_when_high(scores, rng):
    return scores + rng.normal(0, 1, scores.shape) * np.maximum(scores - 5, 0) * 1.5


@pytest.mark.parametrize(
    ("trouble", "flag"),
    [
        (squeezed, "scale end"),
        (heaped, "heaped scores"),
        (one_wild_taster, "unequal tasters"),
        (wilder_when_high, "residual spread"),
    ],
)
def test_each_trouble_raises_its_flag(trouble, flag):
    rng = np.random.default_rng(2)
    assert flag in flags(trouble(panel(rng), rng))


def test_the_wild_taster_is_named():
    rng = np.random.default_rng(3)
    scores = one_wild_taster(panel(rng), rng)
    checks = pst.compare_lots(sheet(scores, tasters=NAMES[:6])).checks.set_index("check")
    assert checks.loc["unequal tasters", "sentence"].startswith(NAMES[2])


def test_lots_of_one_taster_and_few_repeated_looks_are_named():
    rng = np.random.default_rng(4)
    scores = np.concatenate([panel(rng, lots=6), np.full((6, 6, 1), np.nan)], axis=2)
    scores[3:5, :2, 1] = rng.normal(5, 1, (2, 2))  # four cells looked at again
    scores[0, 1:] = np.nan  # lot 100: its first taster only
    found = pst.compare_lots(sheet(scores, tasters=NAMES[:6], pots=(1, 2)), pots="own").checks.set_index("check")
    assert "100" in found.loc["one taster's lots", "sentence"]
    assert found.loc["few repeats", "value"] == 4
    assert "weakly known" in found.loc["few repeats", "sentence"]
