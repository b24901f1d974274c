"""What tables are about, in words that fit the tab of a sheet, and what their columns are called."""

from __future__ import annotations

from panelstats.speech import Phrase, said

TITLES = {
    "anova": Phrase("Whether the lots differ"),
    "mean_squares": Phrase("Spread by its source"),
    "components": Phrase("Where the spread lies"),
    "means": Phrase("Marks of the lots"),
    "pairs": Phrase("Lots compared in pairs"),
    "merit": Phrase("Merit of the lots"),
    "season_anova": Phrase("Whether they differ, joined"),
    "season_components": Phrase("Where it lies, joined"),
    "season_means": Phrase("Marks of the lots, joined"),
    "season_pairs": Phrase("Pairs of lots, joined"),
    "checks": Phrase("Checks of the model"),
    "classes": Phrase("Whether classes are told apart"),
    "summary": Phrase("In short"),
    "taste_again": Phrase("Lots to taste again"),
    "look_again": Phrase("Lots to look at again"),
    "forecast": Phrase("What a second look would give"),
    "errors": Phrase("How far one look may be off"),
    "day": Phrase("The line of the day"),
    "squares": Phrase("What each source shows"),
    "sessions": Phrase("Session by session"),
    "lots": Phrase("Lot by lot"),
    "remarks": Phrase("Remarks"),
    "grades": Phrase("Grade by grade"),
    "link": Phrase("Whether the scores carry it"),
    "together": Phrase("Words beyond the others"),
    "mixture": Phrase("The mixture"),
    "recipes": Phrase("Shares of each recipe"),
    "density": Phrase("Density of each recipe"),
    "weeks": Phrase("Weeks beside the class"),
    "changes": Phrase("Makes changed on a day"),
    "slopes": Phrase("Slopes on numbers"),
    "words": Phrase("Words and faults by make"),
    "alone": Phrase("Each taster's own repeats"),
    "crossed_words": Phrase("Words that crossed"),
    "differences": Phrase("Pots word by word"),
    "order": Phrase("The order without them"),
    "tests": Phrase("What was tested"),
    "descriptors": Phrase("Word by word"),
    "axes": Phrase("Directions agreed on"),
    "regions": Phrase("How sure each place is"),
    "groups": Phrase("Groups of lots"),
    "distances": Phrase("Distances"),
    "stages": Phrase("The stages on the map"),
    "stage_pairs": Phrase("Stages compared"),
    "outermost": Phrase("Lots farthest out"),
    "stage_lots": Phrase("Lots stage by stage"),
    "picture": Phrase("The picture they share"),
    "tasters": Phrase("Taster by taster"),
    "facts": Phrase("Facts laid on the map"),
    "left_out": Phrase("What the map leaves out"),
    "filled_in": Phrase("Marks filled in, as asked"),
    "apart": Phrase("Lots left out, put on it"),
    "places": Phrase("Place of the serving"),
    "d_primes": Phrase("Distances in d'"),
    "risks": Phrase("Chances of a wrong end"),
    "series": Phrase("Session after session"),
    "row": Phrase("Sway of the row"),
    "halves": Phrase("Repeats, half against half"),
    "drift": Phrase("Whether the tasters drift"),
    "trends": Phrase("Trend of each taster"),
    "rulings": Phrase("What the controls say"),
    "limits": Phrase("Limits used"),
    "curve": Phrase("Learning curve"),
    "servings": Phrase("Every serving"),
    "orders": Phrase("Orders served"),
    "answers": Phrase("Sheet of answers"),
    "codes": Phrase("Codes"),
    "brews": Phrase("Pots to brew"),
    "balance": Phrase("Balance of the orders"),
    "positions": Phrase("Where each lot stands"),
    "proof": Phrase("What it can prove"),
    "account": Phrase("Account of every cell"),
    "inferred": Phrase("Taken so, unless you say"),
    "problems": Phrase("Cells set aside"),
    "table": Phrase("All results"),
}
HEADINGS = {
    "p_adjusted": Phrase("p, adjusted"),
    "df_error": Phrase("df of error"),
    "icc_mean": Phrase("agreement of the mean (icc)"),
    "icc_single": Phrase("agreement of one taster (icc)"),
    "lot_a": Phrase("lot"),
    "lot_b": Phrase("against"),
    "se": Phrase("standard error"),
    "set_aside": Phrase("set aside"),
}


def table_title(name: str) -> str:
    """What the table of a result is about."""
    return said(TITLES.get(name, name.replace("_", " ")))


def heading(column: str) -> str:
    """What a column of a table is called."""
    return said(HEADINGS.get(column, column.replace("_", " ")))
