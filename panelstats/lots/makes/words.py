"""What is said of the making: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

WENT_WITH, CAUSED, CANNOT_TELL, WHICH = "went with", "caused", "cannot tell", "cannot tell which"
QUESTION = Phrase("What went with the making?")
WORD_QUESTION = Phrase("Was any word said more often of one make?")

SETTINGS = Phrase(
    "{column} {high_setting} against {low_setting} {verb} {descriptor} {difference} ({interval}), over {lots}."
)
VERBS = {WENT_WITH: Phrase("went with"), CAUSED: Phrase("gave")}
SLOPE = Phrase(
    "{column} {verb} {descriptor}: {slope} a unit ({interval}); over the usual range, {usual}, {per_range} "
    "({range_interval}), {lots}."
)
TOGETHER = Phrase(
    "{columns} moved together here (inflation {inflation}): together they went with {descriptor}; which of them, these "
    "lots cannot tell."
)
OPEN = Phrase("{column}: cannot tell on {descriptors}; the widest difference is {widest}.")
WIDEST = Phrase("{descriptor} {difference} ({interval}) between {a} and {b}")
WIDEST_SLOPE = Phrase("{descriptor} {difference} ({interval}) over the usual range")
LOOK = Phrase("Look at {column}, and taste lots of both settings made on the same days before changing anything.")
LOOK_SLOPE = Phrase(
    "Look at {column}, and make lots at both ends of its range on the same days before changing anything."
)
LOOK_CAUSED = Phrase("Choose the setting: the lots were dealt to them at random.")
APART = Phrase("Make lots in which one of them is changed and the others are not.")
MAKE_MORE = Phrase(
    "{lots} of each setting would show a difference of {size}, four times in five; here the fewest are {now}."
)
ENOUGH = Phrase("With the fewest {now} of a setting, a difference of {size} would have been seen four times in five.")
MORE_THAN = Phrase("more than {lots}")

# Why nothing can be tested, whatever the scores.
NONE, ONE_MAKE, ONE_LOT, ONE_DAY, ONE_CLASS, NO_SPREAD, MANY = (
    "not written", "one setting", "one lot each", "day", "class", "no spread", "too many settings",
)  # fmt: skip
CANNOT = {
    NONE: Phrase("{column}: cannot tell: no lot that was tasted has it written."),
    ONE_MAKE: Phrase("{column}: cannot tell: all lots were made alike."),
    ONE_LOT: Phrase("{column}: cannot tell: one lot of each make, and lots differ by themselves."),
    ONE_DAY: Phrase("{column}: cannot tell make from day: each setting has one day of its own."),
    ONE_CLASS: Phrase("{column}: cannot tell make from class or session: no class holds lots of two settings."),
    NO_SPREAD: Phrase("{column}: cannot tell on {descriptors}: all lots were scored alike."),
    MANY: Phrase("{column}: cannot tell: nearly every lot has a setting of its own."),
}
CURES = {
    NONE: Phrase("Write it in the lots register."),
    ONE_MAKE: Phrase(
        "Make some lots otherwise: 17 of each show a difference as wide as lots scatter, 6 one twice as wide."
    ),
    ONE_LOT: Phrase(
        "Taste more lots of each make: 17 of each show a difference as wide as lots scatter, 6 one twice as wide."
    ),
    ONE_DAY: Phrase("Make each setting on several days, best both on each day."),
    ONE_CLASS: Phrase("Make both settings within one class and taste them in one session."),
    NO_SPREAD: Phrase("Taste them on a finer scale, or more lots."),
    MANY: Phrase("Name columns whose settings several lots share."),
}
LEFT_OUT = Phrase(" {n} without it left out.")

WORD = Phrase("{column} {setting}: {word} said of {said} of {of}, against {rest_said} of {rest_of} of the others.")
WORDS_OPEN = Phrase(
    "Cannot tell whether any word went with {column}: of {words} none was said of the lots unevenly enough."
)
MORE_LOTS = Phrase("Taste more lots of each setting, with the words to mark on the sheet.")

DECLARED = Phrase("Declared: {tests} ({columns} by {by}), Holm over them{searches}.")
SEARCH = Phrase(
    "A search: {tests} ({columns} by {by}), Benjamini and Hochberg over them{searches}: of what is shown, up to "
    "{share} may be false."
)
UNADJUSTED = Phrase("{tests} ({columns} by {by}), each by itself{searches}.")
SEARCHES = Phrase(", and times {n} for as many such searches")
METHOD = Phrase(
    "Score = make (fixed) + session and class (fixed) + day within make + lot within make + taster + error; makes are "
    "held against the lots within them, never against cups or tasters. Where all tasters scored all lots: analysis of "
    "the lots' means, exact; else REML with Satterthwaite degrees of freedom. Days enter where they are written. "
    "Pots and looks of one taster at one lot are averaged; trainees, controls and standards do not count. Columns of "
    "more than {most} numbers enter together as slopes. {family} What went with a make need not be caused by it: "
    "weather, leaf and day go with makes, unless lots were dealt to settings at random (column randomised)."
)
