"""What a comparison of lots over joined sessions says in words: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

QUESTION = Phrase("Do lots of different sessions differ?")
JOINED, NOT_JOINED = "joined", "not joined"

# Which lots: fills the field `lots` of the sentences below.
OF_CLASS = Phrase(" of class {lot_class}")
OVER = Phrase(" of {sessions}")

SEASON = Phrase(
    "Lots{of_class} of {sessions} are compared as one: {links} tasted in several of them, which shows what a day does. "
    "{days}"
)
ONE_LINK, MORE_LINKS = Phrase("{links} was"), Phrase("{links} were")
DAYS = Phrase(
    "From day to day the marks of the whole panel move by a standard deviation of {session} points, each taster's own "
    "by {own}; this is allowed for."
)
NO_MODEL = Phrase("On no descriptor was there enough to tell how far a day moves the marks.")
SAME_TEA = Phrase(
    "If one of these names stood for another tea on another day, give that lot a name of its own and run again."
)
FEW_DAYS = Phrase(
    "{sessions} tell little of what a day does: take a difference between lots of different days as a first look, and "
    "taste the two side by side before acting on it (up to 10 in 100 such intervals miss, instead of 5)."
)

DIFFER = Phrase(
    "{descriptor}: the lots{lots} differ. Lot {above} scores {difference} points above lot {below} ({level} interval "
    "{interval}, all pairs taken together)."
)
ONE_BREW = Phrase(" Each lot stands on one brew: this speaks of the brews, not of the teas.")
NOT_TOLD = Phrase(
    "Cannot tell whether the lots{lots} differ on {descriptors}: two lots would have to lie {least} points apart to "
    "show with this panel, and smaller differences are not ruled out."
)
MORE_TOLD = Phrase("Taste the lots in question side by side, in one session, with the controls among them.")
NO_ANSWER = Phrase("{descriptors}: cannot tell whether the lots{lots} differ; {reason}.")

NOT_JOINED_WORDS = Phrase(
    "Lots{of_class} of {groups} cannot be compared{on} with one another: no lot was tasted on both sides. Each is "
    "compared with the lots it is joined to."
)
ON = Phrase(" on {descriptors}")
JOIN_THEM = Phrase(
    "Serve one or two lots of the class hidden in every session (controls): what they show of a day joins all sessions."
)

METHOD = Phrase(
    "Sessions joined by lots are also fitted as one season: score = lot + taster + session + taster:session + "
    "lot:taster + lot:taster:session + lot:session:pot + error, by REML; lots fixed, the rest random "
    "(lot:session:pot only where pots are shared; what a layout cannot tell apart is left out). Lots of a class are "
    "fitted with all controls and standards. Degrees of freedom by Satterthwaite, for the test of all lots by Fai and "
    "Cornelius; pairs allow for one another ({correction})."
)
TOO_MANY = Phrase("more lots than one test takes")
