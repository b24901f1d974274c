"""The rule of every name: a word means the same in every public function."""

from __future__ import annotations

from panelstats.arguments import amounts, objects, wording
from panelstats.arguments.refusal import Rule

_NAMES: tuple[tuple[Rule, str], ...] = (
    (objects.scored, "scores past"),
    (objects.table, "table ratings densities stock"),
    (amounts.probability, "level error match_error power false_alarm wrong_pass wrong_fail allowed"),
    (amounts.share, "within_share pass_share fill"),
    (amounts.rest_of_share, "fail_share least_share"),
    (amounts.size, "within_d pass_d grams millilitres batch"),
    (amounts.size_or_zero, "true_d"),
    (amounts.tolerance, "tolerance"),
    (amounts.seed, "seed"),
    (amounts.whole, "hits false n_a n_not_a"),
    (amounts.from_one, "weeks stop_after take baseline shuffles"),
    (amounts.counts, "correct answers blanks first second"),
    (wording.text, "kind subject trainee until"),
    (wording.texts, "labels tasters leave_out grades"),
    (wording.counted_tests, "tests"),
    (wording.listed, "outcomes"),
    (wording.pots, "pots"),
    (wording.known("lots", "lot"), "standard control lots controls"),
    (wording.known("sessions", "session"), "session"),
    (wording.known("tasters", "taster"), "trainees reference"),
    (wording.lot_columns, "by"),
    (wording.known("lots", "garden"), "garden"),
    (objects.compared, "makes"),
    (objects.a_result, "found"),
    (amounts.mixture, "mix"),
    (wording.known("descriptors", "descriptor"), "descriptors"),
    (wording.switch, "pairs shortlist shared_pots set_aside overwrite"),
    (wording.headings, "columns"),
    (objects.registers, "room"),
    (objects.assessed, "assessment"),
    (objects.source, "source"),
    (objects.place, "path out"),
    (objects.callable_, "progress"),
)  # fmt: skip
RULES = {name: rule for rule, names in _NAMES for name in names.split()}
