"""Display order and labels.

The orders come from the Unicode Collation Algorithm's default table (UTS 10, DUCET), measured with
another collation library (ICU, its root order); where they hold no punctuation and no numbers, the
library pyuca must order them as we do.
"""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyuca import Collator

from syncd.catalogue.contract import LABEL_BYTES
from syncd.catalogue.labels import Text
from syncd.catalogue.order import display_key, letter

COLLATOR = Collator()


@pytest.mark.parametrize(
    "ordered",
    [
        ["cote", "coté", "côte", "côté"],
        ["role", "Role", "rôle", "Rôle", "roles"],
        ["Debussy", "Débussy", "Dušek", "Dvorak", "Dvořák"],
        ["Haendel", "Handel", "Händel", "Hasse"],
        ["Čech", "Chopin", "Cui"],
        ["Aab", "Ångström", "Ost", "Öst", "Zorn"],
        ["Straus", "Strauss", "Strauß"],
        ["Æ", "Aeolian"],
        ["Oeuvres", "Œuvres"],
        ["Lutosławski", "Łutosławski"],
        ["Ørsted", "Osborne"],
        ["Zimmer", "Чайковский"],
    ],
)
def test_names_stand_as_the_unicode_collation_algorithm_has_them(ordered: list[str]) -> None:
    for shuffled in itertools.permutations(ordered):
        assert sorted(shuffled, key=display_key) == ordered
        assert sorted(shuffled, key=COLLATOR.sort_key) == ordered


@given(st.lists(st.text(st.characters(categories=["Lu", "Ll", "Lo"]), min_size=1, max_size=8)))
def test_single_words_stand_as_the_library_has_them(words: list[str]) -> None:
    ours = sorted(words, key=display_key)
    assert [COLLATOR.sort_key(word) for word in ours] == sorted(map(COLLATOR.sort_key, words))


@pytest.mark.parametrize(
    "ordered",
    [
        # Common practice in thematic catalogues: numbers count as numbers.
        ["Symphony No. 2", "Symphony No. 9", "Symphony No. 10", "Symphony No. 104"],
        ["Op. 9", "Op. 27 No. 1", "Op. 27 No. 2", "Op. 106"],
        ["BWV 9", "BWV 80", "BWV 1007"],
        ["Hob. XVI:9", "Hob. XVI:52"],
    ],
)
def test_numbers_in_titles_compare_as_numbers(ordered: list[str]) -> None:
    backwards = sorted(ordered, key=ordered.index, reverse=True)
    assert sorted(backwards, key=display_key) == ordered


def test_zeros_in_front_of_a_number_do_not_count() -> None:
    assert display_key("No. 007")[:3] == display_key("No. 7")[:3]


@pytest.mark.parametrize(
    ("name", "capital"),
    [
        ("Beethoven, Ludwig van", "B"),
        ("Éluard", "E"),
        ("Ørsted", "O"),
        ("'s Gravesande", "S"),
        ("ßeta", "S"),
        ("99 Lamps", "#"),
        ("", "#"),
        ("\N{MUSICAL SYMBOL G CLEF}", "#"),
        ("Чайковский", "Ч"),
        ("[Composer unknown]", "#"),
        ("Þorláksson", "Z"),  # behind Z in the default table, and no letter of A to Z
        ("Ψ", "Ψ"),
        ("שלום", "ש"),
        ("カ", "か"),  # the same primary weight as the other script's
        ("漢", "漢"),
        ("字", "漢"),
    ],
)
def test_a_name_stands_under_its_letter(name: str, capital: str) -> None:
    assert letter(name) == capital


@given(st.lists(st.text(max_size=12), max_size=12))
def test_names_under_one_letter_stand_together(names: list[str]) -> None:
    letters = [letter(name) for name in sorted(names, key=display_key)]
    assert len(list(itertools.groupby(letters))) == len(set(letters))


@given(st.text(max_size=400))
def test_a_label_fits_its_row_and_begins_the_whole_text(text: str) -> None:
    shown, whole = Text().label(text)
    assert len(shown.encode()) <= LABEL_BYTES
    if whole is None:
        assert shown == Text().clean(text)
    else:
        assert whole == Text().clean(text)
        assert whole.startswith(shown[:-1].rstrip())


@given(st.text(max_size=100))
def test_ascii_labels_are_ascii_on_one_line(text: str) -> None:
    shown = Text("ascii").clean(text)
    assert shown.isascii()
    assert shown == "" or shown.isprintable()


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("one\ntwo\tthree", "one two three"),
        ("nul\0byte", "nul byte"),
        ("\u202eevil\u202c", "evil"),
        ("Dvor\u030ca\u0301k", "Dvořák"),
        ("half \ud83d surrogate", "half ? surrogate"),
    ],
)
def test_what_cannot_be_shown_is_cleaned_away(text: str, shown: str) -> None:
    assert Text().clean(text) == shown


def test_right_to_left_letters_stay() -> None:
    assert Text().clean("שלום") == "שלום"
