"""Sets of a difference test: who is served which order under which codes, and the key to the right answers."""

from __future__ import annotations

import hashlib
from collections import Counter
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.arguments.amounts import from_one
from panelstats.arguments.wording import one_of, text, texts
from panelstats.errors import DesignError
from panelstats.models.kinds import KINDS
from panelstats.models.kinds.orders import allot_orders, serving_orders
from panelstats.plan.codes.draw import drawn_codes
from panelstats.plan.plates import words
from panelstats.plan.plates.plateplan import PlatePlan
from panelstats.plan.session.request import digest_of, names_in_order
from panelstats.result import Act, Verdict
from panelstats.words import count

if TYPE_CHECKING:
    from collections.abc import Collection

LONGEST_RUN = 3  # servings of one kind running in a-not-a (common practice)
_ORDERS, _CODES = 8, 9  # streams of draws


def _two(name: str, value: object, _: object) -> None:
    texts(name, value)
    if len(value) != 2 or len({str(each).strip() for each in value} - {""}) < 2:  # type: ignore[arg-type, attr-defined]
        raise DesignError("a test takes two products", where=f"{name}={value!r}", do="name two different ones")


@checked(
    kind=one_of(*KINDS), trials=from_one, tasters=texts, reference=one_of("balanced", "constant"), products=_two,
    session=text, test=text,
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
    rng = np.random.default_rng(np.random.SeedSequence([seed, _ORDERS]))
    dealt = _singles(names, trials, rng) if kind == "a-not-a" else _sets(kind, names, trials, reference, rng)
    told = {"session": session, "test": test or f"{products[0]} with {products[1]}", "kind": kind}
    servings: list[dict[str, object]] = []
    answers: list[dict[str, object]] = []
    for taster, orders in dealt.items():
        own = np.random.default_rng(np.random.SeedSequence([seed, _CODES, _number(taster)]))
        had: set[tuple[str, str]] = set()
        for trial, order in enumerate(orders, 1):
            cups = order.split(":")[-1]
            codes, _ = drawn_codes(list(cups), own, had={(letter, code) for letter in "ABN" for _, code in had})
            had |= {("", code) for code in codes}
            row = {**told, "taster": taster, "trial": trial}
            answers.append({**row, "order": order, "answer": "", "right": right_answer(kind, order, codes),
                            "code": " ".join(codes)})  # fmt: skip
            if ":" in order:
                servings.append({**row, "position": 0, "code": "R", "product": order[0]})
            servings += [{**row, "position": at, "code": code, "product": letter}
                         for at, (letter, code) in enumerate(zip(cups, codes, strict=True), 1)]  # fmt: skip
    table = pd.DataFrame(servings)
    table["product"] = table["product"].map({"A": products[0], "B": products[1], "N": products[1]})
    key = pd.DataFrame(answers)
    counts = key["order"].value_counts().sort_index().rename_axis("order").rename("times").reset_index()
    standard = words.STANDARDS.get(kind, words.GENERAL)
    plan_id = digest_of([table.to_csv(), key.to_csv()])
    return PlatePlan(
        servings=table, answers=key.assign(plan=plan_id), orders=counts, plan_id=plan_id,
        verdicts=(_verdict(kind, counts, reference),),
        method=words.METHOD.format(kind=kind, standard=standard, seed=seed, plan=plan_id),
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


def _number(name: str) -> int:
    return int.from_bytes(hashlib.sha256(name.encode("utf-8", "surrogatepass")).digest()[:8], "big")


def _verdict(kind: str, counts: pd.DataFrame, reference: str) -> Verdict:
    sets = int(counts["times"].sum())
    if kind == "a-not-a":
        times = counts.set_index("order")["times"]
        told = words.SINGLES.format(servings=count(sets, "serving"), kind=kind, n_a=f"{times.get('A', 0)} of A",
                                    n_not=f"{times.get('N', 0)} of what is not A", run=LONGEST_RUN)  # fmt: skip
        return Verdict(words.QUESTION, "", words.BALANCED, told)
    every = len(serving_orders(kind, reference=reference))
    extra = sets % every
    if not extra:
        told = words.EVEN.format(sets=count(sets, "set"), kind=kind, orders=every, times=count(sets // every, "time"))
        return Verdict(words.QUESTION, "", words.BALANCED, f"{told} {words.FEW}")
    told = words.UNEVEN.format(sets=count(sets, "set"), kind=kind, orders=every, extra=extra)
    step = words.UNEVEN_STEP.format(more=count(every - extra, "set"))
    return Verdict(words.QUESTION, "", words.NEARLY, f"{told} {words.FEW}", {"extra": extra}, step, Act.KNOW)
