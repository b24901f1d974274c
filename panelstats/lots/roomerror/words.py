"""What is said of the error of one look: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

QUESTION = Phrase("How far may one look be off?")
REACH = Phrase(
    "One look of {tasters} at one pot is good to ±{half} points; two lots must lie {least} apart before they "
    "are called different ({df} df, {sessions})."
)
WEAK = Phrase(" This error is weakly known.")
NO_RECORD = Phrase("No record yet: nothing served tells how far one look may be off.")
SERVE = Phrase(
    "Serve {repeats} hidden repeats in a day's row: lots brewed again under another number, one cup more each for "
    "every taster."
)
OTHER_BREWING = Phrase("brewed with another {name}")
TOO_OLD = Phrase("more than 12 months before the latest")
LEFT_OUT = Phrase(" {sessions} of another brewing, or older than 12 months, are left out.")
METHOD = Phrase(
    "Error of one look, from {sessions}: mean squares of repeats and controls within a session, of lots tasted by "
    "several, and of cups looked at twice, joined as a sum of pot, lot:taster and look variance (gamma model with "
    "identity link, weighted least squares repeated; McCullagh & Nelder 1989), Satterthwaite degrees of freedom. Each "
    "mean square borrows from the other classes and descriptors (after Smyth 2004, the prior's own error counted)."
    "{left}"
)
