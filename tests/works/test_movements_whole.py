"""Movements where a field was cut off, was written small throughout, or lacks its neighbours.

Families of like cases; what looks alike must stay as it is. Facts of the works from memory.
"""

import pytest
from works_kit import filed, heading, numbers, work_of

from syncd.model import Identity, TaggedFile
from syncd.works.identify import identify
from syncd.works.text import repair


def _named(names: list[str], titles: list[str], **tags: str) -> list[Identity]:
    more = {key: [value] for key, value in tags.items()}
    return identify(
        [
            TaggedFile(f"Folder/{name}.mp3", {"TITLE": [title], "TRACKNUMBER": [str(n)], **more})
            for n, (name, title) in enumerate(zip(names, titles, strict=True), start=1)
        ]
    )


def test_a_file_name_has_whole_what_a_short_field_cut_off() -> None:
    names = [
        "01 Piano Concerto in A minor Op16 I. Allegro molto moderato",
        "02 Piano Concerto in A minor Op16 II. Adagio",
        "03 - Piano Concerto in A minor Op16 III. Allegro moderato",
    ]
    found = _named(names, ["Piano Concerto in A minor Op16"] * 3, ARTIST="Grieg")
    assert numbers(found) == [1, 2, 3]
    assert heading(found[0])[1] == "Allegro molto moderato"


@pytest.mark.parametrize(
    ("name", "title", "whole"),
    [
        ("01 - Symphonie fantastique - III. Scène aux champs", "Symphonie fantastique - III. S",
         "Scène aux champs"),
        ("1-04 Symphonie fantastique - III_ Scène aux champs", "Symphonie fantastique - III: S",
         "Scène aux champs"),
        ("02_Symphonie_fantastique_-_II._Un_bal", "Symphonie fantastique - II. Un", "Un bal"),
    ],
)  # fmt: skip
def test_signs_that_file_names_cannot_have_do_not_hide_it(
    name: str, title: str, whole: str
) -> None:
    assert len(title) in (29, 30)
    [found] = _named([name], [title], COMPOSER="Hector Berlioz")
    assert heading(found)[1] == whole


@pytest.mark.parametrize(
    "name",
    [
        "01 - Symphonie fantastique - II. Un - Wharfdale Philharmonic",  # the artist behind it
        "01 - Symphonie fantastique",
        "Track 01",
        "01 - Another name that begins in its own way",
    ],
)
def test_other_file_names_add_nothing(name: str) -> None:
    title = "Symphonie fantastique - II. Un"
    [found] = _named([name], [title], COMPOSER="Hector Berlioz", ARTIST="Wharfdale Philharmonic")
    assert heading(found) == (2, "Un")


def test_only_a_title_as_long_as_the_short_field_is_mended() -> None:
    [found] = _named(["01 Sonata in C, K. 545 - II. Andante"], ["Sonata in C, K. 545"],
                     COMPOSER="Mozart")  # fmt: skip
    assert heading(found) == (None, None)


@pytest.mark.parametrize(
    ("title", "movement"),
    [
        ("dies_natalis_op8_1_intrada", (1, "intrada")),
        ("dies_natalis_op8_3_the_rapture", (3, "the rapture")),
        ("piano quintet in e flat op 44 2 in modo d'una marcia", (2, "in modo d'una marcia")),
        ("holberg suite op 40 4 air", (4, "air")),
    ],
)
def test_small_letters_throughout_hide_no_movement(title: str, movement: tuple[int, str]) -> None:
    [found] = filed([title], ARTIST="Finzi", GENRE="Classical", ALBUM="x")
    assert heading(found) == movement


def _walkuere(places: list[tuple[int, int]]) -> list[Identity]:
    titles = ["Erster Aufzug: Vorspiel", "Erster Aufzug: Wes Herd dies auch sei",
              "Erster Aufzug: Ein Schwert verhieß mir der Vater", "Dritter Aufzug: Hojotoho!",
              "Dritter Aufzug: Leb wohl"]  # fmt: skip
    return identify(
        [
            TaggedFile(
                f"Die Walküre/CD{disc}/{track:02d}.flac",
                {
                    "TITLE": [f"Die Walküre, {title}"],
                    "COMPOSER": ["Richard Wagner"],
                    "ALBUM": ["Wagner: Die Walküre, WWV 86B"],
                    "DISCNUMBER": [str(disc)],
                    "TRACKNUMBER": [str(track)],
                },
            )
            for (disc, track), title in zip(places, titles, strict=True)
        ]
    )


@pytest.mark.parametrize(
    "places",
    [
        [(1, 1), (1, 2), (1, 8), (3, 1), (4, 5)],
        [(1, 1), (1, 2), (1, 3), (3, 1), (3, 2)],  # the second disc is missing
        [(1, 1), (1, 2), (1, 3), (2, 4), (2, 5)],  # the beginning of the second
        [(2, 1), (2, 2), (2, 7), (3, 1), (3, 2)],
        [(1, 1), (1, 2), (1, 3), (2, 1), (2, 2)],  # the second act, whatever the discs say
    ],
)
def test_scenes_with_gaps_between_them_get_no_numbers(places: list[tuple[int, int]]) -> None:
    assert numbers(_walkuere(places)) == [None] * 5


def _misread(text: str) -> str:
    return text.encode("cp1251").decode("latin-1")


@pytest.mark.parametrize(
    "text",
    ["Квартет № 2 ре мажор: III. Ноктюрн", "Соната №3, op. 28", "Симфония № 5 - I. Andante",
     "Весь ёж", "Сюита BWV 1007: II. Allemande", "Шостакович (String Quartet)", "Игорь"],
)  # fmt: skip
def test_cyrillic_read_as_latin_is_mended_beside_latin_words(text: str) -> None:
    assert repair(_misread(text))[0] == text


@pytest.mark.parametrize(
    "text", ["Études", "Été à Évian", "DVOŘÁK", "Ó, Å, É", "Prélude à l'après-midi", "Ça, là, où",
             "Tõnu Õnnepalu", "Øyvind", "Hôtel Élysée", "ÉTUDE À DEUX", "Шостакович"]
)  # fmt: skip
def test_letters_of_other_languages_stay(text: str) -> None:
    assert repair(text) == (text, None)


def test_a_misread_title_with_a_number_sign_is_filed_by_its_key() -> None:
    [found] = filed([_misread("Квартет № 2 ре мажор: III. Ноктюрн")], ARTIST=_misread("Бородин"))
    assert work_of(found) == ("Borodin, Alexander", "String Quartet No. 2", (), "D major")
    assert heading(found) == (3, "Ноктюрн")
