"""Opinions that grow with the lot: seen where they do, and said beside a name on scale use."""

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.panel.tasters.growth import opinions_grow
from panelstats.panel.tasters.reference import pool_of

NAMES = ["alder", "beech", "elm", "larch", "spruce", "yew"]


def room(seed, growth, *, narrow=1.0, words=8, lots=24):
    """Six tasters on skewed lots; the first tells `narrow` of every difference."""
    rng = np.random.default_rng(seed)
    lot = rng.lognormal(0, 0.8, (lots, words))
    spread = 0.3 + growth * (lot - lot.min(axis=0))
    marks = 2 + lot[:, None] + spread[:, None] * rng.normal(size=(lots, 6, words))
    marks[:, 0] = 2 + narrow * (marks[:, 0] - 2)
    rows = [(f"{k:02d}", name, *marks[k, i]) for k in range(lots) for i, name in enumerate(NAMES)]
    table = pd.DataFrame(rows, columns=["lot", "taster", *(f"word {d}" for d in range(words))])
    return pst.read_scores(table.round(2))


def pool(seed, growth):
    return pool_of(room(seed, growth).cells())


@pytest.mark.parametrize("growth", [0.0, 0.4])
def test_growth_is_seen_where_opinions_grow_and_hardly_elsewhere(growth):
    seen = sum(opinions_grow(pool(seed, growth), 0) for seed in range(12))
    # of 12 panels without growth, one in a hundred each: more than 2 in fewer than one test of a thousand (binomial)
    assert seen >= 11 if growth else seen <= 2


def test_the_honest_rate_stands_beside_a_name_on_scale_use_where_opinions_grow():
    for growth, told in ((0.15, True), (0.0, False)):
        found = pst.assess_tasters(room(3, growth, narrow=0.3), tolerance=5.0)
        said = next(verdict for verdict in found.verdicts if verdict.subject == "alder")
        assert "scale use" in said.sentence
        assert said.call == "apart"
        assert ("1 panel of 6" in said.sentence) == told


def test_two_tasters_or_two_lots_show_no_growth():
    scores = room(1, 0.4)
    assert not opinions_grow(pool_of(scores.select(taster=NAMES[:2]).cells()), 0)
    assert not opinions_grow(pool_of(scores.select(lot=["00", "01"]).cells()), 0)
