"""Difference and match tests: every result enumerated where they can be counted, else answered many times."""

from __future__ import annotations

from functools import cache, partial
from itertools import product

import numpy as np
import pandas as pd
from scipy.integrate import quad
from scipy.stats import binom, norm

import panelstats as pst
from tests.calibration.rooms.abilities import Abilities
from tests.calibration.trial import NOMINAL, Counted, Interval, Line, Told, Trial

DIFFER, MATCH, UNEQUAL = "products differ", "products match", "tests show differences of unlike size"
LIMITS, D_LIMITS = "interval of the share who can tell", "interval of d'"
FROM_CONTROL = "interval of the difference from control"
CHANCE = {"triangle": 1 / 3, "duo-trio": 1 / 2, "2-afc": 1 / 2, "3-afc": 1 / 3, "tetrad": 1 / 3, "two-out-of-five": 0.1,
          "paired": 1 / 2}  # fmt: skip
SHARE, D, SIZES = 0.3, 1.0, (6, 9, 12, 16, 20, 24, 30, 36, 48, 60, 80, 100)
# The exact limits of two claims at 5 % each leave out 10 % together.
BOTH = 2 * NOMINAL


def forced(kind: str) -> list[Line]:
    """The worst of many numbers of answers, by enumeration; power at the largest."""
    worst = {DIFFER: 0.0, MATCH: 0.0, LIMITS: 0.0}
    truths = np.linspace(0, 1, 51)
    right = CHANCE[kind] + (1 - CHANCE[kind]) * truths
    for n in SIZES:
        x = np.arange(n + 1)
        found = pst.match_test(kind, correct=x, answers=np.full(n + 1, n), within_share=SHARE)
        chance = binom.pmf(x[:, None], n, right)  # (result, truth)
        told = found.share_who_can_tell
        low, high = (np.asarray(side, float)[:, None] for side in (told.low, told.high))
        missed = (((truths < low - 1e-9) | (truths > high + 1e-9)) * chance).sum(axis=0)
        differ, match = (np.where(found.call == call, 1.0, 0.0) @ chance for call in ("differ", "match"))
        at = {DIFFER: differ[0], MATCH: match[truths >= SHARE - 1e-9].max(), LIMITS: missed.max()}
        worst = {claim: max(rate, at[claim]) for claim, rate in worst.items()}
    room = f"{kind}, {SIZES[0]} to {SIZES[-1]} answers, tolerance 30 % (the worst)"
    power = {DIFFER: differ[truths.searchsorted(SHARE)], MATCH: match[0]}
    where = {DIFFER: "30 % can tell, 100 answers", MATCH: "nobody can tell, 100 answers"}
    return [
        Line(claim, room, BOTH if claim == LIMITS else NOMINAL, rate, 0.0, power.get(claim, np.nan),
             alternative=where.get(claim, ""))
        for claim, rate in worst.items()
    ]  # fmt: skip


