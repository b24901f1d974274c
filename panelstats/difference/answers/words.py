"""What is said of sheets of answers beside their tests: whole sentences whose fields come formatted."""

ASKED = "Did the place of a serving sway the answers?"
SHOWN, CANNOT_TELL, NOT_CHECKED = "shown", "cannot tell", "not checked"
SUBJECT = "{test} (session {session})"
OF_TEST, OF_KIND = "{subject}, {kind}", "{kind}"

IS_SHOWN = "{who}: some place was named more often than what was served explains ({p}). {orders}{unrecorded}"
IS_OPEN = "{who}: cannot tell whether the place swayed the answers ({p}, {answers}). {orders}{unrecorded}"
UNCHECKED = "{who}: cannot tell whether the place swayed the answers: nothing to check it by. {orders}{unrecorded}"
OPEN_IN_ALL = (
    "{tests} tests: cannot tell whether the place of a serving swayed the answers ({p} at the least). {orders}"
)
BALANCED = "Every order was served equally often, so a habit of place alone cannot pass for a difference."
UNBALANCED = "The orders were not served equally often, so a habit of place could pass for a difference."
UNRECORDED = " The order of {answers} is not recorded."
MORE = "More answers would show a weaker habit."
SERVE_EQUALLY = "Serve every order equally often and record it."
AS_INDEPENDENT = "Tasters answered several times; their answers are taken as independent."

METHOD = (
    "{tests} Blanks count as wrong for a difference and as right for a match. Places: score test in a conditional "
    "logit of the place chosen, what was served taken into account; by simulation below 24 answers. Each test keeps "
    "its error rates; they are not adjusted for the number of tests."
)
