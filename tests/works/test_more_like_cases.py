"""Further families of like cases: abbreviations, chant, highlights, numbers, players, headings.

The rows vary habits of tagging that were met in listeners' folders. Musical facts are those of the
thematic catalogues, from memory; performers are invented.
"""

import pytest

from syncd.model import Identity, Kind, TaggedFile
from syncd.works.abbreviations import spelled_out
from syncd.works.identify import identify
from syncd.works.people import read_people


def filed(titles: list[str], folder: str = "Folder", **tags: str) -> list[Identity]:
    """The identities of one folder of tracks with *titles* and the same further *tags*."""
    return identify(
        [
            TaggedFile(
                f"{folder}/{number:02d}.flac",
                {
                    "TITLE": [title],
                    "TRACKNUMBER": [str(number)],
                    **{name: [value] for name, value in tags.items()},
                },
            )
            for number, title in enumerate(titles, start=1)
        ]
    )


def work_title(identity: Identity) -> str | None:
    return identity.work.title if identity.work is not None else None


def heading(identity: Identity) -> tuple[int | None, str | None]:
    movement = identity.movement
    return (movement.number, movement.title) if movement is not None else (None, None)


ABBREVIATED = [
    ("BRAHMS SYM 4", "Brahms, Johannes", "Symphony No. 4"),
    ("Brahms Symph. No. 4", "Brahms, Johannes", "Symphony No. 4"),
    ("BEETHOVEN PNO CTO 5", "Beethoven, Ludwig van", "Piano Concerto No. 5"),
    ("Beethoven Pno. Conc. 5", "Beethoven, Ludwig van", "Piano Concerto No. 5"),
    ("MENDELSSOHN VLN CTO", "Mendelssohn, Felix", "Violin Concerto"),
    ("DVORAK STR QT 12", "Dvořák, Antonín", "String Quartet No. 12"),
    ("Beethoven Pno Son No. 14", "Beethoven, Ludwig van", "Piano Sonata No. 14"),
    ("Bach Brandenburg Cto 3", "Bach, Johann Sebastian", "Brandenburg Concerto No. 3"),
    ("SHOSTAKOVICH SYMPH 5", "Shostakovich, Dmitri", "Symphony No. 5"),
    ("Tchaikovsky - Sinf. 6", "Tchaikovsky, Pyotr Ilyich", "Symphony No. 6"),
    ("Rachmaninov PC2", "Rachmaninoff, Sergei", "Piano Concerto No. 2"),
    ("Grieg PC", "Grieg, Edvard", "Piano Concerto"),
    ("Mozart Cl Qnt", "Mozart, Wolfgang Amadeus", "Clarinet Quintet"),
    ("Franck Vn Sonata", "Franck, César", "Violin Sonata"),
    ("BACH ORCH STE 2", "Bach, Johann Sebastian", "Orchestral Suite No. 2"),
    ("Bruckner Symf. 8", "Bruckner, Anton", "Symphony No. 8"),
]


@pytest.mark.parametrize(("album", "composer", "title"), ABBREVIATED)
def test_an_abbreviated_album_of_bare_numerals_is_a_work(
    album: str, composer: str, title: str
) -> None:
    found = filed(["I", "II", "III"], ALBUM=album)
    assert {one.kind for one in found} == {Kind.WORK}
    assert {one.composer.sort for one in found if one.composer} == {composer}
    assert {work_title(one) for one in found} == {title}
    assert [heading(one)[0] for one in found] == [1, 2, 3]
    assert len({one.recording for one in found}) == 1


@pytest.mark.parametrize(
    "text",
    ["Var. 2: Poco allegro", "Mon fils, mon son", "Sym", "The Con", "Ob-La-Di", "Son of Sam"],
)
def test_letters_that_abbreviate_nothing_stay_as_they_are(text: str) -> None:
    assert spelled_out(text) == text


@pytest.mark.parametrize("album", ["Four", "PC 3", "Sym 4", "Nocturne"])
def test_bare_numerals_on_a_bands_album_stay_popular(album: str) -> None:
    found = filed(["I", "II", "III"], ALBUM=album, ARTIST="The Night Wolves")
    assert {one.kind for one in found} == {Kind.POPULAR}


