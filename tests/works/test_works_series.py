"""Whole series in the works table: numbers and keys in order, and what a number itself says.

The keys of the series come from the works' titles as the thematic catalogues have them (Schmieder,
Kinsky-Halm, Köchel, Hoboken, Deutsch, McCorkle and the composers' work lists), all from memory. Two
checks need no memory: a Telemann number names its key (Ruhnke: capital for major, small for minor),
and a collection through all keys has them in an order that can be computed.
"""

import json
import re
from pathlib import Path
from typing import Any

import pytest

import syncd.works
from syncd.model import TaggedFile
from syncd.works.identify import identify
from syncd.works.numbers.meaning import resolve
from syncd.works.numbers.reading import numbers_in

DATA = Path(syncd.works.__file__).parent / "data"
ROWS: list[dict[str, Any]] = json.loads((DATA / "works.json").read_text(encoding="utf-8"))
BY_NUMBER = {(row["composer"], n): row for row in ROWS for n in row.get("catalogue", ())}

BACH, BEETHOVEN = "Bach, Johann Sebastian", "Beethoven, Ludwig van"
MOZART, CHOPIN = "Mozart, Wolfgang Amadeus", "Chopin, Frédéric"
SHOSTAKOVICH = "Shostakovich, Dmitri"


def key_name(short: str) -> str:
    """``Eb`` is E-flat major, ``c#`` C-sharp minor."""
    sign = {"": "", "b": "-flat", "#": "-sharp"}[short[1:]]
    return f"{short[0].upper()}{sign} {'major' if short[0].isupper() else 'minor'}"


