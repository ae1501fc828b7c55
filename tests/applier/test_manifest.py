"""Manifest and journal: round trips, torn tails, hostile content. A card is hostile input."""

import gzip
import json
import random
import tracemalloc
import zlib

import pytest
from card_world import (
    SCENES,
    assert_foreign_stays,
    end_of,
    library,
    make,
    profile,
    song,
    update,
)
from counting_volume import CountingVolume
from hypothesis import given, settings
from hypothesis import strategies as st

from syncd.applier import manifest
from syncd.applier.manifest import JournalLine, Known, ManifestDamaged
from syncd.applier.reading import read_card
from syncd.errors import CardProblem
from syncd.model import CardPath, ContentHash
from syncd.planner.card_state import ManifestEntry, Source

plain = st.text(st.characters(exclude_categories=("Cs",)), max_size=20)
card_paths = plain.filter(manifest.is_card_path).map(CardPath)
sources = st.builds(Source, plain, plain, plain)
entries_of = st.builds(
    ManifestEntry, card_paths, st.integers(0, 1 << 40), plain.map(ContentHash), sources
)
quick = settings(max_examples=60, derandomize=True, deadline=None, database=None)


def entry(path: str, size: int = 3) -> ManifestEntry:
    return ManifestEntry(CardPath(path), size, ContentHash("0" * 32), Source("a", "r", "d"))


@quick
@given(st.lists(entries_of, unique_by=lambda item: item.path), st.randoms(use_true_random=False))
def test_a_manifest_comes_back_and_its_bytes_do_not_depend_on_the_order(
    entries: list[ManifestEntry], order: random.Random
) -> None:
    data = manifest.encode_manifest(entries)
    assert manifest.decode_manifest(data, "C") == tuple(sorted(entries, key=lambda e: e.path))
    order.shuffle(entries)
    assert manifest.encode_manifest(entries) == data


def test_a_manifest_damaged_at_any_byte_is_never_read_as_another() -> None:
    """gzip carries a CRC-32 of what it holds (RFC 1952); its header's fields say nothing of it."""
    entries = [entry(f"Music/{number}.mp3") for number in range(5)]
    data = manifest.encode_manifest(entries)
    for at in range(len(data)):
        for damaged in (data[:at], data[:at] + bytes([data[at] ^ 0x41]) + data[at + 1 :]):
            try:
                assert manifest.decode_manifest(damaged, "C") == tuple(entries)
            except ManifestDamaged as damage:
                assert "manifest of the card C is damaged" in str(damage)


def packed(*lines: object) -> bytes:
    return gzip.compress(b"\n".join(json.dumps(line).encode() for line in lines) + b"\n", mtime=0)


def line_of(path: str, size: int = 3) -> dict[str, object]:
    source = {"audio": "a", "recipe": "r", "dress": "d"}
    return {"path": path, "size": size, "xxh3_128": "0" * 32, "source": source}


HEAD = {"syncd": "manifest", "format": 1, "files": 1}
HOSTILE_PATHS = [
    "../outside", "/etc/passwd", "a/../../b", "a\\..\\b", "SYNCD/card.json", "syncd/journal",
    "SYNCD./card.json", "Syncd ./x", "", ".", "..", "a//b", "./a", "a/.", "nul\0l", "ſyncd/x",
]  # fmt: skip


@pytest.mark.parametrize("path", HOSTILE_PATHS)
def test_a_manifest_with_a_path_that_leaves_the_card_counts_as_damaged(path: str) -> None:
    assert not manifest.is_card_path(path)
    with pytest.raises(ManifestDamaged):
        manifest.decode_manifest(packed(HEAD, line_of(path)), "C")


@pytest.mark.parametrize(
    "data",
    [
        packed(),
        packed([]),
        packed("x"),
        packed({"syncd": "manifest", "format": "1", "files": 0}),
        packed({**HEAD, "files": 2}, line_of("a")),
        packed({**HEAD, "files": 2}, line_of("a"), line_of("a")),
        packed(HEAD, line_of("a", -1)),
        packed(HEAD, {"path": "a"}),
        packed(HEAD, [1]),
        packed({**HEAD, "files": -1}),
        gzip.compress(b"[" * 100_000 + b"\n", mtime=0),
        gzip.compress(b"\xff\xfe\n", mtime=0),
        b"",
        b"\x1f\x8b",
        b"PK\x03\x04",
    ],
)
def test_nonsense_in_a_manifest_counts_as_damage(data: bytes) -> None:
    with pytest.raises(ManifestDamaged):
        manifest.decode_manifest(data, "C")


