"""What is said of the row that tasters walked along, over a season: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

QUESTION = Phrase("Do place in the row and the lot before sway the marks?")
SHOWN, OPEN, NOT_SHOWN = "sways", "cannot tell", "not shown"

ALONG = Phrase(
    "{who}: marks for {descriptor} {move} along the row by {size} points in ten cups ({level} interval {interval}, "
    "{sessions})."
)
RISE, FALL = Phrase("rise"), Phrase("fall")
PANEL = Phrase("The whole panel")
AFTER = Phrase(
    "{who}: a lot tasted after one that is a point higher on {descriptor} is marked {size} points {way} ({level} "
    "interval {interval}, {sessions})."
)
SPREAD = Phrase(
    "{who}: repeats of a lot lie {size} times as far apart ten cups further on ({level} interval {interval}, "
    "{sessions})."
)
LOWER, HIGHER = Phrase("lower, as if by contrast"), Phrase("higher, as if the taste stayed")
REST = Phrase(
    "Shorten the row or rest along it, and give each taster an order of his own: then it falls on no lot in particular."
)
RINSE = Phrase("Rinse and wait between cups, and give each taster an order of his own.")
NOTHING = Phrase(
    "No sway of the row or of the lot before was shown for {who}; smaller ones than {along} points in ten cups, or "
    "{after} points after a lot a point higher, would mostly not show."
)
NOTHING_SPREAD = Phrase(
    "Nor that repeats lie farther apart along the row; less than {times} times as far in ten cups would mostly not "
    "show."
)
ONE_ORDER = Phrase(
    "In {sessions} all tasters tasted the lots in one order: there place in the row, the lot before and the lot itself "
    "cannot be told apart."
)
OWN_ORDERS = Phrase(
    "Give each taster an order of his own, or serve one control at several places along the row: its marks then show "
    "what the row does."
)
METHOD = Phrase(
    "Row: a taster's marks less the others' mean of the lot, on place and on the others' mean of the lot before, both "
    "about his own mean of the session; least squares over the sessions whose orders differ. The whole panel: what lot "
    "and taster leave of a session's marks, on what they leave of places. Student t; corrected over all lines "
    "(Benjamini-Hochberg, 5 %)."
)
SPREAD_METHOD = Phrase(
    "Spread along the row: squares of a taster's own repeats, each descriptor's as a share of the panel's and all "
    "together, on the mean place of the lot's servings; gamma model with the log link, dispersion by Pearson "
    "(McCullagh & Nelder 1989). Pots that all share tell of pots too and are left out."
)
