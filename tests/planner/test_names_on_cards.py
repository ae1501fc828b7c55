"""Names on cards against the published rules of FAT, exFAT and desktop systems.

Sources: Microsoft FAT specification 1.03 ("Long directory entries": 255 UTF-16 units, trailing dots
ignored, case never significant); exFAT specification, Table 35 (invalid characters) and §7.7;
"Naming Files, Paths, and Namespaces" (reserved names, no dot or space at the end).
"""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncd.planner.names import cut, fold, safe_component, utf16_units
from syncd.planner.places import Places

FORBIDDEN = set('"*/:<>?\\|') | {chr(code) for code in range(32)}
DEVICES = ["CON", "PRN", "AUX", "NUL", *(f"{n}{d}" for n in ("COM", "LPT") for d in range(1, 10))]


@given(st.text(max_size=300), st.booleans(), st.integers(12, 255))
def test_any_text_becomes_a_name_that_every_file_system_takes(
    text: str, ascii_only: bool, longest: int
) -> None:
    name = safe_component(text, ascii_only, longest)
    assert name and not FORBIDDEN & set(name)
    assert utf16_units(name) <= longest
    assert not name.endswith((".", " ")) and not name.startswith(" ")
    assert name.split(".")[0].upper() not in DEVICES
    assert unicodedata.is_normalized("NFC", name)
    assert name.isascii() or not ascii_only
    assert name.isascii() or len(name.encode()) <= 240


@pytest.mark.parametrize("letter", ["é", "響", "\U0001d11e", "e\u0308\u0323"])
def test_a_long_name_in_other_letters_fits_a_system_that_counts_bytes(letter: str) -> None:
    """255 bytes with a suffix and a number: what ext4 takes (NAME_MAX)."""
    name = safe_component(letter * 200, False, 250)
    assert 220 < len(f"{name} (12).flac".encode()) <= 255


@given(st.text(max_size=100), st.booleans())
def test_a_name_made_safe_stays_as_it_is(text: str, ascii_only: bool) -> None:
    once = safe_component(text, ascii_only, 100)
    assert safe_component(once, ascii_only, 100) == once


@pytest.mark.parametrize("device", [*DEVICES, "con", "Nul.flac", "aux.tar.gz", "COM¹"])
def test_a_device_name_is_changed(device: str) -> None:
    assert safe_component(device, False, 255) != device


@pytest.mark.parametrize("name", ["Nulla", "Console", "Auxiliary", "COM10", "Nulla.flac"])
def test_a_name_that_only_begins_like_a_device_stays(name: str) -> None:
    assert safe_component(name, False, 255) == name


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("AC/Volt: Live?", "AC-Volt - Live"),
        ("Hob. I:94", "Hob. I-94"),
        ("Trio...", "Trio"),
        ("../../x", "..-..-x"),
        ("a\x00b\nc", "ab c"),
        ("\u202egnp.exe", "gnp.exe"),
        ("Dvor\u030ca\u0301k", "Dvořák"),
        ("", "Untitled"),
        ("...", "Untitled"),
        ('"Eroica"', "'Eroica'"),
    ],
)
def test_names_as_people_would_write_them(text: str, name: str) -> None:
    assert safe_component(text, False, 255) == name


def test_plain_letters_come_from_romanising() -> None:
    assert safe_component("Dvořák, Antonín", True, 255) == "Dvorak, Antonin"
    assert safe_component("Чайковский", True, 255).isascii()


def test_a_character_beyond_the_basic_plane_counts_twice_and_is_not_cut_apart() -> None:
    assert utf16_units("\U0001d11e") == 2
    assert cut("\U0001d11e" * 10, 5) == "\U0001d11e" * 2


@pytest.mark.parametrize(
    ("text", "units", "name"),
    [
        ("Piano Sonata No. 14", 18, "Piano Sonata No"),
        ("Piano Sonata No. 14, Op. 27", 20, "Piano Sonata No. 14"),
        ("Quirin Ostrowald (2003)", 20, "Quirin Ostrowald"),
        ("Quirin Ostrowald (2003)", 18, "Quirin Ostrowald"),
        ("Works for Piano & Cello", 17, "Works for Piano"),
        ("Recorded 20201123", 14, "Recorded 20201"),
        ("1234", 2, "12"),
    ],
)
def test_a_cut_leaves_no_other_number_and_no_open_bracket(text: str, units: int, name: str) -> None:
    assert safe_component(text, False, units) == name


@pytest.mark.parametrize(
    ("one", "other"),
    [("Role", "rOLE"), ("Dvořák", "DVOR\u030cA\u0301K"), ("Strauß", "STRAUSS"), ("ÿ", "Ÿ")],
)
def test_names_that_a_case_blind_system_may_take_for_one_fold_alike(one: str, other: str) -> None:
    assert fold(one) == fold(other)


def test_two_recordings_that_wish_for_one_folder_get_two() -> None:
    places = Places([])
    assert places.folder("Bach/Suite", "r:1", None) == "Bach/Suite"
    assert places.folder("bach/SUITE", "r:2", None) == "Bach/SUITE (2)"


def test_who_has_a_numbered_folder_keeps_it_though_the_plain_one_is_free() -> None:
    places = Places([])
    assert places.folder("Bach/Suite", "r:2", "Bach/Suite (2)") == "Bach/Suite (2)"


def test_no_place_equals_a_foreign_file_or_lies_below_one() -> None:
    places = Places(["Music/BACH", "Music/Liszt/01 a.mp3"])
    assert places.folder("Music/Bach/Suite", "r:1", None) == "Music/Bach (2)/Suite"
    folder = places.folder("Music/Liszt", "r:2", None)
    assert places.files(folder, ["01 A.mp3", "02 B.mp3"], [None, None]) == [
        "Music/Liszt/01 A (2).mp3",
        "Music/Liszt/02 B.mp3",
    ]
    assert places.in_the_way == {"music/bach", "music/liszt/01 a.mp3"}