CHANTS = [
    {"GENRE": "Gregorianik", "COMPOSER": "Anonymous", "ARTIST": "Schola Sankt Aldrik"},
    {"GENRE": "Gregorian Chant", "ARTIST": "Monks of Saint Alder Abbey"},
    {"GENRE": "Chant grégorien", "COMPOSER": "Anonyme", "ARTIST": "Chœur des moines d'Aldrie"},
    {"GENRE": "Plainsong", "ARTIST": "Schola"},
    {"ALBUM": "Canto gregoriano", "ARTIST": "Schola Sancti Aldrici"},
    {"ALBUM": "Gregorianische Gesänge", "ARTIST": "Choralschola der Abtei Altenried"},
    {"COMPOSER": "anonym", "ARTIST": "Choralschola der Abtei Altenried"},
    {"COMPOSER": "Gregorian", "ARTIST": "Schola Cantorum Aldrica"},
]


@pytest.mark.parametrize("tags", CHANTS, ids=str)
def test_chant_is_a_work_called_by_its_first_words(tags: dict[str, str]) -> None:
    titles = ["Introitus: Puer natus est nobis", "Graduale - Viderunt omnes", "Kyrie eleison"]
    found = filed(titles, **{"ALBUM": "Weihnacht", **tags})
    assert {one.kind for one in found} == {Kind.WORK}
    assert [work_title(one) for one in found][:2] == ["Puer natus est nobis", "Viderunt omnes"]
    assert all(one.composer is None or one.composer.sort == "Anonymous" for one in found)
    assert len({one.recording for one in found}) == 3


HIGHLIGHTS = [
    "Verdi: La Traviata - Highlights", "Verdi: La traviata (Highlights)",
    "Verdi - La traviata: Höhepunkte", "Verdi: La traviata, Querschnitt",
    "Verdi: La traviata - Extraits", "Verdi: La traviata - Szenen und Arien",
    "Verdi: Brani da La traviata", "Verdi: La traviata (Auszüge)", "Highlights from La traviata",
    "Arias from La traviata", "Szenen aus La traviata", "Extraits de La traviata",
    "Verdi: La traviata - průřez", "Verdi: La traviata - Hoogtepunten",
    "Großer Querschnitt durch La traviata", "Scenes and Arias from Verdi's La traviata",
]  # fmt: skip


@pytest.mark.parametrize("album", HIGHLIGHTS)
def test_highlights_are_movements_of_the_opera_without_numbers(album: str) -> None:
    titles = ["Libiamo, ne' lieti calici", "Un dì, felice, eterea", "Addio, del passato"]
    found = filed(titles, ALBUM=album, GENRE="Opera", ARTIST="Lara Kint (soprano)")
    assert {one.composer.sort for one in found if one.composer} == {"Verdi, Giuseppe"}
    assert {work_title(one) for one in found} == {"La traviata"}
    assert [heading(one) for one in found] == [(None, title) for title in titles]
    assert len({one.recording for one in found}) == 1


def test_arias_without_an_opera_are_no_highlights_of_one() -> None:
    found = filed(["Non più andrai", "Voi che sapete"], ALBUM="Mozart: Arias", GENRE="Opera")
    assert len({one.recording for one in found}) == 2


@pytest.mark.parametrize(
    ("title", "number"),
    [
        ("Romeo and Juliet, Suite No. 2, Op. 64ter: I. Dance", "Op. 64ter"),
        ("Romeo and Juliet, Suite No. 2, Op. 64 ter: I. Dance", "Op. 64ter"),
        ("Romeo and Juliet, Suite No. 1, op. 64-bis: I. Dance", "Op. 64bis"),
        ("ROMEO AND JULIET SUITE NO. 1, OP. 64BIS: I. DANCE", "Op. 64bis"),
        ("Romeo and Juliet, Op. 64: I. Dance", "Op. 64"),
    ],
)
def test_bis_and_ter_belong_to_the_number(title: str, number: str) -> None:
    [found] = filed([title], COMPOSER="Sergei Prokofiev")
    assert found.work is not None
    assert list(found.work.catalogue) == [number]
    assert ("Suite" in found.work.title) == (number != "Op. 64")


PLAYERS = [
    ("Thijs Roelvink (klavecimbel)", "harpsichord"), ("Jan Kuiper (dwarsfluit)", "flute"),
    ("Piet Kuiper (blokfluit)", "recorder"), ("Halina Jaźwiec - fortepian", "piano"),
    ("Halina Jaźwiec – skrzypce", "violin"), ("Jiří Venn (housle)", "violin"),
    ("Ilona Kint (zongora)", "piano"), ("Ilona Kint, gordonka", "cello"),
    ("Liisa Koski, huilu", "flute"), ("Mette Holm (blokfløjte)", "recorder"),
    ("Sven Ek (valthorn)", "horn"), ("Анна Венн - фортепиано", "piano"),
    ("Игорь Белов (скрипка)", "violin"), ("山本花子（ピアノ）", "piano"),
    ("山本花子（ピアノ独奏）", "piano"), ("李明（钢琴）", "piano"), ("李明 (小提琴)", "violin"),
    ("山本花子 ソプラノ", "soprano"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "instrument"), PLAYERS)
