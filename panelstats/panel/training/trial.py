"""One trainee against the reference: level, scale use and steadiness, with a licence in view for each descriptor."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from panelstats.models.lotsneeded import settling_lots
from panelstats.models.meansquares import ratio
from panelstats.models.steadying import moderated_variance, variance_prior
from panelstats.panel.tasters import discernment, spread
from panelstats.panel.tasters.evidence import Evidence
from panelstats.panel.tasters.finding import NOT_TESTED, Finding
from panelstats.panel.tasters.judgement import TOO_FEW, Bench
from panelstats.panel.tasters.level import LEAST_DESCRIPTORS, Levels, level, level_over_descriptors, levels
from panelstats.panel.tasters.moments import Moments
from panelstats.panel.tasters.reference import Pool, Reference, block_sums, reference
from panelstats.panel.tasters.scaleends import noticed

# A session's level wanders by this share of the tolerance where one session alone cannot tell (ours).
SESSION_WANDER = 0.3
# The descriptors of a session move together: they count for half in the wander's degrees of freedom (ours).
DESCRIPTORS_COUNT = 0.5
# Fewest degrees of freedom of a master's hidden repeats (ours).
LEAST_REPEATS = 10
# Fewest lots scored together with the reference (ours).
LEAST_LOTS = 8
# Scale use is asked for where half of what the reference says of the lots is the lots (ours): over many lots a test
# opens on differences too small to show a slope, such as those between shared pots of one tea.
LEAST_SIGNAL = 0.5
TRAINEE = 0  # the trainee's place among the tasters of a trial; the reference follows
MINE = slice(TRAINEE, TRAINEE + 1)  # the trainee's part of what was found by taster

NO_REPEATS = "the reference has no hidden repeats to measure against"
NO_OWN_REPEATS = "the trainee has no hidden repeats"


@dataclass(frozen=True, eq=False)
class Trial:
    """What was found on one trainee; findings have shape (1, descriptor), those over all descriptors shape (1,).

    Attributes
    ----------
    pool : Pool
        The trainee first, then the reference; only sessions the trainee sat in.
    tolerance : ndarray, shape (descriptor,)
    reference : Reference
    levels : Levels
    evidence : Evidence
    level, slope, steadiness : Finding
    level_all, slope_all, steadiness_all : Finding
    slope_low : ndarray, shape (descriptor,)
        One-sided lower limit of the slope.
    slope_shown, steadiness_shown : ndarray of bool, shape (descriptor,)
        Inside the tolerance on the descriptor alone, by two one-sided tests (Schuirmann 1987).
    noticed : Finding or None
        How often something is noticed, where most marks stand at an end of the scale.
    repeated : bool
        Whether steadiness comes from hidden repeats; else from scatter about the reference's line.
    tail : float
        Chance on each side outside an interval.
    """

    pool: Pool
    tolerance: np.ndarray
    reference: Reference
    levels: Levels
    evidence: Evidence
    level: Finding
    slope: Finding
    steadiness: Finding
    level_all: Finding
    slope_all: Finding
    steadiness_all: Finding
    slope_low: np.ndarray
    slope_shown: np.ndarray
    steadiness_shown: np.ndarray
    noticed: Finding | None
    repeated: bool
    tail: float

    @property
    def trainee(self) -> str:
        """Name of the trainee."""
        return str(self.pool.tasters[TRAINEE])

    @property
    def masters(self) -> np.ndarray:
        """Names of the reference."""
        return self.pool.tasters[TRAINEE + 1 :]

    @property
    def lots(self) -> np.ndarray:
        """Lots compared, by descriptor."""
        return self.levels.lots[TRAINEE]

    @property
    def sessions(self) -> int:
        """Sessions in which lots were compared."""
        return int(self.evidence.sessions[TRAINEE])


def trial(
    pool: Pool, active: np.ndarray, tolerance: np.ndarray, *, tail: float = 0.025, busy_end: np.ndarray | None = None
) -> Trial:
    """Measure the first taster of `pool` against the others.

    Parameters
    ----------
    pool : Pool
        The trainee first.
    active : ndarray of bool, shape (taster, descriptor)
        Who stands in the reference; False for the trainee.
    tolerance : ndarray, shape (descriptor,)
        Tolerance on level in points.
    tail : float
        Chance on each side outside an interval.
    busy_end : ndarray, shape (descriptor,), optional
        The end of each scale at which more marks lie.
    """
    master = len(pool.tasters) == 2
    if master:
        pool = replace(pool, brews=pool.mean[:, :, None])  # a single palate cannot tell the pots from its own noise
    bench = Bench(pool, tolerance, tail=tail, least_others=1, widen=False, busy_end=busy_end)
    ref = reference(pool, active, least=1)
    evidence = _evidence(bench, ref, active, master=master)
    found = trainee_levels(pool, ref, tolerance)
    why = np.where(evidence.judged & (found.lots >= LEAST_LOTS), "", TOO_FEW).astype(object)
    wide = np.broadcast_to(tolerance, found.bias.shape)
    slope, slope_all = discernment.scale_use(evidence, tail)
    (steadiness, steadiness_all), repeated = _steadiness(evidence, tail, master=master)
    slope_two_sided, _ = discernment.scale_use(evidence, 2 * tail)
    (steady_two_sided, _), _ = _steadiness(evidence, 2 * tail, master=master)
    return Trial(
        pool=pool,
        tolerance=tolerance,
        reference=ref,
        levels=found,
        evidence=evidence,
        level=level(found, wide, why, tail=tail)[MINE],
        slope=slope[MINE],
        steadiness=steadiness[MINE],
        level_all=level_over_descriptors(found, wide, why, tail=tail)[MINE],
        slope_all=slope_all[MINE],
        steadiness_all=steadiness_all[MINE],
        slope_low=slope_two_sided.low[TRAINEE],
        slope_shown=slope_two_sided.inside[TRAINEE],
        steadiness_shown=steady_two_sided.inside[TRAINEE],
        noticed=_noticed(bench, active, evidence, tail),
        repeated=repeated,
        tail=tail,
    )


def _noticed(bench: Bench, active: np.ndarray, evidence: Evidence, tail: float) -> Finding | None:
    """How often the trainee notices something against the reference, where most marks stand at an end of the scale."""
    if bench.busy_end is None or not evidence.floored[TRAINEE].any():
        return None
    return noticed(bench.pool, active, bench.busy_end, evidence.floored, least=1, tail=tail)[0][MINE]


def _evidence(bench: Bench, ref: Reference, active: np.ndarray, *, master: bool) -> Evidence:
    evidence = bench.evidence(ref, active)
    if master:
        evidence = against_repeats(bench.pool, ref, evidence)
    return replace(evidence, moments=replace(evidence.moments, least_signal=LEAST_SIGNAL))


def _steadiness(evidence: Evidence, tail: float, *, master: bool) -> tuple[tuple[Finding, Finding], bool]:
    """From hidden repeats where the trainee has them, else from scatter, which one master cannot measure."""
    found = spread.repeatability(evidence, tail)
    repeated = bool((found[0].why[TRAINEE] == "").any())
    return (found if repeated or master else spread.scatter(evidence, tail)), repeated


def trainee_levels(pool: Pool, ref: Reference, tolerance: np.ndarray) -> Levels:
    """Levels whose variances borrow over the taster's own descriptors, and the wander of his own sessions.

    Degrees of freedom after Satterthwaite (1946) from the lots within sessions and from the sessions.
    """
    found = levels(pool, ref, moderated=False, wander=0.0)
    within, df = found.plain, found.plain_df.astype(float)
    if len(pool.descriptors) >= LEAST_DESCRIPTORS:
        within, df = moderated_variance(within, df, variance_prior(within, df, axis=1))
        within = np.where(found.plain_df > 0, within, np.nan)
    wander, wander_df = _own_wander(pool, ref, found, tolerance)
    by_lots, by_sessions = ratio(within, found.lots), wander * found.share
    total = by_lots + by_sessions
    with np.errstate(divide="ignore", invalid="ignore"):
        joint = ratio(total**2, by_lots**2 / df + by_sessions**2 / wander_df)
    return replace(found, within=within, df=np.where(np.isnan(joint), df, joint), wander=wander)


def _own_wander(pool: Pool, ref: Reference, found: Levels, tolerance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Variance of a session's level by taster, averaged over descriptors, and its df; from outside with one session."""
    d = pool.mean - ref.score
    per_session = block_sums((~np.isnan(d)).astype(float), pool.session)
    sessions = (per_session > 0).sum(axis=0)
    mean = ratio(block_sums(np.nan_to_num(d), pool.session), per_session)
    between = ratio(np.nansum(per_session * (mean - found.bias) ** 2, axis=0), sessions - 1)
    size = ratio(found.lots - ratio((per_session**2).sum(axis=0), found.lots), sessions - 1)
    known = ~np.isnan(between) & ~np.isnan(found.plain)
    parts = (np.where(known, x, 0.0).sum(axis=1, keepdims=True) for x in (between - found.plain, size))
    own = np.maximum(ratio(*parts), 0.0)
    outside = (SESSION_WANDER * tolerance) ** 2 * (1 + 1 / found.others)
    df = DESCRIPTORS_COUNT * np.where(known, sessions - 1, 0).sum(axis=1, keepdims=True)
    return np.where(np.isnan(own), outside, own), np.where(np.isnan(own), np.inf, np.maximum(df, 1.0))


