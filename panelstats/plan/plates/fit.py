"""Sets of a difference test: who is served which order under which codes, and the key to the right answers."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.arguments.amounts import from_one
from panelstats.arguments.wording import one_of, switch, text, texts
from panelstats.errors import DesignError
from panelstats.models.kinds import KINDS
from panelstats.models.kinds.orders import allot_orders, serving_orders
from panelstats.plan.codes.draw import drawn_codes
from panelstats.plan.plates import words
from panelstats.plan.plates.plateplan import PlatePlan
from panelstats.plan.session.request import digest_of, draws, names_in_order
from panelstats.result import Act, Verdict
from panelstats.speech import said
from panelstats.words import count

if TYPE_CHECKING:
    from collections.abc import Collection

LONGEST_RUN = 3  # servings of one kind running in a-not-a (common practice)
_ORDERS, _CODES, _POTS = 8, 9, 11  # streams of draws


def _two(name: str, value: object, _: object) -> None:
    texts(name, value)
    if len(value) != 2 or len({str(each).strip() for each in value} - {""}) < 2:  # type: ignore[arg-type, attr-defined]
        raise DesignError("a test takes two products", where=f"{name}={value!r}", do="name two different ones")


@checked(
    kind=one_of(*KINDS), trials=from_one, tasters=texts, reference=one_of("balanced", "constant"), products=_two,
    session=text, test=text, pots_of_each=from_one, stop=texts, zeros=switch,
)  # fmt: skip
def plan_difference(
    kind: str,
    tasters: Collection[str],
    *,
    products: tuple[str, str] = ("A", "B"),
    trials: int = 1,
    reference: str = "balanced",
    session: str = "1",
    test: str = "",
    pots_of_each: int | None = None,
    stop: Collection[str] = (),
    zeros: bool = True,
    seed: int = 0,
) -> PlatePlan:
    """Plan the sets of a difference test: orders dealt equally often, fresh codes on every cup, and the key.

    Parameters
    ----------
    kind : str
        triangle, duo-trio, paired, two-out-of-five, a-not-a, or any other kind of `difference_test`.
    tasters : list of str
    products : (str, str)
        What stands behind A and B.
    trials : int
        Sets for each taster (a-not-a: servings, half of each product).
    reference : {"balanced", "constant"}
        Duo-trio: both products serve as the reference in turn, or always A.
    session, test : str
        Written beside every answer.
    pots_of_each : int, optional
        Pots brewed of each product, from which its cups are poured; two like cups of a set come from different ones
        where there are so many.
    stop : list of str
        Numbers that mean something here, never used as codes.
    zeros : bool
        Codes with the digit 0.

    Raises
    ------
    DesignError
        An unknown kind, a taster twice or without a name, or products that are not two.

    Notes
    -----
    Sequences as ISO 4120 (triangle), ISO 10399 (duo-trio) and ISO 5495 (paired) list them, others by enumeration.

    Examples
    --------
    >>> import panelstats as pst
    >>> plan = pst.plan_difference("triangle", ["elm", "yew", "larch", "beech", "alder", "poplar"])
    >>> sorted(plan.answers["order"])
    ['AAB', 'ABA', 'ABB', 'BAA', 'BAB', 'BBA']
    """
    names = names_in_order(tasters, ())
    rng = draws(seed, _ORDERS)
    dealt = _singles(names, trials, rng) if kind == "a-not-a" else _sets(kind, names, trials, reference, rng)
    told = {"session": session, "test": test or f"{products[0]} with {products[1]}", "kind": kind}
    servings: list[dict[str, object]] = []
    answers: list[dict[str, object]] = []
    for taster, orders in dealt.items():
        own, had = draws(seed, _CODES, taster), set[tuple[str, str]]()
        for trial, order in enumerate(orders, 1):
            cups = order.split(":")[-1]
            codes, _ = drawn_codes(list(cups), own, had=had, stop=set(stop), zeros=zeros)
            had |= {(letter, code) for letter in "ABN" for code in codes}
            row = {**told, "taster": taster, "trial": trial}
            answers.append({**row, "order": order, "answer": "", "right": right_answer(kind, order, codes),
                            "code": " ".join(codes)})  # fmt: skip
            if ":" in order:
                servings.append({**row, "position": 0, "code": "R", "product": order[0]})
            servings += [{**row, "position": at, "code": code, "product": letter}
                         for at, (letter, code) in enumerate(zip(cups, codes, strict=True), 1)]  # fmt: skip
    table = pd.DataFrame(servings)
    table["product"] = table["product"].map({"A": products[0], "B": products[1], "N": products[1]})
    table["pot"] = np.nan if pots_of_each is None else poured_from(table, pots_of_each, draws(seed, _POTS))
    key = pd.DataFrame(answers)
    counts = key["order"].value_counts().sort_index().rename_axis("order").rename("times").reset_index()
    standard = words.STANDARDS.get(kind, words.GENERAL)
    plan_id = digest_of([table.to_csv(), key.to_csv()])
    return PlatePlan(
        servings=table, answers=key.assign(plan=plan_id), orders=counts, plan_id=plan_id,
        verdicts=(_verdict(kind, counts, reference), *pot_verdicts(table, pots_of_each)),
        method=words.METHOD.format(kind=said(kind), standard=standard, seed=seed, plan=plan_id),
    )  # fmt: skip


def _sets(kind: str, names: list[str], trials: int, reference: str, rng: np.random.Generator) -> dict[str, list[str]]:
    """Orders by taster: consecutive ones of whole sets, so that each meets different ones first."""
    orders, _ = allot_orders(kind, len(names) * trials, rng=rng, reference=reference)
    return {name: orders[at * trials : (at + 1) * trials] for at, name in enumerate(names)}


def _singles(names: list[str], trials: int, rng: np.random.Generator) -> dict[str, list[str]]:
    """A and not-A in random order, half of each, no more than three alike running."""
    out = {}
    for at, name in enumerate(names):
        some = trials // 2 + (trials % 2) * (at % 2)
        out[name] = drawn_singles(some, trials - some, rng)
    return out


def drawn_singles(n_a: int, n_not_a: int, rng: np.random.Generator) -> list[str]:
    """Servings one after another, each kind as likely as it is left over; anew where one kind alone is left."""
    while True:
        left, out = {"A": n_a, "N": n_not_a}, [""]
        while sum(left.values()):
            allowed = [kind for kind in left if left[kind] and out[-LONGEST_RUN:] != [kind] * LONGEST_RUN]
            if not allowed:
                break
            weights = np.array([left[kind] for kind in allowed], float)
            out.append(str(rng.choice(allowed, p=weights / weights.sum())))
            left[out[-1]] -= 1
        else:
            return out[1:]


def poured_from(servings: pd.DataFrame, pots: int, rng: np.random.Generator) -> np.ndarray:
    """The pot of each cup: those of its product used least, drawn among equals, like cups of a set from different ones.

    Parameters
    ----------
    servings : DataFrame
        taster, trial, product.
    pots : int
        Of each product.
    rng : Generator
    """
    pot = np.zeros(len(servings), np.int64)
    used = {product: np.zeros(pots) for product in servings["product"]}
    cups = servings.groupby(["taster", "trial", "product"], sort=False).indices
    for cup, at in cups.items():
        often = used[cup[-1]]  # type: ignore[index]
        first = np.lexsort((rng.random(pots), often))
        pot[at] = first[np.arange(len(at)) % pots]
        np.add.at(often, pot[at], 1)
    return pot + 1


def pot_verdicts(servings: pd.DataFrame, pots: int | None) -> list[Verdict]:
    """Whether two like cups of a set share a pot; said only where a set has two."""
    alike = servings.groupby(["taster", "trial", "product"], sort=False)
    most = int(alike.size().max())
    if most < 2:
        return []
    if pots is None:
        return [Verdict(words.POTS_QUESTION, "", words.UNKNOWN, words.POTS_UNSAID, {}, words.POTS_STEP)]
    shared = (alike["pot"].nunique() < alike.size()).groupby(level=["taster", "trial"]).any()
    sets = int(shared.sum())
    fields = {"pots": count(pots, "pot"), "sets": f"{sets} of {count(len(shared), 'set')}"}
    if not sets:
        return [Verdict(words.POTS_QUESTION, "", words.APART, words.POTS_APART.format(**fields), {"shared": 0})]
    step = words.POTS_MORE.format(pots=count(most, "pot"))
    return [Verdict(words.POTS_QUESTION, "", words.SHARED, words.POTS_SHARED.format(**fields), {"shared": sets}, step)]


def right_answer(kind: str, order: str, codes: list[str]) -> str:
    """The right answer to an order: codes of the right cups; "" where the tasters themselves say what is right.

    Examples
    --------
    >>> right_answer("triangle", "ABA", ["417", "526", "938"])
    '526'
    >>> right_answer("duo-trio", "B:AB", ["417", "526"])
    '526'
    """
    cups = order.rsplit(":", maxsplit=1)[-1]
    if kind == "a-not-a":
        return "A" if order == "A" else "not A"
    if kind == "same-different":
        return "same" if len(set(cups)) == 1 else "different"
    if kind in ("paired", "2-afc"):
        return ""
    fewest = min(Counter(cups), key=lambda letter: (cups.count(letter), letter))
    chosen = order[0] if kind == "duo-trio" else fewest
    return " ".join(code for letter, code in zip(cups, codes, strict=True) if letter == chosen)


def _verdict(kind: str, counts: pd.DataFrame, reference: str) -> Verdict:
    sets, named = int(counts["times"].sum()), said(kind)
    if kind == "a-not-a":
        times = counts.set_index("order")["times"]
        n_a, n_not = words.OF_A.format(n=times.get("A", 0)), words.NOT_OF_A.format(n=times.get("N", 0))
        told = words.SINGLES.format(servings=count(sets, "serving"), kind=named, n_a=n_a, n_not=n_not, run=LONGEST_RUN)
        return Verdict(words.QUESTION, "", words.BALANCED, told)
    every = len(serving_orders(kind, reference=reference))
    extra = sets % every
    if not extra:
        told = words.EVEN.format(sets=count(sets, "set"), kind=named, orders=every, times=count(sets // every, "time"))
        return Verdict(words.QUESTION, "", words.BALANCED, f"{told} {words.FEW}")
    told = words.UNEVEN.format(sets=count(sets, "set"), kind=named, orders=every, extra=extra)
    step = words.UNEVEN_STEP.format(more=count(every - extra, "set"))
    return Verdict(words.QUESTION, "", words.NEARLY, f"{told} {words.FEW}", {"extra": extra}, step, Act.KNOW)
