"""Every messy sheet gives the exact true scores, or names the cell that is wrong."""

import pytest

import panelstats as pst

from .messy import CASES, TASTERS


def write(case, folder):
    for name, data in case.files.items():
        (folder / name).write_bytes(data)
    return folder / next(iter(case.files)) if len(case.files) == 1 else folder


def found(scores):
    frame = scores.frame
    labels = [frame[key].astype(str) for key in ("lot", "taster", "descriptor")]
    return dict(zip(zip(*labels, strict=True), frame["score"], strict=True))


def adds_up(scores):
    counts = scores.account[["scores", "blanks", "faults", "words", "facts", "set_aside"]]
    assert (scores.account["seen"] == counts.sum(axis=1)).all()
    assert scores.account["scores"].sum() == len(scores)


@pytest.mark.parametrize("case", [c for c in CASES if not c.problems and not c.error], ids=lambda c: c.name)
def test_reads_exactly_what_was_scored(case, tmp_path):
    scores = pst.read_scores(write(case, tmp_path), **case.kwargs)
    assert found(scores) == case.scores
    assert set(scores.tasters["taster"]) == set(TASTERS)
    said = " ".join(scores.inferred.astype(str).agg(" ".join, axis=1))
    for sentence in case.says:
        assert sentence in said
    if case.session is None:
        assert list(scores.sessions["session"]) == ["1"]
    elif case.session:
        assert list(scores.sessions["session"]) == [case.session]
    adds_up(scores)


@pytest.mark.parametrize("case", [c for c in CASES if c.problems], ids=lambda c: c.name)
def test_names_every_problem_and_goes_on_without_it(case, tmp_path):
    source = write(case, tmp_path)
    with pytest.raises(pst.SheetError) as caught:
        pst.read_scores(source, **case.kwargs)
    told = caught.value.problems[["row", "column", "value", "reason"]].to_numpy().tolist()
    assert [tuple(row) for row in told] == case.problems
    assert all(caught.value.problems["action"])
    scores = pst.read_scores(source, set_aside=True, **case.kwargs)
    assert found(scores) == case.left
    assert scores.account["set_aside"].sum() > 0
    adds_up(scores)


@pytest.mark.parametrize("case", [c for c in CASES if c.error], ids=lambda c: c.name)
def test_says_why_a_file_is_no_sheet(case, tmp_path):
    with pytest.raises(pst.SheetError) as caught:
        pst.read_scores(write(case, tmp_path), **case.kwargs)
    assert str(caught.value).startswith(case.error)
    assert next(iter(case.files)) in str(caught.value)


def test_there_are_at_least_sixty_messy_sheets():
    assert len(CASES) >= 60
