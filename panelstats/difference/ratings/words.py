"""What is said of ratings beside a blind control: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

ASKED = Phrase("Is it rated further off than the blind control?")

# How far: fills the field `rated`.
RATED = Phrase(
    "{sample}, {tasters} tasters: rated {difference} points from the blind control ({low} to {high}, {df} df)"
)
DIFFERS = Phrase(
    "{rated}: it differs ({p}; samples nobody can tell apart get this verdict in at most {error} of tests)."
)
MATCHES = Phrase(
    "{rated}: it matches within the stated tolerance of {tolerance} points (a sample at the tolerance gets this "
    "verdict in at most {error} of tests)."
)
OPEN = Phrase("{rated}: cannot tell ({p} for a difference).")
NO_ERROR = Phrase("The ratings leave no error to judge by: have more tasters rate both, each more than once.")
MORE = Phrase("About {tasters} tasters in a fresh test would settle {size} points in 8 cases of 10.{proof}")
NO_PROOF = Phrase(" This is no proof of a match: that needs a tolerance.")

METHOD = Phrase(
    "Tasters' mean ratings, additive in taster and sample, error term taster by sample; {test}. Limits are "
    "one-sided, the lower at the error rate of a difference, the upper at that of a match, and hold for all samples "
    "together. d': ordered categories of the distance between two percepts, each rating independent."
)
ONE, SEVERAL = Phrase("one-sided paired t test"), Phrase("Dunnett's one-sided comparisons with the blind control")
