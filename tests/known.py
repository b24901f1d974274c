"""What many tests ask of the committed data sets, read and reviewed once a process; nobody may change it."""

import json
from functools import cache
from pathlib import Path

import panelstats as pst

DATA = Path(__file__).parents[1] / "data"


@cache
def scores(name):
    return pst.read_scores(DATA / name)


@cache
def truth(name):
    """What was planted in the set of this name."""
    return json.loads((DATA / f"{name}-truth.json").read_text())


@cache
def answers():
    return pst.read_answers(DATA / "blends")


@cache
def session(name="bench"):
    return pst.review_session(scores(name))


@cache
def trainees():
    return pst.review_trainees(scores("new-tasters"))


@cache
def blends():
    return pst.review_blends(scores("blends"), answers=answers())


@cache
def answered():
    return pst.review_answers(answers())
