"""Which work a title means: abbreviations, keys, numbers and lists of them, what is cut off.

Families of like cases: each habit of tagging was met once in a listener's folder, the rows vary it.
Musical facts are those of the thematic catalogues, names of keys those of dictionaries of musical
terms, both from memory; performers are invented.
"""

import pytest
from works_kit import composer_and_title, filed, heading, work_of, work_title

from syncd.model import Kind
from syncd.works.abbreviations import spelled_out
from syncd.works.keys import parse_key

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


@pytest.mark.parametrize(
    "title",
    [
        "Симфония № 1 соль минор: I. Allegro moderato",
        "Symfoni nr 2 a-moll: Andante",
        "Sinfonía n.º 3 en mi bemol mayor",
        "Konzert Nr. 2 d-Moll: 2. Satz",
        "Sonata No. 2 in B minor",
    ],
)
def test_a_form_with_number_and_key_or_movement_is_a_work(title: str) -> None:
    assert filed([title], ARTIST="Lena Vikholm")[0].kind is Kind.WORK


@pytest.mark.parametrize("title", ["Sonata No. 3", "Concerto for a Rainy Day", "Symphony"])
def test_a_form_with_less_stays_popular(title: str) -> None:
    assert filed([title], ARTIST="Lena Vikholm")[0].kind is Kind.POPULAR


KEYS = [
    # Swedish, with the doubled letter of older spelling, Danish and Norwegian
    ("Ess-dur", "E-flat major"),
    ("Ass-dur", "A-flat major"),
    ("Dess-dur", "D-flat major"),
    ("ciss-moll", "C-sharp minor"),
    ("fiss-moll", "F-sharp minor"),
    ("b-mol", "B-flat minor"),
    ("h-mol", "B minor"),
    # Finnish and Estonian
    ("C-duuri", "C major"),
    ("a-molli", "A minor"),
    ("Es-duuri", "E-flat major"),
    ("B-duuri", "B-flat major"),
    ("h-molli", "B minor"),
    ("fis-molli", "F-sharp minor"),
    ("Es-duur", "E-flat major"),
    # Dutch
    ("Es groot", "E-flat major"),
    ("bes klein", "B-flat minor"),
    ("cis kleine terts", "C-sharp minor"),
    # Hungarian
    ("Esz-dúr", "E-flat major"),
    ("Asz-dúr", "A-flat major"),
    ("Desz-dúr", "D-flat major"),
    ("As-dúr", "A-flat major"),
    ("B-dúr", "B-flat major"),
    ("cisz-moll", "C-sharp minor"),
    # Polish and Czech
    ("Des-dur", "D-flat major"),
    ("As-dur", "A-flat major"),
    ("b-moll", "B-flat minor"),
    ("gis moll", "G-sharp minor"),
    # Portuguese, Catalan, Ukrainian
    ("dó sustenido menor", "C-sharp minor"),
    ("fa sostingut menor", "F-sharp minor"),
    ("сі мінор", "B minor"),
    ("мі-бемоль мажор", "E-flat major"),
]


@pytest.mark.parametrize(("text", "key"), KEYS)
def test_a_key_is_read_in_its_language(text: str, key: str) -> None:
    assert parse_key(text) == key


@pytest.mark.parametrize("text", ["Ass", "in Ass", "Ess", "Kiss", "less"])
def test_a_doubled_letter_without_a_mode_is_no_key(text: str) -> None:
    assert parse_key(text) is None


DOTTED = [
    ("Concerto per fagotto R.V. 484: Allegro", "Vivaldi, Antonio", "RV 484"),
    ("Concerto R. V. 443: Largo", "Vivaldi, Antonio", "RV 443"),
    ("Double Concerto, B.W.V. 1043: Vivace", "Bach, Johann Sebastian", "BWV 1043"),
    ("Concerto a due cori H.W.V. 333: Allegro", "Handel, George Frideric", "HWV 333"),
    ("Clarinet Concerto K.V. 622: Adagio", "Mozart, Wolfgang Amadeus", "K. 622"),
    ("Concerto T.W.V. 51:D7: Largo", "Telemann, Georg Philipp", "TWV 51:D7"),
]


@pytest.mark.parametrize(("title", "composer", "number"), DOTTED)
def test_letters_of_a_catalogue_may_have_dots(title: str, composer: str, number: str) -> None:
    found = work_of(filed([title])[0])
    assert (found[0], found[2]) == (composer, (number,))


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


