"""Where the order on a disc stands for movements' numbers, and where it cannot.

Facts of the works (which pieces, in which order) from memory, as any score or guide has them. That
highlights fill one disc with ten to twenty tracks is common practice.
"""

import json
from importlib import resources

import pytest
from works_kit import filed, numbers

from syncd.model import Identity, TaggedFile
from syncd.works.contents import agreements, are_all, is_for_stage
from syncd.works.identify import identify
from syncd.works.known_works import by_title
from syncd.works.text import title_key

NONE = None


def _read(name: str) -> list[dict[str, object]] | dict[str, list[str]]:
    source = resources.files("syncd.works") / "data" / name
    found: list[dict[str, object]] | dict[str, list[str]]
    found = json.loads(source.read_text(encoding="utf-8"))
    return found


def _opera(places: list[tuple[int, int]], acts: int, **tags: str) -> list[Identity]:
    """A made-up recording of one opera: as many tracks in each act, at *places*."""
    numerals = ["I", "II", "III", "IV"]
    each = len(places) // acts
    return identify(
        [
            TaggedFile(
                f"Rusalka/CD{disc}/{track:02d}.flac",
                {
                    "TITLE": [f"Rusalka, Act {numerals[min(at // each, acts - 1)]}: Words {at} so"],
                    "COMPOSER": ["Antonín Dvořák"],
                    "ALBUM": ["Dvořák: Rusalka"],
                    "DISCNUMBER": [str(disc)],
                    "TRACKNUMBER": [str(track)],
                    **{name: [value] for name, value in tags.items()},
                },
            )
            for at, (disc, track) in enumerate(places)
        ]
    )


def _discs(*lengths: int) -> list[tuple[int, int]]:
    return [(d, t) for d, n in enumerate(lengths, start=1) for t in range(1, n + 1)]


def test_a_whole_opera_on_its_discs_is_counted() -> None:
    assert numbers(_opera(_discs(10, 9, 11), acts=3)) == list(range(1, 31))
    assert numbers(_opera(_discs(26), acts=3)) == list(range(1, 27))


@pytest.mark.parametrize(
    "places",
    [
        _discs(15),  # one disc: highlights, though nothing says so
        _discs(3, 3, 3),
        [place for place in _discs(10, 9, 11) if place != (2, 4)],  # one track is missing
        [place for place in _discs(10, 9, 11) if place != (1, 1)],  # the beginning
        [place for place in _discs(10, 9, 11) if place[0] != 2],  # the second disc
        [place for place in _discs(10, 12, 12) if place[0] != 1],  # the first
    ],
)
def test_an_opera_with_gaps_or_of_few_tracks_is_not_counted(places: list[tuple[int, int]]) -> None:
    assert set(numbers(_opera(places, acts=3))) == {None}


def test_an_opera_that_begins_in_its_second_act_is_not_counted() -> None:
    files = _opera(_discs(10, 9, 11), acts=3)
    assert set(numbers(files)) != {None}
    titles = [f"Rusalka, Act {act}: Words {n} so" for act in ("II", "III") for n in range(15)]
    assert set(numbers(filed(titles, COMPOSER="Dvořák", ALBUM="Rusalka"))) == {None}


def test_tags_that_count_the_movements_tell_that_all_are_there() -> None:
    places = _discs(5)
    assert numbers(_opera(places, acts=2, MOVEMENTTOTAL="5")) == [1, 2, 3, 4, 5]
    assert set(numbers(_opera(places, acts=2, MOVEMENTTOTAL="31"))) == {None}


@pytest.mark.parametrize(
    ("composer", "album", "titles"),
    [
        ("Puccini", "La bohème", [
            "La bohème, Act I: Che gelida manina", "La bohème, Act I: O soave fanciulla",
            "La bohème, Act II: Quando m'en vo", "La bohème, Act III: Donde lieta uscì"]),
        ("Mozart", "Mozart: Opera Arias", [
            "Le nozze di Figaro, K. 492: Overture", "Le nozze di Figaro, K. 492: Porgi, amor",
            "Le nozze di Figaro, K. 492: Dove sono", "Così fan tutte, K. 588: Come scoglio",
            "Così fan tutte, K. 588: Per pietà"]),
        ("Haydn", "Haydn: Die Schöpfung", [
            "Die Schöpfung: Nun beut die Flur", "Die Schöpfung: Auf starkem Fittiche",
            "Die Schöpfung: Mit Würd' und Hoheit angetan"]),
        ("Mendelssohn", "Elijah", [
            "Elijah: If with all your hearts", "Elijah: It is enough", "Elijah: He, watching"]),
        ("Adam", "Giselle", ["Giselle: Entrée de Giselle", "Giselle: Valse", "Giselle: Galop"]),
        # No table knows this opera: acts, genre or album tell.
        ("Ada Venn", "The Glass Orchard", [
            "The Glass Orchard, Act I: O morning", "The Glass Orchard, Act I: The saw",
            "The Glass Orchard, Act II: Farewell"]),
        ("Smareglia", "Arias", ["Nozze istriane: Qual presagio", "Nozze istriane: Sola"]),
    ],
)  # fmt: skip
def test_pieces_of_a_stage_work_or_oratorio_are_not_counted(
    composer: str, album: str, titles: list[str]
) -> None:
    assert set(numbers(filed(titles, COMPOSER=composer, ALBUM=album, GENRE="Classical"))) == {None}


