"""Whose a work is: told by its number, its name, the album or an artist who wrote it.

Families of like cases: each habit of tagging was met once in a listener's folder, the rows vary it.
Whose a work is and which number it has is from thematic catalogues and worklists, from memory;
performers are invented.
"""

import pytest
from works_kit import composer_and_title, filed, heading, performers, work_of

from syncd.model import Kind

WHOSE = [
    ({"ALBUM": "Scarlatti Sonatas"}, "Sonata in D minor, K.141 (L.422)",
     "Scarlatti, Domenico", ["Kk. 141", "L. 422"]),
    ({"ALBUM": "Scarlatti: Sonate per clavicembalo"}, "Sonata in re minore K. 9 (L. 413)",
     "Scarlatti, Domenico", ["Kk. 9", "L. 413"]),
    ({"ALBUM": "Baroque Keyboard"}, "Scarlatti Sonata in E, K. 380", "Scarlatti, Domenico",
     ["Kk. 380"]),
    ({"ALBUM": "Сонаты", "ARTIST": "Скарлатти"}, "Соната ре минор, K. 141", "Scarlatti, Domenico",
     ["Kk. 141"]),
    ({"ARTIST": "SCARLATTI", "ALBUM": "SONATAS"}, "SONATA IN E MAJOR, KK. 380",
     "Scarlatti, Domenico", ["Kk. 380"]),
    ({"ALBUM": "Bach: Fantasien"}, "Fantasia C-Dur Wq 61", "Bach, Carl Philipp Emanuel",
     ["Wq. 61"]),
    ({"COMPOSER": "Bach", "ALBUM": "Polonaises"}, "Polonaise in E minor, Fk. 12",
     "Bach, Wilhelm Friedemann", ["Fk. 12"]),
    ({"ALBUM": "Cello"}, "Bach: Suite No. 1 in G major, BWV 1007", "Bach, Johann Sebastian",
     ["BWV 1007"]),
    ({"ALBUM": "Haydn: Sinfonien"}, "Sinfonie C-Dur MH 334", "Haydn, Michael", ["MH 334"]),
    ({"ALBUM": "Haydn: Sinfonien"}, "Sinfonie Nr. 94 G-Dur Hob. I:94", "Haydn, Joseph",
     ["Hob. I:94"]),
    ({"ALBUM": "Couperin"}, "Passacaille in C, GO 27", "Couperin, Louis", ["GO 27"]),
    ({"ALBUM": "Strauss: Tone Poems"}, "Till Eulenspiegel, TrV 171", "Strauss, Richard",
     ["TrV 171"]),
    ({"ALBUM": "Strauss Waltzes"}, "Sphärenklänge, op. 235", "Strauss, Josef", ["Op. 235"]),
    ({"ALBUM": "Wien", "COMPOSER": "J. Strauss"}, "Dynamiden, op. 173", "Strauss, Josef",
     ["Op. 173"]),
    ({"ALBUM": "Wien", "COMPOSER": "J. Strauss"}, "Radetzky-Marsch, op. 228", "Strauss, Johann I",
     ["Op. 228"]),
    ({"ALBUM": "Wien", "COMPOSER": "J. Strauss"}, "An der schönen blauen Donau, op. 314",
     "Strauss, Johann II", ["Op. 314"]),
    ({"ALBUM": "Pieces", "COMPOSER": "A. Cherepnin"}, "Bagatelles, Op. 5",
     "Tcherepnin, Alexander", ["Op. 5"]),
    ({"ALBUM": "Pieces", "COMPOSER": "N. Cherepnin"}, "Le pavillon d'Armide",
     "Tcherepnin, Nikolai", []),
    ({}, "Don Giovanni, K. 527, Atto I, Scena 1: Notte e giorno faticar",
     "Mozart, Wolfgang Amadeus", ["K. 527"]),
    ({}, "DON GIOVANNI, K. 527 - OUVERTURE", "Mozart, Wolfgang Amadeus", ["K. 527"]),
    ({}, "Die Zauberflöte KV 620: Ouvertüre", "Mozart, Wolfgang Amadeus", ["K. 620"]),
    ({}, "Symphony No. 5 in C minor, Op. 67: I. Allegro con brio", "Beethoven, Ludwig van",
     ["Op. 67"]),
    ({}, "Rigoletto, Act III: La donna è mobile", "Verdi, Giuseppe", []),
    ({"ALBUM": "Winterreise"}, "Gute Nacht", "Schubert, Franz", []),
    ({}, "Erlkönig, D. 328", "Schubert, Franz", ["D. 328"]),
]  # fmt: skip


