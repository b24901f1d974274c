"""What many tests ask of the committed data, read once a process, reviewed once a language; nobody may change it."""

import json
from functools import cache
from pathlib import Path

import panelstats as pst
from panelstats.speech import spoken

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


def reviewed(review):
    """A review, made once in each language."""
    made = cache(lambda code, *args: review(*args))
    return lambda *args: made(spoken(), *args)


@reviewed
def session(name="bench"):
    return pst.review_session(scores(name))


@reviewed
def trainees():
    return pst.review_trainees(scores("new-tasters"))


@reviewed
def blends():
    return pst.review_blends(scores("blends"), answers=answers())


@reviewed
def answered():
    return pst.review_answers(answers())
