"""What is said of sheets of answers beside their tests: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

ASKED = Phrase("Did the place of a serving sway the answers?")
SHOWN, CANNOT_TELL, NOT_CHECKED = "shown", "cannot tell", "not checked"
SUBJECT = Phrase("{test} (session {session})")
OF_TEST, OF_KIND = "{subject}, {kind}", "{kind}"

IS_SHOWN = Phrase("{who}: some place was named more often than what was served explains ({p}). {orders}{unrecorded}")
IS_OPEN = Phrase("{who}: cannot tell whether the place swayed the answers ({p}, {answers}). {orders}{unrecorded}")
UNCHECKED = Phrase(
    "{who}: cannot tell whether the place swayed the answers: nothing to check it by. {orders}{unrecorded}"
)
OPEN_IN_ALL = Phrase(
    "{tests} tests: cannot tell whether the place of a serving swayed the answers ({p} at the least). {orders}"
)
BALANCED = Phrase("Every order was served equally often, so a habit of place alone cannot pass for a difference.")
UNBALANCED = Phrase("The orders were not served equally often, so a habit of place could pass for a difference.")
UNRECORDED = Phrase(" The order of {answers} is not recorded.")
MORE = Phrase("More answers would show a weaker habit.")
SERVE_EQUALLY = Phrase("Serve every order equally often and record it.")
AS_INDEPENDENT = Phrase("Tasters answered several times; their answers are taken as independent.")

METHOD = Phrase(
    "{tests} Blanks count as wrong for a difference and as right for a match. Places: score test in a conditional "
    "logit of the place chosen, what was served taken into account; by simulation below 24 answers. Each test keeps "
    "its error rates; they are not adjusted for the number of tests."
)
