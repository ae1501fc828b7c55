"""Updates where the card is small or read-only, and a store with a limit."""

from pathlib import Path

import pytest
from update_kit import Place, make_library

from syncd.applier.folder_volume import FolderVolume
from syncd.applier.volume import Space
from syncd.errors import CardProblem
from syncd.planner.plan import Action
from syncd.updating.exact import sizes_known


@pytest.fixture(scope="session")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    base = tmp_path_factory.mktemp("short")
    make_library(base / "music")
    return base


@pytest.fixture
def place(made_once: Path, tmp_path: Path) -> Place:
    place = Place(tmp_path)
    place.copy_from(made_once, "music")
    place.new_card()
    return place


def room_of(monkeypatch: pytest.MonkeyPatch, free: int, *, read_only: bool = False) -> None:
    """Give every card *free* bytes beside what is on it."""
    real = FolderVolume.listing

    def space(volume: FolderVolume) -> Space:
        taken = sum(-(-file.size // 4096) * 4096 for file in real(volume).files)
        return Space(free - taken, free, 4096, read_only)

    monkeypatch.setattr(FolderVolume, "space", space)


def test_a_read_only_card_is_told_before_anything_is_encoded_for_it(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    room_of(monkeypatch, 1 << 30, read_only=True)
    with pytest.raises(CardProblem, match="read-only"):
        place.update()
    assert not list(place.store.rglob("*.mp3"))


def test_on_a_small_card_recordings_are_whole_or_not_there_and_the_rest_is_told(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = place.plan()
    needed = sum(-(-step.bytes // 4096) * 4096 for step in whole.steps if step.bytes)
    place.update()
    place.new_card()
    sizes = [entry.size for entry in place.update().plan.end]
    place.new_card()
    # Room for the exact sizes of about half, which is far below the estimates of all.
    room_of(monkeypatch, (1 << 20) + sum(sizes) // 2 + 40_000)
    outcome = place.update()
    assert outcome.plan.not_fitting and outcome.applied.written
    assert needed > sum(sizes)
    counts: dict[str, int] = {}
    for placement in outcome.plan.end:
        assert placement.track is not None
        key = placement.track.identity.recording or "popular"
        counts[key] = counts.get(key, 0) + 1
    assert set(counts.values()) == {2}, "every recording here has two movements"
    place.check()
    assert place.plan().count(Action.PRESS) == 0


def test_what_was_measured_in_the_run_that_pressed_is_known_to_the_next(place: Place) -> None:
    place.update()
    place.new_card()

    def known(work, target):  # type: ignore[no-untyped-def]
        plan, _ = work.plan(target)
        return plan.count(Action.WRITE) == 6 and sizes_known(work.shop, plan)

    assert place._with(known, None)


def test_the_store_is_kept_within_its_limit_but_for_what_the_card_needs(place: Place) -> None:
    def limited(work, target):  # type: ignore[no-untyped-def]
        work.store_limit.most = 1
        return work.update(target)

    place._with(limited, None)
    needed = {file.name for file in place.store.rglob("*.mp3")}
    assert needed, "what the card at hand is made of stays"
    place.profile = replace_encoding(place)
    place.new_card()
    place._with(limited, None)
    left = {file.name for file in place.store.rglob("*.mp3")}
    assert left and not left & needed


def replace_encoding(place: Place):  # type: ignore[no-untyped-def]
    encode = place.profile.encode.model_copy(update={"quality": 6})
    return place.profile.model_copy(update={"encode": encode})
