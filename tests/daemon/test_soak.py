"""The soak in its short form; with ``SYNCD_DEEP=1`` weeks of it."""

import os
from pathlib import Path

from daemon_soak import soak

DEEP = os.environ.get("SYNCD_DEEP") == "1"


def test_days_of_changes_and_faults_leave_cards_right_and_nothing_behind(tmp_path: Path) -> None:
    first, last, world = soak(1000 if DEEP else 8, 7, tmp_path, whole_every=10 if DEEP else 4)
    assert last.descriptors <= first.descriptors + 2
    assert last.threads <= first.threads + 1
    assert last.resident_kb < first.resident_kb + (8_000 if DEEP else 30_000)
    assert world.left_behind() == []
