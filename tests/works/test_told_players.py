"""Who plays: roles, instruments and groups by the words of many languages; the album's orchestra.

Families of like cases: each habit of tagging was met once in a listener's folder, the rows vary it.
What the words mean is from dictionaries of musical terms, from memory; performers are invented.
"""

import pytest
from works_kit import filed, performers, work_of

from syncd.model import Credit
from syncd.works.ensembles import kind_of
from syncd.works.people import read_people

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


LED_IN_SHORT = [
    ("Lahdenpohjan kaupunginorkesteri, joht. Aku Vanto", "Aku Vanto"),
    ("Tószegi Városi Zenekar, vez. Kerti Imre", "Kerti Imre"),
    ("Ekholms Symfoniorkester, kapellm. Nils Ekdal", "Nils Ekdal"),
    ("Norrby Symfoni, dir. Nils Ekdal", "Nils Ekdal"),
    ("Оркестр Заречья, дир. И. Ветров", "И. Ветров"),
]


@pytest.mark.parametrize(("artist", "conductor"), LED_IN_SHORT)
def test_an_abbreviated_role_tells_the_conductor(artist: str, conductor: str) -> None:
    found = filed(["Symphony No. 5: Adagio"], ARTIST=artist, COMPOSER="Beethoven")[0]
    assert performers(found, "conductor") == [conductor]
    assert performers(found, "ensemble") == [artist.partition(",")[0]]


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


SHORT_LABELS = [
    ("pf", "piano"),
    ("vn", "violin"),
    ("vc", "cello"),
    ("cl", "clarinet"),
    ("hpd", "harpsichord"),
    ("ob", "oboe"),
    ("fl", "flute"),
    ("hn", "horn"),
    ("gtr", "guitar"),
    ("sop", "soprano"),
    ("ten", "tenor"),
    ("bar", "baritone"),
]


@pytest.mark.parametrize(("label", "instrument"), SHORT_LABELS)
def test_a_short_word_behind_a_name_is_what_he_plays(label: str, instrument: str) -> None:
    found = read_people(f"Zora Kalmen {label}")
    assert [(p.name, p.instruments) for p in found] == [("Zora Kalmen", (instrument,))]


def test_a_capital_letter_keeps_a_short_word_in_the_name() -> None:
    assert [p.name for p in read_people("Zora Kalmen Bar")] == ["Zora Kalmen Bar"]


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


@pytest.mark.parametrize("name", ["Slagwerk Oostkade", "Schlagwerk Altenried", "Blazers Oostkade"])
def test_a_common_noun_before_a_name_is_a_group(name: str) -> None:
    assert read_people(name)[0].kind == "ensemble"


@pytest.mark.parametrize(
    "name", ["Concerto Valbruna", "Accademia Bertola", "Cappella Marestini", "Ensemble Aurelio"]
)
def test_an_italian_groups_first_word_tells_it(name: str) -> None:
    found = filed(["Symphony No. 5: Adagio"], ARTIST=name, COMPOSER="Beethoven")[0]
    assert (performers(found, "ensemble"), performers(found, "soloist")) == ([name], [])


HUNGARIAN = [
    ("Dunaligeti Filharmonikusok", "ensemble"),
    ("Dunaligeti Szimfonikusok", "ensemble"),
    ("Dunaligeti Filharmonikus Zenekar", "ensemble"),
    ("Dunaligeti Vonósnégyes", "ensemble"),
    ("Dunaligeti Vegyeskar", "choir"),
    ("Dunaligeti Kamarakórus", "choir"),
]


@pytest.mark.parametrize(("name", "kind"), HUNGARIAN)
def test_a_hungarian_word_tells_a_group(name: str, kind: str) -> None:
    assert kind_of(name) == kind


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


def test_a_composers_family_name_among_the_artists_is_no_soloist() -> None:
    found = filed(["L. Mozart: Trumpet Concerto in D: 1. Largo"], ARTIST="Mozart")[0]
    assert work_of(found)[0] == "Mozart, Leopold"
    assert found.credits == ()


def test_a_composer_with_an_instrument_plays_his_own_work() -> None:
    title = "Rachmaninov: Prelude in C sharp minor, Op. 3 No. 2"
    found = filed([title], ARTIST="Sergei Rachmaninov (piano)")[0]
    assert [(c.name, c.instrument) for c in found.credits] == [("Sergei Rachmaninov", "piano")]
    assert filed([title], ARTIST="Sergei Rachmaninov")[0].credits == ()