@pytest.mark.parametrize(("tags", "title", "composer", "catalogue"), WHOSE)
def test_a_number_or_a_known_work_tells_the_composer(
    tags: dict[str, str], title: str, composer: str, catalogue: list[str]
) -> None:
    [found] = filed([title], **{"ARTIST": "Lara Kint, soprano; Jan Venn, piano", **tags})
    assert found.composer is not None and found.work is not None, found.reasons
    assert (found.composer.sort, list(found.work.catalogue)) == (composer, catalogue)


@pytest.mark.parametrize(
    ("title", "tags"),
    [
        ("Carmen", {"ARTIST": "The Milk Crates", "ALBUM": "Dreams"}),
        ("Tosca", {"ARTIST": "Lara Kint", "GENRE": "Pop", "ALBUM": "Halo"}),
        ("Sonata, Op. 1", {"ARTIST": "Percival Anstey, piano"}),
        ("Symphony", {"ARTIST": "The Milk Crates", "ALBUM": "White"}),
        ("Sonata in C, K. 9", {"ARTIST": "Percival Anstey, piano"}),
        ("Walzer, op. 4", {"COMPOSER": "Strauss", "ARTIST": "Wiener Salonorchester Linden"}),
    ],
)
def test_what_fits_several_composers_names_none(title: str, tags: dict[str, str]) -> None:
    assert filed([title], **tags)[0].composer is None


def test_a_composer_told_by_the_work_alone_is_never_sure() -> None:
    found = filed(
        ["Rigoletto, Act III: La donna è mobile", "Messiah, HWV 56: Hallelujah", "Sonata"],
        ARTIST="Jan Venn, tenor",
    )
    assert all(one.confidence <= 0.85 for one in found)
    assert found[0].confidence <= 0.6


FAMILIES = [
    ("Strauss - Sphärenklänge, Walzer op. 235", "Strauss, Josef"),
    ("Strauss - Dynamiden, Walzer, op. 173", "Strauss, Josef"),
    ("Strauss - Annen-Polka, op. 117", "Strauss, Johann II"),
    ("Strauss - Kaiserwalzer op. 437", "Strauss, Johann II"),
]


@pytest.mark.parametrize(("title", "composer"), FAMILIES)
def test_title_and_opus_tell_which_of_a_family(title: str, composer: str) -> None:
    assert work_of(filed([title], GENRE="Classical")[0])[0] == composer


def test_an_album_of_two_leaves_each_track_to_who_wrote_it() -> None:
    found = filed(
        [
            "Violin Concerto No.1 in g minor Op.26 1 Vorspiel",
            "Violin Concerto No.1 in g minor Op.26 2 Adagio",
            "Violin Concerto in d minor Op.47 1 Allegro moderato",
        ],
        ALBUM="Bruch & Sibelius Violin Concertos",
        ARTIST="Isaura Penholt",
    )
    composers = [work_of(one)[0] for one in found]
    assert composers == ["Bruch, Max", "Bruch, Max", "Sibelius, Jean"]
    assert [heading(one)[0] for one in found] == [1, 2, 1]


def test_an_arrangers_number_is_the_works() -> None:
    for said in ("Robert Schumann (arr. Franz Liszt)", "Robert Schumann (trans. Liszt)"):
        found = filed(["Widmung, S. 566"], COMPOSER=said)[0]
        assert work_of(found) == ("Schumann, Robert", "Widmung", ("S. 566",), None)
        assert "Liszt" in performers(found, "arranger")[0]


@pytest.mark.parametrize(
    ("composer", "head"),
    [("Florence Price", "Price"), ("William Grant Still", "Still"), ("Lena Vikholm", "Vikholm")],
)
def test_the_tagged_composers_name_before_the_title_goes(composer: str, head: str) -> None:
    found = filed([f"{head}: Symphony No. 1 in E Minor: II. Largo"], COMPOSER=composer)[0]
    assert work_of(found)[1:] == ("Symphony No. 1", (), "E minor")
    assert heading(found) == (2, "Largo")


