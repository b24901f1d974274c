"""What a plan says of itself, in whole sentences."""

from panelstats.speech import Phrase

COMPLETE, SPLIT, REPLICATES = "complete", "split", "replicates"

ORDER_QUESTION = Phrase("Is the order of serving fair to every lot?")
COMPARE_QUESTION = Phrase("Can all lots be compared?")
REPEAT_QUESTION = Phrase("Will it show how well each taster repeats?")
PROVE_QUESTION = Phrase("What can it prove?")
CODES_QUESTION = Phrase("Is a slip of the pen seen?")
LOAD_QUESTION = Phrase("How much does each taster take?")
BALANCED, PARTLY, NOT_BALANCED = "balanced", "partly balanced", "not balanced"
YES, NO, UNKNOWN, PLANNED = "yes", "no", "not known yet", "planned"

ORDER_TRAY = Phrase("Positions are {position}: {gap}. A lot follows another {neighbours}.")
ORDER_ALIKE = Phrase("equally often whichever two they are ({most})")
ORDER_UNLIKE = Phrase("{least} to {most} (orders drawn at random: up to {random})")
GAP = Phrase("no lot stands in one position more than {gap} oftener than another")
NO_GAP = Phrase("every lot stands in every position equally often")
ORDER_ONE = Phrase("One taster has one order, drawn at random: neither positions nor neighbours can be balanced.")
ORDER_BENCH = Phrase(
    "Every taster sets out at another place of the row, every other one the other way, so positions vary ({gap}). "
    "Order balanced: position yes, neighbours no: a lot keeps its two neighbours within a round, so what a strong lot "
    "leaves on the palate cannot be told from its neighbour's own taste."
)
ORDER_BENCH_ONE = Phrase("One taster walks one row, drawn at random: neither positions nor neighbours can be balanced.")
ORDER_CLASS = Phrase(
    "Lots stand in class order, a control first and at every {every} places. Order is not balanced: where a lot stands "
    "is bound to what it is, and only controls and repeats can show a drift of the day."
)
STRONG_APART = Phrase("No pot of a strong lot stands beside a control.")
STRONG_BESIDE = Phrase("{times} a pot of a strong lot stands beside a control: no other place is left for it.")
STRONG_STEP = Phrase("Plan fewer strong lots for a session, or fewer controls.")
BESIDE = Phrase("{times} two pots of one lot stand side by side; such neighbours agree too well.")
BESIDE_STEP = Phrase("Plan more lots, or fewer repeats, to part them.")
SECOND_ROUND = Phrase("Ask for a second pot of each lot: every round gets a row of its own.")
RANDOM_STEP = Phrase("Let the row be drawn at random where the room can pour it so.")
MORE_TASTERS = Phrase("With {n} every lot follows every other equally often.")

ONE_LOT = Phrase("There is one lot: only its controls and repeats can say anything.")
ONE_LOT_STEP = Phrase("Add lots, or read the controls.")
TWO_LOTS = Phrase("Two lots: a difference test (plan_difference) asks less of the tasters and proves more.")
TIMES, EVERY, PLAN = Phrase("{n} times {unit}"), Phrase("every session"), Phrase("the plan")
ALL_COMPARED = Phrase(
    "Every lot meets all others in {sheets}; nothing is lost to blocks. A difference between two lots will be known to "
    "± {factor}."
)
JOINED = Phrase(
    "All lots are joined, if not all of them side by side: {efficiency} of the information of a plan without blocks is "
    "kept ({bound}). A difference between two lots will be known to ± {factor} on average, ± {worst} for "
    "the worst pair."
)
OF_A_LOOK = Phrase("the standard deviation of a look")
OF_A_POT = Phrase("the standard deviation of what the tasters together make of a pot")
FALL_APART = Phrase(
    "Nothing joins all lots: they fall into {parts} parts, and lots of different parts cannot be compared."
)
FALL_APART_STEP = Phrase(
    "Serve a control, or some lots of each part, in one more session; until then rank each part alone."
)
RANDOM_APART = Phrase("lots dealt at random would fall apart")
BOUND = Phrase("at most {bound} can be")
RANDOM_SHARE = Phrase("lots dealt at random would keep {random}")
BY_CONTROLS = Phrase(
    "Lots of different sessions are joined through {controls} alone: the variance of their difference is {times} times "
    "that of two lots of one session."
)
MORE_CONTROLS = Phrase("A third control, or a second pot of each lot on another day, would bring them nearer.")

REPEATS = Phrase(
    "Each taster meets {repeats} hidden: the standard deviation of looks at one lot will be known to within {low} to "
    "{high} times its value."
)
NO_REPEATS = Phrase(
    "No lot comes back hidden: how well a taster repeats, and how far one look may be off, will not be known."
)
REPEATS_STEP = Phrase("Ask for {n} for each taster, spread over sessions: then it is known to within 0.7 to 1.8 times.")

