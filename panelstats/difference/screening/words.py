"""What is said of a screening: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

ASKED = Phrase("Does the trainee pass the screening?")
PASSES = Phrase(
    "{right} right in {trials} trials: {trainee} passes; who is right in only {unfit} passes {wrong_pass} of "
    "screenings."
)
FAILS = Phrase(
    "{right} right in {trials} trials: {trainee} fails; who is right in {fit} fails {wrong_fail} of screenings."
)
GO_ON = Phrase("{right} right in {trials} trials: cannot tell yet whether {trainee} passes.")
ANOTHER = Phrase("Give another trial: at most {more} more, to trial {last}.")
METHOD = Phrase(
    "Sequential {kind} test (Wald 1947): pass at or above {slope} n + {above} right, fail at or below {slope} n - "
    "{below}, the nearer line at trial {last}. Exact, by forward recursion: a trainee right in {unfit} passes "
    "{unfit_passes} of screenings after {unfit_trials} trials in the mean, one right in {fit} passes {fit_passes} "
    "after {fit_trials}. A blank is wrong; no trial may be left out."
)
