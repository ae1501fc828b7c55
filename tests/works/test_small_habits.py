"""Small habits: arrangers behind a comma, numbers in brackets, players in folders' names.

Each was met in a listener's folder; the rows vary it. Facts of the works from memory; performers
are invented.
"""

import pytest
from works_kit import composer_and_title, filed, heading, performers, work_of

from syncd.model import Kind, TaggedFile
from syncd.works.album import read_album
from syncd.works.identify import identify
from syncd.works.title import read_title
from syncd.works.worktitle.reader import read_work


@pytest.mark.parametrize(
    ("title", "composer", "work", "movement", "arranger"),
    [
        ("Danza del molinero (El sombrero de tres picos), arr. Corvalán", "Manuel de Falla",
         "El sombrero de tres picos", "Danza del molinero", "Corvalán"),
        ("Asturias (Leyenda), transcr. Corvalán", "Isaac Albéniz", "Asturias", None, "Corvalán"),
        ("Clair de lune, arranged by Velda Kint", "Claude Debussy", "Clair de lune", None,
         "Velda Kint"),
        ("Abendlied, bearb. von Jan Venn", "Robert Schumann", "Abendlied", None, "Jan Venn"),
        ("Pictures at an Exhibition, orch. Harcastle", "Modest Mussorgsky",
         "Pictures at an Exhibition", None, "Harcastle"),
    ],
)  # fmt: skip
def test_an_arranger_behind_a_comma_is_no_part_of_the_title(
    title: str, composer: str, work: str, movement: str | None, arranger: str
) -> None:
    [found] = filed([title], COMPOSER=composer, ARTIST="Teo Lund (guitar)", ALBUM="Album")
    assert composer_and_title(found)[1] == work
    assert heading(found)[1] == movement
    assert performers(found, "arranger") == [arranger]


@pytest.mark.parametrize(
    "title",
    ["Concerto for violin, orchestra and choir", "Songs, arranged for brass", "Poem, Transcendent"],
)
def test_no_arranger_where_no_name_follows(title: str) -> None:
    reading = read_title(title)
    assert reading.arranger is None
    assert reading.work is not None and "(" not in reading.work.text


@pytest.mark.parametrize(
    ("title", "source", "movement"),
    [
        ("Barcarolle from the Tales of Hoffmann", "The Tales of Hoffmann", "Barcarolle"),
        ("Overture from the Marriage of Figaro", "the Marriage of Figaro", "Overture"),
        ("Dance from the opera The Bartered Bride", "The Bartered Bride", "Dance"),
        ("Chor aus der Zauberflöte", "der Zauberflöte", "Chor"),
    ],
)
def test_a_known_work_with_its_article_is_the_source(
    title: str, source: str, movement: str
) -> None:
    reading = read_title(title)
    assert reading.source is not None and reading.source.text.lower() == source.lower()
    assert reading.movement is not None and reading.movement.title == movement


@pytest.mark.parametrize(
    "title", ["Symphony from the New World", "Greetings from the Road", "Letter from the Front"]
)
def test_other_words_with_an_article_are_no_source(title: str) -> None:
    assert read_title(title).source is None


@pytest.mark.parametrize(
    ("title", "number", "movement"),
    [
        ("(3) Rondo", 3, "Rondo"),
        ("(II) Andante con moto", 2, "Andante con moto"),
        ("[4] Finale: Presto", 4, "Finale: Presto"),
        ("Sonata in D, K. 311 (3) Rondo", 3, "Rondo"),
        ('"Pathetique" Sonata op13 C minor (2) Adagio cantabile', 2, "Adagio cantabile"),
    ],
)
def test_a_number_in_brackets_counts_a_movement(title: str, number: int, movement: str) -> None:
    reading = read_title(title).movement
    assert reading is not None and (reading.number, reading.title) == (number, movement)


@pytest.mark.parametrize(
    "title", ["(500) Days", "(Everything I Do)", "Love (2) Love Again", "[untitled]"]
)
def test_other_brackets_count_nothing(title: str) -> None:
    reading = read_title(title)
    assert reading.movement is None or reading.movement.number is None


@pytest.mark.parametrize(
    ("title", "number", "raws"),
    [
        ("Mephisto-Walzer Nr. 1 S 514", 1, ["S 514"]),
        ("Liebestraum No. 3 S541", 3, ["S 541"]),
        ("Nocturne No. 5 H 37", 5, ["H 37"]),
        ("Sonaten Nr. 1 und 3", 1, []),
        ("Sonate č. 2 s 1 violou", 2, []),
    ],
)
def test_letters_of_a_catalogue_behind_a_number_go_on_no_range(
    title: str, number: int, raws: list[str]
) -> None:
    reading = read_work(title)
    assert (reading.number, [raw.text for raw in reading.raws]) == (number, raws)
    assert reading.range == ("und" in title)


@pytest.mark.parametrize(
    ("album", "work"),
    [
        ("Beethoven Symphony 5 [Wharfdale Philharmonic, Jonas Venn]", "Symphony No. 5"),
        ("Haydn - String Quartets Op. 76 (Tarn Quartet, Lara Kint)", "String Quartets"),
        ("Brahms: Piano Trio No. 1; Horn Trio (Venn / Kint / Tarn)", "Piano Trio No. 1"),
    ],
)
def test_a_list_of_players_in_brackets_is_cut_at_no_comma(album: str, work: str) -> None:
    assert read_album(album).works[0].title == work


def test_a_folder_says_in_brackets_who_plays_where_no_tag_does() -> None:
    tags = {"TITLE": ["Piano Trio in B flat, D. 898: I. Allegro moderato"],
            "COMPOSER": ["Schubert"], "ALBUM": ["Schubert: Trios"]}  # fmt: skip
    for folder, players, more in (
        ("Schubert Trios (Tarn Trio)", ["Tarn Trio"], {}),
        ("Schubert Trios (2004)", [], {}),
        ("Schubert Trios (for violin and piano)", [], {}),
        ("Schubert Trios (Tarn Trio)", ["Linden Trio"], {"ARTIST": ["Linden Trio"]}),
    ):
        [found] = identify([TaggedFile(f"{folder}/01.flac", {**tags, **more})])
        assert performers(found, "ensemble") == players, folder


@pytest.mark.parametrize(
    ("path", "artist", "kind"),
    [
        ("Rock/The Milk Crates/White/01 Song.mp3", "The Milk Crates", Kind.POPULAR),
        ("The Milk Crates/White/01 Song.mp3", "The Milk Crates", Kind.POPULAR),
        ("Music/The Milk Crates/01 Song.mp3", None, Kind.UNKNOWN),
        ("Downloads/misc/song.mp3", None, Kind.UNKNOWN),
        ("New Music/White/song.mp3", None, Kind.UNKNOWN),
    ],
)
def test_a_folder_above_the_albums_tells_an_artist_only_with_doubt(
    path: str, artist: str | None, kind: Kind
) -> None:
    [found] = identify([TaggedFile(path, {})])
    assert (found.artist, found.kind) == (artist, kind)
    assert found.confidence <= 0.5


def test_a_numbered_work_keeps_its_catalogue() -> None:
    [found] = filed(["Mephisto-Walzer Nr. 1 S 514"], COMPOSER="Franz Liszt", ALBUM="Liszt")
    assert work_of(found)[2] == ("S. 514",)
