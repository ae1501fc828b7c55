"""Where the tests for firmware find the kits of others."""

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[1] / "catalogue")]
