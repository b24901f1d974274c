"""Error rates of every verdict and coverage of its limits: enumerated where results can be counted, else simulated.

`python -m tests.difference.rates` prints the table and writes it beside this file. Seeded; a minute or two.
"""

import sys
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.stats import binom

from panelstats.difference.answers.repeated import from_tasters
from panelstats.difference.counts.question import Counts, ask, counts_of
from panelstats.difference.counts.reading import read_counts
from panelstats.difference.counts.signal import SignalCounts, read_signal
from panelstats.difference.counts.signal_sizes import rates
from panelstats.difference.ratings.fit import _table
from panelstats.difference.screening.wald import Lines, course, shortest
from panelstats.models.kinds import FORCED

SHARE = 0.3  # tolerance of the table: share of tasters who can tell
D = 1.0  # tolerance where there is no share


def forced(kind, n):
    """Exact rates of one kind and number of answers: every result counted."""
    question = ask(kind, error=0.05, match_error=0.05, within_share=SHARE)
    x = np.arange(n + 1)
    found = read_counts(counts_of(x, n), question)
    truths = np.linspace(0, 1, 101)
    shares = question.chance + (1 - question.chance) * truths
    chance = binom.pmf(x[:, None], n, shares)  # (result, truth)
    low, high = found.can_tell.low[:, None], found.can_tell.high[:, None]
    covered = ((low <= truths + 1e-9) & (truths <= high + 1e-9) & (chance > 0)) * chance
    differ, match = (np.where(found.call == call, 1.0, 0.0) @ chance for call in ("differ", "match"))
    return {
        "what": kind,
        "design": f"{n} answers",
        "alike, called differ": differ[0],
        "at the tolerance, called match": match[30],
        "two tolerances apart, called match": match[60],
        "limits hold at least (nominal 90 %)": covered.sum(axis=0).min(),
        "by": "enumeration",
    }


def repeated(tasters, each, gamma, runs, rng):
    """Simulated rates of tasters who answered several times and differ in ability."""
    question = ask("triangle", error=0.05, match_error=0.05, within_share=SHARE)
    names = [str(k) for k in range(tasters)]
    calls = {}
    for mu in (0.0, SHARE, 2 * SHARE):
        calls[mu] = []
        for _ in range(runs):
            ability = _abilities(mu, gamma, tasters, rng)
            x = rng.binomial(each, 1 / 3 + 2 / 3 * ability)
            counts = Counts(x.astype(float), np.full(tasters, float(each)), np.zeros(tasters))
            found = from_tasters(question, counts, names)
            told = found.share_who_can_tell
            calls[mu].append((found.call, told.low - 1e-9 <= mu <= told.high + 1e-9))
    return {
        "what": "triangle, repeated",
        "design": f"{tasters} tasters x {each}, correlation {gamma:g}",
        "alike, called differ": np.mean([call == "differ" for call, _ in calls[0.0]]),
        "at the tolerance, called match": np.mean([call == "match" for call, _ in calls[SHARE]]),
        "two tolerances apart, called match": np.mean([call == "match" for call, _ in calls[2 * SHARE]]),
        "limits hold at least (nominal 90 %)": min(np.mean([inside for _, inside in told]) for told in calls.values()),
        "by": f"{runs} runs",
    }


def _abilities(mu, gamma, tasters, rng):
    if gamma == 0 or mu == 0:
        return np.full(tasters, mu)
    if gamma == 1:
        return (rng.random(tasters) < mu).astype(float)
    total = 1 / gamma - 1
    return rng.beta(total * mu, total * (1 - mu), tasters)


def signal(kind, n):
    """Exact rates of a test without a fixed chance level: every pair of counts read once."""
    x = range(n + 1)
    found = {
        (hits, false): read_signal(kind, SignalCounts(hits, n, false, n), error=0.05, match_error=0.05, within_d=D)
        for hits in x
        for false in x
        if hits >= false - 6  # far below, both claims are plainly empty
    }

    def rate(d, said):
        hit, false = rates(kind, d)
        one, other = binom.pmf(x, n, hit), binom.pmf(x, n, false)
        return sum(one[h] * other[f] for (h, f), reading in found.items() if said(reading))

    return {
        "what": kind,
        "design": f"{n} + {n} answers, tolerance d' {D:g}",
        "alike, called differ": rate(0.0, lambda reading: reading.call == "differ"),
        "at the tolerance, called match": rate(D, lambda reading: reading.call == "match"),
        "two tolerances apart, called match": rate(2 * D, lambda reading: reading.call == "match"),
        "limits hold at least (nominal 90 %)": min(
            rate(
                d, lambda reading, d=d: reading.d.low - 1e-6 <= d <= reading.d.high + 1e-6 or np.isnan(reading.d.value)
            )
            for d in (0.0, D, 2 * D)
        ),
        "by": "enumeration",
    }


