"""Families of like cases: one habit of tagging in many languages, separators, cases and fields.

Each family was met once in a listener's folder; the rows here vary it. Musical facts (whose work,
which number) are those of the thematic catalogues, from memory; performers are invented.
"""

import pytest

from syncd.model import Credit, Identity, TaggedFile
from syncd.works.identify import identify


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


def numbers(identities: list[Identity]) -> list[int | None]:
    return [one.movement.number if one.movement else None for one in identities]


def performers(identity: Identity, *roles: str) -> list[str]:
    return [credit.name for credit in identity.credits if credit.role in roles]


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


LED = [
    "Northmoor Symphony Orchestra, Dirigentin: Imke Tarnow",
    "Dirigentin: Imke Tarnow; Northmoor Symphony Orchestra",
    "Imke Tarnow (Dirigentin), Northmoor Symphony Orchestra",
    "Northmoor Symphony Orchestra; Imke Tarnow, Dirigentin",
    "Northmoor Symphony Orchestra Dirigentin Imke Tarnow",
    "Northmoor Symphony Orchestra, Leiterin: Imke Tarnow",
    "Northmoor Symphony Orchestra, Leitung: Imke Tarnow",
    "Northmoor Symphony Orchestra unter Imke Tarnow",
    "Northmoor Symphony Orchestra, cheffe d'orchestre : Imke Tarnow",
    "Imke Tarnow, cheffe; Northmoor Symphony Orchestra",
    "Northmoor Symphony Orchestra, sous la direction de Imke Tarnow",
    "Northmoor Symphony Orchestra, direttrice: Imke Tarnow",
    "Imke Tarnow (direttrice d'orchestra), Northmoor Symphony Orchestra",
    "Northmoor Symphony Orchestra diretta da Imke Tarnow",
    "Northmoor Symphony Orchestra, directora: Imke Tarnow",
    "Northmoor Symphony Orchestra; Imke Tarnow, maestrina",
    "Northmoor Symphony Orchestra, dyrygentka: Imke Tarnow",
    "Northmoor Symphony Orchestra, dirigentka Imke Tarnow",
    "Northmoor Symphony Orchestra, дирижёр: Imke Tarnow",
    "Imke Tarnow (дирижер), Northmoor Symphony Orchestra",
    "NORTHMOOR SYMPHONY ORCHESTRA, DIRIGENTIN: IMKE TARNOW",
]


@pytest.mark.parametrize("artist", LED)
def test_a_conductor_is_told_by_the_word_for_her_in_any_language(artist: str) -> None:
    [found] = filed(["Symphony No. 5 in C minor, Op. 67"], COMPOSER="Beethoven", ARTIST=artist)
    assert performers(found, "conductor") == ["Imke Tarnow"]
    assert performers(found, "ensemble") == ["Northmoor Symphony Orchestra"]
    assert performers(found, "soloist") == []


@pytest.mark.parametrize(
    ("artist", "expected"),
    [
        ("Dirigentin: Imke Tarnow, Orchester Linden",
         {("Imke Tarnow", "conductor", None), ("Orchester Linden", "ensemble", None)}),
        ("Dyrygent - Imke Tarnow, Orkiestra Linden",
         {("Imke Tarnow", "conductor", None), ("Orkiestra Linden", "ensemble", None)}),
        ("Sopran: Lara Kint, Klavier: Jan Venn",
         {("Lara Kint", "soloist", "soprano"), ("Jan Venn", "soloist", "piano")}),
        ("Piano : Lara Kint / Violon : Jan Venn",
         {("Lara Kint", "soloist", "piano"), ("Jan Venn", "soloist", "violin")}),
        ("Lara Kint: piano, Jan Venn: violin",
         {("Lara Kint", "soloist", "piano"), ("Jan Venn", "soloist", "violin")}),
        ("Choir: Linden Singers, Ensemble: Eschental Players",
         {("Linden Singers", "choir", None), ("Eschental Players", "ensemble", None)}),
    ],
)  # fmt: skip
def test_a_label_speaks_of_the_names_up_to_the_next_one(
    artist: str, expected: set[tuple[str, str, str | None]]
) -> None:
    [found] = filed(["Symphony No. 5, Op. 67"], COMPOSER="Beethoven", ARTIST=artist)
    assert {(one.name, one.role, one.instrument) for one in found.credits} == expected


def test_a_family_name_that_begins_like_a_word_for_leading_stays_whole() -> None:
    [found] = filed(
        ["Symphony No. 5, Op. 67"], COMPOSER="Beethoven", ARTIST="Anna Unterberg, Linden Orchester"
    )
    assert performers(found, "conductor", "soloist") == ["Anna Unterberg"]


