"""Error rates of the lot comparison and of agreement, by simulation: `python -m tests.models.rates`.

Each setting is a panel of so many tasters and lots, six descriptors, two pots that are shared (SD 0.25 between pots) or
the tasters' own, complete or with a fifth of the servings not scored. Lots that do not differ give the rates of false
claims; lots that do give the coverage of the intervals of agreement. Everything goes through the public functions;
many panels stand side by side as descriptors, each panel's in a stage of its own, so that few pots are steadied within
their panel as in use. A rate may lie above its nominal 5 % (7 % where servings are missing: Satterthwaite's degrees of
freedom are known to run a little above there) by four standard errors; the command fails where one does.
Prints a table and writes it to rates.md beside this file.
"""

from __future__ import annotations

import argparse
import sys
import zlib
from dataclasses import astuple, dataclass
from itertools import product
from pathlib import Path

import numpy as np
from scipy.stats import hmean

import panelstats as pst
from panelstats.models.multiplicity import holm
from tests.bench.made import cells_from_array

HERE = Path(__file__).parent
DESCRIPTORS, POTS = 6, 2
LOT_SD, TASTER_SD, LOT_TASTER_SD, POT_SD, LOOK_SD = 0.8, 0.5, 0.4, 0.25, 0.8
# One long brew moves several descriptors, and so does one tired palate: share of the variance that is common.
COMMON_POT, COMMON_LOOK = 0.5, 0.3
ALPHA, ALPHA_MISSING, MOST_ERRORS = 0.05, 0.07, 4
LEVEL = 1 - ALPHA


@dataclass(frozen=True)
class Setting:
    """A panel: tasters, lots, whether they share the pots, share of servings not scored."""

    tasters: int
    lots: int
    shared: bool
    missing: float

    @property
    def bound(self) -> float:
        """Largest true rate that is accepted."""
        return ALPHA_MISSING if self.missing else ALPHA


SETTINGS = [Setting(*each) for each in product((3, 5, 8, 12), (2, 4, 12), (False, True), (0.0, 0.2))]
SMALL = [Setting(3, 4, True, 0.2), Setting(5, 4, False, 0.0), Setting(8, 4, True, 0.0)]


@dataclass(frozen=True)
class Rate:
    """A rate over panels and its standard error."""

    value: float
    se: float

    @classmethod
    def of(cls, wrong: np.ndarray) -> Rate:
        """From (panel, question): questions of one panel are not independent, panels are. NaN: not asked."""
        wrong = wrong[~np.isnan(wrong).all(axis=1)]
        by_panel = np.nanmean(wrong, axis=1)
        least = np.sqrt(ALPHA * (1 - ALPHA) / wrong.size)  # no rate is known better than this
        return cls(float(by_panel.mean()), float(max(by_panel.std() / np.sqrt(len(by_panel)), least)))


def invent(setting: Setting, panels: int, rng: np.random.Generator, *, lot_sd: float) -> tuple[np.ndarray, np.ndarray]:
    """Scores (lot, taster, pot, panel x descriptor) and whether they were given."""
    lots, tasters, shape = setting.lots, setting.tasters, (panels, DESCRIPTORS)

    def normal(sd: float, *size: int, common: float = 0.0) -> np.ndarray:
        own, all_ = rng.normal(size=(*size, *shape)), rng.normal(size=(*size, panels, 1))
        return sd * (np.sqrt(1 - common) * own + np.sqrt(common) * all_)

    score = 5 + normal(lot_sd, lots, 1, 1) + normal(TASTER_SD, 1, tasters, 1) + normal(LOT_TASTER_SD, lots, tasters, 1)
    score = score + normal(LOOK_SD, lots, tasters, POTS, common=COMMON_LOOK)
    if setting.shared:
        score = score + normal(POT_SD, lots, 1, POTS, common=COMMON_POT)
    served = rng.random((lots, tasters, POTS, panels, 1)) >= setting.missing
    served = np.broadcast_to(served, (lots, tasters, POTS, *shape))
    return score.reshape(lots, tasters, POTS, -1), served.reshape(lots, tasters, POTS, -1)


def panel_cells(setting: Setting, panels: int, rng: np.random.Generator, *, lot_sd: float) -> tuple[object, np.ndarray]:
    """Cells of many panels side by side, and which servings were scored."""
    score, served = invent(setting, panels, rng, lot_sd=lot_sd)
    stage = np.repeat([f"panel {n:05d}" for n in range(panels)], DESCRIPTORS)
    return cells_from_array(score, served, shared=setting.shared, stage=stage), served


