"""How often the tasters there are must sit, where one answer from each is too few: exact for the worst of abilities.

Abilities differ in ways nobody knows beforehand. Two ends are worked out, and the harder one counts: everybody can tell
now and then, or some always can and the rest guess. At the second end no number of sittings makes up for tasters: a
panel of few may hold nobody who can tell.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from panelstats.models.binomial import TIES, at_least, at_most, least_correct, most_correct

if TYPE_CHECKING:
    from panelstats.difference.counts.forced import Question

# More sittings of one test nobody keeps up (common practice): find tasters instead.
MOST_SITTINGS = 12


def least_tasters(question: Question, power: float) -> tuple[int, int]:
    """Fewest tasters for a difference and for a match, if as many as the tolerance says can tell, and always can.

    A difference needs a panel that holds one of them in `power` of cases; a match one that holds none of them no more
    often than the error rate of a match.
    """
    fewest = np.log([1 - power, question.match_error * TIES]) / np.log1p(-min(question.share or 0.0, 1 - 1e-12))
    difference, match = np.maximum(1, np.ceil(fewest - 1e-9)).astype(int)
    return int(difference), int(match)


@lru_cache(maxsize=256)
def sittings_needed(question: Question, tasters: int, power: float, *, match: bool) -> int | None:
    """Fewest sittings, one set a taster in each, that find the difference, and show the match if it is asked for.

    Returns
    -------
    int or None
        None where `MOST_SITTINGS` are not enough, and for two-sided kinds.
    """
    if question.kind.two_sided or tasters < 1:
        return None
    for each in range(1, MOST_SITTINGS + 1):
        reached = difference_found(question, tasters, each)
        if match:
            reached = min(reached, match_shown(question, tasters, each))
        if reached >= power:
            return each
    return None


def difference_found(question: Question, tasters: int, each: int) -> float:
    """Exact power of the pooled difference test at the tolerance, the worse of the two ends of abilities.

    Examples
    --------
    >>> from panelstats.difference.counts.forced import ask
    >>> asked = ask("triangle", error=0.05, match_error=0.05, within_share=0.3)
    >>> round(difference_found(asked, 9, 6), 3)
    0.749
    """
    limit = float(least_correct(tasters * each, question.chance, question.tail))
    alike = float(at_least(limit, tasters * each, question.at_tolerance))
    able = np.arange(tasters + 1)
    share = question.share or 0.0
    chances = at_most(able, tasters, share) - np.where(able > 0, at_most(able - 1, tasters, share), 0.0)
    return min(alike, float(chances @ at_least(limit - able * each, (tasters - able) * each, question.chance)))


def match_shown(question: Question, tasters: int, each: int) -> float:
    """Chance that a match is shown where nobody can tell: few right in all, and few tasters always right."""
    answers, lucky = tasters * each, question.chance**each
    most = float(most_correct(answers, question.at_tolerance, question.match_error))
    always = float(most_correct(tasters, (question.share or 0.0) * (1 - lucky) + lucky, question.match_error))
    return max(0.0, float(at_most(most, answers, question.chance) + at_most(always, tasters, lucky) - 1))