@pytest.mark.parametrize(
    ("artist", "instrument"),
    [
        ("Sängerin: Lara Kint", "voice"), ("Lara Kint (Pianistin)", "piano"),
        ("Lara Kint, pianiste", "piano"), ("Geigerin: Lara Kint", "violin"),
        ("Lara Kint, violoniste", "violin"), ("Cellistin Lara Kint", "cello"),
        ("Lara Kint (певица)", "voice"), ("Lara Kint, пианистка", "piano"),
        ("Lara Kint; cantante", "voice"), ("Lara Kint (clavecinista)", "harpsichord"),
        ("Lara Kint (houslistka)", "violin"), ("Lara Kint (skrzypaczka)", "violin"),
        ("Solistin: Lara Kint", None), ("Lara Kint (flautista)", "flute"),
        ("LARA KINT (PIANISTIN)", "piano"),
    ],
)  # fmt: skip
def test_what_a_player_is_called_tells_the_instrument(artist: str, instrument: str | None) -> None:
    [found] = filed(["Lied, op. 4 Nr. 2"], COMPOSER="Schubert", ARTIST=artist)
    assert found.credits == (Credit("Lara Kint", "soloist", instrument),)


GROUPS = [
    ({"PERFORMER": "Wiebke Oltmanns (Violoncello)", "ARTIST": "C. Ph. E. Bach"},
     "Konzert A-Dur Wq 172: I. Allegro", ["Wiebke Oltmanns"]),
    ({"ARTIST": "Wiebke Oltmanns, Violoncello", "COMPOSER": "Bach, Carl Philipp Emanuel"},
     "Konzert A-Dur Wq 172: I. Allegro", ["Wiebke Oltmanns"]),
    ({"ARTIST": "Lara Kint", "COMPOSER": "Beethoven"}, "Violin Concerto in D, Op. 61",
     ["Lara Kint"]),
    ({"SOLOIST": "Lara Kint (soprano)", "COMPOSER": "Mozart"}, "Requiem, K. 626: Introitus",
     ["Lara Kint"]),
    ({"PERFORMER": "Lara Kint (Sopran)", "CONDUCTOR": "Imke Tarnow", "COMPOSER": "Mahler"},
     "Sinfonie Nr. 4: IV. Sehr behaglich", ["Lara Kint"]),
    ({"ARTIST": "Ottorino Respighi", "COMPOSER": "J.S. Bach"},
     "Passacaglia and Fugue in C minor, BWV 582 (arr. Respighi)", []),
    ({"ARTIST": "Maurice Ravel", "COMPOSER": "Mussorgsky"},
     "Bilder einer Ausstellung (orchestriert von Ravel): Promenade", []),
    ({"ARTIST": "Percival Anstey", "CONDUCTOR": "Imke Tarnow", "COMPOSER": "Bach"},
     "Chaconne, BWV 1004 (arr. Anstey)", []),
    ({"ARTIST": "Anton Webern", "COMPOSER": "Bach", "CONDUCTOR": "Imke Tarnow"},
     "Ricercar a 6, BWV 1079 (orch. Webern)", []),
    ({"ARTIST": "Arnold Schönberg", "COMPOSER": "Brahms"},
     "Piano Quartet No. 1, Op. 25: I. Allegro (orch. Schoenberg)", []),
]  # fmt: skip


@pytest.mark.parametrize(("tags", "title", "soloists"), GROUPS)
def test_the_albums_orchestra_plays_where_a_track_names_soloist_or_arranger_only(
    tags: dict[str, str], title: str, soloists: list[str]
) -> None:
    [found] = filed([title], ALBUM="Album", ALBUMARTIST="Barockorchester Eschental", **tags)
    assert performers(found, "ensemble") == ["Barockorchester Eschental"], found
    assert performers(found, "soloist") == soloists


def test_an_orchestra_of_the_album_does_not_play_a_sonata() -> None:
    [found] = filed(
        ["Sonata in C, K. 330: I. Allegro"],
        COMPOSER="Mozart",
        ARTIST="Percival Anstey (piano)",
        ALBUMARTIST="Northmoor Symphony Orchestra",
    )
    assert performers(found, "ensemble") == []


def test_who_plays_his_own_arrangement_stays_a_soloist() -> None:
    [found] = filed(["Chaconne, BWV 1004 (arr. Anstey)"], COMPOSER="Bach", ARTIST="Percival Anstey")
    assert performers(found, "soloist") == ["Percival Anstey"]


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
