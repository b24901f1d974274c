"""What is said of a lot to a buyer: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

MORE, LESS, NOT_SHOWN = "more", "less", ""
QUESTION = Phrase("What is it like?")
SET_APART, NOT_SET_APART = "set apart", "not set apart"

MORE_OF, LESS_OF = Phrase("more {words}"), Phrase("less {words}")
BOTH = Phrase("{more}, {less} than its class ({lot_class}).")
ONE = Phrase("{one} than its class ({lot_class}).")
THE_CLASS = "{name}{n}"
LIKE_CLASS = Phrase(
    "On no word shown to lie apart from its class ({lot_class}); whether it differs from them is not known."
)
BY_ITSELF = Phrase("No other lot of its class was tasted beside it: there is nothing to hold it against.")
RULE = Phrase(
    "A word is used only where the lot lies apart from the mean of its class beyond its interval ({level}, allowed for "
    "all {n} words asked of it)."
)
TRUST = Phrase("{tasters}, {looks}: against its class a word may lie {reach} off.")
NOT_TASTED = Phrase("Not tasted: {what}.")
WHOLE_STAGE = Phrase("{stage} (nothing of it)")
FAULT = Phrase("{fault}: noticed by {noticed} of {asked} tasters.")
FAULT_SAID = Phrase("{fault}: written by {noticed}; the others were not asked.")
NO_FAULT = Phrase("No fault was noticed; that is not a promise that there is none.")
DENSITY = Phrase("{density} g/ml{state}, {n}.")
PACK = Phrase(" {grams} g: {share} of its packs would overflow {millilitres} ml ({interval}).")
METHOD = Phrase(
    "Lots are held against the mean of their class in one session; where few lots were tasted often, by a mixed model"
    " (tasters, lot by taster and shared pots random, REML, Satterthwaite degrees of freedom), where many were tasted"
    " once, by predicted merit with the room's own error of a look. {rule} Marks are points of the room's scale. "
    "Class last season: earlier sessions, set on today's marks by the lots served in both ({joined})."
)
NO_JOIN = Phrase("none, so that it is not shown")
FOOT = Phrase(
    "A word is used only where the room's marks show it, allowing for all words asked. Let liquor cool before "
    "tasting; many cups carry much caffeine; never taste leaf that may be mouldy; declare allergens. No claim of "
    "health or of net quantity is made."
)
