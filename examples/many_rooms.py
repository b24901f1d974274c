"""The season of many rooms, audited from partitions of Parquet that no one machine has to hold.

Every partition becomes its cells wherever it lies, and cells are added in a tree; the audit of the sum is the audit of
reading the partitions one after the other. Dask does the mapping here (pip install 'panelstats[cluster]'), a cluster
of two processes on this machine; any engine that can map and fold would do. Without Dask two plain processes do it,
and the example says so.

Run: python examples/many_rooms.py
"""

import tempfile
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import pandas as pd

import panelstats as pst

try:
    from dask.distributed import Client, LocalCluster
except ImportError:
    Client = None


def write_partitions(folder):
    """A season of an invented room, a partition of Parquet for each session, its registers beside them."""
    room = pst.example.season()
    for name, register in room.registers.items():
        register.to_csv(folder / f"{name}.csv", index=False)
    scores = pst.read_scores(room.frame, room=room.registers)
    parts = folder / "scores"
    parts.mkdir()
    for session in scores.sessions["session"]:
        scores.select(session=session).to_parquet(parts / f"{session}.parquet")
    return sorted(parts.glob("*.parquet"))


def folded(add, parts):
    """Neighbours added two by two until one is left: a tree as deep as the number of parts has binary digits."""
    while len(parts) > 1:
        parts = [add(*parts[at : at + 2]) if at + 1 < len(parts) else parts[at] for at in range(0, len(parts), 2)]
    return parts[0]


def total(one, other):
    """The cells of two parts."""
    return one + other


def cells_by_dask(read, files):
    """Cells of all files, read and added by the two processes of a cluster."""
    with (
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster) as client,
    ):
        return folded(partial(client.submit, total), client.map(read, files)).result()


def cells_by_processes(read, files):
    """The same with two processes of Python's own; the sums are made here."""
    with ProcessPoolExecutor(2) as pool:
        return folded(total, list(pool.map(read, files)))


def main():
    """Write a season, audit it both ways, and hold the answers against each other."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        files = write_partitions(folder)
        registers = {path.stem: pd.read_csv(path) for path in folder.glob("*.csv")}
        read = partial(pst.read_cells, room=registers)
        print("Two processes of a Dask cluster read." if Client else "Dask is not installed: two plain processes read.")
        cells = (cells_by_dask if Client else cells_by_processes)(read, files)
        one_pass = pst.read_cells(folder / "scores", room=registers)
    print(cells, "\n")
    audit, expected = pst.audit_season(cells), pst.audit_season(one_pass)
    for table, wanted in zip(audit.tables().values(), expected.tables().values(), strict=True):
        pd.testing.assert_frame_equal(table, wanted, check_exact=True)
    if str(audit) != str(expected) or cells.digest != one_pass.digest:
        raise SystemExit("the audit of the folded cells is another than that of one pass")
    print(audit.summary.to_string(index=False))
    print("\nThe same to the last digit as reading the partitions one after the other.")


if __name__ == "__main__":
    main()
