"""What odd, hostile or very many tags come to in a catalogue: nothing is lost, nothing spoilt."""

import tempfile
from pathlib import Path

import pytest
from catalogue_samples import (
    IDENTITIES,
    Shelf,
    catalogue_of,
    labels,
    listed,
    only_group,
    reached_tracks,
    shelf_of,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from syncd.catalogue.contract import LABEL_BYTES, WHOLE_BYTES
from syncd.catalogue.reader import faults, pages
from syncd.model import Composer, Credit, Identity, Kind, Movement, Work


@pytest.mark.parametrize("seconds", [float("inf"), float("nan"), -1.0])
def test_a_length_that_is_no_length_counts_as_none(tmp_path: Path, seconds: float) -> None:
    shelf = Shelf()
    shelf.track(Identity(Kind.UNKNOWN), seconds=seconds)
    with catalogue_of(shelf, tmp_path) as catalogue:
        assert catalogue.track(1).milliseconds == 0


def test_two_artists_whose_names_have_no_letters_stay_apart(tmp_path: Path) -> None:
    shelf = Shelf()
    shelf.popular("!!!", "One", "x")
    shelf.popular("+/-", "Two", "y")
    assert sorted(labels(shelf, tmp_path, "artists")) == ["!!!", "+/-"]


@pytest.mark.parametrize(
    "name",
    [
        "x" * 10_000,
        "",
        "   ",
        "\0",
        "\u202eseirav\u202c",
        "שלום עולם",
        "\N{MUSICAL SYMBOL G CLEF}\U0001f3b5\U0001f9d1\u200d\U0001f3a4",
        "a\nb\rc\u2028d",
        "'; DROP TABLE tracks; --",
        "half \udcff surrogate",
        "../../etc/passwd",
        "CON",
    ],
)
def test_a_bad_name_spoils_nothing(tmp_path: Path, name: str) -> None:
    shelf = Shelf()
    shelf.track(
        Identity(
            Kind.WORK,
            Composer(name, name),
            Work(name, (name,), name),
            "r",
            Movement(1, name),
            (Credit(name, "soloist", name),),
        ),
        title=name,
        artist=name,
        album=name,
    )
    shelf.popular(name, name, name)
    for charset in ("unicode", "ascii"):
        with catalogue_of(shelf, tmp_path, charset) as catalogue:
            assert sorted(reached_tracks(catalogue)) == [e.path for e in shelf.entries]
            assert faults(catalogue.path) == []
            first = catalogue.list_named("composers").first
            everything = [row.label for row in pages(catalogue.entries, first, 1000)]
            everything += [row.label for row in catalogue.tracks(1, 1000)]
            assert len(everything) >= 8
            for label in everything:
                assert 0 < len(label.encode()) <= LABEL_BYTES
                assert "\n" not in label and "\0" not in label
                assert charset == "unicode" or label.isascii()
            if len(name) == 10_000:
                group = only_group(catalogue)
                whole = (group.composer_name, group.title, group.album, catalogue.track(1).whole)
                (text,) = set(whole)
                assert text is not None
                assert len(text.encode()) == WHOLE_BYTES, "four times a label stands with the item"
                assert name.startswith(text.rstrip("…."))


def test_ascii_text_is_transliterated_and_ordered_as_it_is_shown(tmp_path: Path) -> None:
    shelf = Shelf()
    for sort in ("Чайковский, Пётр", "Zimmer, A", "Dvořák, Antonín"):
        shelf.recording(Work("Serenade"), composer=Composer(sort, sort))
    with catalogue_of(shelf, tmp_path, "ascii") as catalogue:
        rows = [row.label for row in listed(catalogue, "composers")]
        assert all(label.isascii() for label in rows)
        assert rows[-1] == "Zimmer, A", "the transliterated name stands under its Latin letter"
        assert "Dvorak, Antonin" in rows


def test_two_hundred_credits_and_a_thousand_movements_fit(tmp_path: Path) -> None:
    shelf = Shelf()
    players = tuple(Credit(f"Player {n}", "soloist", f"horn {n}") for n in range(200))
    shelf.recording(Work("Gathering"), 1000, credits=players)
    with catalogue_of(shelf, tmp_path) as catalogue:
        recording = only_group(catalogue)
        assert (recording.track_count, recording.credit_count) == (1000, 200)
        names = [c.name for c in catalogue.credits(recording.first_credit, 200)]
        assert names == [credit.name for credit in players]
        assert [t.number for t in pages(catalogue.tracks, 1, 1000)] == list(range(1, 1001))


@settings(max_examples=60, deadline=None)
@given(st.lists(IDENTITIES, max_size=12))
def test_whatever_is_identified_is_reached_once_and_ids_have_no_gaps(
    identities: list[Identity],
) -> None:
    shelf = shelf_of(identities)
    with tempfile.TemporaryDirectory() as folder, catalogue_of(shelf, Path(folder)) as catalogue:
        assert sorted(reached_tracks(catalogue)) == [e.path for e in shelf.entries]
        for home in catalogue.home():
            if home.list == "tracks":
                ids = [row.id for row in catalogue.tracks(home.first, 1000)]
            else:
                ids = [row.id for row in catalogue.children(home)]
            assert ids == list(range(home.first, home.first + home.count))
