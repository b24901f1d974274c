"""What is said of grades and marks: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

RISES, FALLS, CANNOT_TELL = "rises", "falls", "cannot tell"
QUESTION = Phrase("Does {word} change from coarse to fine?")
TOLD = Phrase("From {first} to {last} {word} {call}: {slope} a grade ({interval}), over {lots}.")
STEPS = Phrase(" A trend does not show that every step is in order.")
OPEN = Phrase("Cannot tell whether {word} changes from {first} to {last}: {slope} a grade ({interval}), over {lots}.")
MORE = Phrase("Taste more lots of each grade beside one another, all brewed alike; now the fewest are {fewest}.")
ONE_GRADE = Phrase("Cannot tell whether {word} changes with fineness: lots of one grade only were tasted.")
ONE_GRADE_STEP = Phrase("Taste lots of two grades or more beside one another.")
ALIKE = Phrase("Cannot tell whether {word} changes with fineness: all lots were marked alike.")
ALIKE_STEP = Phrase("Taste lots that differ, on a finer scale.")
METHOD = Phrase(
    "Lots are the units, their means over tasters (levels taken off) within session{family}; grades in the order "
    "given, coarse to fine. {test}; two-sided. Slope: least squares of lot means on the number of the grade, t on "
    "lots less strata less 1 degrees of freedom. Holm over words. Leaf of all grades must be brewed alike (mass, "
    "water, time), else the trend is of the brewing."
)
JONCKHEERE = Phrase("Trend: Jonckheere and Terpstra with ties, shuffled up to 60 lots")
FAMILY = Phrase(" and {column}")
