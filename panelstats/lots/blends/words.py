"""What is said of trial recipes: whole sentences whose fields come formatted."""

NEAREST, CHEAPEST, FEWEST = "nearest", "cheapest", "fewest lots"
REACHES, NEAR, NONE_REACHES = "a trial recipe", "cannot tell", "no blend of these reaches it"
QUESTION = "Which blend of the stock comes nearest to {standard}?"
AIM_QUESTION = {
    NEAREST: "Which recipe lies nearest?",
    CHEAPEST: "Which recipe costs least?",
    FEWEST: "Which recipe needs the fewest lots?",
}

REACHED = "{aim}: {shares}. Of {lots} as they were scored it lies within what is allowed of {standard} on all {words}."
COSTS = " It costs {cost} a kilogram."
HONEST = " Scores err: tasted, {widest} may lie {low} to {high} from {standard} ({allowed} allowed)."
OUT_OF_REACH = "No blend of these reaches {standard}: at its nearest ({shares}) {words}."
MISSES = "{word} stays {size} {way} ({allowed} allowed)"
WAYS = {1: "above", -1: "below"}
BINDS = " What holds it back: {lots} at the most the stock gives."
TRY = (
    "Mix a sample and taste it hidden beside {standard} in one session; then: panelstats match SOURCE --standard "
    "{standard}. Finer leaf weighs more in the liquor than its share, so that scores do not mix as masses do."
)
LOOK_FOR = "Look for a lot {way} on {word} than any of these, or widen what is allowed."
HIGHER, LOWER = "higher", "lower"
DENSITY_QUESTION = "How dense may it be?"
DENSE = "{aim}: between {low} and {high} g/ml, if volumes at least add and fine leaf at most fills the gaps."
DENSE_FITS = " {grams} g then fit {millilitres} ml in either case."
DENSE_OVER = " {grams} g would overflow {millilitres} ml in either case."
DENSE_OPEN = " Whether {grams} g fit {millilitres} ml is open."
MEASURE = "Weigh the mixed sample, three times."
NOT_WEIGHED = "Density unknown: {lots} of the recipe were not weighed."
METHOD = (
    "Lot means of session {session} (tasters' levels taken off) on {words}, mixed in proportion to mass: an "
    "assumption, which only tasting the blend can test. Nearest: least squares with bounds, each word in units of "
    "what is allowed; cheapest and fewest: linear programmes over all blends within what is allowed, a lot with at "
    "least {least} or not at all. Honest distance: recipe fixed, lot means and standard drawn {draws} times from the "
    "tasters' disagreement (seed {seed}), since a search picks lots whose errors flatter them. {stages}"
)
LIQUOR_ONLY = "Words of the liquor only: looks of leaf do not average."
ALL_WORDS = "No stages are known, so that all words count, also those of looks, which do not average."
ALLERGENS = "A blend holds what its lots hold: list flavourings and allergens of each before anybody tastes."
ALLERGEN_QUESTION = "What else goes into a blend?"
KNOWN = "known"
