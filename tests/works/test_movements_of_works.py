"""Which movement a track is: parts that an album names, written numbers, scenes, highlights.

Families of like cases: each habit of tagging was met once in a listener's folder, the rows vary it
in languages, separators and case. Musical facts are those of the thematic catalogues, from memory;
performers are invented.
"""

import pytest
from works_kit import filed, heading, numbers, work_of, work_title

SETS = [
    ("Brahms: Variationen über ein Thema von Joseph Haydn op. 56a", ["Op. 56a"],
     ["Thema: Andante", "Variation I: Poco più animato", "Variation II: Più vivace",
      "Variation III: Con moto", "Finale: Andante"]),
    ("Beethoven: 33 Variations on a Waltz by Diabelli, Op. 120", ["Op. 120"],
     ["Tema: Vivace", "Variation 1: Alla marcia maestoso", "Var. 2: Poco allegro",
      "Var. 3: L'istesso tempo"]),
    ("Elgar: Enigma Variations, Op. 36", ["Op. 36"],
     ["Theme: Andante", "Variation I (C.A.E.): Andante", "Variation II (H.D.S-P.): Allegro",
      "Variation III (R.B.T.): Allegretto"]),
    ("Чайковский: Вариации на тему рококо, соч. 33", ["Op. 33"],
     ["Тема: Moderato", "Вариация I: Allegro", "Вариация II: Allegro vivo",
      "Вариация III: Andante sostenuto"]),
    ("Dvořák: Slovanské tance, op. 46", ["Op. 46"],
     ["Slovanský tanec č. 1: Presto", "Slovanský tanec č. 2: Allegretto scherzando",
      "Slovanský tanec č. 3: Poco allegro"]),
    ("Brahms: Ungarische Tänze WoO 1", ["WoO 1"],
     ["Ungarischer Tanz Nr. 1: Allegro molto", "Ungarischer Tanz Nr. 2: Allegro",
      "Ungarischer Tanz Nr. 3: Allegretto"]),
    ("Chopin: 24 Preludes, Op. 28", ["Op. 28"],
     ["Prelude No. 1 - Agitato", "Prelude No. 2 - Lento", "Prelude No. 3 - Vivace"]),
    ("Chopin: Études, Op. 10", ["Op. 10"],
     ["Étude No. 1 in C major: Allegro", "Étude No. 2 in A minor: Allegro",
      "Étude No. 3 in E major: Lento ma non troppo"]),
    ("Debussy: Préludes, Livre I", [],
     ["Prélude I: Lent et grave", "Prélude II: Modéré", "Prélude III: Animé"]),
    ("Paganini: 24 Capricci, op. 1", ["Op. 1"],
     ["Capriccio n. 1: Andante", "Capriccio n. 2: Moderato", "Capriccio n. 3: Sostenuto"]),
    ("Granados: Danzas españolas, Op. 37", ["Op. 37"],
     ["Danza española n.º 1: Allegro", "Danza española n.º 2: Andante",
      "Danza española n.º 3: Allegro"]),
    ("Schumann: Dichterliebe, Op. 48", ["Op. 48"],
     ["Lied 1: Langsam, zart", "Lied 2: Nicht schnell", "Lied 3: Munter"]),
    ("Bach: Orchestral Suite No. 3 in D major, BWV 1068", ["BWV 1068"],
     ["Ouverture: Grave", "Air: Lento", "Gavotte I: Allegro", "Bourrée: Presto", "Gigue: Vivace"]),
    ("BRAHMS: VARIATIONS ON A THEME BY HAYDN, OP. 56A", ["Op. 56a"],
     ["THEME - ANDANTE", "VARIATION 1 - POCO PIU ANIMATO", "VARIATION 2 - PIU VIVACE"]),
    ("brahms - variations on a theme by haydn op. 56a", ["Op. 56a"],
     ["theme - andante", "variation 1 - poco più animato", "variation 2 - più vivace"]),
    ("Fauré: Thème et variations, Op. 73", ["Op. 73"],
     ["Thème. Quasi adagio", "Variation 1. Lo stesso tempo", "Variation 2. Più mosso"]),
    ("Mendelssohn: Variations sérieuses, Op. 54", ["Op. 54"],
     ["Tema / Andante sostenuto", "Var. 1 / Andante", "Var. 2 / Un poco più animato"]),
    ("Britten: Variations on a Theme of Frank Bridge, Op. 10", ["Op. 10"],
     ["Introduction and Theme: Lento maestoso", "Variation 1: Adagio", "Variation 2: March"]),
]  # fmt: skip


@pytest.mark.parametrize(("album", "catalogue", "titles"), SETS, ids=[row[0] for row in SETS])
def test_parts_of_the_work_that_the_album_names_are_its_movements(
    album: str, catalogue: list[str], titles: list[str]
) -> None:
    found = filed(titles, ALBUM=album, ARTIST="Northmoor Symphony Orchestra")
    assert len({one.recording for one in found}) == 1
    assert numbers(found) == list(range(1, len(titles) + 1))
    assert [list(one.work.catalogue) if one.work else None for one in found] == [catalogue] * len(
        titles
    )


