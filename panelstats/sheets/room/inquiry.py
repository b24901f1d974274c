"""Questions that only the room can answer: asked in one go, answered in room.xlsx, obeyed from then on."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import pandas as pd

from panelstats.scores.spelling import plain, tidy

if TYPE_CHECKING:
    from panelstats.sheets.files.grid import Sheet

QUESTIONS = ["what", "where", "seen", "guess", "allowed", "answer"]
YES, NO = "yes", "no"
_NUMBER = re.compile(r"-?\d{1,9}(?:[.,]\d{1,9})?")
_YES = frozenset(["yes", "y", "ja", "oui", "si", "sim", "ok", "right", "true"])
_NO = frozenset(["no", "n", "nein", "non", "nao", "wrong", "false"])


@dataclass(frozen=True)
class Question:
    """One question: what is asked, where it arose, what was seen, our guess, and the answer ("" while open).

    `allowed` lists the answers understood, () for any text; `cell` is (sheet, row, column, value, heading), where the
    first cell in doubt stands, counted from 0 (row or column None for a whole column or row); `reason` states what is
    in doubt, "" where a problem says it already.
    """

    what: str
    where: str
    seen: str
    guess: str
    allowed: tuple[str, ...]
    cell: tuple[Sheet, int | None, int | None, str, str]
    reason: str
    answer: str = ""

    @property
    def open(self) -> bool:
        """Whether nobody has answered."""
        return not self.answer


@dataclass
class Inquiry:
    """Asks, and remembers what was answered: {what as `plain` text: {where: answer}}.

    `marks` lists marks nobody declared: mark, guessed worth (NaN for none), descriptor, times seen, where.
    """

    answers: dict[str, dict[str, str]] = field(default_factory=dict)
    asked: dict[tuple[str, str], Question] = field(default_factory=dict)
    marks: list[tuple[str, float, str, int, str]] = field(default_factory=list)

    @classmethod
    def of(cls, register: pd.DataFrame | None) -> Inquiry:
        """An inquiry that knows the answers of the register `questions`."""
        inquiry = cls()
        for row in [] if register is None else register.to_dict("records"):
            answer = tidy(row.get("answer", ""))
            if answer:
                inquiry.answers.setdefault(plain(row["what"]), {})[plain(row.get("where", ""))] = answer
        return inquiry

    def ask(
        self,
        what: str,
        cell: tuple[Sheet, int | None, int | None, object, str],
        *,
        seen: str,
        guess: str,
        allowed: tuple[str, ...] = (),
        reason: str,
        number: bool = False,
    ) -> str:
        """The answer to a question, "" while it is open; `yes` means the guess, `number` allows a number too.

        An answer given for the same place wins; one given for another place holds where only one was ever given.
        """
        where = cell[0].label
        given = self.answers.get(plain(what), {})
        said = given.get(plain(where)) or (next(iter(given.values())) if len(set(given.values())) == 1 else "")
        answer = _understood(said, guess, allowed)
        if number and not answer and _NUMBER.fullmatch(said):
            answer = said.replace(",", ".")
        spot = (cell[0], cell[1], cell[2], tidy(cell[3]), cell[4])
        self.asked.setdefault((what, where), Question(what, where, seen, guess, allowed, spot, reason, answer))
        return answer

    def answered_of(self, label: str) -> bool:
        """Whether an answer speaks of a label: the room knows it, whatever its registers list."""
        return any(f"'{plain(label)}'" in what and not what.startswith("the register ") for what in self.answers)

    @property
    def open(self) -> list[Question]:
        """Questions without an answer."""
        return [question for question in self.asked.values() if question.open]

    def frame(self) -> pd.DataFrame:
        """All questions asked, a row each."""
        rows = [(q.what, q.where, q.seen, q.guess, ", ".join(q.allowed), q.answer) for q in self.asked.values()]
        return pd.DataFrame(rows, columns=QUESTIONS)


def _understood(said: str, guess: str, allowed: tuple[str, ...]) -> str:
    """The answer as one of those allowed; "" where it is none of them."""
    word = plain(said)
    known = {plain(a): a for a in allowed}
    if word in known:
        return known[word]
    if word in _YES:
        return guess
    if word in _NO:
        return NO if not allowed or NO in allowed else ""
    return "" if allowed else said