def against_repeats(pool: Pool, ref: Reference, evidence: Evidence) -> Evidence:
    """One master: the noise of his scores is that of his hidden repeats, in place of the others' disagreement."""
    both = ~np.isnan(pool.mean[:, TRAINEE]) & ~np.isnan(ref.score[:, TRAINEE])
    looks, ss = pool.looks[:, TRAINEE + 1], pool.within_ss[:, TRAINEE + 1]
    df = np.maximum(looks - 1, 0)
    enough = df.sum(axis=0) >= LEAST_REPEATS
    servings = ratio(both.sum(axis=0), np.where(both, 1 / np.maximum(looks, 1), 0.0).sum(axis=0))

    def noisy(part: Moments, values_ss: np.ndarray, values_df: np.ndarray) -> Moments:
        return replace(
            part,
            others_ss=np.broadcast_to(np.where(enough, values_ss, 0.0), part.own_ss.shape),
            others_df=np.broadcast_to(np.where(enough, values_df, 0), part.own_ss.shape),
            others=np.broadcast_to(np.maximum(np.nan_to_num(servings, nan=1.0), 1.0), part.own_ss.shape),
        )

    without = ((values.sum(axis=0) - values)[:, None] for values in (ss, df))
    return replace(
        evidence,
        moments=noisy(evidence.moments, ss.sum(axis=0), df.sum(axis=0)),
        moments_without=noisy(evidence.moments_without, *without),
    )


