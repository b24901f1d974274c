"""What a map is drawn from: the lots of one class on one scale, levels of the tasters off, with their error."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from panelstats.lots.maps.filled import Gaps, as_if_scored, gaps_of
from panelstats.lots.maps.potspread import PotSpread, pot_spread
from panelstats.lots.maps.rectangle import LeftOut, linked, whole_rectangle
from panelstats.models.additive import Additive, fit_additive
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOOKS, LOT, MEAN, POTS, SESSION, SHARED, STAGE, TASTER
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import pandas as pd

    from panelstats.scores.cells import Cells

# Descriptors scored between unlike ends are brought to this many points (ours).
COMMON_WIDTH = 10.0
# A descriptor whose lots spread less than this share of their marks does not vary.
_FLAT = 1e-9


@dataclass(frozen=True, eq=False)
class Ground:
    """The lots of one map.

    Attributes
    ----------
    session, lot_class : str
    lots, tasters, descriptors, stages : ndarray of str
        Sorted by name; `stages` runs over descriptors.
    stage_order : ndarray of int, shape (descriptor,)
        Where each descriptor stands on the sheet.
    marks : ndarray, shape (taster, lot, descriptor)
        Points on the common scale, the taster's level taken off; NaN where not scored.
    means : ndarray, shape (lot, descriptor)
        From the fit of lot + taster, about their mean; NaN in a gap that is yet to be filled in.
    centre : ndarray, shape (descriptor,)
        That mean, in points.
    residual : ndarray, shape (lot, taster, descriptor)
        What that fit leaves; 0 where not scored.
    factor : ndarray, shape (lot, descriptor)
        Variance of a centred mean for unit error; in a gap as if those who tasted the lot had scored it.
    error : ndarray, shape (descriptor, descriptor)
        Lot by taster.
    df : float
        Of `error`, the least of its descriptors.
    block : ndarray of int, shape (lot,)
        Lots of one number were met in the same sessions.
    pots : PotSpread or None
        How shared pots of a lot differ; None where no lot has two.
    one_brew : bool
        Shared pots, one of each lot.
    width : str
        How descriptors of unlike scales were brought to one; "" where nothing was to do.
    left_out : LeftOut
    gaps : Gaps
        What is to be filled in, or may not be; none unless that was asked for.
    apart_lots, apart : ndarray, shape (lot,) and (lot, descriptor)
        Lots left out, and what is known of their means, about that of the lots of the map; NaN where not scored.
    met : mapping of str to ndarray, shape (session, descriptor)
        Of each lot met in several sessions, its means in these, in their order, about the mean of all lots.
    """

    session: str
    lot_class: str
    lots: np.ndarray
    tasters: np.ndarray
    descriptors: np.ndarray
    stages: np.ndarray
    stage_order: np.ndarray
    marks: np.ndarray
    means: np.ndarray
    centre: np.ndarray
    residual: np.ndarray
    factor: np.ndarray
    error: np.ndarray
    df: float
    block: np.ndarray
    pots: PotSpread | None = None
    one_brew: bool = False
    width: str = ""
    left_out: LeftOut = field(default_factory=LeftOut)
    gaps: Gaps = field(default_factory=Gaps)
    apart_lots: np.ndarray = field(default_factory=lambda: np.zeros(0, str))
    apart: np.ndarray = field(default_factory=lambda: np.zeros((0, 0)))
    met: Mapping[str, np.ndarray] = field(default_factory=dict)

    @property
    def seen(self) -> np.ndarray:
        """Whether a mark was given, shape (taster, lot, descriptor)."""
        return np.isfinite(self.marks)

    @property
    def incomplete(self) -> np.ndarray:
        """Lots that miss a mark of somebody, shape (lot,)."""
        return np.asarray(~self.seen.all(axis=(0, 2)))

    @property
    def guessed(self) -> np.ndarray:
        """Lots of which a descriptor was filled in, shape (lot,)."""
        return np.asarray(self.gaps.at.any(axis=1)) if self.gaps.at.size else np.zeros(len(self.lots), bool)

    @property
    def complete(self) -> np.ndarray:
        """The marks of the tasters who scored everything, shape (taster, lot, descriptor)."""
        return self.marks[self.seen.all(axis=(1, 2))]

    def means_of(self, total: np.ndarray, count: np.ndarray) -> np.ndarray:
        """Means of some of the marks by lot and descriptor, from their sums; those of the map where there are none."""
        return np.where(count > 0, total / np.maximum(count, 1), self.means + self.centre)


def grounds(cells: Cells, sessions: list[str], *, by_class: bool, fill_in: bool) -> Iterator[Ground]:
    """A ground for each class, and for each part of it that is linked; trainees' marks do not count."""
    frame = cells.select(role="senior").frame
    frame = frame[frame[SESSION].astype(str).isin(sessions)]
    frame = frame.astype({SESSION: str, LOT: str, TASTER: str, DESCRIPTOR: str})
    of_lot = dict(zip(cells.lots[LOT].astype(str), cells.lots[CLASS].fillna("").astype(str), strict=True))
    label = frame[LOT].map(of_lot) if by_class else np.full(len(frame), "")
    for name in dict.fromkeys(of_lot.values()) if by_class else [""]:
        rows = frame[label == name]
        if len(rows):
            parts = linked(rows)
            for at, part in enumerate(parts):
                told = Phrase("{part}, part {at}").format(part=name or "lots", at=at + 1) if len(parts) > 1 else name
                yield _ground(part, cells, sessions, told, fill_in=fill_in)