LISTS = [
    ("Beethoven", "Symphonies Nos. 1 & 2, Opp. 21 & 36", ["Op. 21", "Op. 36"]),
    ("Beethoven", "Symphonies Nos. 1 and 2, Op. 21 and Op. 36", ["Op. 21", "Op. 36"]),
    ("Beethoven", "Symphonien Nr. 1 und 2, op. 21 und 36", ["Op. 21", "Op. 36"]),
    ("Beethoven", "Symphonies n° 1 et 2, op. 21 et 36", ["Op. 21", "Op. 36"]),
    ("Beethoven", "Sinfonie n. 1 e 2, op. 21 e 36", ["Op. 21", "Op. 36"]),
    ("Beethoven", "Sinfonías n.º 1 y 2, Opp. 21 y 36", ["Op. 21", "Op. 36"]),
    ("Бетховен", "Симфонии № 1 и 2, соч. 21 и 36", ["Op. 21", "Op. 36"]),
    ("Beethoven", "Symfonie č. 1 a 2, op. 21, op. 36", ["Op. 21", "Op. 36"]),
    ("Beethoven", "Piano Sonatas, Opp. 109, 110 & 111", ["Op. 109", "Op. 110", "Op. 111"]),
    ("Beethoven", "Piano Sonatas (Opp. 109, 110, 111)", ["Op. 109", "Op. 110", "Op. 111"]),
    ("Beethoven", "String Quartets, Op. 18 Nos. 1 & 2", ["Op. 18 No. 1", "Op. 18 No. 2"]),
    ("Beethoven", "Romances, Opp. 40/50", ["Op. 40", "Op. 50"]),
    ("Beethoven", "String Quartets, Opp. 18-135", ["Op. 18–135"]),
    ("Beethoven", "Symphonies 1–3, Opp. 21–55", ["Op. 21–55"]),
    ("Mozart", "Concertos K. 466 & 467", ["K. 466", "K. 467"]),
    ("Mozart", "Divertimenti K. 136, 137 and 138", ["K. 136", "K. 137", "K. 138"]),
    ("Mozart", "Duos KV 423/424", ["K. 423", "K. 424"]),
    ("Mozart", "Sonatas K. 330-332", ["K. 330–332"]),
    ("Bach", "Violin Concertos BWV 1041, 1042 & 1043", ["BWV 1041", "BWV 1042", "BWV 1043"]),
    ("Bach", "Inventionen BWV 772 bis 786", ["BWV 772–786"]),
    ("Haydn", "Sonatas Hob. XVI:50 & 52", ["Hob. XVI:50", "Hob. XVI:52"]),
    ("Schubert", "IMPROMPTUS D. 899 & 935", ["D. 899", "D. 935"]),
]


@pytest.mark.parametrize(("composer", "title", "catalogue"), LISTS)
def test_a_list_of_numbers_is_several_works_and_a_dash_a_range(
    composer: str, title: str, catalogue: list[str]
) -> None:
    [found] = filed([title], COMPOSER=composer, ARTIST="Northmoor Symphony Orchestra")
    assert found.work is not None
    assert list(found.work.catalogue) == catalogue
    assert found.confidence <= 0.9


@pytest.mark.parametrize(
    ("composer", "title", "catalogue"),
    [
        ("Mozart", "Sonata KV 331/300i", ["K. 331"]),
        ("Mozart", "Serenade K. 525 & 6 German Dances", ["K. 525"]),
        ("Beethoven", "Piano Sonata Op. 27/2", ["Op. 27 No. 2"]),
        ("Beethoven", "Piano Sonata Op. 27, 2", ["Op. 27 No. 2"]),
        ("Beethoven", "Symphony No. 5, Op. 67, 1. Allegro", ["Op. 67"]),
        ("Bach", "Toccata, BWV 565, 1978 recording", ["BWV 565"]),
        ("Bach", "Ricercar, BWV 1079 a 6 voci", ["BWV 1079"]),
    ],
)
def test_one_number_is_no_list(composer: str, title: str, catalogue: list[str]) -> None:
    [found] = filed([title], COMPOSER=composer, ARTIST="Northmoor Symphony Orchestra")
    assert found.work is not None and list(found.work.catalogue) == catalogue


@pytest.mark.parametrize(
    "titles",
    [
        ["Sonata K27 L449 b minor", "Sonata K. 9 in d - Allegro"],
        ["Sonata Kat. 27: Allegro", "Sonata Kat. 9: Allegro"],
        ["Sonata in D minor: I. Allegro", "Sonata in E major: II. Andante"],
        ["Sonata, op. 3: I. Allegro", "Sonata, op. 4: II. Adagio"],
        ["Sonate c-Moll: I. Allegro", "Sonate Es-Dur: II. Adagio"],
    ],
)
def test_other_numbers_or_keys_are_other_works(titles: list[str]) -> None:
    one, other = filed(titles, ALBUM="Sonatas", GENRE="Classical", ARTIST="Percival Anstey, piano")
    assert one.recording != other.recording


