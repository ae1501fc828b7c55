"""Pressings made while their cards are away, from what the cards held when they were last here."""

import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from update_kit import make_library, tag, tone

from syncd import at_home, cards, remembered
from syncd.cards import CardRecord
from syncd.daemon.ahead import press_ahead
from syncd.library.index import LibraryIndex
from syncd.model import CardPath, ContentHash
from syncd.planner.card_state import CardState, ManifestEntry, Source
from syncd.refresh import refresh
from syncd.settings import Home, find_home
from syncd.transcoder.store import Store
from syncd.updating.values import Outcome

STATE = CardState(
    entries=(
        ManifestEntry(CardPath("Music/ä.mp3"), 7, ContentHash("0" * 32), Source("a", "r", "d")),
    ),
    foreign=(CardPath("notes.txt"),),
    catalogue_key="k",
    bytes_free=1000,
    cluster_bytes=512,
    own_bytes=99,
    largest_file_bytes=(1 << 32) - 1,
)


@pytest.fixture
def home(tmp_path: Path) -> Home:
    return find_home(str(tmp_path / "home"), environment={}).made()


def test_what_a_card_held_is_remembered_as_it_was(home: Home) -> None:
    remembered.remember(home, "x", STATE)
    assert remembered.recall(home, "x") == STATE
    assert remembered.recall(home, "y") is None


def test_odd_names_and_a_damaged_memory_do_no_harm(home: Home) -> None:
    odd = replace(STATE, foreign=(CardPath("b\udcff"), CardPath("notes.txt")))
    remembered.remember(home, "x", odd)
    assert remembered.recall(home, "x") == STATE
    (file,) = home.cards.glob("x*")
    file.write_bytes(file.read_bytes()[:-5])
    assert remembered.recall(home, "x") is None
    assert cards.records(home) == []


class Place:
    """A library and a card at home."""

    def __init__(self, base: Path, home: Home) -> None:
        self.home = home
        self.music, self.card = base / "music", base / "card"
        self.stages: set[str] = set()
        make_library(self.music)
        self.card.mkdir()
        with LibraryIndex(home.index_file) as index:
            index.add_root(self.music)
        self.scan()
        self.record = cards.enrol(home, self.card, "mcu-mp3", "KITCHEN")
        with at_home.card_in_hand(home, "KITCHEN") as hand:
            at_home.remember(home, hand)

    def scan(self) -> None:
        with LibraryIndex(self.home.index_file) as index:
            refresh(index)

    def ahead(self, plugged: frozenset[str] = frozenset()) -> dict[str, Any]:
        return press_ahead(self.home, plugged, lambda **_: None, lambda: None)

    def update(self) -> Outcome:
        with LibraryIndex(self.home.index_file) as index:
            library = index.snapshot()
        with (
            at_home.card_in_hand(self.home, "KITCHEN") as hand,
            at_home.updater(self.home, library, self.said) as work,
        ):
            outcome = work.update(hand.target)
            at_home.remember(self.home, hand)
        return outcome

    def said(self, progress: Any) -> None:
        self.stages.add(progress.stage)


@pytest.fixture
def place(tmp_path: Path, home: Home) -> Place:
    return Place(tmp_path, home)


def test_after_it_plugging_in_means_copying_only(place: Place) -> None:
    away = place.card.rename(place.card.with_name("away"))
    assert place.ahead() == {"pressed": 5, "problems": {}}
    away.rename(place.card)
    outcome = place.update()
    assert (outcome.pressed, outcome.from_store, outcome.applied.written) == (0, 5, 6)
    assert place.stages <= {"write", "compare"}  # nothing was left to check or to measure


def test_only_what_the_card_does_not_hold_is_pressed(place: Place) -> None:
    place.update()
    shutil.rmtree(place.home.store)
    song = place.music / "Popular" / "Low Tide" / "03.flac"
    tone(song, 800)
    tag(song, artist="Marnesund Five", album="Low Tide", title="Slack", tracknumber="3",
        genre="Pop")  # fmt: skip
    place.scan()
    assert place.ahead()["pressed"] == 1
    assert place.ahead()["pressed"] == 0


def test_a_card_that_is_plugged_in_is_left_to_its_update(place: Place) -> None:
    assert place.ahead(frozenset({place.record.id}))["pressed"] == 0


def test_a_full_store_is_not_overfilled(place: Place) -> None:
    place.home.settings_file.write_text("store_limit_gb = 0.00005\n")
    assert 0 < place.ahead()["pressed"] < 5
    while place.ahead()["pressed"]:
        pass  # what is there takes less than was reckoned with: there may be room for more
    with Store(place.home.store) as store:
        assert 0 < sum(store.sizes().values()) <= 50_000


def test_one_card_s_broken_profile_keeps_no_other_waiting(place: Place) -> None:
    broken = CardRecord("b", "BROKEN", "/no/such/profile.toml")
    cards.save(place.home, broken)
    remembered.remember(place.home, "b", STATE)
    told = place.ahead()
    assert told["pressed"] == 5
    assert "/no/such/profile.toml" in told["problems"]["BROKEN"]