def test_a_composer_in_brackets_behind_the_movement_is_no_part_of_it() -> None:
    found = filed(["Serenade for Strings in E minor, Op. 20 - II. Larghetto (Elgar)"])[0]
    assert work_of(found)[0] == "Elgar, Edward"
    assert heading(found) == (2, "Larghetto")


def test_a_composer_who_died_before_records_is_the_artist_of_his_work() -> None:
    found = filed(
        ["Симфония № 1 соль минор: I. Allegro moderato", "Симфония № 1 соль минор: II. Andante"],
        ARTIST="Василий Калинников",
    )
    assert {work_of(one) for one in found} == {
        ("Kalinnikov, Vasily", "Symphony No. 1", (), "G minor")
    }


@pytest.mark.parametrize("artist", ["Mahler", "Joseph Joachim"])
def test_a_composer_among_the_artists_does_not_take_anothers_opus(artist: str) -> None:
    for title in ("Symphony No. 5 in C minor, Op. 67", "Violin Concerto in D, Op. 61: I. Allegro"):
        assert work_of(filed([title], ARTIST=artist)[0])[0] == "Beethoven, Ludwig van"


COMPOSED = [
    ("Erik Satie", "Gnossienne No. 3", ("Satie, Erik", "Gnossiennes")),
    ("Satie", "Gymnopédie No. 2", ("Satie, Erik", "Gymnopédies")),
    ("Satie", "Je te veux", ("Satie, Erik", "Je te veux")),
    ("George Gershwin", "Rhapsody in Blue", ("Gershwin, George", "Rhapsody in Blue")),
    ("Gershwin", "Rhapsody in Blue", ("Gershwin, George", "Rhapsody in Blue")),
]


@pytest.mark.parametrize(("artist", "title", "expected"), COMPOSED)
def test_an_artist_who_wrote_the_title_is_its_composer(
    artist: str, title: str, expected: tuple[str, str]
) -> None:
    found = filed([title], ARTIST=artist)[0]
    assert found.kind is Kind.WORK
    assert composer_and_title(found) == expected


@pytest.mark.parametrize(
    ("artist", "title"),
    [
        ("Barber", "The Storm"),  # a title of many
        ("Glass", "Paper Boats"),  # no work of his
        ("Satie", "Rooftops No. 2"),  # no set of his
        ("Sella Marwick", "Gnossienne"),  # nobody of the table
    ],
)
def test_a_family_name_beside_a_title_not_his_own_stays_an_artist(artist: str, title: str) -> None:
    found = filed([title], ARTIST=artist)[0]
    assert found.kind is Kind.POPULAR
    assert found.composer is None


WHOLE = [
    ("Orff", "Catulli Carmina (CD 2)", ["Odi et amo", "Vivamus, mea Lesbia"], "Orff, Carl"),
    ("Holst", "The Planets", ["Mars, the Bringer of War", "Venus"], "Holst, Gustav"),
    ("Philip Glass", "Glassworks", ["Opening", "Floe"], "Glass, Philip"),
    (
        "Gershwin",
        "Porgy and Bess [Disc 1]",
        ["Summertime", "My man's gone now"],
        "Gershwin, George",
    ),
]


@pytest.mark.parametrize(("artist", "album", "titles", "composer"), WHOLE)
def test_the_album_of_an_artist_who_wrote_it_is_his_work(
    artist: str, album: str, titles: list[str], composer: str
) -> None:
    found = filed(titles, ARTIST=artist, ALBUM=album)
    name = album.partition(" (")[0].partition(" [")[0]
    for identity, title in zip(found, titles, strict=True):
        assert identity.kind is Kind.WORK
        assert composer_and_title(identity) == (composer, name)
        assert identity.movement is not None
        assert identity.movement.title == title
    assert len({identity.recording for identity in found}) == 1


@pytest.mark.parametrize(
    ("artist", "album"),
    [
        ("Orff", "Best of"),
        ("Glass", "Requiem"),  # a title of many
        ("Sella Marwick", "Glassworks"),  # nobody of the table, and no concert life
        ("Philip Glass", "The Planets"),  # another's
    ],
)
def test_an_album_that_the_artist_did_not_write_is_no_work_of_his(artist: str, album: str) -> None:
    found = filed(["Paper boats", "Rooftops"], ARTIST=artist, ALBUM=album)
    for identity in found:
        assert identity.kind is Kind.POPULAR
