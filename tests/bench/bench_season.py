"""A season of 20 million scores from partitions of Parquet to the audit, in one pass; and a tenth, a hundredth of it.

Fifty sessions, ten tasters, 16 descriptors, two cups of one's own of every lot; the partitions are written from a seed
to a temporary folder. Reading takes one partition at a time; the peak is that of the whole process. Cells are held
against `pandas.groupby` on the same scores in the same run, and the reading of all partitions against pandas' reading
and grouping of them. Last, the lots of the invented season in one model.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pandas as pd

import panelstats as pst
from panelstats.scores.cells import cells_of
from tests.bench.made import peak_mb, timed

SESSIONS, TASTERS, POTS, WORDS = 50, 10, 2, 16
SIZES = (200_000, 2_000_000, 20_000_000)
MOST_MB = 2000
# How many times as long as pandas' grouped count, mean and variance cells may take.
MOST_GROUPED = 1.5
# And how many times as long as pandas' reading and grouping reading partitions into cells may take: every mark is
# accounted for on the way.
MOST_READ = 15
# Seconds in which the lots of a season of 34 sessions are compared.
MOST_COMPARED = 30


def write_season(folder: Path, scores: int, seed: int = 1) -> int:
    """Write a partition for each session and say how many scores there are; the room says that cups are one's own."""
    lots = scores // (SESSIONS * TASTERS * POTS * WORDS)
    rng = np.random.default_rng(seed)
    shape = (lots, TASTERS, POTS, WORDS)
    at = np.unravel_index(np.arange(int(np.prod(shape))), shape)
    taster = [f"taster {n + 1:02d}" for n in range(TASTERS)]
    word = [f"word {n + 1:02d}" for n in range(WORDS)]
    days = [str(day.date()) for day in pd.date_range("2031-01-06", periods=SESSIONS, freq="W-MON")]
    level = rng.normal(0, 0.4, (1, TASTERS, 1, WORDS))
    for n, day in enumerate(days):
        lot = [f"{n * lots + k + 1:06d}" for k in range(lots)]
        score = 5 + rng.normal(0, 0.8, (lots, 1, 1, WORDS)) + level + rng.normal(0, 0.7, shape)
        keys = {"lot": lot, "taster": taster, "descriptor": word}
        codes = dict(zip(("lot", "taster", "pot", "descriptor"), at, strict=True))
        frame = pd.DataFrame({name: pd.Categorical.from_codes(codes[name], labels) for name, labels in keys.items()})
        frame = frame.assign(session=day, pot=codes["pot"] + 1, score=np.round(score.ravel().clip(0, 10) * 2) / 2)
        frame.to_parquet(folder / f"{day}.parquet", index=False)
    pd.DataFrame({"session": days, "pots": "own"}).to_csv(folder / "sessions.csv", index=False)
    return SESSIONS * int(np.prod(shape))


def season_rows(folder: Path, scores: int, before: dict[str, float]) -> list[dict[str, object]]:
    """Reading and auditing one size of season, once."""
    folder.mkdir()
    count = write_season(folder, scores)
    read, cells = timed(lambda: pst.read_cells(folder), repeats=1)
    read_peak = peak_mb()
    audited, audit = timed(lambda: pst.audit_season(cells), repeats=1)
    assert cells.frame["looks"].sum() == count
    assert len(audit.summary) == TASTERS
    rows: list[dict[str, object]] = []
    for name, seconds, peak in (("read_cells", read, read_peak), ("audit_season", audited, peak_mb())):
        growth = float(np.log10(seconds / before[name])) if name in before else np.nan
        row: dict[str, object] = {"name": f"{name}, {count:,} scores", "seconds": seconds, "peak_mb": peak}
        rows.append(row | {"exponent": growth})
        before[name] = seconds
    if scores == SIZES[-1]:
        rows[-1] |= {"bound": f"peak < {MOST_MB:,} MB", "held": bool(peak_mb() < MOST_MB)}
    return rows


def grouped_row(folder: Path) -> dict[str, object]:
    """Cells of one partition against pandas' grouped count, mean and variance of the same scores."""
    scores = pst.read_scores(sorted(folder.glob("*.parquet"))[0])
    keys = scores.frame[["session", "lot", "taster", "descriptor"]].assign(brew=0)
    ours, cells = timed(lambda: cells_of(keys, scores.frame["score"].to_numpy()))
    names = ["session", "lot", "taster", "brew", "descriptor"]
    table = keys.assign(score=scores.frame["score"])
    theirs, wanted = timed(lambda: table.groupby(names, observed=True)["score"].agg(["size", "mean", "var"]))
    np.testing.assert_allclose(cells["mean"], wanted["mean"], rtol=1e-12)
    np.testing.assert_allclose(cells["within_ss"], (wanted["size"] - 1) * wanted["var"], atol=1e-10)
    return {
        "name": f"cells_of, {len(scores):,} scores", "seconds": ours, "reference": "pandas.groupby: size, mean, var",
        "reference_seconds": theirs, "ratio": ours / theirs, "bound": f"ratio <= {MOST_GROUPED}",
        "held": bool(ours / theirs <= MOST_GROUPED),
    }  # fmt: skip


def aggregated_row(folder: Path, seconds: float, scores: int) -> dict[str, object]:
    """All partitions of the largest season read into cells, against pandas' reading and grouping of the same ones."""

    def grouped() -> int:
        names = ["session", "lot", "taster", "descriptor"]
        frames = map(pd.read_parquet, sorted(folder.glob("*.parquet")))
        parts = [each.groupby(names, observed=True)["score"].agg(["size", "mean", "var"]) for each in frames]
        return int(pd.concat(parts)["size"].sum())

    theirs, count = timed(grouped, repeats=1)
    assert count == scores
    return {
        "name": f"read_cells, {scores:,} scores, beside pandas", "seconds": seconds,
        "reference": "pandas.read_parquet, groupby: size, mean, var", "reference_seconds": theirs,
        "ratio": seconds / theirs, "bound": f"ratio <= {MOST_READ}", "held": bool(seconds / theirs <= MOST_READ),
    }  # fmt: skip


def compared_row() -> dict[str, object]:
    """The lots of the invented season in one model beside each of its sessions alone, to tables and sentences."""
    room = pst.example.season()
    scores = pst.read_scores(room.frame, room=room.registers)
    names = scores.sessions["session"].astype(str)
    seconds, found = timed(lambda: pst.compare_lots(scores), repeats=1)
    alone, _ = timed(lambda: [pst.compare_lots(scores.select(session=name)) for name in names], repeats=1)
    assert isinstance(found, pst.LotComparison)
    assert len(found.season_means)
    return {
        "name": f"compare_lots, {len(names)} sessions, {len(scores):,} scores", "seconds": seconds,
        "reference": "each session alone", "reference_seconds": alone, "ratio": seconds / alone,
        "bound": f"{MOST_COMPARED} s, ratio <= 2", "held": bool(seconds < MOST_COMPARED and seconds <= 2 * alone),
    }  # fmt: skip


def run() -> list[dict[str, object]]:
    """A row for reading and one for auditing each size, cells against pandas, and the lots of a season compared."""
    rows: list[dict[str, object]] = []
    before: dict[str, float] = {}
    with tempfile.TemporaryDirectory() as name:
        for scores in SIZES:
            rows += season_rows(Path(name) / str(scores), scores, before)
        largest = Path(name) / str(SIZES[-1])
        aggregated = aggregated_row(largest, before["read_cells"], SIZES[-1])
        return [*rows, grouped_row(largest), aggregated, compared_row()]