# composer | form, numbered from one | number and key, in order
SERIES = [
    (
        BEETHOVEN,
        "Piano Sonata",
        "Op. 2 No. 1 f, Op. 2 No. 2 A, Op. 2 No. 3 C, Op. 7 Eb, Op. 10 No. 1 c, Op. 10 No. 2 F, "
        "Op. 10 No. 3 D, Op. 13 c, Op. 14 No. 1 E, Op. 14 No. 2 G, Op. 22 Bb, Op. 26 Ab, "
        "Op. 27 No. 1 Eb, Op. 27 No. 2 c#, Op. 28 D, Op. 31 No. 1 G, Op. 31 No. 2 d, "
        "Op. 31 No. 3 Eb, Op. 49 No. 1 g, Op. 49 No. 2 G, Op. 53 C, Op. 54 F, Op. 57 f, Op. 78 F#, "
        "Op. 79 G, Op. 81a Eb, Op. 90 e, Op. 101 A, Op. 106 Bb, Op. 109 E, Op. 110 Ab, Op. 111 c",
    ),
    (
        BEETHOVEN,
        "String Quartet",
        "Op. 18 No. 1 F, Op. 18 No. 2 G, Op. 18 No. 3 D, Op. 18 No. 4 c, Op. 18 No. 5 A, "
        "Op. 18 No. 6 Bb, Op. 59 No. 1 F, Op. 59 No. 2 e, Op. 59 No. 3 C, Op. 74 Eb, Op. 95 f, "
        "Op. 127 Eb, Op. 130 Bb, Op. 131 c#, Op. 132 a, Op. 135 F",
    ),
    (
        BEETHOVEN,
        "Violin Sonata",
        "Op. 12 No. 1 D, Op. 12 No. 2 A, Op. 12 No. 3 Eb, Op. 23 a, Op. 24 F, Op. 30 No. 1 A, "
        "Op. 30 No. 2 c, Op. 30 No. 3 G, Op. 47 A, Op. 96 G",
    ),
    (
        BEETHOVEN,
        "Cello Sonata",
        "Op. 5 No. 1 F, Op. 5 No. 2 g, Op. 69 A, Op. 102 No. 1 C, Op. 102 No. 2 D",
    ),
    (
        BEETHOVEN,
        "Symphony",
        "Op. 21 C, Op. 36 D, Op. 55 Eb, Op. 60 Bb, Op. 67 c, Op. 68 F, Op. 92 A, Op. 93 F, "
        "Op. 125 d",
    ),
    (BEETHOVEN, "Piano Concerto", "Op. 15 C, Op. 19 Bb, Op. 37 c, Op. 58 G, Op. 73 Eb"),
    (
        MOZART,
        "Piano Concerto",
        "K. 37 F, K. 39 Bb, K. 40 D, K. 41 G, K. 175 D, K. 238 Bb, K. 242 F, K. 246 C, K. 271 Eb, "
        "K. 365 Eb, K. 413 F, K. 414 A, K. 415 C, K. 449 Eb, K. 450 Bb, K. 451 D, K. 453 G, "
        "K. 456 Bb, K. 459 F, K. 466 d, K. 467 C, K. 482 Eb, K. 488 A, K. 491 c, K. 503 C, "
        "K. 537 D, K. 595 Bb",
    ),
    (
        MOZART,
        "Piano Sonata",
        "K. 279 C, K. 280 F, K. 281 Bb, K. 282 Eb, K. 283 G, K. 284 D, K. 309 C, K. 310 a, "
        "K. 311 D, K. 330 C, K. 331 A, K. 332 F, K. 333 Bb, K. 457 c, K. 533 F, K. 545 C, "
        "K. 570 Bb, K. 576 D",
    ),
    (
        MOZART,
        "String Quartet",
        "K. 80 G, K. 155 D, K. 156 G, K. 157 C, K. 158 F, K. 159 Bb, K. 160 Eb, K. 168 F, "
        "K. 169 A, K. 170 C, K. 171 Eb, K. 172 Bb, K. 173 d, K. 387 G, K. 421 d, "
        "K. 428 Eb, K. 458 Bb, K. 464 A, K. 465 C, K. 499 D, K. 575 D, K. 589 Bb, K. 590 F",
    ),
    (MOZART, "Violin Concerto", "K. 207 Bb, K. 211 D, K. 216 G, K. 218 D, K. 219 A"),
    (MOZART, "Horn Concerto", "K. 412 D, K. 417 Eb, K. 447 Eb, K. 495 Eb"),
    (
        "Brahms, Johannes",
        "Symphony",
        "Op. 68 c, Op. 73 D, Op. 90 F, Op. 98 e",
    ),
    ("Brahms, Johannes", "Piano Sonata", "Op. 1 C, Op. 2 f#, Op. 5 f"),
    ("Brahms, Johannes", "Violin Sonata", "Op. 78 G, Op. 100 A, Op. 108 d"),
    ("Brahms, Johannes", "Cello Sonata", "Op. 38 e, Op. 99 F"),
    ("Brahms, Johannes", "Piano Trio", "Op. 8 B, Op. 87 C, Op. 101 c"),
    ("Brahms, Johannes", "Piano Quartet", "Op. 25 g, Op. 26 A, Op. 60 c"),
    ("Brahms, Johannes", "String Quartet", "Op. 51 No. 1 c, Op. 51 No. 2 a, Op. 67 Bb"),
    ("Brahms, Johannes", "String Sextet", "Op. 18 Bb, Op. 36 G"),
    ("Schumann, Robert", "Symphony", "Op. 38 Bb, Op. 61 C, Op. 97 Eb, Op. 120 d"),
    ("Schumann, Robert", "Piano Sonata", "Op. 11 f#, Op. 22 g, Op. 14 f"),
    ("Schumann, Robert", "String Quartet", "Op. 41 No. 1 a, Op. 41 No. 2 F, Op. 41 No. 3 A"),
    ("Schumann, Robert", "Piano Trio", "Op. 63 d, Op. 80 F, Op. 110 g"),
    # the last begins in D major and goes by D minor
    ("Mendelssohn, Felix", "Symphony", "Op. 11 c, Op. 52 Bb, Op. 56 a, Op. 90 A, Op. 107 d"),
    ("Mendelssohn, Felix", "Piano Concerto", "Op. 25 g, Op. 40 d"),
    ("Mendelssohn, Felix", "Piano Trio", "Op. 49 d, Op. 66 c"),
    (
        "Mendelssohn, Felix",
        "String Quartet",
        "Op. 12 Eb, Op. 13 a, Op. 44 No. 1 D, Op. 44 No. 2 e, Op. 44 No. 3 Eb, Op. 80 f",
    ),
    (CHOPIN, "Piano Sonata", "Op. 4 c, Op. 35 bb, Op. 58 b"),
    (CHOPIN, "Piano Concerto", "Op. 11 e, Op. 21 f"),
    (CHOPIN, "Ballade", "Op. 23 g, Op. 38 F, Op. 47 Ab, Op. 52 f"),
    (CHOPIN, "Scherzo", "Op. 20 b, Op. 31 bb, Op. 39 c#, Op. 54 E"),
    (
        "Tchaikovsky, Pyotr Ilyich",
        "Symphony",
        "Op. 13 g, Op. 17 c, Op. 29 D, Op. 36 f, Op. 64 e, Op. 74 b",
    ),
    ("Tchaikovsky, Pyotr Ilyich", "Piano Concerto", "Op. 23 bb, Op. 44 G, Op. 75 Eb"),
    ("Tchaikovsky, Pyotr Ilyich", "String Quartet", "Op. 11 D, Op. 22 F, Op. 30 eb"),
    ("Rachmaninoff, Sergei", "Piano Concerto", "Op. 1 f#, Op. 18 c, Op. 30 d, Op. 40 g"),
    ("Rachmaninoff, Sergei", "Symphony", "Op. 13 d, Op. 27 e, Op. 44 a"),
    ("Rachmaninoff, Sergei", "Piano Sonata", "Op. 28 d, Op. 36 bb"),
    (
        "Sibelius, Jean",
        "Symphony",
        "Op. 39 e, Op. 43 D, Op. 52 C, Op. 63 a, Op. 82 Eb, Op. 104 d, Op. 105 C",
    ),
    (
        "Dvořák, Antonín",
        "Symphony",
        "B. 9 c, B. 12 Bb, B. 34 Eb, B. 41 d, B. 54 F, B. 112 D, B. 141 d, B. 163 G, B. 178 e",
    ),
    (
        "Prokofiev, Sergei",
        "Piano Sonata",
        "Op. 1 f, Op. 14 d, Op. 28 a, Op. 29 c, Op. 38 C, Op. 82 A, Op. 83 Bb, Op. 84 Bb, "
        "Op. 103 C",
    ),
    (
        "Prokofiev, Sergei",
        "Piano Concerto",
        "Op. 10 Db, Op. 16 g, Op. 26 C, Op. 53 Bb, Op. 55 G",
    ),
    ("Prokofiev, Sergei", "Violin Concerto", "Op. 19 D, Op. 63 g"),
    (
        SHOSTAKOVICH,
        "String Quartet",
        "Op. 49 C, Op. 68 A, Op. 73 F, Op. 83 D, Op. 92 Bb, Op. 101 G, Op. 108 f#, Op. 110 c, "
        "Op. 117 Eb, Op. 118 Ab, Op. 122 f, Op. 133 Db, Op. 138 bb, Op. 142 F#, Op. 144 eb",
    ),
    (
        "Bruckner, Anton",
        "Symphony",
        "WAB 101 c, WAB 102 c, WAB 103 d, WAB 104 Eb, WAB 105 Bb, WAB 106 A, WAB 107 E, WAB 108 c, "
        "WAB 109 d",
    ),
    (
        "Saint-Saëns, Camille",
        "Piano Concerto",
        "Op. 17 D, Op. 22 g, Op. 29 Eb, Op. 44 c, Op. 103 F",
    ),
    ("Liszt, Franz", "Piano Concerto", "S. 124 Eb, S. 125 A"),
    ("Fauré, Gabriel", "Piano Quartet", "Op. 15 c, Op. 45 g"),
    ("Bruch, Max", "Violin Concerto", "Op. 26 g, Op. 44 d, Op. 58 d"),
    ("Weber, Carl Maria von", "Clarinet Concerto", "Op. 73 f, Op. 74 Eb"),
    (
        BACH,
        "Cello Suite",
        "BWV 1007 G, BWV 1008 d, BWV 1009 C, BWV 1010 Eb, BWV 1011 c, BWV 1012 D",
    ),
    (BACH, "English Suite", "BWV 806 A, BWV 807 a, BWV 808 g, BWV 809 F, BWV 810 e, BWV 811 d"),
    (BACH, "French Suite", "BWV 812 d, BWV 813 c, BWV 814 b, BWV 815 Eb, BWV 816 G, BWV 817 E"),
    (
        BACH,
        "Brandenburg Concerto",
        "BWV 1046 F, BWV 1047 F, BWV 1048 G, BWV 1049 G, BWV 1050 D, BWV 1051 Bb",
    ),
    (BACH, "Orchestral Suite", "BWV 1066 C, BWV 1067 b, BWV 1068 D, BWV 1069 D"),
]
WORKS = [
    (composer, f"{form} No. {position}", *item.rsplit(" ", 1))
    for composer, form, items in SERIES
    for position, item in enumerate(items.split(", "), start=1)
]


