"""The soak in short; with ``SYNCD_DEEP=1`` weeks of it. And that it sees what it should."""

import os
from pathlib import Path

from daemon_soak import Count, soak

DEEP = os.environ.get("SYNCD_DEEP") == "1"


def test_days_of_changes_and_faults_leave_cards_right_and_nothing_behind(tmp_path: Path) -> None:
    rounds = 1000 if DEEP else 8
    grown, _, (first, last) = soak(rounds, 7, tmp_path, whole_every=10 if DEEP else 4)
    if DEEP:
        assert grown == []
    assert last.descriptors <= first.descriptors + 2
    assert last.threads <= first.threads + 1
    assert last.resident_kb < first.resident_kb + 30_000


def test_a_count_that_grows_with_the_rounds_is_told() -> None:
    first = Count(70_000, 265_000, 11, 1, 0)
    assert Count(71_000, 265_400, 12, 1, 0).more_than(first, 100) == []
    grown = Count(80_000, 265_000 + 20 * 100, 11 + 100, 4, 1).more_than(first, 100)
    assert [text.split(":")[0] for text in grown] == [
        "resident_kb", "blocks", "descriptors", "threads", "children"
    ]  # fmt: skip
