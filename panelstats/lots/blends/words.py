"""What is said of trial recipes: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

NEAREST, CHEAPEST, FEWEST = "nearest", "cheapest", "fewest lots"
REACHES, NEAR, NONE_REACHES = "a trial recipe", "cannot tell", Phrase("no blend of these reaches it")
QUESTION = Phrase("Which blend of the stock comes nearest to {standard}?")
AIM_QUESTION = {
    NEAREST: Phrase("Which recipe lies nearest?"),
    CHEAPEST: Phrase("Which recipe costs least?"),
    FEWEST: Phrase("Which recipe needs the fewest lots?"),
}

REACHED = Phrase("{aim}: {shares}. As its {lots} were scored it lies within what is allowed of {standard} on {words}.")
EVERY = {1: Phrase("its one word"), 2: Phrase("both words")}
ALL = Phrase("all {n} words")
COSTS = Phrase(" It costs {cost} a kilogram.")
HONEST = Phrase(" Scores err: tasted, {widest} may lie {low} to {high} from {standard} ({allowed} allowed).")
OUT_OF_REACH = Phrase("No blend of these reaches {standard}: at its nearest ({shares}) {words}.")
MISSES = Phrase("{word} stays {size} {way} ({allowed} allowed)")
WAYS = {1: Phrase("above"), -1: Phrase("below")}
BINDS = Phrase(" What holds it back: {lots} at the most the stock gives.")
TRY = Phrase(
    "Mix a sample and taste it hidden beside {standard} in one session; then: panelstats match SOURCE --standard "
    "{standard}. Finer leaf weighs more in the liquor than its share, so that scores do not mix as masses do."
)
LOOK_FOR = Phrase("Look for a lot {way} on {word} than any of these, or widen what is allowed.")
HIGHER, LOWER = Phrase("higher"), Phrase("lower")
DENSITY_QUESTION = Phrase("How dense may it be?")
DENSE = Phrase("{aim}: between {low} and {high} g/ml, if volumes at least add and fine leaf at most fills the gaps.")
DENSE_FITS = Phrase(" {grams} g then fit {millilitres} ml in either case.")
DENSE_OVER = Phrase(" {grams} g would overflow {millilitres} ml in either case.")
DENSE_OPEN = Phrase(" Whether {grams} g fit {millilitres} ml is open.")
MEASURE = Phrase("Weigh the mixed sample, three times.")
NOT_WEIGHED = Phrase("Density unknown: {lots} of the recipe were not weighed.")
METHOD = Phrase(
    "Lot means of session {session} (tasters' levels taken off) on {words}, mixed in proportion to mass: an "
    "assumption, which only tasting the blend can test. Nearest: least squares with bounds, each word in units of "
    "what is allowed; cheapest and fewest: linear programmes over all blends within what is allowed, a lot with at "
    "least {least} or not at all. Honest distance: recipe fixed, lot means and standard drawn {draws} times from the "
    "tasters' disagreement (seed {seed}), since a search picks lots whose errors flatter them. {stages}"
)
LIQUOR_ONLY = Phrase("Words of the liquor only: looks of leaf do not average.")
ALL_WORDS = Phrase("No stages are known, so that all words count, also those of looks, which do not average.")
ALLERGENS = Phrase("A blend holds what its lots hold: list flavourings and allergens of each before anybody tastes.")
ALLERGEN_QUESTION = Phrase("What else goes into a blend?")
KNOWN = "known"
