"""What is said of a map, branch by branch, from places made up here."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from panelstats.lots.maps import words
from panelstats.lots.maps.axiswords import carried, ends, marked_by, outermost
from panelstats.lots.maps.filled import Gaps
from panelstats.lots.maps.mapcalls import axes_in_words, fact_words, map_verdicts, notes_of, pairs, size_of

WORDS = np.array(["brisk", "body", "dull", "even"])


LOADINGS = ((1.0, 0.0), (0.6, 0.9), (-0.9, 0.1), (0.1, -0.8))


def placed(
    scores, *, loadings=LOADINGS, p=(0.001, 0.02), trusted=2, shown=None, tasters=6, radius=4.0, scale="points",
    short="", out=None, **more,
):  # fmt: skip
    scores, loadings = np.asarray(scores, float), np.asarray(loadings, float)
    left = {"words": [], "lots": [], "flat": [], "otherwise": None} | (out or {})
    ground = SimpleNamespace(
        lots=np.array([f"L{n}" for n in range(len(scores))]), descriptors=WORDS[: len(loadings)],
        tasters=[f"t{n}" for n in range(tasters)], means=scores @ loadings.T, df=30.0, lot_class="broken", width="",
        residual=np.ones(1),
        one_brew=False, pots=None, left_out=SimpleNamespace(**left), gaps=Gaps(), apart_lots=np.zeros(0, str),
    )  # fmt: skip
    shown = min(trusted, scores.shape[1]) if shown is None else shown
    made = {"arbitrary": False, "turned": False, "alone": -1, "plane": min(shown, 2)} | more
    for name in ("width", "one_brew", "pots"):
        if name in made:
            setattr(ground, name, made.pop(name))
    axes = SimpleNamespace(loadings=loadings, scores=scores, share=np.array([0.61, 0.24, 0.1])[: scores.shape[1]])
    return SimpleNamespace(ground=ground, axes=axes, scores=scores[:, :shown], p=np.asarray(p, float), trusted=trusted,
                           shown=shown, radius=radius, scale=scale, short=short, **made)  # fmt: skip


def drawn(one, **more):
    told = {
        "level": 0.95,
        "standard": "",
        "groups": None,
        "distances": [],
        "facts": [],
        "stages": None,
        "picture": None,
    }
    return SimpleNamespace(placed=one, **(told | more))


SQUARE = [(0.0, 0.0), (3.0, 0.0), (0.0, 4.0), (-3.0, -4.0), (0.5, 0.0)]


def said(one=None, *, named=False, **more):
    return map_verdicts(drawn(placed(SQUARE) if one is None else one, **more), named=named)


# --- axes and their ends ---


def test_ends_are_called_by_the_words_that_carry_them() -> None:
    one = placed(SQUARE)
    assert ends(one, 0) == ("more dull", "more brisk and body")
    assert ends(one, 1) == ("more even", "more body")
    up = placed(SQUARE, loadings=((1.0, 0.0), (0.5, 0.0), (0.49, 0.0), (-0.4, 0.0)))
    assert ends(up, 0) == ("less brisk and body", "more brisk and body")
    down = placed(SQUARE, loadings=((-1.0, 0.0), (-0.7, 0.0), (0.1, 0.0), (0.0, 0.0)))
    assert ends(down, 0) == ("more brisk and body", "less brisk and body")


def test_no_more_than_three_words_half_as_large_as_the_largest_carry_an_end() -> None:
    one = placed(SQUARE)
    assert carried(one, np.array([0.9, 1.0, 0.8, 0.7])) == ["body", "brisk", "dull"]
    assert carried(one, np.array([0.5, 1.0, 0.49, -2.0])) == ["body"]  # 1.0 is half of 2.0
    assert carried(one, np.zeros(4)) == []
    assert carried(one, np.array([0.9, 1.0, 0.8, 0.7]), most=2) == ["body", "brisk"]


def test_a_group_is_marked_by_what_it_has_more_and_less_of() -> None:
    one = placed(SQUARE)
    one.ground.means = np.array([[1.0, 0.2, -0.8, 0.0], [1.0, 0.4, -1.0, 0.1], [9.0, 9, 9, 9]])
    assert marked_by(one, np.array([0, 1])) == "brisk; less dull"
    one.ground.means = np.array([[0.1, 0.0, -0.8, -0.5]])
    assert marked_by(one, np.array([0])) == "less dull, even"


def test_lots_more_than_a_standard_deviation_out_are_named_three_a_side() -> None:
    x = np.array([5.0, 5.5, 6.0, 5.2, 0.0, 0.1, -6.0, -5.5, -5.1, -5.3])
    one = placed(np.column_stack([x - x.mean(), np.zeros(10)]), trusted=1)
    x = one.axes.scores[:, 0]
    sides = outermost(one, (0,))
    high = [f"L{at}" for at in np.argsort(-x) if x[at] > x.std(ddof=1)][:3]
    low = [f"L{at}" for at in np.argsort(x) if -x[at] > x.std(ddof=1)][:3]
    assert sides == [(high, "more brisk and body"), (low, "more dull")]
    assert len(high) == 3


# --- is there a map ---


@pytest.mark.parametrize("short", list(words.SHORT))
def test_too_little_is_said_with_its_own_next_step(short) -> None:
    one = placed(np.zeros((2, 2)), trusted=0, p=(), short=short)
    (first,) = said(one)
    assert (first.call, first.next_step) == (words.CANNOT_TELL, words.SHORT_NEXT[short])
    assert {"lots": "2 lots", "tasters": "6 tasters", "descriptors": "4 descriptors", "error": "30 degrees"}[short] in (
        first.sentence
    )


@pytest.mark.parametrize(
    ("alone", "told"), [(0, "alone hold no axis"), (1, "alone hold 1 axis"), (2, "alone hold 2 axes")]
)
def test_what_one_taster_holds_alone_is_told(alone, told) -> None:
    assert told in said(placed(np.zeros((5, 2)), trusted=0, p=(), short="tasters", alone=alone))[0].sentence
    assert "alone hold" not in said(placed(np.zeros((5, 2)), trusted=0, p=(), short="tasters"))[0].sentence


def test_without_an_axis_there_is_no_map_and_the_first_p_is_told() -> None:
    (first,) = said(placed(SQUARE, trusted=0, p=(0.345, np.nan)))
    assert first.call == words.NOTHING
    assert "(p 0.35" in first.sentence or "(p 0.34" in first.sentence
    assert first.numbers["trusted"] == 0
    assert first.numbers["p_1"] == 0.345
    assert first.next_step == words.NONE_NEXT


@pytest.mark.parametrize(
    ("trusted", "shown", "call", "told"),
    [
        (2, 2, words.MAPPED, "agree on 2 axes"),
        (1, 1, words.ONE_AXIS, "agree on one axis only"),
        (1, 2, words.ONE_AXIS, "agree on 1 axis"),
        (0, 1, words.NOTHING, "agree on no axis"),
        (5, 2, words.MAPPED, "at least 5 axes"),
    ],
)
def test_axes_agreed_on_and_shown_are_told_apart(trusted, shown, call, told) -> None:
    first = said(placed(SQUARE, trusted=trusted, shown=shown))[0]
    assert first.call == call
    assert told in first.sentence
    assert ("shows" in first.sentence) == (told != "agree on one axis only")
    assert "axis 1: 61 %, p 0.001" in first.sentence
    assert ("axis 2: 24 %, p 0.020" in first.sentence) == (shown == 2)
    assert axes_in_words(placed(SQUARE, trusted=4, shown=2)) == "4 axes"


def test_an_axis_that_was_not_asked_about_says_so() -> None:
    assert "axis 2: 24 %, p not asked" in said(placed(SQUARE, p=(0.2,), trusted=1, shown=2))[0].sentence
    assert "axis 2: 24 %, p not asked" in said(placed(SQUARE, p=(0.2, np.nan), trusted=1, shown=2))[0].sentence


@pytest.mark.parametrize(
    ("more", "sentence"),
    [({"arbitrary": True}, words.ARBITRARY), ({"turned": True}, words.TURNED), ({"tasters": 3}, words.NO_REGIONS)],
)
def test_what_makes_a_map_unsure_is_told(more, sentence) -> None:
    assert str(sentence).strip() in said(placed(SQUARE, **more))[0].sentence
    assert str(sentence).strip() not in said()[0].sentence
    assert str(words.NO_REGIONS).strip() not in said(placed(SQUARE, tasters=4))[0].sentence


# --- notes ---


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({}, []),
        ({"out": {"words": ["even"]}}, ["without any mark on them: even."]),
        ({"out": {"lots": ["9"]}}, ["without any mark: 9."]),
        ({"out": {"flat": ["dull"]}}, ["The same for every lot: dull."]),
        ({"width": "width"}, ["brought to 10 points"]),
        ({"width": "ends"}, ["Scales differ"]),
        ({"one_brew": True}, ["One shared brew"]),
        ({"pots": object()}, ["Regions allow for pots"]),
        ({"pots": object(), "radius": np.nan}, []),
        ({"one_brew": True, "short": "lots"}, []),
        ({"out": {"words": ["even"], "lots": ["9"], "otherwise": ("lots", ["1", "2"])}},
         ["on them: even.", "mark: 9. Lots could be left out instead: 1 and 2."]),
        ({"out": {"words": ["even"], "otherwise": ("lots", ["1"])}}, ["even. Lots could be left out instead: 1."]),
    ],
)  # fmt: skip
def test_notes_say_what_was_left_out_or_rescaled(more, told) -> None:
    notes = notes_of(placed(SQUARE, **more))
    assert len(notes) == len(told)
    for note, part in zip(notes, told, strict=True):
        assert part in note


# --- lots beside one another ---


def test_the_three_pairs_farthest_apart_and_the_nearest_are_told() -> None:
    far, near = pairs(placed(SQUARE))
    every = {(f"L{a}", f"L{b}"): np.hypot(SQUARE[a][0] - SQUARE[b][0], SQUARE[a][1] - SQUARE[b][1])
             for a in range(5) for b in range(a + 1, 5)}  # fmt: skip
    order = sorted(every, key=every.get)
    assert [each[:2] for each in far] == order[-1:-4:-1]
    assert [each[2] for each in far] == pytest.approx([every[pair] for pair in order[-1:-4:-1]])
    assert [each[:2] for each in near] == [("L0", "L4")]
    alike = next(v for v in said() if v.question == words.WHO_ALIKE)
    assert alike.numbers == pytest.approx({"farthest": every[order[-1]], "nearest": 0.5})
    assert "nearest: L0 and L4 (0.5 points)" in alike.sentence.lower().replace("l0", "L0").replace("l4", "L4")
    assert alike.sentence.endswith(str(words.RULE))
    assert (
        str(words.RULE)
        not in next(v for v in said(placed(SQUARE, radius=np.nan)) if v.question == words.WHO_ALIKE).sentence
    )
    two = pairs(placed([(0.0, 0.0), (1.0, 0.0), (5.0, 0.0)]))[0]
    assert len(two) == 2  # of three pairs the nearest is not among the farthest


def test_of_many_lots_the_farthest_out_are_looked_at() -> None:
    rng = np.random.default_rng(0)
    scores = rng.normal(size=(600, 2))
    scores[[550, 599]] = (40.0, 0.0), (-40.0, 0.0)
    far, near = pairs(placed(scores))
    assert far[0][:2] == ("L550", "L599")
    assert all(int(name[1:]) < 500 for name in near[0][:2])


@pytest.mark.parametrize(
    ("scale", "value", "told"),
    [("points", 1.0, "1.0 points"), ("points", 2.26, "2.3 points"), ("spread", 2.0, "2.0 sd"),
     ("error", 2.0, "2.0 sd of the error")],
)  # fmt: skip
def test_a_size_has_the_unit_of_its_map(scale, value, told) -> None:
    assert size_of(placed(SQUARE, scale=scale), value) == told
    assert size_of(placed(SQUARE), 1.2, 0) == "1 point"


# --- beside the map ---


def groups(*, clear=True, stable=(0.9, 0.7), p=0.01, rows=5):
    label = np.array([0, 0, 1, 1, 1][:rows])
    found = SimpleNamespace(p=p, label=label, count=2)
    return SimpleNamespace(found=found, clear=clear, row=np.arange(rows), stable=np.array(stable))


def of(verdicts, question):
    return next(v for v in verdicts if v.question == question)


def test_groups_are_told_with_how_far_they_are_kept_and_hardly_ones_so() -> None:
    verdict = of(said(groups=groups()), words.WHAT_GROUPS)
    assert (verdict.call, verdict.numbers) == (words.GROUPS, {"p": 0.01, "groups": 2})
    assert verdict.sentence.startswith("2 groups: L0 and L1 (")
    assert "90 % and 70 %" in verdict.sentence
    assert "hardly one" not in verdict.sentence
    assert "hardly one" in of(said(groups=groups(stable=(0.9, 0.59))), words.WHAT_GROUPS).sentence
    assert "hardly one" not in of(said(groups=groups(stable=(0.9, 0.6))), words.WHAT_GROUPS).sentence
    assert "among 4 lots of them, drawn" in of(said(groups=groups(rows=4)), words.WHAT_GROUPS).sentence
    none = of(said(groups=groups(clear=False, p=0.3)), words.WHAT_GROUPS)
    assert (none.call, none.numbers) == (words.NO_GROUPS, {"p": 0.3})


def far(lot, size, p):
    return SimpleNamespace(lot=lot, distance=size, low=size - 0.4, high=size + 0.4, p_adjusted=p)


def test_distances_are_told_the_nearest_first_and_who_differs() -> None:
    some = [far("L1", 0.5, 0.9), far("L2", 1.0, 0.051), far("L3", 2.0, 0.049), far("L4", 3.0, 0.001)]
    verdict = of(said(standard="L0", distances=some), "How far do the lots lie from L0?")
    assert verdict.call == words.DIFFERS
    assert verdict.numbers == {"nearest": 0.5, "low": 0.09999999999999998, "high": 0.9}
    assert "differ from it: L3 and L4" in verdict.sentence
    assert "; farthest L4 3.0 points" in verdict.sentence
    assert verdict.next_step == words.MATCH_NEXT.format(standard="L0")
    few = of(said(standard="L0", distances=some[:3]), "How far do the lots lie from L0?")
    assert "farthest L" not in few.sentence
    assert few.call == words.DIFFERS
    open_ = of(said(standard="L0", distances=some[:2]), "How far do the lots lie from L0?")
    assert open_.call == words.CANNOT_TELL
    assert "does not make them match" in open_.sentence
    many = [far(f"L{n}", 1.0 + n, 0.001) for n in range(1, 9)]
    assert (
        "L1, L2, L3 and 5 more" in of(said(standard="L0", distances=many), "How far do the lots lie from L0?").sentence
    )


def test_a_standard_that_is_not_on_the_map_is_said_and_one_that_is_is_not() -> None:
    missing = of(said(standard="X"), "How far do the lots lie from X?")
    assert missing.call == words.CANNOT_TELL
    assert "X is not among the lots of broken" in missing.sentence
    assert not [v for v in said(standard="L0") if "How far" in v.question]
    assert not [v for v in said() if "How far" in v.question]


def stages(*ps, used=("liquor", "leaf"), out=()):
    alike = [SimpleNamespace(stage_a="liquor", stage_b=f"leaf {n}", rv=0.7, p=p) for n, p in enumerate(ps)]
    every = [SimpleNamespace(stage=name, used=False) for name in out]
    return SimpleNamespace(stages=every, used=list(used), alike=alike)


@pytest.mark.parametrize(
    ("ps", "call", "alike"),
    [((0.01,), words.TOGETHER, 1), ((0.051,), words.APART, 0), ((0.01, 0.2), words.APART, 1)],
)
def test_stages_tell_one_story_where_every_pair_is_shown_alike(ps, call, alike) -> None:
    verdict = of(said(stages=stages(*ps)), words.ONE_STORY)
    assert (verdict.call, verdict.numbers) == (call, {"pairs_alike": alike})
    assert "RV 0.70" in verdict.sentence
    assert "left out of the joint map" not in verdict.sentence
    assert (
        "infused leaf: no axis of its own"
        in of(said(stages=stages(0.01, out=["infused leaf"])), words.ONE_STORY).sentence
    )
    assert not [
        v for v in said(placed(SQUARE, trusted=0, shown=2), stages=stages(*ps)) if v.question == words.ONE_STORY
    ]


def test_a_stage_alone_has_nothing_to_be_joined_with() -> None:
    one = of(said(stages=stages(used=["liquor"])), words.ONE_STORY)
    assert "only liquor has an axis" in one.sentence.replace("Only", "only")
    assert one.call == words.CANNOT_TELL
    assert "o stage has an axis" in of(said(stages=stages(used=[])), words.ONE_STORY).sentence


@pytest.mark.parametrize(("p", "call", "finding"), [(0.049, words.ONE_PICTURE, words.ALIKE_APART),
                                                    (0.051, words.NO_PICTURE, words.NOT_ONE)])  # fmt: skip
def test_a_shared_picture_stands_beside_chance(p, call, finding) -> None:
    lines = [SimpleNamespace(share=0.5, chance=0.3, p=0.9), SimpleNamespace(share=0.7, chance=0.6, p=p), None]
    verdict = of(said(picture=SimpleNamespace(lines=lines)), words.SAME_PICTURE)
    assert verdict.call == call
    assert str(finding) in verdict.sentence
    assert verdict.numbers == {"share": 0.7, "p": p}
    assert all(part in verdict.sentence for part in ("50 %", "30 %", "70 %", "60 %"))


def fact(name, p, adjusted, *, kind="number", share=0.49, slopes=(0.2, -0.6)):
    return SimpleNamespace(variable=name, p=p, p_adjusted=adjusted, kind=kind, share=share, slope_1=slopes[0],
                           slope_2=slopes[1])  # fmt: skip


def test_facts_that_go_with_the_map_say_how_and_the_rest_are_named() -> None:
    some = [fact("height", 0.01, 0.02), fact("garden", 0.02, 0.04, kind="category"), fact("price", 0.2, 0.051),
            fact("made", np.nan, np.nan)]  # fmt: skip
    verdict = of(said(facts=some), words.GOES_WITH)
    assert verdict.call == words.GOES
    assert "eight goes with the map (multiple R 0.70, higher towards “more even”" in verdict.sentence
    assert "garden goes with the map (49 % of the spread" in verdict.sentence
    assert "not shown by the map: price;" in verdict.sentence
    assert "too few lots to tell: made." in verdict.sentence
    assert of(said(facts=some[2:]), words.GOES_WITH).call == words.NOT_ON_MAP
    assert "“more brisk and body”" in fact_words(placed(SQUARE), fact("height", 0, 0, slopes=(0.7, -0.6)))
    assert "“more dull”" in fact_words(placed(SQUARE), fact("height", 0, 0, slopes=(-0.7, np.nan)))


# --- what was filled in ---


def test_what_was_filled_in_is_told_lot_by_lot_and_how() -> None:
    one = placed(SQUARE)
    at = np.zeros((5, 4), bool)
    at[1, 0] = at[1, 3] = at[4, 2] = True
    one.ground.gaps = Gaps(at, 0.15, axes=2)
    told = said(one)[0].sentence
    assert "3 of 20 places (15 %), where nobody scored a lot on a descriptor (L1: brisk and even; L4: dull), " in told
    assert "from 2 axes of the other marks" in told
    one.ground.gaps = Gaps(at, 0.15)
    assert "by the mean of the lots on it" in said(one)[0].sentence
    short = placed(SQUARE, short="tasters")
    short.ground.gaps = Gaps(at, 0.15)
    assert "Filled in" not in said(short)[0].sentence


@pytest.mark.parametrize(
    ("gaps", "told"),
    [
        (Gaps(share=0.12, refused="all"), "Not filled in: 12 % of the table"),
        (Gaps(share=0.05, refused="lots", names=("L1", "L2")), "Not filled in: of L1 and L2 half of the descriptors"),
        (Gaps(share=0.05, refused="words", names=("dull",)), "Not filled in: on dull half of the lots"),
    ],
)
def test_why_nothing_was_filled_in_is_told(gaps, told) -> None:
    one = placed(SQUARE)
    one.ground.gaps = gaps
    assert told in said(one)[0].sentence


# --- several maps ---


def test_of_several_maps_each_sentence_begins_with_its_class() -> None:
    assert all(v.sentence.startswith("broken: ") and v.subject == "broken" for v in said(named=True))
    assert all(v.sentence[0].isupper() and v.subject == "" for v in said())
    no_class = placed(SQUARE)
    no_class.ground.lot_class = ""
    assert said(no_class, named=True)[0].sentence.startswith("all lots: ")
