"""A result in a notebook: its sentences and the first rows of its tables, under 50 kB whatever its size."""

import inspect

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.result import Act, Result, Verdict

LIMIT = 50_000
RESULTS = sorted(
    (kind for kind in map(pst.__getattr__, pst.__all__) if inspect.isclass(kind) and issubclass(kind, Result)),
    key=lambda kind: kind.__name__,
)


@pytest.mark.parametrize("kind", RESULTS, ids=lambda kind: kind.__name__)
def test_every_public_result_is_shown_by_the_one_way_that_is_bounded(kind):
    assert kind._repr_html_ is Result._repr_html_


def made(verdicts, **tables):
    """A result of these verdicts and tables."""
    kind = type("Made", (Result,), {"tables": lambda self: tables})
    found = object.__new__(kind)
    object.__setattr__(found, "verdicts", tuple(verdicts))
    return found


def rows(lots, words, name="lot {}"):
    """A row for each lot and word, with many digits."""
    rng = np.random.default_rng(1)
    columns = {f"estimate_{at}": rng.normal(size=lots * words) for at in range(12)}
    return pd.DataFrame({"lot": [name.format(at // words) for at in range(lots * words)], **columns})


@pytest.mark.parametrize(
    "name", ["lot {}", "\u9ad8\u5c71 " * 8 + "{}", "<b>&</b>" * 20 + "{}"], ids=["plain", "wide", "tags"]
)
@pytest.mark.parametrize("tables", [1, 3, 8])
def test_two_thousand_lots_and_long_names_stay_under_the_limit(name, tables):
    told = [Verdict("?", name.format(at), "differ", f"{name.format(at)} differs.", {}, "", Act.KNOW)
            for at in range(2000)]  # fmt: skip
    found = made(told, **{f"table {at}": rows(2000, 2, name) for at in range(tables)})
    shown = found._repr_html_()
    assert len(shown.encode()) < LIMIT
    assert shown.count(": 4,000 rows, 13 columns</h4>") == tables
    assert "more: <code>.verdicts</code>" in shown


def test_what_is_cut_is_counted_and_what_fits_is_whole():
    shown = made([], long=rows(60, 1), short=rows(3, 1))._repr_html_()
    assert "… and 40 more rows: <code>.tables()</code>" in shown
    assert shown.count("more rows") == 1
    wide = pd.DataFrame(np.zeros((2, 2000)), columns=[f"lot {at}" for at in range(2000)])
    assert len(made([], wide=wide)._repr_html_().encode()) < LIMIT


@pytest.mark.parametrize("tasters", [2, 200])
def test_large_answers_of_the_package_stay_under_the_limit(tasters):
    lots = 20 if tasters > 100 else 1000
    rng = np.random.default_rng(2)
    lot, taster = (index.ravel() for index in np.indices((lots, tasters)))
    sheet = pd.DataFrame({"lot": (1000 + lot).astype(str), "taster": [f"taster {at}" for at in taster]})
    for word in ("brisk", "body", "colour"):
        sheet[word] = (5 + rng.normal(size=lots)[lot] + 0.5 * rng.normal(size=len(sheet))).round(1)
    scores = pst.read_scores(sheet)
    ways = (pst.panel_agreement, pst.assess_tasters) if tasters > 100 else (pst.shortlist_lots, pst.panel_agreement)
    for way in ways:
        assert len(way(scores)._repr_html_().encode()) < LIMIT
