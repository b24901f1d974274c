"""Lots and agreement against the same model in R (lme4, lmerTest), on a machine that has it; elsewhere it is left out.

R fits every descriptor and prints F with Satterthwaite's degrees of freedom; its own clock leaves its start out.
`compare_lots` and `panel_agreement` make two fits of each descriptor, and tables and sentences besides.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from tests.bench.bench_models import both
from tests.bench.made import made_cells, peak_mb, scores_by_look, timed

SETTING = {"lots": 40, "tasters": 10, "pots": 2, "descriptors": 15, "missing": 0.08}
LEAST_RATIO = 25
SCRIPT = """
suppressMessages(library(lmerTest))
scores <- read.csv(commandArgs(TRUE)[1], colClasses = c(lot = "factor", taster = "factor"))
parts <- split(scores, scores$descriptor)
invisible(anova(lmer(score ~ lot + (1 | taster) + (1 | taster:lot), parts[[1]])))  # loads what the first call loads
start <- proc.time()
found <- lapply(parts, function(part) anova(lmer(score ~ lot + (1 | taster) + (1 | taster:lot), part)))
spent <- sum((proc.time() - start)[c("user.self", "sys.self")])
lines <- do.call(rbind, lapply(names(found), function(name)
  data.frame(descriptor = name, statistic = found[[name]][["F value"]], df_error = found[[name]][["DenDF"]])))
write.csv(cbind(lines, seconds = spent), commandArgs(TRUE)[2], row.names = FALSE)
"""


def run() -> list[dict[str, object]]:
    """One row: seconds of ours, of R, their ratio; whether F and df agree to 2e-3, where R's optimiser stops."""
    if shutil.which("Rscript") is None:
        return [{"name": "no Rscript on this machine: not compared"}]
    cells = made_cells(**SETTING)
    with tempfile.TemporaryDirectory() as folder:
        script, scores, out = (Path(folder) / name for name in ("fit.R", "scores.csv", "found.csv"))
        script.write_text(SCRIPT)
        scores_by_look(cells).to_csv(scores, index=False)
        subprocess.run(["Rscript", str(script), str(scores), str(out)], check=True, capture_output=True)
        theirs = pd.read_csv(out).set_index("descriptor")
    seconds, (lots, _) = timed(lambda: both(replace(cells, _memo={})))  # each time from the cells alone
    plain = lots.anova.set_index("descriptor").loc[theirs.index]
    same = all(np.allclose(plain[name].astype(float), theirs[name], rtol=2e-3) for name in ("statistic", "df_error"))
    spent = float(theirs["seconds"].iloc[0])
    return [
        {
            "name": "40 x 10 x 2 x 15, 8 % missing, own pots: lots and agreement",
            "seconds": seconds,
            "reference": "R lmerTest, one fit, F and df",
            "reference_seconds": spent,
            "ratio": spent / seconds,
            "peak_mb": peak_mb(),
            "bound": f"at least {LEAST_RATIO} times",
            "held": spent / seconds >= LEAST_RATIO,
            "same": same,
        }
    ]