def mean_level(tested: Trial) -> tuple[float, float]:
    """Interval of the level averaged over the descriptors, each with its sign; without limits where no lot was met.

    Errors shared by the descriptors of a lot move this mean, and through it the root mean square, more than the
    descriptors one by one suggest.
    """
    found = tested.levels
    deviations = found.deviations[:, TRAINEE].mean(axis=1)
    lots = float(found.lots[TRAINEE].mean())
    if not lots:
        return -np.inf, np.inf
    df = max(float(found.plain_df[TRAINEE].min()), 1.0)
    share = (np.broadcast_to(found.wander, found.bias.shape) * found.share)[TRAINEE].mean()
    by_session = share / max(DESCRIPTORS_COUNT * len(tested.tolerance), 1.0)
    se = np.sqrt((deviations**2).sum() / df / lots + by_session)
    middle, reach = float(found.bias[TRAINEE].mean()), float(special.stdtrit(df, 1 - tested.tail) * se)
    return middle - reach, middle + reach


def why_not_tested(tested: Trial, found: Finding, d: int) -> str:
    """Why slope or steadiness could not be tested on a descriptor."""
    why = found.why[0, d]
    if why == NOT_TESTED and len(tested.masters) == 1:
        return NO_REPEATS if tested.evidence.moments.others_df[TRAINEE, d] < LEAST_REPEATS else NO_OWN_REPEATS
    return str(why)


def assurance_lots(tested: Trial) -> np.ndarray:
    """Lots in all at which level would be settled with 80 % assurance, if estimates stay; inf beyond 400."""
    found = tested.levels
    per_session = found.lots[TRAINEE] / max(tested.sessions, 1)
    wander = np.broadcast_to(found.wander, found.bias.shape)[TRAINEE]
    sd = np.sqrt(found.within[TRAINEE] + wander * per_session)
    gap = np.abs(tested.tolerance - np.abs(found.bias[TRAINEE]))
    return settling_lots(sd, gap, tail=tested.tail, assurance=0.8)