def test_what_the_titles_leave_out_of_a_set_keeps_its_numbers() -> None:
    found = filed(
        ["Theme: Andante", "Variation I: Andante", "Variation IX: Adagio", "Variation XIV: Vivo"],
        ALBUM="Elgar: Enigma Variations, Op. 36",
        ARTIST="Northmoor Symphony Orchestra",
    )
    assert numbers(found) == [1, 2, 10, 15]


def test_pieces_beside_the_work_that_heads_the_album_stay_works() -> None:
    found = filed(
        ["Nocturne No. 1: Larghetto", "Ballade No. 1: Largo", "Waltz No. 3: Lento"],
        ALBUM="Chopin: Piano Sonata No. 2 and other works",
        ARTIST="Percival Anstey",
    )
    assert len({one.recording for one in found}) == 3


MOVEMENTS = [
    ("Klaviersonate Nr. 11 A-Dur KV 331 (300i): {}",
     ["I. Andante grazioso: Tema", "I. Andante grazioso: Variation I",
      "I. Andante grazioso: Variation II", "II. Menuetto", "III. Alla turca"], [1, 1, 1, 2, 3]),
    ("Sonate n° 11 en la majeur, K. 331 - {}",
     ["1. Andante grazioso - Thème", "1. Andante grazioso - Variation 1", "2. Menuetto",
      "3. Alla turca"], [1, 1, 2, 3]),
    ("sonata in a major, k. 331 - {}",
     ["i. andante grazioso - tema", "i. andante grazioso - var. 1", "ii. menuetto"], [1, 1, 2]),
    ("Symphony No. 41 in C, K. 551: {}",
     ["1a. Allegro", "1b. Vivace", "2. Andante", "3. Menuetto", "4. Finale"], [1, 1, 2, 3, 4]),
    ("Quartet in C, K. 465, {}",
     ["1st movement: Adagio", "1st movement: Allegro", "2nd movement: Andante",
      "4th movement: Allegro"], [1, 1, 2, 4]),
    ("Sinfonie C-Dur KV 551: {}",
     ["1. Satz: Adagio", "1. Satz: Allegro", "2. Satz: Andante", "3. Satz: Menuett"],
     [1, 1, 2, 3]),
    ("Symphony No. 40 in G minor, K. 550: {}",
     ["III. Menuetto", "III. Trio", "IV. Allegro assai"], [3, 3, 4]),
    ("Symphony No. 40 in G minor, K. 550 / {}",
     ["I. Molto allegro", "II. Andante", "III. Menuetto", "III. Trio", "IV. Allegro assai"],
     [1, 2, 3, 3, 4]),
    ("Mass in C minor, K. 427: {}",
     ["I. Kyrie", "II. Gloria: Gloria in excelsis", "II. Gloria: Laudamus te",
      "III. Credo: Credo"], [1, 2, 2, 3]),
    ("Sinfonia n. 40 in sol minore, K. 550: {}",
     ["1. Molto allegro", "2. Andante", "4. Allegro assai"], [1, 2, 4]),
    ("Симфония № 40 соль минор, K. 550: {}",
     ["I. Molto allegro", "I. Coda", "II. Andante"], [1, 1, 2]),
]  # fmt: skip


@pytest.mark.parametrize(
    ("pattern", "parts", "expected"), MOVEMENTS, ids=[row[0] for row in MOVEMENTS]
)
def test_written_numbers_of_movements_go_before_the_order_on_the_disc(
    pattern: str, parts: list[str], expected: list[int]
) -> None:
    found = filed(
        [pattern.format(part) for part in parts],
        COMPOSER="Mozart",
        ALBUM="Album",
        ARTIST="Percival Anstey, piano",
    )
    assert numbers(found) == expected
    assert len({one.recording for one in found}) == 1


SLASHED = [
    ("Brandenburg Concerto No. 3, BWV 1048/3", "J.S. Bach", "BWV 1048", 3),
    ("Mass in B minor, BWV 232/4", "J.S. Bach", "BWV 232", 4),
    ("Piano Sonata in A major, K. 331/1", "Mozart", "K. 331", 1),
    ("Concerto in E, RV 269/2", "Vivaldi", "RV 269", 2),
    ("Suite, HWV 434/4", "Handel", "HWV 434", 4),
    ("String Quartet, Op. 18/4", "Beethoven", "Op. 18 No. 4", None),
    ("Impromptu, D. 899/3", "Schubert", "D. 899 No. 3", None),
    ("German Dance, K. 605/3", "Mozart", "K. 605 No. 3", None),
    ("Symphony, Wq. 183/1", "C.P.E. Bach", "Wq. 183 No. 1", None),
]