@pytest.mark.parametrize(("composer", "form", "items"), SERIES)
def test_a_series_has_its_numbers_and_keys_in_order(composer: str, form: str, items: str) -> None:
    wrong = []
    for position, item in enumerate(items.split(", "), start=1):
        number, _, key = item.rpartition(" ")
        row = BY_NUMBER.get((composer, number))
        found = row and (row["title"], row.get("key"))
        if found != (f"{form} No. {position}", key_name(key)):
            wrong.append((number, found))
    assert not wrong


@pytest.mark.parametrize("composer", sorted({row[0] for row in SERIES}))
def test_a_bare_form_with_its_number_is_filed_under_the_series(composer: str) -> None:
    """ "Sonata in F minor, Op. 2 No. 1" says no place in the series; the number does."""
    rows = [row for row in WORKS if row[0] == composer]
    files = [
        TaggedFile(
            f"{place}/1.flac",
            {
                "COMPOSER": [composer],
                "TITLE": [
                    f"{title.partition(' No. ')[0]} in {key_name(key)}, {number}: I. Allegro"
                ],
            },
        )
        for place, (_, title, number, key) in enumerate(rows)
    ]
    wrong = []
    for (_, title, number, key), identity in zip(rows, identify(files), strict=True):
        work = identity.work
        found = work and (work.title, work.catalogue, work.key)
        if found != (title, (number,), key_name(key)):
            wrong.append((number, found))
    assert not wrong


