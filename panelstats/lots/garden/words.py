"""What is said to a garden: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

ABOVE, BELOW, WITH, CANNOT_TELL = "above its class", "below its class", "with its class", "cannot tell"
QUESTION = Phrase("How does the garden stand beside its class?")
FIRST_QUESTION = Phrase("What should the factory look at first?")
OFTEN = "look here first"
NOTHING = "nothing stands out"

APART = Phrase("{descriptor}: {call}{since}; {now} {difference} ({interval}) from it, over {lots}{wanted}.")
SINCE = Phrase(", since {since}")
NOW, OVERALL = "now", "in all"
WANTED = Phrase("; {wanted} of it is wanted")
ALIKE = Phrase("{descriptors}: with its class, within the tolerance; furthest, {furthest}.")
OPEN = Phrase("{descriptors}: cannot tell whether they lie with their class; furthest, {furthest}.")
FURTHEST = "{descriptor} {difference} ({interval})"
NO_CLASS = Phrase(
    "{descriptors}: cannot tell: fewer than {fewest} lots of others stand beside the garden's in its class."
)
MORE_OTHERS = Phrase("Taste them in a session with more lots of their class.")
LOOK = Phrase("Look at {tells}.")
LOOK_STAGE = Phrase("Look at what the {tells} tells of.")
MORE_LOTS = Phrase("Taste more of its lots: about {lots} in all would bring the widest interval within the tolerance.")
MORE_WEEKS = Phrase(
    "Lots enough stand here: the next weeks will tell, unless a difference lies at the tolerance itself."
)
MANY_LOTS = Phrase("More than {lots} lots would be needed: say which size matters.")
NO_TOLERANCE = Phrase("Declare a tolerance for them: the smallest difference that matters.")

CHANGED = Phrase(
    "Look at {column} first: since {since} it is {after} in place of {before} ({lots_after} against {lots_before}), "
    "and {effects} went with it, not for certain because of it."
)
DIFFERED = Phrase(
    "Look at {column} first: {after} against {before}: {effects} went with it, not for certain because of it."
)
EFFECT = "{descriptor} {difference} ({interval})"
UNWANTED = Phrase("Look at {tells} first: {effects} from its class, against what is wanted.")
EITHER = Phrase("Look at {tells} first: {effects} from its class.")
FAULTY = Phrase("First the faults: {lots}. ")
NOTHING_FOUND = Phrase("Nothing of the making stands out; this does not show that it is steady.")
WRITE_MAKING = Phrase(
    "Write beside each lot how it was made (minutes, degrees, the day): what changed can then be looked for."
)
BOTH_SETTINGS = Phrase("Taste lots of both settings made on the same days before settling on either.")

METHOD = Phrase(
    "Each lot of the garden less the mean of the other gardens' lots of its class and session, whose scatter is the "
    "error. Weeks (of making, else of the session) are smoothed with weight 0.2 and precision 1/(se^2 + w^2), w^2 the "
    "variance between weeks from successive differences; {chart} The band is where eight of ten other lots of the "
    "class lie. Trainees, controls and standards do not count."
)
CHART = Phrase(
    "limit {limit} standard deviations, simulated so that any alarm on any descriptor in these {weeks} has a chance of "
    "{risk} while the garden is as its class."
)
TOO_FEW = Phrase(
    "with {weeks} they are points only, and the garden is judged over all its lots, Holm over {n} descriptors."
)