def _ground(rows: pd.DataFrame, cells: Cells, sessions: list[str], name: str, *, fill_in: bool) -> Ground:
    lots, tasters, words = (np.array(sorted(rows[key].unique()), str) for key in (LOT, TASTER, DESCRIPTOR))
    y, seen = _cube(rows, lots, tasters, words)
    known = np.asarray(seen.any(axis=(1, 2)))
    gaps = gaps_of(known, lots, words) if fill_in else Gaps()
    kept = whole_rectangle(known | gaps.at if gaps.at.size else known, lots, words)
    y, seen, words = y[..., kept.columns], seen[..., kept.columns], words[kept.columns]
    scale, told = _common_scale(cells, words)
    y = y * scale
    away = _apart(y, seen, kept.rows)
    y, seen, lots, left_lots = y[kept.rows], seen[kept.rows], lots[kept.rows], lots[~kept.rows]
    sat = seen.any(axis=(2, 3)).sum(axis=0) > 0  # tasters with a mark left
    marks, days = _levelled(y[:, sat], seen[:, sat])  # (lot, taster, descriptor), (lot, session, descriptor)
    fit = fit_additive(np.where(np.isnan(marks), 0.0, marks), np.isfinite(marks))
    centre = np.nanmean(fit.row, axis=0)
    means = fit.row - centre
    spread = np.nanmax(means, axis=0) - np.nanmin(means, axis=0)
    varies = spread > _FLAT * np.maximum(np.nanmax(np.abs(y), axis=(0, 1, 2), initial=1.0), 1.0)
    left = LeftOut(kept.lots, kept.words, tuple(words[~varies]), kept.otherwise)
    days = (days - centre)[..., varies]
    marks, means, words = marks[..., varies], means[:, varies], words[varies]
    register = dict(zip(cells.descriptors[DESCRIPTOR].astype(str), cells.descriptors[STAGE].fillna("").astype(str),
                        strict=True))  # fmt: skip
    shared = _shared(cells, sessions, [register[word] for word in words])
    brews = pot_spread(rows, lots, tasters[sat], words, scale[varies], shared) if shared.any() else None
    fit, gaps = _of(fit, varies), gaps.of(varies)
    scored = np.isfinite(marks)
    return Ground(
        session=", ".join(sessions), lot_class=name, lots=lots, tasters=tasters[sat], descriptors=words,
        stages=np.array([register[word] for word in words], str),
        stage_order=np.array([list(register).index(word) for word in words], int),
        marks=np.moveaxis(marks, 1, 0), means=means, centre=centre[varies],
        residual=fit.residual, factor=centred_factor(as_if_scored(scored, gaps.at), fit), error=_error(fit, scored),
        df=float(fit.df.min(initial=np.inf)) if len(words) else 0.0,
        block=np.unique(seen.any(axis=(1, 3)), axis=0, return_inverse=True)[1].ravel(), pots=brews,
        one_brew=bool(shared.any()) and brews is None, width=told, left_out=left, gaps=gaps,
        apart_lots=left_lots, apart=away[:, varies], met=_met(lots, days),
    )  # fmt: skip


