"""Lets the daemon's tests use what whole updates' and real file systems' tests share."""

import sys
from pathlib import Path

_TESTS = Path(__file__).resolve().parent.parent
for _folder in (_TESTS, _TESTS / "realfs", Path(__file__).resolve().parent):
    if str(_folder) not in sys.path:
        sys.path.insert(0, str(_folder))
