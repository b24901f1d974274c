"""The rule of every name: a word means the same in every public function."""

from __future__ import annotations

from panelstats.arguments.amounts import (
    counts,
    from_one,
    mixture,
    probability,
    rest_of_share,
    share,
    size,
    size_or_zero,
    tolerance,
    whole,
)
from panelstats.arguments.objects import (
    a_result,
    assessed,
    callable_,
    compared,
    place,
    registers,
    scored,
    source,
    table,
)
from panelstats.arguments.refusal import Rule
from panelstats.arguments.wording import counted_tests, headings, known, listed, lot_columns, pots, switch, text, texts

RULES: dict[str, Rule] = {
    "scores": scored, "past": scored, "table": table, "ratings": table,
    "level": probability, "error": probability, "match_error": probability, "power": probability,
    "false_alarm": probability, "wrong_pass": probability, "wrong_fail": probability,
    "within_share": share, "pass_share": share, "fail_share": rest_of_share,
    "within_d": size, "pass_d": size, "true_d": size_or_zero, "tolerance": tolerance,
    "seed": whole, "weeks": from_one, "stop_after": from_one, "take": from_one, "baseline": from_one,
    "hits": whole, "false": whole, "n_a": whole, "n_not_a": whole,
    "correct": counts, "answers": counts, "blanks": counts, "first": counts, "second": counts,
    "kind": text, "subject": text, "trainee": text, "labels": texts, "tasters": texts, "leave_out": texts,
    "tests": counted_tests, "outcomes": listed,
    "pots": pots, "standard": known("lots", "lot"), "control": known("lots", "lot"), "lots": known("lots", "lot"),
    "session": known("sessions", "session"), "trainees": known("tasters", "taster"),
    "until": text, "controls": known("lots", "lot"), "reference": known("tasters", "taster"), "by": lot_columns,
    "garden": known("lots", "garden"),
    "makes": compared, "found": a_result, "mix": mixture,
    "densities": table, "stock": table, "grams": size, "millilitres": size, "batch": size, "fill": share,
    "allowed": probability, "least_share": rest_of_share, "shuffles": from_one, "grades": texts,
    "descriptors": known("descriptors", "descriptor"),
    "pairs": switch, "shortlist": switch, "shared_pots": switch, "set_aside": switch, "overwrite": switch,
    "columns": headings, "room": registers,
    "assessment": assessed, "source": source, "path": place, "out": place, "progress": callable_,
}  # fmt: skip