def _apart(y: np.ndarray, seen: np.ndarray, kept: np.ndarray) -> np.ndarray:
    """Means of lots that are left out, about those of the lots kept, levels of tasters off; NaN where not scored."""
    if kept.all():
        return np.zeros((0, y.shape[-1]))
    shape = (len(y), -1, y.shape[-1])
    rows = fit_additive(y.reshape(shape), seen.reshape(shape)).row
    return np.asarray(rows[~kept] - np.nanmean(rows[kept], axis=0))


def lot_means(cells: Cells, lot_class: str | None) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Lots and descriptors of a class (None: of all), and means on the common scale, levels of tasters evened out.

    Of a lot that misses a descriptor the mean is NaN; nothing is left out.
    """
    frame = cells.select(role="senior").frame.astype({SESSION: str, LOT: str, TASTER: str, DESCRIPTOR: str})
    if lot_class is not None:
        mine = cells.lots.loc[cells.lots[CLASS].fillna("").astype(str) == lot_class, LOT].astype(str)
        frame = frame[frame[LOT].isin(mine)]
    lots, tasters, words = (np.array(sorted(frame[key].unique()), str) for key in (LOT, TASTER, DESCRIPTOR))
    if not len(lots):
        return lots, words, np.zeros((0, len(words)))
    y, seen = _cube(frame, lots, tasters, words)
    y = y * _common_scale(cells, words)[0]
    shape = (len(lots), -1, len(words))
    return lots, words, fit_additive(y.reshape(shape), seen.reshape(shape)).row


def _cube(
    rows: pd.DataFrame, lots: np.ndarray, tasters: np.ndarray, words: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Means over looks and brews, and where there are any: (lot, taster, session, descriptor)."""
    sessions = np.array(sorted(rows[SESSION].unique()), str)
    axes = [(LOT, lots), (TASTER, tasters), (SESSION, sessions), (DESCRIPTOR, words)]
    shape = tuple(len(labels) for _, labels in axes)
    at = np.ravel_multi_index(tuple(np.searchsorted(labels, rows[key].to_numpy(str)) for key, labels in axes), shape)
    looks = np.bincount(at, rows[LOOKS], int(np.prod(shape))).reshape(shape)
    total = np.bincount(at, rows[LOOKS] * rows[MEAN], int(np.prod(shape))).reshape(shape)
    return np.where(looks > 0, total / np.maximum(looks, 1), 0.0), looks > 0


def _met(lots: np.ndarray, days: np.ndarray) -> dict[str, np.ndarray]:
    """The means of each lot in the sessions where it has all of them, of lots met in several."""
    whole = np.isfinite(days).all(axis=2)
    return {str(lot): days[at][whole[at]] for at, lot in enumerate(lots) if whole[at].sum() > 1}


