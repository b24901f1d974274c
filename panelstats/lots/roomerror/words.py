"""What is said of the error of one look: whole sentences whose fields come formatted."""

QUESTION = "How far may one look be off?"
REACH = (
    "One look of {tasters} at one pot is good to ±{half} points; two lots must lie {least} apart before they "
    "are called different ({df} df, {sessions})."
)
WEAK = " This error is weakly known."
NO_RECORD = "No record yet: nothing served tells how far one look may be off."
SERVE = (
    "Serve {repeats} hidden repeats in a day's row: lots brewed again under another number, one cup more each for "
    "every taster."
)
OTHER_BREWING = "brewed with another {name}"
TOO_OLD = "more than 12 months before the latest"
LEFT_OUT = " {sessions} of another brewing, or older than 12 months, are left out."
METHOD = (
    "Error of one look, from {sessions}: mean squares of repeats and controls within a session, of lots tasted by "
    "several, and of cups looked at twice, joined as a sum of pot, lot:taster and look variance (gamma model with "
    "identity link, weighted least squares repeated; McCullagh & Nelder 1989), Satterthwaite degrees of freedom. Each "
    "mean square borrows from the other classes and descriptors (after Smyth 2004, the prior's own error counted)."
    "{left}"
)