CUT = [
    ("Symphony No. 9 in D minor, Op. ", "Beethoven", "Symphony No. 9"),
    ("Symphony No. 41 in C major, K.", "Mozart", "Symphony No. 41"),
    ("Cello Suite No. 1 in G, BWV", "J.S. Bach", "Cello Suite No. 1"),
    ("Piano Sonata No. 14 in C sharp", "Beethoven", "Piano Sonata No. 14"),
]


@pytest.mark.parametrize(("title", "composer", "expected"), CUT)
def test_equal_titles_cut_off_in_a_row_are_one_recording(
    title: str, composer: str, expected: str
) -> None:
    found = filed([title] * 4, COMPOSER=composer)
    assert {composer_and_title(identity)[1] for identity in found} == {expected}
    assert {identity.work.catalogue for identity in found if identity.work is not None} == {()}
    assert len({identity.recording for identity in found}) == 1


@pytest.mark.parametrize("title", ["Symphony No. 9", "Symphony No. 9 in D minor, Op. 125"])
def test_equal_whole_titles_in_a_row_are_performances_of_their_own(title: str) -> None:
    found = filed([title] * 2, COMPOSER="Beethoven")
    assert len({identity.recording for identity in found}) == 2


def test_a_key_at_the_end_is_no_catalogue_cut_off() -> None:
    found = filed(["Symphony No. 2 in D", "Mass in G"], COMPOSER="Beethoven")
    assert [identity.work.key for identity in found if identity.work is not None] == [
        "D major",
        "G major",
    ]


@pytest.mark.parametrize(
    ("title", "expected"),
    [
        ("Concerto for String Orchestra", "Concerto for String Orchestra"),
        ("CONCERTO FOR STRING ORCHESTRA", "Concerto for String Orchestra"),
        ("Konzert für Streichorchester", "Concerto for String Orchestra"),
        ("Concerto pour orchestre à cordes", "Concerto for String Orchestra"),
        ("Concerto per orchestra d'archi", "Concerto for String Orchestra"),
        ("Concierto para orquesta de cuerdas", "Concerto for String Orchestra"),
        ("Koncert pro smyčcový orchestr", "Concerto for String Orchestra"),
        ("Концерт для струнного оркестра", "Concerto for String Orchestra"),
        ("Concerto voor strijkorkest", "Concerto for String Orchestra"),
        ("Koncert na orkiestrę smyczkową", "Concerto for String Orchestra"),
        ("Concertino for String Orchestra", "Concertino for String Orchestra"),
        ("Konzert für Kammerorchester", "Concerto for Chamber Orchestra"),
        ("Concerto for Wind Orchestra", "Concerto for Wind Orchestra"),
        ("Concerto for Strings", "Concerto for Strings"),
        ("Concerto for Orchestra", "Concerto for Orchestra"),
        ("Konzert für Orchester", "Concerto for Orchestra"),
        ("Konzert für Klavier und Streichorchester", "Piano Concerto"),
    ],
)
def test_a_string_orchestra_is_kept_apart_from_an_orchestra(title: str, expected: str) -> None:
    [found] = filed([f"{title}: I. Allegro"], COMPOSER="Kint, Lara", GENRE="Classical")
    assert found.work is not None and found.work.title == expected


def test_after_whose_work_a_concerto_is_is_no_part_of_its_title() -> None:
    for said in ("nach Vivaldi", "after Vivaldi", "d'après Vivaldi"):
        found = filed([f"Konzert a-Moll BWV 593 {said}: Allegro"], COMPOSER="J.S. Bach")[0]
        assert work_of(found) == ("Bach, Johann Sebastian", "Concerto", ("BWV 593",), "A minor")


def test_a_fantasy_on_themes_from_an_opera_stays_whole() -> None:
    title = "Fantaisie brillante on Themes from Gounod's Faust"
    found = filed([f"Wieniawski: {title}, Op. 20"])[0]
    assert work_of(found) == ("Wieniawski, Henryk", title, ("Op. 20",), None)
    assert found.movement is None


def test_a_piece_on_an_album_of_homages_is_its_own_work() -> None:
    titles = ["Ravel: Menuet sur le nom d'Haydn", "Debussy: Hommage à Rameau"]
    found = filed(titles, ALBUM="Hommages et tombeaux", ARTIST="Thea Grand (piano)")
    assert [work_of(one)[1] for one in found] == [title.partition(": ")[2] for title in titles]


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
