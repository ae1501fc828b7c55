"""Composers whose names are spelled with a slip, stand before an arranger's, or are words, too.

Families of like cases and names that look alike. Opus numbers and works are from worklists, from
memory; performers are invented.
"""

import pytest
from works_kit import composer_and_title, filed, performers, work_of

from syncd.works.composers import table

SLIPS = [
    ("Tchaikovksy", "1812 Overture, op 49", "Tchaikovsky, Pyotr Ilyich"),
    ("Beethovan", "Symphony No. 7 in A, Op. 92: II. Allegretto", "Beethoven, Ludwig van"),
    ("Rimsky Korsakof", "Sheherazade Op. 35 - The Young Prince", "Rimsky-Korsakov, Nikolay"),
    ("Vivladi", "Concerto in E, RV 269: I. Allegro", "Vivaldi, Antonio"),
    ("Boccerini", "Quintet in E, G. 275: III. Minuetto", "Boccherini, Luigi"),
    ("Shostakovic", "String Quartet No. 8 in C minor, Op. 110", "Shostakovich, Dmitri"),
    ("Schuman", "Traumerei, Op 15 No 7", "Schumann, Robert"),
    ("Schuman", "Piano Quintet in E flat, Op. 44: I. Allegro brillante", "Schumann, Robert"),
    ("Schuman", "New England Triptych", "Schuman, William"),
    ("Schuman", "Symphony No. 3: I. Passacaglia", "Schuman, William"),
]  # fmt: skip


@pytest.mark.parametrize(("artist", "title", "composer"), SLIPS)
def test_an_artist_with_a_slip_is_the_composer_and_no_performer(
    artist: str, title: str, composer: str
) -> None:
    [found] = filed([title], ARTIST=artist, ALBUM="My favorite classical", GENRE="Classical")
    assert composer_and_title(found)[0] == composer, found.reasons
    assert performers(found, "soloist", "ensemble") == []
    assert found.confidence <= 0.85


@pytest.mark.parametrize("name", ["Webber", "Wegner", "Bergh", "Handler", "Copelandt", "Lisztes"])
def test_a_short_name_that_is_near_is_nobodys_slip(name: str) -> None:
    [found] = filed(["Sonata in D, Op. 3: I. Allegro"], ARTIST=name, ALBUM="Mix", GENRE="Classical")
    assert found.composer is None


@pytest.mark.parametrize(
    ("tag", "composer"),
    [
        ("Tchaikovksy", "Tchaikovsky, Pyotr Ilyich"),
        ("Mendelssonh", "Mendelssohn, Felix"),
        ("Shostakovcih", "Shostakovich, Dmitri"),
        ("Steinberger", None),
        ("Schumacher", None),
    ],
)
def test_a_composer_tag_with_a_slip_is_read(tag: str, composer: str | None) -> None:
    [found] = filed(["Quartet in D, Op. 11: I. Moderato"], COMPOSER=tag, ALBUM="Quartets")
    assert found.composer is not None and found.confidence < 0.9
    assert found.composer.sort == (composer or tag)


NAMES_THAT_ARE_WORDS = [
    ("Field: Nocturne No. 5 in B flat, H. 37", "Field, John", ("H. 37",)),
    ("Field: Piano Concerto No. 2 in A flat, H. 31", "Field, John", ("H. 31",)),
    ("Dussek: Sonata in A, Op. 43: I. Allegro", "Dussek, Jan Ladislav", ("Op. 43",)),
    ("Abel: Sonata in D, K. 188", "Abel, Carl Friedrich", ("K. 188",)),
]


@pytest.mark.parametrize(("title", "composer", "catalogue"), NAMES_THAT_ARE_WORDS)
def test_a_name_that_is_a_word_counts_before_a_work(
    title: str, composer: str, catalogue: tuple[str, ...]
) -> None:
    [found] = filed([title], ALBUM="From then to now", ARTIST="Delia Wintour (piano)")
    assert (work_of(found)[0], work_of(found)[2]) == (composer, catalogue)


@pytest.mark.parametrize("title", ["Field: Morning", "King: The Crown", "Winter: Allegro non molto",
                                   "Bath: Hot Water", "Long: Way Home"])  # fmt: skip
def test_a_word_before_a_title_is_no_composer(title: str) -> None:
    [found] = filed([title], ALBUM="Album", ARTIST="Delia Wintour (piano)", GENRE="Classical")
    assert found.composer is None or "family name" not in " ".join(found.reasons)


@pytest.mark.parametrize(
    ("title", "composer", "work", "arranger"),
    [
        ('Gershwin-Wild: Virtuoso Etude on "Embraceable You"', "Gershwin, George",
         'Virtuoso Etude on "Embraceable You"', "Wild"),
        ("Bach-Harcastle: Chaconne in D minor", "Bach, Johann Sebastian", "Chaconne", "Harcastle"),
        ("Tchaikovsky/Veldhoven: Nutcracker Suite", "Tchaikovsky, Pyotr Ilyich",
         "The Nutcracker Suite", "Veldhoven"),
        ('Bizet-Horvitz: Variations on "Carmen"', "Bizet, Georges", 'Variations on "Carmen"',
         "Horvitz"),
    ],
)  # fmt: skip
def test_an_unknown_arranger_stands_behind_a_famous_name(
    title: str, composer: str, work: str, arranger: str
) -> None:
    [found] = filed([title], ALBUM="The Art of Transcription", ARTIST="Ottilie Grunwick, piano")
    assert composer_and_title(found) == (composer, work)
    assert performers(found, "arranger") == [arranger]
    assert found.confidence <= 0.75


@pytest.mark.parametrize(
    "title",
    ["Strauss-Walzer: Wiener Blut", "Bach-Gesamtausgabe: Vol. 3", "Mozart-Orchester: Finale",
     "Schubert-Abend: Lieder", "Rimsky-Korsakov: Scheherazade", "Wolf-Ferrari: Overture",
     "Anna-Karin: Song"],
)  # fmt: skip
def test_other_words_behind_a_name_are_no_arranger(title: str) -> None:
    [found] = filed([title], ALBUM="Album", ARTIST="Ottilie Grunwick, piano", GENRE="Classical")
    assert performers(found, "arranger") == []


@pytest.mark.parametrize(
    ("name", "sort"),
    [("Мечислав Вайнберг", "Weinberg, Mieczysław"), ("Луи Вьерн", "Vierne, Louis"),
     ("Шарль-Валантен Алькан", "Alkan, Charles-Valentin"), ("Дьёрдь Куртаг", "Kurtág, György"),
     ("Альберто Хинастера", "Ginastera, Alberto"), ("Анри Дютийё", "Dutilleux, Henri")],
)  # fmt: skip
def test_cyrillic_names_are_the_composers(name: str, sort: str) -> None:
    found = table().exact(name)
    assert found is not None and found.entry.sort == sort


def test_a_name_in_quotes_behind_upon_stays_in_the_title() -> None:
    titles = ['Variations on "Là ci darem la mano"', 'Fantasie über "Ein feste Burg"',
              'Fantasia su "Rigoletto"']  # fmt: skip
    found = filed(titles, COMPOSER="Percival Anstey", ALBUM="Album", GENRE="Classical")
    assert [composer_and_title(one)[1] for one in found] == titles
