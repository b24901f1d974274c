"""What is said of tasters who answered several times: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

ONE_TASTER = Phrase("All answers are {taster}'s: this speaks of that taster only.")
EACH = Phrase("{tasters} tasters answered {times} times each")
BETWEEN = Phrase("{tasters} tasters answered {fewest} to {most} times")
NO_FIT = "{each}."
ALL_GUESS = Phrase("{each}; where nobody does better than guessing, tasters cannot be told apart.")
THEY_DIFFER = Phrase("{each}; they differ in how well they can tell (correlation within tasters {correlation}, {p}).")
NOT_SHOWN = Phrase("{each}; whether they differ in how well they can tell is not shown ({p}).")
METHOD = Phrase(
    "{method} Tasters answered several times: the difference test pools all answers (exact when nobody can tell); "
    "match and limits come from a beta-binomial with guessing taken apart, by profile likelihood of the mean share "
    "who can tell; a match must also survive an exact test for few tasters at correlations of ability up to all or "
    "none, and limits are never narrower than it and the pooled exact limits allow."
)