PROVES = Phrase(
    "With {tasters} and {pots} of each lot a difference of {eighty} between two lots named beforehand is found in 8 "
    "cases of 10, one of {ninety_five} in 19 of 20 ({source})."
)
PARTS_UNKNOWN = Phrase(" Part of the room's error is not known yet: true limits are wider.")
BUYS = Phrase("{change} brings this down to {eighty} for {cups} more{brews}")
NOT_KNOWN = Phrase("How small a difference it finds is not known: nothing was told of how far a look may be off.")
NOT_KNOWN_STEP = Phrase(
    "Name past sessions of the room (--past; in Python error=room_error(scores), or variances that are known)."
)
RECORD, STATED = Phrase("from the room's record"), Phrase("from the variances stated")

SAFE = Phrase(
    "Codes have {digits} digits; one wrong digit, or two exchanged, always gives a number that is not on the sheet."
)
PLAIN = Phrase(
    "So many pots need plain numbers of {digits} digits: {share} of slips of a digit hit another code of the row and "
    "score another lot unseen."
)
PLAIN_STEP = Phrase(
    "Let two people compare sheet and pots, or plan shorter sessions (400 pots at most have safe codes)."
)

CHANGED_QUESTION, CHANGED_CALL = Phrase("What does the change do?"), "changed"
CHANGED = Phrase("In place of plan {before}, whose key stays valid: {kept} of {cups} stay under their codes.")
LATE = Phrase(" {lots} came late: {cups} more, in places drawn among those still to come.")
AWAY = Phrase(" {taster} is away: {cups} fewer.")
INSTEAD = Phrase(" {other} comes instead of {taster}: {cups} in the same order.")
CHANGED_STEP = Phrase("Hand new sheets to {tasters} for what is still to taste; what is filled in stays as it is.")
NO_SHEET = Phrase("No other sheet changes.")
SERVED_QUESTION, WHOLE, IN_PART = Phrase("What was really served?"), "all of it", "part of it"
SERVED = Phrase("{cups} of {planned} planned are marked; what follows counts these alone.")
NEVER_TASTED = Phrase(" Not tasted by anybody: {lots}.")
LEFT = Phrase(" Cups left: {tasters}.")
LEFT_STEP = Phrase(
    "If somebody does not come any more, change the plan (change_plan, panelstats plan FOLDER --absent NAME)."
)
OPENED_QUESTION = Phrase("When was the key opened?")
OPENED = Phrase("The key to the codes was opened {when}, as the room wrote down.")
OPENED_UNSAID = Phrase("Nobody wrote down when the key to the codes was opened: session {sessions}.")
OPENED_STEP = Phrase("Write it under opened in the sheet sessions of room.xlsx, when you open the key.")
OPENED_EARLY = Phrase(
    "The key was opened before the day of the tasting: {sessions}. It was not blind to whoever saw it."
)
OPENED_EARLY_STEP = Phrase("Say who saw it, and that the tasting was not blind to them (blind in the sheet sessions).")
CANNOT_TELL = "cannot tell"
TIRED_QUESTION = Phrase("Do the tasters tire?")
TIRED = Phrase(
    "Marks scatter more towards the end: in the last third of what a taster took they lie {ratio} times as far from "
    "what cup and taster foretell as in the first ({interval}, {cups})."
)
TIRED_STEP = Phrase("Plan a break before the last third (flight), or fewer pots for a session (limit).")
NOT_TIRED = Phrase(
    "That marks scatter more in the last third of what a taster took is not shown: {ratio} times as far from what cup "
    "and taster foretell as in the first ({interval}, {cups})."
)
NOT_TIRED_STEP = Phrase("More sessions of this length would settle it.")
LOAD = Phrase("{sessions}: {most} for a taster in a session at most, {cups} tasted and {brews} brewed in all.")
LOAD_TIME = Phrase(" At {minutes} minutes a pot the longest session takes {total}, breaks not counted.")
LOAD_BREAKS = Phrase(" A sheet has {breaks} at most.")
LEFT_OUT_QUESTION = Phrase("Who is served less?")
LEFT_OUT = Phrase("Not served to {taster}: {lots}. What is said of these lots rests on fewer tasters.")
LEFT_OUT_STEP = Phrase("Tell whoever else drinks or handles them what they hold.")
LOAD_STEP = Phrase("Breaks and water are yours to set (flight): no limit is taken for granted.")

OF_PLAN = Phrase("Plan {plan}.")
METHOD = Phrase(
    "Seed {seed}. Orders: {orders}. Variance of a difference with sheets as blocks, controls joining "
    "them, and efficiency against a plan without blocks. Least differences: two lots named beforehand, two-sided test "
    "at {level}, noncentral t. Codes: digits weighted 1, 2, 3 give one remainder on division by 11. Every session, "
    "round and taster draws from a source of its own."
)
ORDERS = {
    "tray complete": Phrase("Williams squares (1949), a new one for each round"),
    "tray replicates": Phrase("complete replicates in blocks (alpha, Patterson & Williams 1976), positions evened out"),
    "tray balanced": Phrase("balanced incomplete blocks, positions evened out"),
    "tray cyclic": Phrase("cyclic blocks, positions evened out"),
    "tray random": Phrase("blocks dealt at random and improved by exchanges, positions evened out"),
    "bench complete": Phrase("one random row a round, starting places spread over it"),
    "bench split": Phrase("one random row a session, starting places spread over it"),
    "bench replicates": Phrase(
        "complete replicates of sessions in blocks (alpha, Patterson & Williams 1976), random rows"
    ),
}
CLASS_ORDER = Phrase("rows in class order")