def claims(setting: Setting, panels: int, rng: np.random.Generator, *, pots: str | None = None) -> dict[str, Rate]:
    """False claims about lots that do not differ; `pots` declares them otherwise than they were."""
    cells, _ = panel_cells(setting, panels, rng, lot_sd=0.0)
    found = pst.compare_lots(cells, pots=pots, across="none", pairs=True, level=LEVEL)
    p = found.anova["p"].to_numpy().reshape(panels, DESCRIPTORS)
    wrong = np.where(np.isnan(p), np.nan, p < ALPHA)
    adjusted = holm(p, axis=1)
    pairs = found.pairs.assign(
        one=found.pairs["p"] < ALPHA, outside=(found.pairs["low"] > 0) | (found.pairs["high"] < 0)
    )
    first = pairs.groupby("descriptor", sort=False)["one"].first().reindex(found.anova["descriptor"])
    family = pairs.groupby("descriptor", sort=False)["outside"].any().reindex(found.anova["descriptor"])
    return {
        "lot test": Rate.of(wrong),
        "any of 6 after Holm": Rate.of((adjusted < ALPHA).any(axis=1, keepdims=True)),
        "one pair": Rate.of(first.to_numpy(float).reshape(panels, DESCRIPTORS)),
        "all pairs": Rate.of(family.to_numpy(float).reshape(panels, DESCRIPTORS)),
    }


def coverage(setting: Setting, panels: int, rng: np.random.Generator) -> dict[str, Rate]:
    """How often intervals of the intraclass correlations miss; an interval that was not given is not counted."""
    cells, served = panel_cells(setting, panels, rng, lot_sd=LOT_SD)
    table = pst.panel_agreement(cells, level=LEVEL).table
    single, mean = truth(setting, served)
    out = {}
    for name, value in (("icc_single", single), ("icc_mean", mean)):
        low, high = table[f"{name}_low"].to_numpy(), table[f"{name}_high"].to_numpy()
        miss = np.where(np.isnan(low), np.nan, (value < low) | (value > high))
        out[name] = Rate.of(miss.reshape(panels, DESCRIPTORS))
    return out


def truth(setting: Setting, served: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The correlations that are estimated: of tasters on these pots, by the harmonic means of what was scored."""
    looks = served.sum(axis=2)  # (lot, taster, descriptor)
    k = _harmonic((looks > 0).sum(axis=1))
    n = _harmonic(looks.reshape(-1, looks.shape[2]))
    pots = _harmonic(served.any(axis=1).sum(axis=1))
    signal = LOT_SD**2 + (POT_SD**2 / pots if setting.shared else 0.0)
    rest = TASTER_SD**2 + LOT_TASTER_SD**2 + LOOK_SD**2 / n
    return signal / (signal + rest), signal / (signal + rest / k)


def _harmonic(count: np.ndarray) -> np.ndarray:
    return hmean(np.where(count > 0, count, np.nan), axis=0, nan_policy="omit")


def measure(setting: Setting, panels: int) -> dict[str, Rate]:
    """All rates of a setting, seeded by it."""
    rng = np.random.default_rng(zlib.crc32(repr(astuple(setting)).encode()))
    out = claims(setting, panels, rng)
    return out | coverage(setting, panels, rng) if setting.lots > 2 else out


def too_high(setting: Setting, rates: dict[str, Rate]) -> list[str]:
    """Rates above their bound."""
    return [name for name, rate in rates.items() if rate.value > setting.bound + MOST_ERRORS * rate.se]


def as_markdown(found: dict[Setting, dict[str, Rate]], panels: int) -> str:
    """The table for people, in percent; a rate above its bound is marked."""
    names = list(dict.fromkeys(name for rates in found.values() for name in rates))
    above = sum(len(too_high(setting, rates)) for setting, rates in found.items())
    head = ["tasters", "lots", "pots", "servings", *names]
    lines = [
        "# Error rates of lots and agreement",
        "",
        f"{panels} panels a line, {DESCRIPTORS} descriptors each; percent at nominal 5, with the standard error. False "
        "claims about lots that do not differ (one test; any descriptor after Holm; one pair; any pair of all, "
        "intervals together), and intraclass correlations outside their intervals. Bound: 5 % complete, 7 % with "
        f"servings missing, and {MOST_ERRORS} standard errors: {above} rates lie above it"
        + (", marked (!)." if above else "."),
        "",
        "| " + " | ".join(head) + " |",
        "|" + "---|" * len(head),
    ]
    for setting, rates in found.items():
        keys = [setting.tasters, setting.lots, "shared" if setting.shared else "own"]
        keys.append(f"{setting.missing:.0%} missing".replace("%", " %") if setting.missing else "complete")
        cells = [_cell(rates.get(name), name in too_high(setting, rates)) for name in names]
        lines.append("| " + " | ".join([*map(str, keys), *cells]) + " |")
    return "\n".join(lines) + "\n"


def _cell(rate: Rate | None, above: bool) -> str:
    return "–" if rate is None else f"{100 * rate.value:.1f} ({100 * rate.se:.1f})" + " (!)" * above


def main() -> int:
    """Run the settings, print, write rates.md."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--panels", type=int, default=300)
    parser.add_argument("--small", action="store_true", help="a few settings only, nothing written")
    asked = parser.parse_args()
    found = {}
    for setting in SMALL if asked.small else SETTINGS:
        found[setting] = measure(setting, asked.panels)
        print(f"{setting}: done", file=sys.stderr, flush=True)
    text = as_markdown(found, asked.panels)
    if not asked.small:
        (HERE / "rates.md").write_text(text, encoding="utf-8")
    print(text)
    return 1 if any(too_high(setting, rates) for setting, rates in found.items()) else 0


if __name__ == "__main__":
    sys.exit(main())