def test_the_series_hold_more_than_250_works() -> None:
    assert len({(composer, number) for composer, _, number, _ in WORKS}) >= 250


# --- what needs no memory -------------------------------------------------------------------------

SAME_SOUND = {"d#": "eb", "a#": "bb", "ab": "g#", "C#": "Db", "Gb": "F#", "Cb": "B"}


def by_semitones() -> list[str]:
    """C, c, C#, c#, D, d ...: each major key with the minor on the same note, up by semitones."""
    notes = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]
    small = {"Db": "c#", "Ab": "g#"}
    return [key for note in notes for key in (note, small.get(note, note[0].lower() + note[1:]))]


def short(name: str) -> str:
    """``C-sharp minor`` as ``c#``, one name for keys that sound the same."""
    tonic, mode = name.split()
    tonic = tonic.replace("-flat", "b").replace("-sharp", "#")
    key = tonic if mode == "major" else tonic[0].lower() + tonic[1:]
    return SAME_SOUND.get(key, key)


@pytest.mark.parametrize("first", [846, 870])
def test_each_book_of_the_well_tempered_clavier_goes_through_all_keys(first: int) -> None:
    """ "Through all tones and semitones": the order that its title page tells, Köthen 1722."""
    keys = [short(BY_NUMBER[BACH, f"BWV {first + step}"]["key"]) for step in range(24)]
    assert keys == by_semitones()


def test_a_telemann_number_names_its_key() -> None:
    """Ruhnke, Telemann-Werkverzeichnis: ``TWV 51:G9`` is in G major, ``TWV 51:e1`` in E minor."""
    compared = 0
    for (composer, number), row in BY_NUMBER.items():
        said = re.fullmatch(r"TWV \d+:([A-Ha-h])(is|es|s)?(\d+)", number)
        if said is None or "key" not in row:
            continue
        compared += 1
        german = said[1] + (said[2] or "")
        letter = {"H": "B", "B": "Bb"}.get(german.capitalize(), german.capitalize())
        letter = letter.replace("is", "#").replace("es", "b").replace("Es", "Eb")
        name = letter if german[0].isupper() else letter[0].lower() + letter[1:]
        assert row["key"] == key_name(name), (composer, number)
    assert compared >= 5


def test_haydns_symphonies_have_their_number_in_hobokens_first_group() -> None:
    for number in range(1, 105):
        row = BY_NUMBER["Haydn, Joseph", f"Hob. I:{number}"]
        assert row["title"] == f"Symphony No. {number}"


# The last number of each catalogue, from memory of its title or contents; additions included.
LAST = {
    "K.": (MOZART, 626),
    "D.": ("Schubert, Franz", 998),
    "HWV": ("Handel, George Frideric", 612),
    "Kk.": ("Scarlatti, Domenico", 555),
    "BuxWV": ("Buxtehude, Dietrich", 275),
    "WWV": ("Wagner, Richard", 113),
    "FP": ("Poulenc, Francis", 185),
    "Sz.": ("Bartók, Béla", 121),
    "TrV": ("Strauss, Richard", 298),
    "BWV": (BACH, 1177),
    "Hob. I": ("Haydn, Joseph", 108),
    "Hob. III": ("Haydn, Joseph", 83),
    "Hob. XVI": ("Haydn, Joseph", 52),
    "M.": ("Ravel, Maurice", 94),
}


@pytest.mark.parametrize("prefix", list(LAST))
def test_no_number_is_beyond_the_end_of_its_catalogue(prefix: str) -> None:
    composer, last = LAST[prefix]
    found = [
        int(match[1])
        for owner, number in BY_NUMBER
        if owner == composer
        and (match := re.match(rf"{re.escape(prefix)}(?: |:)(\d+)", number)) is not None
    ]
    assert found and min(found) >= 1 and max(found) <= last


def test_every_number_is_of_a_catalogue_of_its_composer() -> None:
    systems = {
        row["sort"]: tuple(row["systems"])
        for row in json.loads((DATA / "composers.json").read_text(encoding="utf-8"))
    }
    strangers = []
    for composer, number in BY_NUMBER:
        found = resolve(numbers_in(number), systems[composer], composer)
        if found.warnings:
            strangers.append((composer, number, found.warnings))
    assert not strangers
