"""What is said of a screening: whole sentences whose fields come formatted."""

ASKED = "Does the trainee pass the screening?"
PASSES = (
    "{right} right in {trials} trials: {trainee} passes; who is right in only {unfit} passes {wrong_pass} of "
    "screenings."
)
FAILS = "{right} right in {trials} trials: {trainee} fails; who is right in {fit} fails {wrong_fail} of screenings."
GO_ON = "{right} right in {trials} trials: cannot tell yet whether {trainee} passes."
ANOTHER = "Give another trial: at most {more} more, to trial {last}."
METHOD = (
    "Sequential {kind} test (Wald 1947): pass at or above {slope} n + {above} right, fail at or below {slope} n - "
    "{below}, the nearer line at trial {last}. Exact, by forward recursion: a trainee right in {unfit} passes "
    "{unfit_passes} of screenings after {unfit_trials} trials in the mean, one right in {fit} passes {fit_passes} "
    "after {fit_trials}. A blank is wrong; no trial may be left out."
)