def signal(kind: str, n: int) -> list[Line]:
    """A-not-a and same-different, by enumeration; hits far below false answers are left out: no claim is made there."""
    pairs = [(hit, false) for hit, false in product(range(n + 1), repeat=2) if hit >= false - n // 2]
    found = {
        pair: pst.match_test(kind, hits=pair[0], false=pair[1], n_a=n, n_not_a=n, within_d=D) for pair in pairs
    }  # fmt: skip

    def rate(d: float, said: object) -> float:
        one, other = (binom.pmf(np.arange(n + 1), n, p) for p in RATES[kind](d))
        return float(sum(one[hit] * other[false] for (hit, false), test in found.items() if said(test)))

    def missed(d: float) -> float:
        return rate(d, lambda test: d < test.d_prime.low - 1e-6 or d > test.d_prime.high + 1e-6)

    def called(call: str) -> object:
        return lambda test: test.call == call

    room = f"{kind}, {n} + {n} answers, tolerance d' 1"
    return [
        Line(
            DIFFER, room, NOMINAL, rate(0.0, called("differ")), 0.0, rate(2 * D, called("differ")), alternative="d' 2"
        ),
        Line(MATCH, room, NOMINAL, rate(D, called("match")), 0.0, rate(0.0, called("match")), alternative="d' 0"),
        Line(D_LIMITS, room, BOTH, max(missed(d) for d in (0.0, D, 2 * D)), 0.0),
    ]


# Chance of the answer counted: to servings of A or mixed pairs, and to the others; criteria common practice: halfway
# for A-not-A, one and a half SD for same-different (Macmillan & Creelman, Detection Theory).
RATES = {
    "a-not-a": lambda d: (norm.cdf(d / 2), norm.cdf(-d / 2)),
    "same-different": lambda d: (_apart(d), _apart(0.0)),
}


def _apart(d: float, criterion: float = 1.5) -> float:
    """Chance that two servings d apart seem farther apart than the criterion."""
    return float(norm.sf((criterion - d) / np.sqrt(2)) + norm.cdf((-criterion - d) / np.sqrt(2)))


@cache
def chance_right(kind: str, d: float) -> float:
    """Chance of picking the stronger of two or of three servings (Macmillan & Creelman, Detection Theory)."""
    others = {"2-afc": 1, "3-afc": 2}[kind]
    return float(quad(lambda x: norm.pdf(x - d) * norm.cdf(x) ** others, -8, 8 + d)[0])


def unlike(one: str, other: str, n: int) -> list[Line]:
    """Two tests of one size: how often they are said to be unlike, the worst of several sizes, by enumeration."""
    said = {
        (x, y): pst.compare_tests([(one, x, n), (other, y, n)]).call == "differ"
        for x, y in product(range(n + 1), repeat=2)
    }

    def rate(d: float, e: float) -> float:
        p, q = (binom.pmf(np.arange(n + 1), n, chance_right(kind, at)) for kind, at in ((one, d), (other, e)))
        return float(sum(p[x] * q[y] for (x, y), differ in said.items() if differ))

    worst = max(rate(d, d) for d in (0.0, 0.5, 1.0, 1.5, 2.0))
    room = f"{one} and {other}, {n} answers each, d' 0 to 2 (the worst)"
    return [Line(UNEQUAL, room, NOMINAL, worst, 0.0, rate(2.0, 0.0), alternative="d' 2 against 0")]


def repeated(abilities: Abilities, rng: np.random.Generator) -> Told:
    """A match said of products that the tolerance's share can tell; its limits."""
    found = _repeated(abilities, rng)
    told = found.share_who_can_tell
    missed = not told.low - 1e-9 <= abilities.mean <= told.high + 1e-9
    return {MATCH: float(found.call == "match"), LIMITS: Interval(float(missed), (told.high - told.low) / 2)}


def repeated_match(abilities: Abilities, rng: np.random.Generator) -> Told:
    """A match said of products that nobody can tell."""
    return {MATCH: float(_repeated(abilities, rng).call == "match")}


def repeated_differ(abilities: Abilities, rng: np.random.Generator) -> Told:
    """A difference said of them."""
    return {DIFFER: float(_repeated(abilities, rng).call == "differ")}


def _repeated(who: Abilities, rng: np.random.Generator) -> pst.DifferenceTest:
    right = who.right(CHANCE["triangle"], rng)
    return pst.repeated_test("triangle", correct=right, answers=np.full(who.tasters, who.each), within_share=SHARE)


def ratings(samples: int, apart: float, rng: np.random.Generator) -> Told:
    """False claims on ratings of the difference from a blind control, and limits that miss."""
    table = _rated(samples, apart, rng)
    claim, call = (MATCH, "match") if apart == D else (DIFFER, "differ")
    missed = ~((table["low"] <= apart) & (apart <= table["high"])).all()
    half = float((table["high"] - table["low"]).mean() / 2)
    return {claim: float((table["call"] == call).any()), FROM_CONTROL: Interval(float(missed), half)}


def ratings_true(samples: int, apart: float, rng: np.random.Generator) -> Told:
    """The claims where they are true: two tolerances apart, and not at all."""
    claim, call = (DIFFER, "differ") if apart else (MATCH, "match")
    return {claim: float((_rated(samples, apart, rng)["call"] == call).any())}


def _rated(samples: int, apart: float, rng: np.random.Generator) -> pd.DataFrame:
    """Ten tasters rate so many samples and the blind control."""
    rating = rng.normal(8, 1, (samples + 1, 10)) + rng.normal(0, 0.7, 10)
    rating[1:] += apart
    rows = pd.DataFrame(
        {"taster": np.tile([f"taster {n}" for n in range(10)], samples + 1),
         "sample": np.repeat([f"s{k}" for k in range(samples + 1)], 10), "rating": rating.ravel()}
    )  # fmt: skip
    return pst.difference_from_control(rows, control="s0", tolerance=D).table


def screened(able: float, wrong: str, rng: np.random.Generator) -> Told:
    """A trainee who should fail passes, or one who should pass fails."""
    call = _screened(able, rng)
    return {f"trainee screened: {wrong}": float(call == wrong)}


def _screened(able: float, rng: np.random.Generator) -> str:
    right = rng.random(60) < 1 / 3 + 2 / 3 * able
    for end in range(1, len(right) + 1):
        found = pst.screen_trainee("triangle", right[:end].tolist(), pass_share=0.5)
        if found.call != "cannot tell":
            return str(found.call)
    return "cannot tell"


def _abilities(name: str, text: str, tasters: int, each: int, alike: float) -> list[Trial]:
    """A match at the tolerance; where nobody can tell, abilities do not matter and one line says it."""
    edge, none = (Abilities(tasters, each, mean, alike) for mean in (SHARE, 0.0))
    room = f"triangle, {tasters} tasters x {each}, 30 % can tell: {text}; tolerance 30 %"
    level = f"triangle, {tasters} tasters x {each}, nobody can tell"
    able = Abilities(tasters, each, 2 * SHARE, alike)
    trials = [
        Trial(f"differences repeated {name}", room, partial(repeated, edge), partial(repeated_match, none),
              "nobody can tell", {LIMITS: BOTH}),
        Trial(f"differences guessing {name}", level, partial(repeated_differ, none), partial(repeated_differ, able),
              "60 % can tell"),
    ]  # fmt: skip
    return trials if alike == 0.0 else trials[:1]


TRIALS = [
    *(Counted(f"differences {kind}", partial(forced, kind)) for kind in CHANCE),
    *(Counted(f"differences {kind}", partial(signal, kind, 12)) for kind in RATES),
    Counted("differences unlike 2-afc 3-afc", partial(unlike, "2-afc", "3-afc", 16)),
    Counted("differences unlike 2-afc", partial(unlike, "2-afc", "2-afc", 16)),
    *_abilities("5x10", "some always, the rest guess", 5, 10, 0.0),
    *_abilities("12x4", "some always, the rest guess", 12, 4, 0.0),
    *_abilities("12x4 mixed", "abilities correlated 0.5 within tasters", 12, 4, 0.5),
    *_abilities("12x4 alike", "everybody alike", 12, 4, 1.0),
    *(
        Trial(f"differences ratings {samples}", f"10 tasters, {samples} samples and a blind control, none apart",
              partial(ratings, samples, 0.0), partial(ratings_true, samples, 2 * D), "2 points apart",
              {FROM_CONTROL: BOTH})
        for samples in (1, 3)
    ),
    Trial("differences ratings match", "10 tasters, 1 sample and a blind control 1 point apart, tolerance 1",
          partial(ratings, 1, D), partial(ratings_true, 1, 0.0), "not apart",
          {FROM_CONTROL: BOTH}),
    Trial("differences screening pass", "triangles, a trainee who guesses, half to be told to pass",
          partial(screened, 0.0, "pass"), partial(screened, 0.5, "pass"), "who should pass", cost=2),
    Trial("differences screening fail", "triangles, a trainee who tells half, half to be told to pass",
          partial(screened, 0.5, "fail"), partial(screened, 0.0, "fail"), "who guesses",
          {"trainee screened: fail": 0.10}, cost=2),
]  # fmt: skip