def _levelled(y: np.ndarray, seen: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Marks with the level of each taster in each session taken off, NaN where there are none.

    By (lot, taster, word), and by (lot, session, word).
    """
    lots, tasters, sessions, words = y.shape
    fit = fit_additive(y.reshape(lots, -1, words), seen.reshape(lots, -1, words))
    off = np.where(seen, y - fit.column.reshape(tasters, sessions, words), 0.0)
    by_taster, by_session = (
        np.where((count := seen.sum(axis=axis)) > 0, off.sum(axis=axis) / np.maximum(count, 1), np.nan)
        for axis in (2, 1)
    )
    return by_taster, by_session


def _common_scale(cells: Cells, words: np.ndarray) -> tuple[np.ndarray, str]:
    """What each descriptor is multiplied by, and how that is said: by the scale on the sheet, never by marks seen."""
    register = cells.descriptors.drop_duplicates(DESCRIPTOR).set_index(DESCRIPTOR)
    if not {"low", "high"} <= set(register.columns):
        return np.ones(len(words)), ""
    width = (register["high"] - register["low"]).reindex(words).to_numpy(float)
    if not np.isfinite(width).all() or len(set(width)) < 2:
        return np.ones(len(words)), "" if len(set(width[np.isfinite(width)])) < 2 else "unknown"
    return COMMON_WIDTH / width, "width"


def _shared(cells: Cells, sessions: list[str], stages: list[str]) -> np.ndarray:
    """Whether the pots of each descriptor were shared, in any of the sessions."""
    here = cells.pots[cells.pots[SESSION].astype(str).isin(sessions)]
    shared = set(here.loc[here[POTS] == SHARED, STAGE].fillna("").astype(str))
    return np.array([stage in shared for stage in stages], bool)


def _of(fit: Additive, keep: np.ndarray) -> Additive:
    """The fit of some tables."""
    return Additive(fit.row[:, keep], fit.column[:, keep], fit.residual[..., keep], fit.df[keep], fit.parts[keep],
                    fit.spread[keep])  # fmt: skip


def _error(fit: Additive, seen: np.ndarray) -> np.ndarray:
    """Squares and products of the residuals per degree of freedom; gaps cost each pair of descriptors its share."""
    p = seen.shape[2]
    cells = seen.shape[0] * seen.shape[1]
    residual, known = fit.residual.reshape(cells, p), seen.reshape(cells, p).astype(float)
    share = np.sqrt(np.maximum(fit.df, 1) / np.maximum(known.sum(axis=0), 1))
    values, vectors = np.linalg.eigh(residual.T @ residual / np.maximum(known.T @ known * np.outer(share, share), 1.0))
    return np.asarray((vectors * np.maximum(values, 0.0)) @ vectors.T)


def centred_factor(seen: np.ndarray, fit: Additive) -> np.ndarray:
    """Variance of each lot's mean about the mean of all, for unit error, shape (lot, descriptor)."""
    lots = len(seen)
    count = np.maximum(seen.sum(axis=1), 1)  # (lot, descriptor)
    weight = seen / count[:, None]
    levels = _of_levels(weight - weight.mean(axis=0), fit.spread)
    return np.asarray((1 - 2 / lots) / count + (1 / count).mean(axis=0) / lots + levels)


def difference_factor(ground: Ground, one: int, others: np.ndarray) -> np.ndarray:
    """Variance of others less one, for unit error, shape (lot, descriptor)."""
    seen = np.moveaxis(ground.seen, 0, 1)
    spread = fit_additive(np.zeros(seen.shape), seen).spread
    seen = as_if_scored(seen, ground.gaps.at)
    count = np.maximum(seen.sum(axis=1), 1)
    weight = seen / count[:, None]
    return np.asarray(1 / count[others] + 1 / count[one] + _of_levels(weight[others] - weight[one], spread))


def _of_levels(weight: np.ndarray, spread: np.ndarray) -> np.ndarray:
    """Variance of weighted sums of the levels of tasters; `weight` is (lot, taster, descriptor)."""
    return np.asarray(np.einsum("ltd,dtu,lud->ld", weight, spread, weight, optimize=True))
