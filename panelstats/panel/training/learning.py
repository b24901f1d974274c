"""The learning curve: how far a trainee's marks lie from the reference, by session, beside the seniors' own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import special

from panelstats.models.meansquares import ratio
from panelstats.panel.tasters.finding import SD_RATIO
from panelstats.panel.training.trial import TRAINEE, Trial
from panelstats.scores.cells import SESSION
from panelstats.speech import Phrase

RATIO, LOW, HIGH = "ratio", "low", "high"
TOLERATED = np.log(SD_RATIO**2)
# Nothing is foretold beyond this many times the sessions seen (ours).
HORIZON = 1.5
# Fewest sessions for a curve (ours).
LEAST_SESSIONS = 3
# Fewest lots on which recent sessions are judged alone (ours).
LEAST_RECENT_LOTS = 24
# The last third of the residuals lies this many standard errors above the curve: it has levelled off (ours).
LEVELLED = 2.0

TOO_FEW_SESSIONS = Phrase("a learning curve needs {sessions} sessions beside two seniors or more")
NO_LEARNING = Phrase("no learning shown yet")
LEVELLED_OFF = Phrase("has levelled off above the curve: no forecast")
NOT_FORESEEN = Phrase("not within the next {ahead} sessions, which is as far as can be foretold")
NOT_SURE = Phrase("between session {early} and later than can be foretold ({ahead} sessions ahead)")
BETWEEN = Phrase("between session {early} and session {late}")


@dataclass(frozen=True, eq=False)
class Curve:
    """One trainee's sessions.

    Attributes
    ----------
    table : DataFrame
        session, ratio (root mean square distance from the reference over the seniors' own, same lots), low, high.
    forecast : str
        When the ratio passes SD_RATIO, or why that cannot be said.
    counted_from : int
        First session, from 0, that counts for a licence: where the curve falls, the session by which its whole band has
        passed SD_RATIO; else 0, all of them.
    """

    table: pd.DataFrame
    forecast: str
    counted_from: int = 0


def learning_curve(tested: Trial, *, tail: float = 0.025) -> Curve:
    """Distance from the reference by session, with a power law of practice fitted to it.

    Notes
    -----
    Both trainee and seniors are held against the seniors with one left out, so that both are measured against equally
    many palates. log ratio^2 = A + B log(session), weights from trigamma(lots / 2); a crossing is foretold no further
    than 1.5 times the sessions seen.
    """
    square, lots = _ratios(tested)
    known = np.flatnonzero(~np.isnan(square) & (square > 0) & (lots > 1))
    y, variance = _log(square[known], lots[known])
    reach = special.ndtri(1 - tail) * np.sqrt(variance)
    table = pd.DataFrame(
        {
            SESSION: tested.pool.sessions[known],
            RATIO: np.exp(y / 2),
            LOW: np.exp((y - reach) / 2),
            HIGH: np.exp((y + reach) / 2),
        }
    )
    forecast, passed = _forecast(known + 1.0, y, variance, tail)
    return Curve(table, forecast, _counted_from(passed, known, lots[known]))


def _counted_from(passed: int, known: np.ndarray, lots: np.ndarray) -> int:
    """The session by which the curve had passed, if enough remains from then on to judge by."""
    after = known >= passed - 1
    enough = after.sum() >= LEAST_SESSIONS and lots[after].sum() >= LEAST_RECENT_LOTS
    return passed - 1 if passed and enough else 0


def _ratios(tested: Trial) -> tuple[np.ndarray, np.ndarray]:
    """Mean squared distance of the trainee over that of the seniors, and lots, by session."""
    pool, score = tested.pool, tested.reference.score
    seniors = np.arange(TRAINEE + 1, len(pool.tasters))
    sessions = len(pool.sessions)
    if len(seniors) < 2:
        return np.full(sessions, np.nan), np.zeros(sessions)
    both = ~np.isnan(pool.mean[:, [TRAINEE]]) & ~np.isnan(pool.mean[:, seniors]) & ~np.isnan(score[:, seniors])
    trainee = np.where(both, pool.mean[:, [TRAINEE]] - score[:, seniors], 0.0) ** 2
    senior = np.where(both, pool.mean[:, seniors] - score[:, seniors], 0.0) ** 2
    top, bottom = (
        np.bincount(pool.session, values.sum(axis=(1, 2)), minlength=sessions) for values in (trainee, senior)
    )
    lots = np.bincount(pool.session, both.any(axis=(1, 2)), minlength=sessions)
    return ratio(top, bottom), lots


def _log(square: np.ndarray, lots: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Logarithm freed of its bias, and its variance, as of a variance on as many df as there are lots."""
    return np.log(square) - special.psi(lots / 2) + np.log(lots / 2), special.polygamma(1, lots / 2)


def _forecast(session: np.ndarray, y: np.ndarray, variance: np.ndarray, tail: float) -> tuple[str, int]:
    """What the curve foretells, and the session by which it had surely passed the tolerance, 0 where it has not."""
    n = len(y)
    if n < LEAST_SESSIONS:
        return TOO_FEW_SESSIONS.format(sessions=LEAST_SESSIONS), 0
    x = np.column_stack([np.ones(n), np.log(session)])
    covariance = np.linalg.inv((x.T / variance) @ x)
    beta = covariance @ (x.T / variance) @ y
    residual = y - x @ beta
    covariance *= max(1.0, float((residual**2 / variance).sum() / (n - 2)))
    t = special.stdtrit(n - 2, 1 - tail)
    if abs(beta[1]) <= t * np.sqrt(covariance[1, 1]):
        return NO_LEARNING, 0
    last = slice(n - max(n // 3, 1), n)
    if residual[last].mean() > LEVELLED * np.sqrt(variance[last].sum()) / len(residual[last]):
        return LEVELLED_OFF, 0
    return _crossing(beta, covariance, float(t), int(session[-1]))


def _crossing(beta: np.ndarray, covariance: np.ndarray, t: float, seen: int) -> tuple[str, int]:
    """The sessions between which the curve passes the tolerance, no further than the horizon."""
    grid = np.arange(1, int(HORIZON * seen) + 1)
    x = np.column_stack([np.ones(len(grid)), np.log(grid)])
    middle, reach = x @ beta, t * np.sqrt(np.einsum("ij,jk,ik->i", x, covariance, x))
    early, late = (grid[values <= TOLERATED] for values in (middle - reach, middle + reach))
    ahead = grid[-1] - seen
    if not len(early):
        return NOT_FORESEEN.format(ahead=ahead), 0
    if not len(late):
        return NOT_SURE.format(early=early[0], ahead=ahead), 0
    passed = int(late[0]) if beta[1] < 0 and late[0] <= seen else 0
    return BETWEEN.format(early=early[0], late=late[0]), passed
