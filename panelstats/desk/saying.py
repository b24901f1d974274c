"""What was chosen on the page of a sheet, as rows of the room's registers."""

from __future__ import annotations

from math import isfinite
from typing import Any

from panelstats.errors import PanelError

Rows = dict[str, list[dict[str, Any]]]


def said_of(looked: dict[str, Any], key: str, form: dict[str, str]) -> Rows:
    """The rows of headings, questions and marks that a form says.

    Parameters
    ----------
    looked : dict
        How the sheets are read: what the form may speak of.
    key : str
        Of the file.
    form : dict
        `column-KEY`: what a heading means; `answer-KEY` or `other-KEY`: the answer to a question; `worth-KEY`: points,
        or "blank".
    """
    return {
        "headings": _headings(looked, key, form),
        "questions": _questions(looked, form),
        "marks": _marks(looked, form),
    }


def _headings(looked: dict[str, Any], key: str, form: dict[str, str]) -> list[dict[str, Any]]:
    rows: dict[str, dict[str, Any]] = {}
    for view in looked["views"].get(key, []):
        for column in view["columns"].values():
            means = form.get(f"column-{column['key']}", "")
            if means and means != column["means"]:
                named = {"descriptor": column["scores"] or column["heading"]} if means == "score" else {}
                rows[column["heading"]] = {
                    "heading": column["heading"],
                    "where": column["where"],
                    "means": means,
                    **named,
                }
    return list(rows.values())


def _questions(looked: dict[str, Any], form: dict[str, str]) -> list[dict[str, Any]]:
    rows = {}
    for question in looked["questions"]:
        answer = form.get(f"other-{question['key']}", "").strip() or form.get(f"answer-{question['key']}", "")
        if answer:
            for each in _meant(looked, form, question, answer):
                rows[each["key"]] = {"what": each["what"], "where": each["where"], "answer": answer}
    return list(rows.values())


def _meant(looked: dict[str, Any], form: dict[str, str], question: dict[str, Any], answer: str) -> list[dict[str, Any]]:
    """The question that was answered, and those like it where the answer is to hold for them too."""
    if not form.get(f"alike-{question['key']}"):
        return [question]
    return [question, *(q for q in looked["questions"] if q["alike"] == question["alike"] and not q["answer"]
                        and (q["free"] or answer in q["choices"]))]  # fmt: skip


def _marks(looked: dict[str, Any], form: dict[str, str]) -> list[dict[str, Any]]:
    rows = []
    for mark in looked["marks"]:
        worth = form.get(f"worth-{mark['key']}", "").strip()
        if worth:
            said = float("nan") if worth.casefold() == "blank" else _points(worth, mark["mark"])
            rows.append({"mark": mark["mark"], "worth": said, "descriptor": mark["descriptor"]})
    return rows


def _points(text: str, mark: str) -> float:
    try:
        points = float(text.replace(",", "."))
    except ValueError:
        points = float("nan")
    if not isfinite(points):
        raise PanelError(
            f"{text!r} is no number of points", where=f"the worth of {mark!r}", do="write points such as 6.75, or blank"
        )
    return points
