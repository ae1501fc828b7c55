"""An update by the daemon works on the card that it is for, and looks at no other volume."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from daemon_kit import run_until
from update_kit import make_library

from syncd import cards
from syncd.applier.identity import CardIdentity
from syncd.daemon.child import Child, order_of
from syncd.daemon.loop import Loop
from syncd.daemon.process import Forked, can_fork
from syncd.library.index import LibraryIndex
from syncd.refresh import refresh
from syncd.settings import Home, find_home

pytestmark = pytest.mark.skipif(not can_fork(), reason="jobs are forked on Linux only")


@pytest.fixture
def home(tmp_path: Path) -> Home:
    return find_home(str(tmp_path / "home"), environment={}).made()


@pytest.fixture
def card(home: Home, tmp_path: Path) -> Path:
    """A card for a library that was scanned."""
    make_library(tmp_path / "music")
    with LibraryIndex(home.index_file) as index:
        index.add_root(tmp_path / "music")
        refresh(index)
    place = tmp_path / "card"
    place.mkdir()
    cards.enrol(home, place, "mcu-mp3", "KITCHEN")
    return place


def updated(home: Home, card: Path, card_id: str = "") -> dict[str, Any]:
    """How a job for *card* ends."""
    (record,) = cards.records(home)
    loop = Loop()
    last: list[dict[str, Any]] = []
    order = order_of("update", home, card_id=card_id or record.id, name="KITCHEN", mount=str(card))
    Child(loop, order, lambda event: None, last.append, make=Forked)
    run_until(loop, lambda: bool(last))
    loop.close()
    return last[0]


def test_the_card_that_came_first_is_updated_though_its_copy_is_here(
    home: Home, card: Path
) -> None:
    copy = Path(shutil.copytree(card, card.with_name("copy")))
    (record,) = cards.records(home)
    cards.save(home, replace(record, mount=str(copy)))  # where it was seen last
    outcome = updated(home, card)
    assert (outcome["event"], outcome.get("written")) == ("done", 6), outcome
    assert sorted(path.name for path in copy.iterdir()) == ["SYNCD"]


def test_a_volume_that_does_not_answer_holds_up_no_other_card(
    home: Home, card: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def asked() -> Iterator[tuple[Path, CardIdentity]]:
        raise AssertionError("other volumes were looked at")

    monkeypatch.setattr(cards, "mounted_cards", asked)  # the fork has it, too
    outcome = updated(home, card)
    assert outcome["event"] == "done", outcome


def test_a_card_that_is_another_one_by_now_is_not_touched(home: Home, card: Path) -> None:
    outcome = updated(home, card, card_id="another")
    assert (outcome["event"], outcome["kind"]) == ("failed", "gone")
    assert sorted(path.name for path in card.iterdir()) == ["SYNCD"]
