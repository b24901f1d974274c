"""Invented panels with known faults, straight as arrays: the ground on which the naming rule is measured."""

from dataclasses import dataclass

import numpy as np

from panelstats.panel.tasters.reference import Pool

# The healthy panel of all measured rates: 0 to 10 points, 15 descriptors whose lots spread by .4 to 1.8 points.
DESCRIPTORS = 15
LOT_SD = np.linspace(0.4, 1.8, DESCRIPTORS)
ERROR_SD, TASTER_BY_LOT_SD, POT_SD, ERROR_CORRELATION = 0.8, 0.4, 0.25, 0.3
LEVEL_RANGE, LOG_RANGE = 0.4, 0.25  # ordinary tasters: levels within +-.4, slopes and error SD within +-28 %
TOLERANCE = 0.5

NOBODY, LEVEL, BLIND, REVERSED, NOISY = "nobody", "level +1", "blind", "reversed", "error SD doubled"


@dataclass(frozen=True)
class Setting:
    """A panel to invent; `fault` sits with the first taster, on all descriptors or on the middle one."""

    tasters: int
    lots: int
    pots: int
    shared: bool = False
    fault: str = NOBODY
    everywhere: bool = False


def invent(setting: Setting, rng: np.random.Generator) -> Pool:
    """One panel in one session."""
    a, n, r = setting.tasters, setting.lots, setting.pots
    level = rng.uniform(-LEVEL_RANGE, LEVEL_RANGE, (a, DESCRIPTORS))
    slope, noise = np.exp(rng.uniform(-LOG_RANGE, LOG_RANGE, (2, a, DESCRIPTORS)))
    at = slice(None) if setting.everywhere else DESCRIPTORS // 2
    match setting.fault:
        case "level +1":
            level[0, at] = 1.0
        case "blind":
            slope[0, at] = 0.0
        case "reversed":
            slope[0, at] = -1.0
        case "error SD doubled":
            noise[0, at] = 2.0
    lot = rng.normal(size=(n, 1, DESCRIPTORS)) * LOT_SD
    mean = 5.0 + level + slope * lot + TASTER_BY_LOT_SD * rng.normal(size=(n, a, DESCRIPTORS))
    common, own = rng.normal(size=(n, a, r, 1)), rng.normal(size=(n, a, r, DESCRIPTORS))
    error = np.sqrt(ERROR_CORRELATION) * common + np.sqrt(1 - ERROR_CORRELATION) * own
    y = mean[:, :, None] + ERROR_SD * noise[:, None] * error
    if setting.shared:
        y = y + POT_SD * rng.normal(size=(n, 1, r, DESCRIPTORS))
    return pool(y, shared=setting.shared)


def pool(y: np.ndarray, *, shared: bool, session: np.ndarray | None = None) -> Pool:
    """Scores (row, taster, pot, descriptor), NaN where missing, as a pool of one class."""
    seen = ~np.isnan(y)
    looks = seen.sum(axis=2)
    mean = np.where(looks > 0, np.where(seen, y, 0.0).sum(axis=2) / np.maximum(looks, 1), np.nan)
    ss = np.where(seen, (y - mean[:, :, None]) ** 2, 0.0).sum(axis=2)
    session = np.zeros(len(y), int) if session is None else session
    return Pool(
        lots=np.array([f"L{j}" for j in range(len(y))]),
        tasters=np.array([f"T{i}" for i in range(y.shape[1])]),
        descriptors=np.array([f"d{k}" for k in range(y.shape[3])]),
        sessions=np.array([f"S{k}" for k in range(session.max() + 1)]),
        session=session,
        block=session,
        mean=mean,
        looks=looks,
        within_ss=ss,
        brews=y if shared else mean[:, :, None],
    )
