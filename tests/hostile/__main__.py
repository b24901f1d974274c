"""`python -m tests.hostile [HOW_MANY [FIRST_SEED]]`: hostile rooms tried, how many held, and what broke."""

import sys

from .corpus import broken


def run(many: int = 200, first: int = 0) -> int:
    """Try some seeds; 0 where all held."""
    failed = 0
    for seed in range(first, first + many):
        case, found = broken(seed)
        failed += bool(found)
        for fault in found:
            print(f"seed {seed}: {case}: {fault}", flush=True)
    print(f"tried {many}, held {many - failed}")
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(run(*map(int, sys.argv[1:])))
