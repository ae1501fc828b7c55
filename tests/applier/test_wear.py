"""How much an update writes to a card, and how often it waits for it."""

import pytest
from card_world import library, profile, retagged, song, update
from counting_volume import CountingVolume

from syncd.catalogue import slots
from syncd.model import CataloguedTrack


def songs(count: int, size: int) -> list[CataloguedTrack]:
    return [song(f"Band {n // 20}", f"Album {n // 10}", n, f"Song {n}", size=size)
            for n in range(count)]  # fmt: skip


def card() -> CountingVolume:
    volume = CountingVolume(case_blind=True)
    volume.put("SYNCD/card.json", b"{}")
    return volume


def payload(volume: CountingVolume, before: set[str]) -> int:
    """Bytes of the files that were not there *before*, and of the catalogue."""
    return sum(
        len(data)
        for path, data in volume.content().items()
        if path not in before
        and (not path.startswith("SYNCD/") or path in map(slots.catalogue_path, ("a", "b")))
    )


@pytest.mark.parametrize("had", [0, 30])
def test_little_more_is_written_than_new_files_and_catalogue(had: int) -> None:
    """At most 1.02 times, with files of a megabyte: a minute of music for a small player."""
    volume = card()
    whole = songs(60, 1_000_000)
    update(volume, library(*whole[:had]), profile())
    before = {path for path in volume.content() if not path.startswith("SYNCD/")}
    at_first = volume.bytes_written
    update(volume, library(*whole), profile())
    written = volume.bytes_written - at_first
    assert written <= 1.02 * payload(volume, before)


def test_what_is_counted_as_written_is_what_was_written() -> None:
    volume = card()
    _, done = update(volume, library(*songs(30, 20_000)), profile())
    assert done.bytes_written == volume.bytes_written


def test_a_change_of_names_writes_no_music() -> None:
    volume = card()
    whole = songs(40, 500_000)
    update(volume, library(*whole), profile(root="Music"))
    at_first = volume.bytes_written
    update(volume, library(*whole), profile(root="Sound"))
    assert volume.bytes_written - at_first < 100_000


def test_barriers_do_not_grow_with_the_number_of_files() -> None:
    def barriers(count: int) -> tuple[int, int, int]:
        volume = card()
        whole = songs(count, 2_000)
        counts = []
        for wanted, player in (
            (whole, profile()),
            ([retagged(entry, genre="Folk") for entry in whole[: count // 2]], profile()),
            (whole[: count // 2], profile(root="Sound")),
        ):
            at_first = volume.barriers
            update(volume, library(*wanted), player)
            counts.append(volume.barriers - at_first)
        return counts[0], counts[1], counts[2]

    assert barriers(10) == barriers(400)