def test_instruments_are_known_in_many_languages(text: str, instrument: str) -> None:
    [person] = read_people(text)
    assert person.instruments == (instrument,)


LEADERS = [
    "篠塚玲司（指揮）みなと湾岸交響楽団", "篠塚玲司(指揮) みなと湾岸交響楽団",
    "みなと湾岸交響楽団、指揮：篠塚玲司", "みなと湾岸交響楽団 篠塚玲司(指揮)",
    "湖滨交响乐团 王强（指挥）", "Dunaparti Zenekar, vezényel Nagy Bence",
    "Orkiestra Filharmonii Wiślańskiej, Wojciech Brzostek - dyrygent",
    "Aavan Orkesteri, Liisa Koski (kapellimestari)", "Оркестр Лядова, Игорь Белов (дирижёр)",
]  # fmt: skip


@pytest.mark.parametrize("text", LEADERS)
def test_orchestra_and_conductor_are_told_apart_in_many_languages(text: str) -> None:
    people = read_people(text)
    assert len(people) == 2
    assert sorted(p.kind for p in people) == ["ensemble", "person"]
    assert [p.roles for p in people if p.kind == "person"] == [("conductor",)]


def test_players_listed_with_dashes_or_glued_brackets_are_told_apart() -> None:
    lists = [
        "Anna Sorel - violin, Jan Venn - piano",
        "Violin - Anna Sorel, Piano - Jan Venn",
        "Anna Sorel (violin) Jan Venn (piano)",
        "Anna Sorel (viool) en Jan Venn (vleugel)",
    ]
    for text in lists:
        assert [(p.name, p.instruments) for p in read_people(text)] == [
            ("Anna Sorel", ("violin",)),
            ("Jan Venn", ("piano",)),
        ]


@pytest.mark.parametrize("name", ["Slagwerk Oostkade", "Schlagwerk Altenried", "Blazers Oostkade"])
def test_a_common_noun_before_a_name_is_a_group(name: str) -> None:
    assert read_people(name)[0].kind == "ensemble"


HEADINGS = [
    ({"COMPOSER": "César Franck"}, "Choral n° 1 en mi majeur, FWV 38", "Choral No. 1",
     (None, None)),
    ({"ALBUM": "Mendelssohn: Piano Trios"}, "Trio No 1 in D minor - Scherzo", "Piano Trio No. 1",
     (None, "Scherzo")),
    ({"ALBUM": "Dvořák: String Quartets"}, "Quartet No. 12 - Lento", "String Quartet No. 12",
     (None, "Lento")),
    ({}, "Adagietto from Symphony No. 5 (Mahler)", "Symphony No. 5", (None, "Adagietto")),
    ({}, "Largo from Symphony No. 9 (Dvořák)", "Symphony No. 9", (None, "Largo")),
    ({}, "Moonlight Sonata (1st Movement) - Beethoven", "Piano Sonata No. 14",
     (1, None)),
    ({"COMPOSER": "Satie"}, "gymnopedie no.1", "Gymnopédies", (1, None)),
    ({"COMPOSER": "Satie"}, "Gnossienne No. 3", "Gnossiennes", (3, None)),
    ({"COMPOSER": "Satie"}, "Gymnopédie II", "Gymnopédies", (2, None)),
    ({"COMPOSER": "Tchaikovsky"}, "Swan Lake Suite, Op. 20a: IV. Scène", "Swan Lake Suite",
     (4, "Scène")),
    ({"COMPOSER": "Rimsky-Korsakov", "ALBUM": "Scheherazade"},
     "Scheherazade #2 The Kalendar Prince", "Scheherazade", (2, "The Kalendar Prince")),
]  # fmt: skip


@pytest.mark.parametrize(
    ("tags", "title", "work", "movement"), HEADINGS, ids=[row[1] for row in HEADINGS]
)
def test_work_and_movement_are_read_out_of_one_title(
    tags: dict[str, str], title: str, work: str, movement: tuple[int | None, str | None]
) -> None:
    [found] = filed([title], GENRE="Classical", **{"ALBUM": "Evening", **tags})
    assert work_title(found) == work
    assert heading(found) == movement
