"""`python -m tests.hostile.readers [SECONDS]`: bytes as score sheets, steered by what they reach (atheris).

Every run begins from whole sheets and goes on from fresh seeds. What is read is written, and read again to the same; a
refusal is an error of ours; anything else, a warning too, stops the run with the bytes that did it.
"""

import sys
import tempfile
import warnings
from pathlib import Path

try:
    import atheris
except ImportError:
    sys.exit("atheris is not installed: pip install 'panelstats[fuzz]'")

with atheris.instrument_imports(include=["panelstats.sheets", "panelstats.scores"]):
    import panelstats as pst
    import panelstats.sheets.reading.read
    from panelstats.errors import PanelError

SLOW = 10  # seconds that no small sheet may take
LONGEST = 4_000  # bytes of a sheet
WHOLE = (
    "lot,taster,bright,brisk\n1,elm,5,6\n1,yew,4,7\n2,elm,3,4\n2,yew,3.5,5\n",
    "session;lot;taster;pot;dry leaf: twist\n2026-06-01;A1;elm;1;7,5\n2026-06-01;A1;elm;2;7\n2026-06-02;B;yew;1;3,0\n",
    "Brisk (1-10)\n,elm,yew,oak\n12,5,6,7\n13,4,4,\n14,8,9,9 ?\n\nBody\n,elm,yew,oak\n12,1,2,3\n13,2,,2\n14,3,3,3\n",
    "taster\telm\tyew\nlot\tbright\tbrisk\tbright\tbrisk\n1\t5\t4\t6\t5\n2\t5\t3\t6\t-\n",
    "lot,descriptor,elm 1,elm 2,yew 1,yew 2\nK 7,colour,5,6,4,4\nK 7,body,7,7,8,½\nK 8,colour,3/5,2/5,4/5,1/5\n",
    "sample,key,elm,yew\n417,A,5,6\n322,B,4,4\nmean,,4.5,5\n",
)


def one(data: bytes) -> None:
    """Read, write, read again."""
    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
        warnings.simplefilter("error")
        sheet, again = Path(folder) / "sheet.csv", Path(folder) / "again.csv"
        sheet.write_bytes(data)
        try:
            scores = pst.read_scores(sheet, set_aside=True)
        except PanelError:
            return
        scores.to_csv(again)
        before, after = (table_of(part) for part in (scores, pst.read_scores(again, set_aside=True)))
        assert before == after, (before, after)


def table_of(scores: pst.Scores) -> list[tuple[object, ...]]:
    """Every mark with who gave it and for what; how a session is spelt may settle on the second reading."""
    columns = [name for name in ("taster", "pot", "descriptor", "score") if name in scores.frame]
    return sorted(scores.frame[columns].astype(str).itertuples(index=False, name=None))


def main() -> None:
    """Fuzz for so many seconds."""
    seconds = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    with tempfile.TemporaryDirectory() as folder:
        for n, text in enumerate(WHOLE):
            (Path(folder) / str(n)).write_text(text)
        limits = f"-max_total_time={seconds}", f"-timeout={SLOW}", f"-max_len={LONGEST}"
        atheris.Setup([sys.argv[0], *limits, "-artifact_prefix=/tmp/", folder], one)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
