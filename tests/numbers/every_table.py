"""Every table that the public functions make of the data sets and the published panels, written as one pickle.

Run by `python -m tests.numbers` inside two checkouts; it uses public names only, so that it runs in both.
"""

from __future__ import annotations

import pickle
import sys
from pathlib import Path

import pandas as pd

import panelstats as pst


def tables_of(result: object) -> dict[str, pd.DataFrame]:
    """Tables of a result, its verdicts as one more."""
    said = [(v.question, v.subject, v.call, v.sentence, v.next_step) for v in result.verdicts]
    words = pd.DataFrame(said, columns=["question", "subject", "call", "sentence", "next_step"])
    return {**result.tables(), "verdicts": words}


def sessions(folder: Path) -> dict[str, object]:
    """The analyses of lots and tasters on each data set."""
    found: dict[str, object] = {}
    for name in ("bench", "new-tasters", "blends"):
        scores = pst.read_scores(folder / "data" / name)
        last = scores.select(session=str(scores.sessions["session"].iloc[-1]))
        found |= {
            f"{name}: faults": pst.faults_noticed(last),
            f"{name}: lots": pst.compare_lots(last),
            f"{name}: agreement": pst.panel_agreement(last),
            f"{name}: tasters": pst.assess_tasters(last),
            f"{name}: pots": pst.check_pots(last),
        }
    day = pst.read_scores(folder / "data" / "row.xlsx")
    return found | {
        "row: short list": pst.shortlist_lots(day),
        "row: agreement": pst.panel_agreement(day),
        "row: tasters": pst.assess_tasters(day),
    }


def others(folder: Path) -> dict[str, object]:
    """Trainees, blends, answers."""
    trainees, blends = (pst.read_scores(folder / "data" / name) for name in ("new-tasters", "blends"))
    answers = pst.read_answers(folder / "data" / "blends" / "answers.csv")
    return {
        "trainees": pst.assess_trainees(trainees),
        "match": pst.match_standard(blends, "S"),
        "track": pst.track_standard(
            pst.read_scores(pst.example.season().frame, room=pst.example.season().registers), "S"
        ),
        "answers": pst.judge_answers(answers),
        "answers within": pst.judge_answers(answers, within_share=0.3),
        "needed": pst.answers_needed("triangle", within_share=0.3, answers=40),
    } | {
        f"{kind}, {right} of 36": pst.difference_test(kind, correct=right, answers=36)
        for kind in ("triangle", "duo-trio", "paired", "2-afc", "3-afc", "tetrad", "two-out-of-five")
        for right in (9, 18, 27)
    }


def published(folder: Path) -> dict[str, object]:
    """Panels that stand in print."""
    found: dict[str, object] = {}
    for path in sorted((folder / "tests" / "published" / "models").glob("*.csv")):
        frame = pd.read_csv(path)
        if not {"lot", "taster", "descriptor", "score"} <= set(frame.columns):
            continue
        scores = pst.read_scores(frame.astype({"lot": str, "taster": str}))
        for pots in ("own", "shared"):
            found[f"{path.stem}, {pots}: lots"] = pst.compare_lots(scores, pots=pots)
            found[f"{path.stem}, {pots}: agreement"] = pst.panel_agreement(scores, pots=pots)
    return found


def main() -> None:
    """Write all tables to the file named."""
    folder = Path(sys.argv[1])
    every = sessions(folder) | others(folder) | published(folder)
    flat = {f"{name}: {table}": frame for name, result in every.items() for table, frame in tables_of(result).items()}
    Path(sys.argv[2]).write_bytes(pickle.dumps(flat))


if __name__ == "__main__":
    main()
