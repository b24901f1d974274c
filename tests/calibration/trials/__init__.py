"""All trials by name: a module for each analysis of the package."""

from tests.calibration.trials import (
    advice,
    agreement,
    crossed,
    differences,
    lots,
    makes,
    maps,
    pots,
    reassurance,
    seasons,
    shortlist,
    standard,
    tasters,
    trainees,
    value,
    weeks,
)

PARTS = (
    lots,
    maps,
    pots,
    shortlist,
    makes,
    value,
    agreement,
    reassurance,
    standard,
    weeks,
    tasters,
    crossed,
    trainees,
    seasons,
    differences,
    advice,
)
TRIALS = {trial.name: trial for part in PARTS for trial in part.TRIALS}