@pytest.mark.parametrize(("title", "composer", "number", "movement"), SLASHED)
def test_a_slash_counts_movements_where_a_number_is_one_work(
    title: str, composer: str, number: str, movement: int | None
) -> None:
    found = filed([title], COMPOSER=composer)[0]
    assert work_of(found)[2] == (number,)
    assert heading(found)[0] == movement


COUNTED = [
    ("Symphony in c minor Op.67 {} {}", "Beethoven", ("Op. 67",), "Symphony No. 5"),
    ("Piano Sonata in C K545 {} {}", "Mozart", ("K. 545",), "Piano Sonata No. 16"),
    ("cello_concerto_op104_{}_{}", "Dvorak", ("Op. 104",), "Cello Concerto"),
]


@pytest.mark.parametrize(("form", "composer", "catalogue", "title"), COUNTED)
def test_digits_behind_a_number_count_the_movements(
    form: str, composer: str, catalogue: tuple[str, ...], title: str
) -> None:
    names = ["Allegro", "Adagio", "Rondo"]
    found = filed([form.format(n, name) for n, name in enumerate(names, 1)], COMPOSER=composer)
    assert [heading(one) for one in found] == list(enumerate(names, 1))
    assert len({one.recording for one in found}) == 1
    assert {work_of(one)[1:3] for one in found} == {(title, catalogue)}


def test_digits_behind_the_opus_of_a_set_name_the_work() -> None:
    found = filed(
        ["String Quartet Op. 18 1 Allegro con brio", "String Quartet Op. 18 1 Adagio"],
        COMPOSER="Beethoven",
    )
    assert {work_of(one)[2] for one in found} == {("Op. 18 No. 1",)}
    assert [heading(one)[1] for one in found] == ["Allegro con brio", "Adagio"]
    assert work_of(filed(["Nocturne Op. 9 2"], COMPOSER="Chopin")[0])[2] == ("Op. 9 No. 2",)


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


@pytest.mark.parametrize(
    ("title", "expected"),
    [
        ("Ария Ленского «Куда, куда вы удалились» (из оперы «Евгений Онегин», соч. 24)",
         "Ария Ленского «Куда, куда вы удалились»"),
        ('Aria "Casta diva" (from Norma)', 'Aria "Casta diva"'),
        ('Aria: "Casta diva" (from Norma)', 'Aria: "Casta diva"'),
        ("Arie «Casta diva» (aus Norma)", "Arie «Casta diva»"),
        ("Arie »Casta diva« [aus: Norma]", "Arie »Casta diva«"),
        ("Cavatina “Casta diva” (from Norma)", "Cavatina “Casta diva”"),
        ("Cavatina 'Casta diva' (da Norma)", "Cavatina 'Casta diva'"),
        ("Arie „Casta diva“ (aus Norma)", "Arie „Casta diva“"),
        ("Aria ‹Casta diva› (from Norma)", "Aria ‹Casta diva›"),
        ("Air « Casta diva » (extrait de Norma)", "Air « Casta diva »"),
        ('Aria "Casta diva" (Norma)', 'Aria "Casta diva"'),
        ("Casta diva (from Norma)", "Casta diva"),
        ("«Casta diva» (from Norma)", "Casta diva"),
    ],
)  # fmt: skip
def test_an_arias_first_words_in_quotes_stay_in_its_title(title: str, expected: str) -> None:
    composer = "Чайковский" if "Онегин" in title else "Bellini"
    [found] = filed([title], COMPOSER=composer, ARTIST="Lara Kint, soprano")
    assert found.movement is not None and found.movement.title == expected


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


def numbers_of(titles: list[str], **tags: str) -> list[int | None]:
    return numbers(filed(titles, COMPOSER="Verdi", **tags))


SCENES = [
    ["Otello, Atto IV: Piangea cantando", "Otello, Atto IV: Ave Maria"],
    ["Otello, Act 2: Credo in un Dio crudel", "Otello, Act 3: Dio! mi potevi scagliar"],
    ["Otello, Act I: Esultate!", "Otello, Act III: Dio ti giocondi", "Otello, Act IV: Ave Maria"],
    ["Otello, Erster Akt: Esultate!", "Otello, Erster Akt: Già nella notte densa"],
    # From the beginning, but far too few for the whole (see ``test_trusted_counting.py``).
    ["Otello, Act I: Una vela!", "Otello, Act I: Esultate!", "Otello, Act II: Credo"],
    ["Otello, Act I: Preludio", "Otello, Act I: Una vela!"],
]


@pytest.mark.parametrize("titles", SCENES)
def test_scenes_out_of_an_opera_have_no_numbers(titles: list[str]) -> None:
    assert numbers_of(titles, ALBUM="Verdi: Otello") == [None] * len(titles)
