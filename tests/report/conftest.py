import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))  # the invented reviews, shared by the tests of this folder
