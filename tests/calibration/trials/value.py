"""Prices and scores: links that are not there, words falsely named, slopes outside intervals, words beyond others."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
import pandas as pd

import panelstats as pst
from tests.calibration.trial import Interval, Told, Trial

LINK, WORD = "scores carry the price", "a word goes with the price, any"
SLOPE, BEYOND = "interval of a word's slope on price", "a word goes with the price beyond the others, any"
FAR = "a lot sold far from its scores, any"
BLOCK = 4


@dataclass(frozen=True)
class Sale:
    """Lots of some grades, words in blocks of four that go together, a price that one word carries in part."""

    lots: int = 60
    words: int = 16
    grades: int = 3
    tasters: int = 3
    together: float = 0.6
    reliability: float = 0.7
    carried: float = 0.0  # share of the price differences within grade that word 01 carries
    tails: float = 0.0  # degrees of freedom of the prices' own errors; 0: normal

    def draw(self, rng: np.random.Generator) -> pst.Scores:
        """A sale day."""
        block = rng.standard_normal((self.lots, -(-self.words // BLOCK)))[:, np.arange(self.words) // BLOCK]
        true = np.sqrt(self.together) * block
        true = true + np.sqrt(1 - self.together) * rng.standard_normal((self.lots, self.words))
        noise = np.sqrt(self.tasters * (1 / self.reliability - 1))
        marks = 5 + true[:, None] + noise * rng.standard_normal((self.lots, self.tasters, self.words))
        grade = np.arange(self.lots) % self.grades
        own = rng.standard_t(self.tails, self.lots) if self.tails else rng.standard_normal(self.lots)
        price = np.exp(1 + 0.3 * grade + 0.1 * (np.sqrt(self.carried) * true[:, 0] + np.sqrt(1 - self.carried) * own))
        lot = np.array([f"L{n:04d}" for n in range(self.lots)])
        keys = {
            "lot": np.repeat(lot, self.tasters),
            "taster": np.tile([f"t{k}" for k in range(self.tasters)], self.lots),
        }
        names = [f"word {k + 1:02d}" for k in range(self.words)]
        sheet = pd.DataFrame(keys | dict(zip(names, marks.reshape(-1, self.words).round(2).T, strict=True)))
        register = pd.DataFrame(
            {"lot": lot, "class": "all", "grade": [f"G{g}" for g in grade], "price": price.round(6)}
        )
        return pst.read_scores(sheet, room={"lots": register})


def told(sale: Sale, rng: np.random.Generator) -> Told:
    """What is said of a sale; of word 01 the slope is known."""
    found = pst.explain_value(sale.draw(rng), "price", shuffles=199)
    table = found.table
    first, named = table[table["descriptor"] == "word 01"].iloc[0], table["call"] == "goes with it"
    true = 100 * np.expm1(0.1 * np.sqrt(sale.carried))
    other = named & (table.index >= BLOCK)  # words of its own block go with the price through it
    out: Told = {
        LINK: float(found.link["call"].iloc[0] == "goes with it"),
        WORD: float(other.any() if sale.carried else named.any()),
        SLOPE: Interval(float(not first["low"] <= true <= first["high"]), float(first["high"] - first["low"]) / 2),
        FAR: float(found.lots["call"].isin(["sold above", "sold below"]).any()),
    }
    if len(found.together):
        beyond = found.together[found.together["call"] == "beyond the others"]["descriptors"]
        out[BEYOND] = float((~beyond.str.contains("word 01")).any())
    return out


def others(sale: Sale, rng: np.random.Generator) -> Told:
    """What is false of a sale where word 01 carries the price: other blocks named, its slope missed."""
    return {claim: rate for claim, rate in told(sale, rng).items() if claim in (WORD, SLOPE, BEYOND)}


def found_out(sale: Sale, rng: np.random.Generator) -> Told:
    """Whether a link that is there is found, and its word named."""
    found = pst.explain_value(sale.draw(rng), "price", shuffles=199)
    first = found.table[found.table["descriptor"] == "word 01"]["call"].iloc[0]
    beyond = found.together[found.together["call"] == "beyond the others"]["descriptors"]
    out: Told = {LINK: float(found.link["call"].iloc[0] == "goes with it"), WORD: float(first == "goes with it")}
    return out | ({BEYOND: float(beyond.str.contains("word 01").any())} if len(found.together) else {})


_OTHER = "word 01 carries 30 % of the price"
TRIALS = [
    *(Trial(f"value {n} lots", f"{n} lots of 3 grades, 16 words, 3 tasters, no link", partial(told, Sale(n)),
            partial(found_out, Sale(n, carried=0.3)), _OTHER, cost=2) for n in (24, 40, 60, 100)),
    Trial("value tails", "60 lots of 3 grades, 16 words, prices with long tails (t, 4 df), no link",
          partial(told, Sale(tails=4.0)), None, cost=2),
    Trial("value carried", "60 lots of 3 grades, 16 words, word 01 carries 30 %",
          partial(others, Sale(carried=0.3)), None, cost=2),
    Trial("value beyond", "200 lots of 3 grades, 8 words, neighbours alike (0.6), word 01 carries 30 %",
          partial(others, Sale(200, words=8, carried=0.3)), None, cost=4),
]  # fmt: skip
