"""Lets the tests on real file systems use what the applier's and the whole updates' tests share."""

import sys
from pathlib import Path

_TESTS = Path(__file__).resolve().parent.parent
for _folder in (_TESTS / "applier", _TESTS):
    if str(_folder) not in sys.path:
        sys.path.insert(0, str(_folder))
