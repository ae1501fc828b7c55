"""The service on a machine that runs systemd: the short form of ``service_machine.py``.

All checks: ``python tests/daemon/service_machine.py``.
"""

from pathlib import Path

import pytest
from service_machine import Machine, no_machine

SHORT = ("/media/listener", "kill -9", "remove leaves nothing")
"""Checks whose names have one of these, besides those that always run."""


def test_the_service_runs_under_a_booted_systemd(tmp_path: Path) -> None:
    """Installed as a listener does, it is ready by its own word, updates a card, comes back after
    SIGKILL, and leaves nothing behind. What systemd and the kernel do there is the outside judge.
    """
    if reason := no_machine():
        pytest.skip(reason)
    results = Machine(tmp_path / "machine").run(SHORT)
    failed = [result for result in results if not result["ok"]]
    assert not failed
    assert len(results) >= 7
    for word in SHORT:
        assert any(word in result["check"] for result in results)
