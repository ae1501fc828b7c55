"""A fourth family of like cases: composers in ARTIST, excerpts, cut titles, short words of players.

The rows vary habits of tagging that were met in listeners' folders. What the works are is from
thematic catalogues and worklists, from memory; performers are invented.
"""

import pytest

from syncd.model import Identity, Kind, TaggedFile
from syncd.works.ensembles import kind_of
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


def composer_and_title(identity: Identity) -> tuple[str | None, str | None]:
    composer = identity.composer.sort if identity.composer is not None else None
    return composer, identity.work.title if identity.work is not None else None


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


def numbers_of(titles: list[str], **tags: str) -> list[int | None]:
    found = filed(titles, COMPOSER=tags.pop("COMPOSER", "Verdi"), **tags)
    return [i.movement.number if i.movement is not None else None for i in found]


SCENES = [
    ["Otello, Atto IV: Piangea cantando", "Otello, Atto IV: Ave Maria"],
    ["Otello, Act 2: Credo in un Dio crudel", "Otello, Act 3: Dio! mi potevi scagliar"],
    ["Otello, Act I: Esultate!", "Otello, Act III: Dio ti giocondi", "Otello, Act IV: Ave Maria"],
    ["Otello, Erster Akt: Esultate!", "Otello, Erster Akt: Già nella notte densa"],
]


@pytest.mark.parametrize("titles", SCENES)
def test_scenes_out_of_an_opera_have_no_numbers(titles: list[str]) -> None:
    assert numbers_of(titles, ALBUM="Verdi: Otello") == [None] * len(titles)


WHOLE_ACTS = [
    (["Aida, Atto I: Preludio", "Aida, Atto I: Celeste Aida"], {}),
    (["Otello, Atto I: Una vela!", "Otello, Atto I: Esultate!"], {"DISCNUMBER": "1"}),
    (["Otello, Act I: Una vela!", "Otello, Act I: Esultate!", "Otello, Act II: Credo"], {}),
]


@pytest.mark.parametrize(("titles", "tags"), WHOLE_ACTS)
def test_an_opera_from_its_beginning_is_counted(titles: list[str], tags: dict[str, str]) -> None:
    assert numbers_of(titles, **tags) == list(range(1, len(titles) + 1))


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