def test_the_genre_tells_of_an_opera_that_no_table_knows() -> None:
    titles = ["The Glass Orchard: O morning", "The Glass Orchard: The saw"]
    tags = {"COMPOSER": "Ada Venn", "ALBUM": "The Glass Orchard"}
    assert set(numbers(filed(titles, GENRE="Opera", **tags))) == {None}
    assert numbers(filed(titles, GENRE="Classical", **tags)) == [1, 2]
    sonata = ["Violin Sonata No. 1: Allegro", "Violin Sonata No. 1: Adagio"]
    assert numbers(filed(sonata, COMPOSER="Ada Venn", GENRE="Opera")) == [1, 2]


@pytest.mark.parametrize(
    ("composer", "titles", "expected"),
    [
        ("Stravinsky", [
            "The Rite of Spring, Part I: Introduction",
            "The Rite of Spring, Part I: The Augurs of Spring",
            "The Rite of Spring, Part II: Introduction",
            "The Rite of Spring, Part II: Sacrificial Dance"], [1, 2, NONE, NONE]),
        # The same habit with a work that no table lists.
        ("Ada Venn", [
            "The Glass Orchard, Part I: Dawn", "The Glass Orchard, Part I: Noon",
            "The Glass Orchard, Part II: Dusk", "The Glass Orchard, Part II: Night"],
         [1, 2, NONE, NONE]),
        ("Ada Venn", [
            "The Glass Orchard, Part II: Dusk", "The Glass Orchard, Part II: Night"],
         [NONE, NONE]),
        ("Ada Venn", [
            f"The Glass Orchard, Part {part}: {time} of day" for part in ("I", "II")
            for time in ("Dawn", "Noon", "Dusk", "Night")], [1, 2, 3, 4, 5, 6, 7, 8]),
        ("Ada Venn", [
            "The Glass Orchard, Part I: Dawn", "The Glass Orchard, Part I: Noon",
            "The Glass Orchard, Part I: Dusk"], [1, 2, 3]),
    ],
)  # fmt: skip
def test_where_a_part_changes_only_a_whole_work_is_counted_on(
    composer: str, titles: list[str], expected: list[int | None]
) -> None:
    album = titles[0].partition(",")[0]
    assert numbers(filed(titles, COMPOSER=composer, ALBUM=album, GENRE="Classical")) == expected


@pytest.mark.parametrize(
    ("composer", "work", "titles", "expected"),
    [
        ("Mussorgsky", "Pictures at an Exhibition",
         ["Promenade", "Gnomus", "Promenade", "The Old Castle"], [1, 2, 3, 4]),
        ("Mussorgsky", "Pictures at an Exhibition",
         ["Gnomus", "The Old Castle", "Tuileries", "Bydlo"], [1, 2, 3, 4]),  # without promenades
        ("Mussorgsky", "Pictures at an Exhibition",
         ["Gnomus", "The Old Castle", "Bydlo", "The Great Gate of Kiev"], [1, 2, NONE, NONE]),
        ("Mussorgsky", "Картинки с выставки", ["Быдло", "Богатырские ворота"], [NONE, NONE]),
        ("Holst", "The Planets", ["Jupiter", "Mars"], [NONE, NONE]),
        ("Holst", "The Planets", ["Mars", "Venus", "Jupiter"], [1, 2, NONE]),
        ("Schumann", "Kinderszenen, Op. 15", ["Träumerei", "Der Dichter spricht"], [NONE, NONE]),
        ("Stravinsky", "The Firebird - Suite (1919 version)",
         ["Infernal Dance", "Berceuse", "Finale"], [NONE] * 3),
        ("Handel", "Messiah", ["Sinfony", "Comfort ye", "He was despised"], [1, 2, NONE]),
        # Joined and parted tracks of a whole work are counted as they come.
        ("Debussy", "Children's Corner",
         ["Doctor Gradus ad Parnassum", "Jimbo's Lullaby - Serenade for the Doll",
          "The Snow Is Dancing", "The Little Shepherd", "Golliwogg's Cakewalk"], [1, 2, 3, 4, 5]),
        ("Debussy", "Children's Corner",
         ["Doctor Gradus ad Parnassum", "Jimbo's Lullaby - Serenade for the Doll",
          "The Snow Is Dancing", "The Little Shepherd"], [1, 2, NONE, NONE]),
        ("Debussy", "Suite bergamasque", ["Prélude", "Menuet", "Clair de lune", "Passepied"],
         [1, 2, 3, 4]),
        ("Debussy", "Suite bergamasque", ["Clair de lune", "Passepied"], [NONE, NONE]),
    ],
)  # fmt: skip
def test_a_known_order_bounds_the_counting(
    composer: str, work: str, titles: list[str], expected: list[int | None]
) -> None:
    found = filed([f"{work}: {title}" for title in titles], COMPOSER=composer, ALBUM=work)
    assert numbers(found) == expected


