"""`python -m panelstats` is the command line."""

import sys

from panelstats.cli import main

sys.exit(main())
