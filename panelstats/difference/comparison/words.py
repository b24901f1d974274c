"""What is said of tests beside one another: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

ASKED, ASKED_SAME = (
    Phrase("Do the tests show differences of one size?"),
    Phrase("Do the same tasters do better in one of the tests?"),
)

# One test: the parts of the field `each`.
D_OF, RIGHT_OF = "{label} d' {d}", Phrase("{label} {right} of {answers} right")

SIZES_DIFFER = Phrase(
    "{each}: the tests show differences of different size ({p}; tests with one d' get this verdict in about {error} "
    "of comparisons). They are not pooled."
)
SIZES_OPEN = Phrase("{each}: cannot tell whether the sizes differ ({p}). If one size holds for all, it is {d}.")
SERVE_MORE = Phrase("Serve more answers of each to narrow the intervals that overlap.")
BETTER = Phrase("{each}: the tasters did better in one test than in the other ({p}).{pots}")
BETTER_OPEN = Phrase("{each}: cannot tell whether the tasters do better in one test than in the other ({p}).{pots}")
SHARED_POTS = Phrase(" Both tests share pots: a pot brewed off moves both, so they are not independent.")
ONLY_ONE_RIGHT = Phrase("Only tasters right in one test alone tell them apart: serve both to more tasters.")

METHOD = Phrase(
    "Each test has a d' of 0 or more by Thurstone's model with its kind's decision rule; one d' for all is held "
    "against a d' for each ({by}). Limits of the common d' by likelihood; those of each test are exact. Answers are "
    "taken as independent, within and between tests."
)
BY_RESULTS = Phrase("likelihood ratio, exact over all results at the least favourable common d'")
BY_RATIO = Phrase("likelihood ratio, chi-square on {df} df")
METHOD_SAME = Phrase(
    "One set of tasters answered both, so the answers are paired: each taster's two counts are swapped in every way, "
    "and the sum of differences held against that exact distribution, two-sided (for one answer each: McNemar)."
)