def test_a_recital_with_two_pieces_of_each_work_is_not_counted() -> None:
    titles = [
        "The Glass Orchard: The Saw", "The Glass Orchard: The Ladder",
        "Seven Lanterns: Copper", "Seven Lanterns: Paper",
        "Piano Sonata No. 2: Allegro", "Piano Sonata No. 2: Presto",
    ]  # fmt: skip
    found = numbers(filed(titles, COMPOSER="Ada Venn", ALBUM="Encores", GENRE="Classical"))
    assert found == [None, None, None, None, 1, 2]
    # A disc of two works has them whole.
    alone = numbers(filed(titles[:4], COMPOSER="Ada Venn", ALBUM="Encores", GENRE="Classical"))
    assert alone == [1, 2, 1, 2]


@pytest.mark.parametrize(
    ("composer", "titles"),
    [
        ("Beethoven", [f"Symphony No. 5 in C minor, Op. 67: {t}" for t in (
            "Allegro con brio", "Andante con moto", "Scherzo", "Finale")]),
        ("Mahler", [
            "Symphony No. 5: Part I: Trauermarsch", "Symphony No. 5: Part I: Stürmisch bewegt",
            "Symphony No. 5: Part II: Scherzo", "Symphony No. 5: Part III: Adagietto",
            "Symphony No. 5: Part III: Rondo-Finale"]),
        ("Mozart", [f"Requiem, K. 626: {t}" for t in ("Introitus", "Kyrie", "Dies irae")]),
        ("Ravel", [f"Gaspard de la nuit: {t}" for t in ("Ondine", "Le gibet", "Scarbo")]),
    ],
)  # fmt: skip
def test_what_comes_whole_is_counted_on(composer: str, titles: list[str]) -> None:
    album = titles[0].partition(",")[0].partition(":")[0]
    found = filed(titles, COMPOSER=composer, ALBUM=album, GENRE="Classical")
    assert numbers(found) == list(range(1, len(titles) + 1))


def test_numbers_that_an_opera_has_of_its_own_stand_behind_an_overture_without_one() -> None:
    titles = ["Ouvertüre", "1. Akt, Nr. 1 Introduktion: Zu Hilfe!", "1. Akt, Nr. 2 Arie: Der Vogel"]
    found = filed(titles, COMPOSER="Mozart", ALBUM="Die Zauberflöte")
    assert numbers(found) == [None, 1, 2]


def test_the_tables_name_known_works() -> None:
    stage = _read("stage.json")
    assert isinstance(stage, dict) and sum(map(len, stage.values())) > 500
    for composer, titles in stage.items():
        for title in titles:
            known = by_title(composer, title)
            assert known is not None and known.title == title, (composer, title)
            assert is_for_stage(composer, title)
    rows = _read("contents.json")
    assert isinstance(rows, list) and len(rows) > 35
    for row in rows:
        composer, whole = str(row["composer"]), str(row["whole"])
        base = whole.removesuffix(" - Suite")
        assert by_title(composer, base) is not None, row
        pieces = row["pieces"]
        assert isinstance(pieces, dict)
        assert [int(n) for n in pieces] == sorted({int(n) for n in pieces}) and "1" in pieces
        assert all(title_key(name) for names in pieces.values() for name in names)


def test_works_that_only_sound_like_the_stage_are_not_of_it() -> None:
    assert not is_for_stage("Debussy, Claude", "La mer")
    assert not is_for_stage("Grieg, Edvard", "Peer Gynt Suite No. 1")
    assert not is_for_stage(None, "Tosca")


def test_every_list_agrees_with_itself_and_with_no_order_turned_round() -> None:
    rows = _read("contents.json")
    assert isinstance(rows, list)
    for row in rows:
        composer, whole, pieces = str(row["composer"]), str(row["whole"]), row["pieces"]
        assert isinstance(pieces, dict)
        titles = [(int(n), names[-1]) for n, names in pieces.items()]
        assert agreements(composer, whole, titles) == [True] * len(titles), row
        complete = len(pieces) == max(map(int, pieces))
        if complete:
            assert are_all(composer, whole, [title for _, title in titles]), row
        assert not are_all(composer, whole, [title for _, title in reversed(titles)]), row
        assert not are_all(composer, whole, [title for _, title in titles[:-1]]), row
