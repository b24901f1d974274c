"""`panelstats`, or `python -m panelstats`, is the command line."""

import signal
import sys

signal.signal(signal.SIGINT, signal.SIG_DFL)  # Ctrl-C ends the run without a word, while libraries load, too

from panelstats.cli import main  # noqa: E402

if __name__ == "__main__":
    sys.exit(main())
