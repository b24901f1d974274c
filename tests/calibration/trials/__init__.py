"""All trials by name: a module for each analysis of the package."""

from tests.calibration.trials import (
    advice,
    agreement,
    differences,
    lots,
    makes,
    seasons,
    shortlist,
    standard,
    tasters,
    trainees,
    value,
    weeks,
)

PARTS = (lots, shortlist, makes, value, agreement, standard, weeks, tasters, trainees, seasons, differences, advice)
TRIALS = {trial.name: trial for part in PARTS for trial in part.TRIALS}