def test_a_manifest_that_would_fill_the_memory_counts_as_damaged(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(manifest, "LARGEST_MANIFEST", 100_000)
    with pytest.raises(ManifestDamaged) as caught:
        manifest.decode_manifest(gzip.compress(bytes(10_000_000)), "C")
    assert "too large" in str(caught.value.__cause__)


def test_reading_a_small_manifest_takes_little_memory() -> None:
    """On a computer of 256 MiB, reading was seen to fail for want of a GiB."""
    packed = manifest.encode_manifest(())
    tracemalloc.start()
    try:
        manifest.decode_manifest(packed, "CARD")
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert most < 16 << 20


def test_a_newer_format_is_no_damage_and_says_what_to_do() -> None:
    with pytest.raises(CardProblem, match=r"newer syncd \(manifest format 2\).*left as it is") as e:
        manifest.decode_manifest(packed({**HEAD, "format": 2}, {"what": "ever"}), "C")
    assert not isinstance(e.value, ManifestDamaged)


# -- the journal ---------------------------------------------------------------------------------

LINES = [
    JournalLine("begin"),
    JournalLine("put", entry("Music/a.mp3"), f"{manifest.INCOMING}/1"),
    JournalLine("put", entry("Music/ä\n.mp3"), f"{manifest.INCOMING}/2"),
    JournalLine("placing"),
    JournalLine("sure"),
]


def test_a_journal_comes_back() -> None:
    data = b"".join(manifest.encode_line(line) for line in LINES)
    assert manifest.decode_journal(data) == LINES
    assert manifest.decode_journal(b"") == []


def test_a_torn_tail_is_passed_over_and_what_is_appended_behind_it_counts() -> None:
    data = b"".join(manifest.encode_line(line) for line in LINES)
    for at in range(len(data)):
        for torn in (data[:at], data[:at] + bytes(len(data) - at)):
            found = manifest.decode_journal(torn)
            assert found == LINES[: len(found)]
            assert manifest.decode_journal(torn + data)[-len(LINES) :] == LINES


def test_journal_lines_that_lead_out_of_the_card_are_passed_over() -> None:
    for path in HOSTILE_PATHS:
        line = manifest.encode_line(JournalLine("put", entry(path), f"{manifest.INCOMING}/1"))
        assert manifest.decode_journal(line) == []
    for aside in ("SYNCD/card.json", "Music/own.mp3", "../x", f"{manifest.INCOMING}/../card.json"):
        line = manifest.encode_line(JournalLine("put", entry("a"), aside))
        assert manifest.decode_journal(line) == []


@quick
@given(st.binary(max_size=300))
def test_any_bytes_are_a_journal_of_some_lines(data: bytes) -> None:
    checked = b"%08x %b" % (zlib.crc32(data), data)
    for text in (data, checked):
        for line in manifest.decode_journal(text):
            assert isinstance(line, JournalLine)


def test_a_file_aside_is_no_candidate_for_its_place_before_placing_begins() -> None:
    old, new = entry("a"), entry("a", 4)
    put = JournalLine("put", new, f"{manifest.INCOMING}/1")
    before = Known.replay([old], [put])
    assert before.candidates == {"a": [old]}
    assert before.unsure == set()
    after = Known.replay([old], [put, JournalLine("placing")])
    assert after.candidates == {"a": [new, old]}
    assert after.unsure == {"a"}
    assert Known.replay([old], [put, JournalLine("placing"), JournalLine("sure")]).unsure == set()


# -- a hostile card as a whole -------------------------------------------------------------------


def test_a_hostile_manifest_makes_nothing_of_the_listeners_be_touched() -> None:
    """It claims the listener's files by paths that lead to them from outside the rules."""
    scene = SCENES["in the way"]
    volume = scene.volume()
    volume.put(manifest.MANIFEST, packed(HEAD, line_of("Music/../DCIM/0001.jpg", 500)))
    update(volume, scene.after, scene.profile_after)
    assert_foreign_stays(volume, scene.foreign)


def test_a_journal_on_a_finished_card_changes_nothing_but_goes() -> None:
    snapshot = library(*[song("Marnesund Five", "Low Tide", n, f"Song {n}") for n in (1, 2)])
    volume = CountingVolume()
    update(volume, snapshot, profile())
    before = end_of(volume)
    aside = f"{manifest.INCOMING}/7"
    claim = entry("DCIM/photo.jpg", 5)
    volume.put("DCIM/photo.jpg", b"photo")
    volume.put(manifest.JOURNAL, manifest.encode_line(JournalLine("put", claim, aside)))
    _, reading = make(volume, snapshot, profile())
    assert reading.state.unfinished
    assert list(reading.state.foreign) == ["DCIM/photo.jpg"]
    update(volume, snapshot, profile())
    assert volume.read("DCIM/photo.jpg") == b"photo"
    assert volume.size(manifest.JOURNAL) is None
    found = end_of(volume)
    del found.files["DCIM/photo.jpg"]
    assert found.files == before.files


def test_leftovers_of_ours_are_swept_and_never_block_an_update() -> None:
    snapshot = library(song("Marnesund Five", "Low Tide", 1, "Song 1"))
    clean = CountingVolume()
    update(clean, snapshot, profile())
    volume = CountingVolume()
    for path in (f"{manifest.INCOMING}/1", f"{manifest.INCOMING}/deep/er", manifest.MANIFEST_NEW):
        volume.put(path, b"left over")
    update(volume, snapshot, profile())
    assert end_of(volume).files == end_of(clean).files
    assert volume.folders() == clean.folders()
    assert not read_card(volume).state.unfinished
