"""Tasters who tire scatter more towards the end; those who do not are not said to."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.plan.blank.back import _placed
from panelstats.plan.session.tired import tired_verdicts


def marked(seed: int, *, late: float = 1.0, lots: int = 18, tasters: int = 4, shift: float = 0.0) -> pd.DataFrame:
    """Marks of a session in orders drawn at random: lot and taster effects, noise that grows in the last third."""
    rng = np.random.default_rng(seed)
    rows = []
    level = rng.normal(5, 1, (lots, 2))
    for taster in range(tasters):
        place = rng.permutation(lots) + 1
        sd = np.where(place > 2 * lots / 3, late, 1.0) * 0.5
        for word, name in enumerate(("brisk", "body")):
            score = level[:, word] + taster * shift + sd * rng.standard_normal(lots)
            rows.append(
                pd.DataFrame(
                    {
                        "session": "1",
                        "taster": f"t{taster}",
                        "lot": [f"{n:02d}" for n in range(lots)],
                        "pot": 1,
                        "look": 1,
                        "position": place,
                        "descriptor": name,
                        "score": score,
                    }
                )
            )
    return pd.concat(rows, ignore_index=True)


def test_scatter_that_doubles_at_the_end_is_told_with_its_size() -> None:
    (said,) = tired_verdicts(marked(1, late=2.0, tasters=6))
    assert (said.call, said.act) == ("yes", pst.Act.DECIDE)
    assert said.numbers["low"] > 1
    assert 1.3 < said.numbers["ratio"] < 2.3  # what a cup leaves behind is shared by its tasters: a little below 2
    assert "break" in said.next_step
    (fresh,) = tired_verdicts(marked(1, late=0.5, tasters=6))
    assert fresh.call == "cannot tell"  # less scatter is no fatigue


@pytest.mark.parametrize("shift", [0.0, 3.0])
def test_quiet_panels_are_seldom_called_tired(shift: float) -> None:
    # Nominal: 2.5 % of quiet panels; 4 of 40 are met once in 60 times (binomial).
    calls = [tired_verdicts(marked(seed, shift=shift))[0].call for seed in range(40)]
    assert calls.count("yes") <= 4


def test_the_ratio_is_that_of_root_mean_squares_by_hand() -> None:
    table = marked(3, lots=9, tasters=2)
    (said,) = tired_verdicts(pd.concat([table, table.assign(session="2")]))
    sums = {0: [], 2: []}
    left = {}
    for word, rows in table.groupby("descriptor"):
        y = rows.pivot_table("score", "lot", "taster")
        left[word] = y.sub(y.mean(axis=1), axis=0) - y.mean(axis=0) + y.to_numpy().mean()
        left[word] = left[word] / np.sqrt((left[word].to_numpy() ** 2).mean())
    for cup in table.drop_duplicates(["lot", "taster"]).to_dict("records"):
        third = (cup["position"] - 1) // 3
        if third != 1:
            sums[third].append(np.mean([left[word].loc[cup["lot"], cup["taster"]] ** 2 for word in left]))
    assert said.numbers["ratio"] == pytest.approx(np.sqrt(np.mean(sums[2]) / np.mean(sums[0])))


def test_marks_that_were_read_take_their_places_from_the_plan() -> None:
    plan = pst.plan_session(["1", "2"], ["elm"], service="tray", limit=3, repeats=1, seed=1)
    cups = plan.servings.assign(tasted=[True, True, False])
    frame = cups.assign(score=[5.0, 6.0, 7.0], descriptor="brisk").drop(columns="position").assign(position=np.nan)
    frame = frame.astype(dict.fromkeys(["session", "lot", "taster", "descriptor"], "category"))
    told = _placed(frame, cups)
    assert told[["position", "score"]].to_numpy().tolist() == [[1.0, 5.0], [2.0, 6.0]]


def test_too_few_cups_and_one_taster_say_nothing() -> None:
    assert tired_verdicts(marked(1, lots=8)) == []
    assert tired_verdicts(marked(1, tasters=1)) == []
    assert tired_verdicts(marked(1).iloc[:0]) == []