def ratings(tasters, samples, runs, rng):
    """Simulated rates of difference from control; the claims hold for all samples together."""
    calls = {}
    for apart in (0.0, D, 2 * D):
        calls[apart] = []
        for _ in range(runs):
            score = rng.normal(3, 1, (samples + 1, tasters)) + rng.normal(0, 0.7, tasters)
            score[1:] += apart
            rows = pd.DataFrame(
                {
                    "taster": np.tile(np.arange(tasters), samples + 1),
                    "sample": np.repeat([f"s{k}" for k in range(samples + 1)], tasters),
                    "rating": score.ravel(),
                }
            )
            found = _table(rows, "s0", D, 0.05, 0.05)
            calls[apart].append((set(found["call"]), ((found["low"] <= apart) & (apart <= found["high"])).all()))
    return {
        "what": "difference from control",
        "design": f"{tasters} tasters, {samples} samples, tolerance {D:g}",
        "alike, called differ": np.mean(["differ" in call for call, _ in calls[0.0]]),
        "at the tolerance, called match": np.mean(["match" in call for call, _ in calls[D]]),
        "two tolerances apart, called match": np.mean(["match" in call for call, _ in calls[2 * D]]),
        "limits hold at least (nominal 90 %)": min(np.mean([inside for _, inside in told]) for told in calls.values()),
        "by": f"{runs} runs",
    }


def screening(p0, p1, wrong_pass, wrong_fail):
    """Exact risks of screening: who should fail passes, who should pass fails."""
    lines = Lines(p0, p1, wrong_pass, wrong_fail)
    n = shortest(lines)
    return {
        "what": f"screening, {wrong_pass:.0%} / {wrong_fail:.0%}",
        "design": f"{p0:.2f} against {p1:.2f} right, at most {n} trials",
        "should fail, passes": course(lines, p0, n).closing[-1],
        "should pass, fails": 1 - course(lines, p1, n).closing[-1],
        "by": "enumeration",
    }


def tables(*, full=True, seed=20):
    """Both tables; the small version leaves out most designs."""
    rng = np.random.default_rng(seed)
    sizes = (12, 24, 36, 60, 100, 200) if full else (12, 60)
    rows = [forced(kind, n) for kind in FORCED for n in sizes]
    rows += [signal(kind, n) for kind in ("a-not-a", "same-different") for n in ((10, 14) if full else (6,))]
    designs = [(12, 4, 0.0), (12, 4, 0.5), (12, 4, 1.0)] if full else [(12, 4, 0.5)]
    rows += [repeated(*design, 600 if full else 10, rng) for design in designs]
    rows += [ratings(10, k, 2000 if full else 25, rng) for k in ((1, 3) if full else (1,))]
    screens = [
        screening(1 / 3, 2 / 3, 0.05, 0.10),
        screening(1 / 3, 0.6, 0.05, 0.05),
        screening(1 / 2, 3 / 4, 0.05, 0.10),
    ]
    return pd.DataFrame(rows), pd.DataFrame(screens)


def markdown(table):
    """A table as Markdown, rates in percent."""
    shown = table.copy()
    for name in shown.select_dtypes("float"):
        shown[name] = [f"{100 * value:.1f} %" for value in shown[name]]
    lines = ["| " + " | ".join(shown.columns) + " |", "|" + " --- |" * len(shown.columns)]
    return "\n".join(lines + ["| " + " | ".join(map(str, row)) + " |" for row in shown.itertuples(index=False)])


def main():
    """Print the tables and keep them beside this file."""
    verdicts, screens = tables()
    text = (
        "# Error rates of difference tests\n\nMade by `python -m tests.difference.rates`. Tolerance of a match: "
        f"{SHARE:.0%} of the tasters can tell, unless said. Nominal error rates 5 %. Enumerated rates are exact; "
        "simulated ones have a standard error of 0.9 % (600 runs) or 0.5 % (2000 runs) at 5 %.\n\n"
        f"{markdown(verdicts)}\n\n{markdown(screens)}\n"
    )
    Path(__file__).with_name("rates.md").write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
