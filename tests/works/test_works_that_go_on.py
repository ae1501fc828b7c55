"""Titles that leave their work out: it is that of the track before, or the album's.

Families of like cases: movements behind a whole first title, parts of a suite or of a cycle of
months on an album that is called after it. Facts of the works from memory; players are invented.
"""

import pytest
from works_kit import filed, heading, numbers, work_of, work_title

from syncd.model import Kind

TWO_CONCERTOS = {
    "ALBUM": "Korngold & Barber: Violin Concertos",
    "ARTIST": "Minna Osterlauf (violin), Tarnmoor Symphony Orchestra, Aldo Ferrangel (conductor)",
}


def test_bare_movements_go_on_with_the_work_of_the_track_before() -> None:
    found = filed(
        [
            "Korngold: Violin Concerto in D, Op. 35 / I. Moderato nobile",
            "II. Romance. Andante",
            "III. Finale. Allegro assai vivace",
            "Barber: Violin Concerto, Op. 14 / I. Allegro",
            "II. Andante",
            "III. Presto in moto perpetuo",
        ],
        **TWO_CONCERTOS,
    )
    korngold = ("Korngold, Erich Wolfgang", "Violin Concerto", ("Op. 35",), "D major")
    barber = ("Barber, Samuel", "Violin Concerto", ("Op. 14",), None)
    assert list(map(work_of, found)) == [korngold] * 3 + [barber] * 3
    assert numbers(found) == [1, 2, 3, 1, 2, 3]
    assert len({one.recording for one in found}) == 2
    assert max(one.confidence for one in (found[1], found[2], found[4])) <= 0.8


@pytest.mark.parametrize(
    ("titles", "tags", "works"),
    [
        (["Sonate Nr. 1 f-Moll op. 2 Nr. 1: I. Allegro", "II. Adagio", "III. Menuetto: Allegretto",
          "IV. Prestissimo", "Sonate Nr. 2 A-Dur op. 2 Nr. 2: I. Allegro vivace",
          "II. Largo appassionato"],
         {"COMPOSER": "Ludwig van Beethoven", "ALBUM": "Klaviersonaten"},
         ["Piano Sonata No. 1"] * 4 + ["Piano Sonata No. 2"] * 2),
        (["Concerto pour piano en sol majeur, M. 83", "II. Adagio assai", "III. Presto"],
         {"ALBUM": "Ravel: Concertos"}, ["Piano Concerto"] * 3),
        (["Quartet in F major, Op. 96: Allegro ma non troppo", "Lento", "Molto vivace",
          "Quartet in A-flat, Op. 105: Adagio ma non troppo", "Molto vivace"],
         {"ALBUM": "Dvořák: Late Quartets"}, ["String Quartet No. 12"] * 3
         + ["String Quartet No. 14"] * 2),
        (["Scheherazade: I. The Sea and Sinbad's Ship", "II. The Kalandar Prince",
          "III. The Young Prince", "Capriccio espagnol, Op. 34: I. Alborada", "II. Variazioni"],
         {"COMPOSER": "Nikolai Rimsky-Korsakov", "ALBUM": "Russian Night"},
         ["Scheherazade"] * 3 + ["Capriccio espagnol"] * 2),
    ],
)  # fmt: skip
def test_any_numerals_or_headings_go_on(
    titles: list[str], tags: dict[str, str], works: list[str]
) -> None:
    assert list(map(work_title, filed(titles, ARTIST="Tarn Quartet", **tags))) == works


@pytest.mark.parametrize(
    "titles",
    [
        ["Korngold: Violin Concerto in D, Op. 35 / I. Moderato nobile", "I. Allegro"],
        ["Korngold: Violin Concerto in D, Op. 35 / III. Finale", "II. Romance"],
        ["Scheherazade: I. The Sea and Sinbad's Ship", "III. The Young Prince"],
    ],
)
def test_numbers_that_do_not_rise_begin_another_work(titles: list[str]) -> None:
    one, other = filed(titles, **TWO_CONCERTOS)
    assert work_title(other) != work_title(one)


def test_whose_work_goes_on_outweighs_the_albums_first_name() -> None:
    found = filed(
        [
            "Bach: Sonata in D, BWV 1028: I. Adagio",
            "II. Allegro",
            "C.P.E. Bach: Sonata in D, Wq. 137: I. Adagio ma non tanto",
            "II. Allegro di molto",
        ],
        ALBUM="Bach & Sons",
        ARTIST="Lara Kint (viola da gamba)",
    )
    assert [work_of(one)[2] for one in found] == [("BWV 1028",)] * 2 + [("Wq. 137",)] * 2
    assert [work_of(one)[0] for one in found[2:]] == ["Bach, Carl Philipp Emanuel"] * 2


def test_other_players_do_not_go_on() -> None:
    first, second = (
        filed([title], folder="Folder", ARTIST=artist, ALBUM="Encores")
        for title, artist in (
            ("Korngold: Violin Concerto in D, Op. 35 / I. Moderato nobile", "Lara Kint, violin"),
            ("II. Romance", "Jan Venn, piano"),
        )
    )
    assert work_title(first[0]) == "Violin Concerto"
    assert work_title(second[0]) != "Violin Concerto"


def test_a_bands_numbered_titles_stay_popular() -> None:
    found = filed(["Symphony: I. Dawn", "II. Dusk", "III. Night"], ARTIST="The Milk Crates",
                  ALBUM="Glass Fields")  # fmt: skip
    assert {one.kind for one in found} == {Kind.POPULAR}


@pytest.mark.parametrize(
    ("album", "titles", "work"),
    [
        ("Caroline Shaw: Partita for 8 Voices", ["Allemande", "Sarabande", "Courante",
         "Passacaglia"], "Partita for 8 Voices"),
        ("Lully: Suite from an unknown Ballet", ["Ouverture", "Menuet", "Gavotte", "Chaconne"],
         "Suite from an unknown Ballet"),
        ("Fanny Hensel: Das Jahr", ["Januar", "Februar", "März", "April"], "Das Jahr"),
        ("Joseph Bologne: Les mois", ["Janvier", "Février", "Mars"], "Les mois"),
        ("Paul Creston: A Week", ["Monday", "Tuesday", "Wednesday: Scherzo"], "A Week"),
        ("Gustav Holst: Bodies", ["Mars", "Venus", "Saturn, the Old One"], "Bodies"),
    ],
)  # fmt: skip
def test_parts_of_a_suite_or_of_a_cycle_are_one_work(
    album: str, titles: list[str], work: str
) -> None:
    found = filed(titles, ALBUM=album, ARTIST="Octet Lumen")
    assert list(map(work_title, found)) == [work] * len(titles)
    assert len({one.recording for one in found}) == 1
    assert numbers(found) == list(range(1, len(titles) + 1))
    assert heading(found[1])[1] == titles[1]


@pytest.mark.parametrize(
    ("album", "titles"),
    [
        ("Chopin: Evening", ["Nocturne", "Waltz", "Mazurka"]),
        ("Schubert: Lieder", ["Im Frühling", "Herbst", "Nacht und Träume"]),
        ("Fanny Hensel: Reise", ["Januar", "Februar", "Die Nonne"]),
        ("Fauré: Mélodies", ["Automne", "Après un rêve", "Clair de lune"]),
    ],
)
def test_single_pieces_on_a_collection_are_no_parts(album: str, titles: list[str]) -> None:
    found = filed(titles, ALBUM=album, ARTIST="Lara Kint, soprano; Jan Venn, piano", GENRE="Lied")
    assert len({work_title(one) for one in found}) == len(titles)
