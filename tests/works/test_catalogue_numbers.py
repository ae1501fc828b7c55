"""Catalogue numbers: how they are written, whose they are.

Prefixes and forms: the thematic indexes accepted in library name authority files (Music Library
Association); single numbers from memory unless the project's check values name a source.
"""

import pytest

from syncd.works.composers import table
from syncd.works.numbers.meaning import owner_of, resolve
from syncd.works.numbers.reading import numbers_in
from syncd.works.numbers.systems import SYSTEMS


def read(text: str, sort: str) -> tuple[str, ...]:
    entry = table().by_sort[sort]
    return resolve(numbers_in(text), entry.systems, sort).numbers


@pytest.mark.parametrize(
    ("sort", "text", "number"),
    [
        ("Beethoven, Ludwig van", "Op. 67", "Op. 67"),
        ("Beethoven, Ludwig van", "op.18/4", "Op. 18 No. 4"),
        ("Beethoven, Ludwig van", "op. 18 n° 4", "Op. 18 No. 4"),
        ("Beethoven, Ludwig van", "op. 27, 2", "Op. 27 No. 2"),
        ("Beethoven, Ludwig van", "Opus 27 Nr. 2", "Op. 27 No. 2"),
        ("Beethoven, Ludwig van", "Op #123", "Op. 123"),
        ("Beethoven, Ludwig van", "WoO 59", "WoO 59"),
        ("Beethoven, Ludwig van", "WoO59", "WoO 59"),
        ("Corelli, Arcangelo", "Opus V No. 12", "Op. 5 No. 12"),
        ("Chopin, Frédéric", "Op. posth. 66", "Op. posth. 66"),
        ("Chopin, Frédéric", "op. posth. 72/1", "Op. posth. 72 No. 1"),
        ("Bach, Johann Sebastian", "BWV1049", "BWV 1049"),
        ("Bach, Johann Sebastian", "BWV 1061a", "BWV 1061a"),
        ("Mozart, Wolfgang Amadeus", "KV 550", "K. 550"),
        ("Mozart, Wolfgang Amadeus", "Köchel 550", "K. 550"),
        ("Mozart, Wolfgang Amadeus", "K.V. 550", "K. 550"),
        ("Mozart, Wolfgang Amadeus", "K. 331 (300i)", "K. 331"),
        ("Mozart, Wolfgang Amadeus", "K. 331/300i", "K. 331"),
        ("Mozart, Wolfgang Amadeus", "K. 173dB", "K. 173dB"),
        ("Haydn, Joseph", "Hob. I:104", "Hob. I:104"),
        ("Haydn, Joseph", "Hob VIIb/1", "Hob. VIIb:1"),
        ("Haydn, Joseph", "Hob.XVI:52", "Hob. XVI:52"),
        ("Haydn, Joseph", "Hob. 16:52", "Hob. XVI:52"),
        ("Schubert, Franz", "D821", "D. 821"),
        ("Schubert, Franz", "D 944", "D. 944"),
        ("Liszt, Franz", "S. 178", "S. 178"),
        ("Liszt, Franz", "S. 244/2", "S. 244 No. 2"),
        ("Scarlatti, Domenico", "K466", "Kk. 466"),
        ("Scarlatti, Domenico", "Kk. 141", "Kk. 141"),
        ("Scarlatti, Domenico", "L. 118", "L. 118"),
        ("Debussy, Claude", "L. 109", "L. 109"),
        ("Telemann, Georg Philipp", "TWV 51:G9", "TWV 51:G9"),
        ("Vivaldi, Antonio", "RV 269", "RV 269"),
        ("Handel, George Frideric", "HWV 56", "HWV 56"),
        ("Wagner, Richard", "WWV 86B", "WWV 86B"),
        ("Bruckner, Anton", "WAB 107", "WAB 107"),
        ("Bartók, Béla", "Sz 106", "Sz. 106"),
        ("Dvořák, Antonín", "B83", "B. 83"),
        ("Purcell, Henry", "Z.626", "Z. 626"),
        ("Boccherini, Luigi", "G 448", "G. 448"),
        ("Ravel, Maurice", "M. 81", "M. 81"),
        ("Poulenc, Francis", "FP 164", "FP 164"),
        ("Nielsen, Carl", "FS 76", "FS 76"),
        ("Bach, Carl Philipp Emanuel", "Wq 183/1", "Wq. 183 No. 1"),
        ("Bach, Carl Philipp Emanuel", "H. 663", "H. 663"),
        ("Weber, Carl Maria von", "J. 277", "J. 277"),
        ("Janáček, Leoš", "JW VII/8", "JW VII/8"),
        ("Tchaikovsky, Pyotr Ilyich", "соч. 64", "Op. 64"),
    ],
)  # fmt: skip
def test_a_number_is_written_by_the_conventions(sort: str, text: str, number: str) -> None:
    assert read(text, sort) == (number,)


@pytest.mark.parametrize(
    ("sort", "text"),
    [
        ("Beethoven, Ludwig van", "BWV 565"),
        ("Mozart, Wolfgang Amadeus", "HWV 56"),
        ("Brahms, Johannes", "K. 550"),
        ("Verdi, Giuseppe", "D. 944"),
    ],
)
def test_a_catalogue_that_is_not_the_composers_is_a_warning_not_a_number(
    sort: str, text: str
) -> None:
    found = resolve(numbers_in(text), table().by_sort[sort].systems, sort)
    assert found.numbers == ()
    assert len(found.warnings) == 1
    assert sort in found.warnings[0]


def test_one_number_means_two_works_for_two_composers() -> None:
    assert read("K. 466", "Mozart, Wolfgang Amadeus") == ("K. 466",)
    assert read("K. 466", "Scarlatti, Domenico") == ("Kk. 466",)


def test_letters_of_one_composer_only_tell_him() -> None:
    (raw,) = numbers_in("BWV 988")
    assert owner_of(raw) == "Bach, Johann Sebastian"
    (raw,) = numbers_in("K. 24")
    assert owner_of(raw) is None


@pytest.mark.parametrize(
    "text", ["Opera", "op", "No. 9 Bus", "S is for song", "in D", "Op. of doom"]
)
def test_words_are_no_catalogue_numbers(text: str) -> None:
    assert numbers_in(text) == []


def test_every_owner_and_every_system_of_the_composer_table_is_known() -> None:
    unknown = {system for entry in table().entries for system in entry.systems} - set(SYSTEMS)
    assert unknown == set()
