"""A third family of like cases: keys of many languages, dotted letters, slashes, bare digits.

The rows vary habits of tagging that were met in listeners' folders. Musical facts are those of the
thematic catalogues, names of keys those of dictionaries of musical terms, both from memory;
performers are invented.
"""

import pytest

from syncd.model import Identity, Kind, TaggedFile
from syncd.works.identify import identify
from syncd.works.keys import parse_key


def filed(titles: list[str], **tags: str) -> list[Identity]:
    """The identities of one folder of tracks with *titles* and the same further *tags*."""
    return identify(
        [
            TaggedFile(
                f"Folder/{number:02d}.flac",
                {
                    "TITLE": [title],
                    "TRACKNUMBER": [str(number)],
                    **{name: [value] for name, value in tags.items()},
                },
            )
            for number, title in enumerate(titles, start=1)
        ]
    )


def work_of(identity: Identity) -> tuple[str | None, str | None, tuple[str, ...], str | None]:
    """(composer, title, catalogue numbers, key)."""
    work = identity.work
    assert work is not None, identity
    composer = identity.composer.sort if identity.composer is not None else None
    return composer, work.title, work.catalogue, work.key


def heading(identity: Identity) -> tuple[int | None, str | None]:
    movement = identity.movement
    return (movement.number, movement.title) if movement is not None else (None, None)


def players(identity: Identity, role: str) -> list[str]:
    return [credit.name for credit in identity.credits if credit.role == role]


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


@pytest.mark.parametrize(("form", "composer", "numbers", "title"), COUNTED)
def test_digits_behind_a_number_count_the_movements(
    form: str, composer: str, numbers: tuple[str, ...], title: str
) -> None:
    names = ["Allegro", "Adagio", "Rondo"]
    found = filed([form.format(n, name) for n, name in enumerate(names, 1)], COMPOSER=composer)
    assert [heading(one) for one in found] == list(enumerate(names, 1))
    assert len({one.recording for one in found}) == 1
    assert {work_of(one)[1:3] for one in found} == {(title, numbers)}


def test_digits_behind_the_opus_of_a_set_name_the_work() -> None:
    found = filed(
        ["String Quartet Op. 18 1 Allegro con brio", "String Quartet Op. 18 1 Adagio"],
        COMPOSER="Beethoven",
    )
    assert {work_of(one)[2] for one in found} == {("Op. 18 No. 1",)}
    assert [heading(one)[1] for one in found] == ["Allegro con brio", "Adagio"]
    assert work_of(filed(["Nocturne Op. 9 2"], COMPOSER="Chopin")[0])[2] == ("Op. 9 No. 2",)


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


def test_a_composer_who_died_before_records_is_the_artist_of_his_work() -> None:
    found = filed(
        ["Симфония № 1 соль минор: I. Allegro moderato", "Симфония № 1 соль минор: II. Andante"],
        ARTIST="Василий Калинников",
    )
    assert {work_of(one) for one in found} == {
        ("Kalinnikov, Vasily", "Symphony No. 1", (), "G minor")
    }


FAMILIES = [
    ("Strauss - Sphärenklänge, Walzer op. 235", "Strauss, Josef"),
    ("Strauss - Dynamiden, Walzer, op. 173", "Strauss, Josef"),
    ("Strauss - Annen-Polka, op. 117", "Strauss, Johann II"),
    ("Strauss - Kaiserwalzer op. 437", "Strauss, Johann II"),
]


@pytest.mark.parametrize(("title", "composer"), FAMILIES)
def test_title_and_opus_tell_which_of_a_family(title: str, composer: str) -> None:
    assert work_of(filed([title], GENRE="Classical")[0])[0] == composer


def test_an_album_of_two_leaves_each_track_to_who_wrote_it() -> None:
    found = filed(
        [
            "Violin Concerto No.1 in g minor Op.26 1 Vorspiel",
            "Violin Concerto No.1 in g minor Op.26 2 Adagio",
            "Violin Concerto in d minor Op.47 1 Allegro moderato",
        ],
        ALBUM="Bruch & Sibelius Violin Concertos",
        ARTIST="Isaura Penholt",
    )
    composers = [work_of(one)[0] for one in found]
    assert composers == ["Bruch, Max", "Bruch, Max", "Sibelius, Jean"]
    assert [heading(one)[0] for one in found] == [1, 2, 1]


def test_an_arrangers_number_is_the_works() -> None:
    for said in ("Robert Schumann (arr. Franz Liszt)", "Robert Schumann (trans. Liszt)"):
        found = filed(["Widmung, S. 566"], COMPOSER=said)[0]
        assert work_of(found) == ("Schumann, Robert", "Widmung", ("S. 566",), None)
        assert "Liszt" in players(found, "arranger")[0]


LED = [
    ("Lahdenpohjan kaupunginorkesteri, joht. Aku Vanto", "Aku Vanto"),
    ("Tószegi Városi Zenekar, vez. Kerti Imre", "Kerti Imre"),
    ("Ekholms Symfoniorkester, kapellm. Nils Ekdal", "Nils Ekdal"),
    ("Norrby Symfoni, dir. Nils Ekdal", "Nils Ekdal"),
    ("Оркестр Заречья, дир. И. Ветров", "И. Ветров"),
]


@pytest.mark.parametrize(("artist", "conductor"), LED)
def test_an_abbreviated_role_tells_the_conductor(artist: str, conductor: str) -> None:
    found = filed(["Symphony No. 5: Adagio"], ARTIST=artist, COMPOSER="Beethoven")[0]
    assert players(found, "conductor") == [conductor]
    assert players(found, "ensemble") == [artist.partition(",")[0]]


@pytest.mark.parametrize(
    "name", ["Concerto Valbruna", "Accademia Bertola", "Cappella Marestini", "Ensemble Aurelio"]
)
def test_an_italian_groups_first_word_tells_it(name: str) -> None:
    found = filed(["Symphony No. 5: Adagio"], ARTIST=name, COMPOSER="Beethoven")[0]
    assert (players(found, "ensemble"), players(found, "soloist")) == ([name], [])


def test_a_composers_family_name_among_the_artists_is_no_soloist() -> None:
    found = filed(["L. Mozart: Trumpet Concerto in D: 1. Largo"], ARTIST="Mozart")[0]
    assert work_of(found)[0] == "Mozart, Leopold"
    assert found.credits == ()


def test_a_composer_with_an_instrument_plays_his_own_work() -> None:
    title = "Rachmaninov: Prelude in C sharp minor, Op. 3 No. 2"
    found = filed([title], ARTIST="Sergei Rachmaninov (piano)")[0]
    assert [(c.name, c.instrument) for c in found.credits] == [("Sergei Rachmaninov", "piano")]
    assert filed([title], ARTIST="Sergei Rachmaninov")[0].credits == ()


@pytest.mark.parametrize(
    ("composer", "head"),
    [("Florence Price", "Price"), ("William Grant Still", "Still"), ("Lena Vikholm", "Vikholm")],
)
def test_the_tagged_composers_name_before_the_title_goes(composer: str, head: str) -> None:
    found = filed([f"{head}: Symphony No. 1 in E Minor: II. Largo"], COMPOSER=composer)[0]
    assert work_of(found)[1:] == ("Symphony No. 1", (), "E minor")
    assert heading(found) == (2, "Largo")


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


def test_a_composer_in_brackets_behind_the_movement_is_no_part_of_it() -> None:
    found = filed(["Serenade for Strings in E minor, Op. 20 - II. Larghetto (Elgar)"])[0]
    assert work_of(found)[0] == "Elgar, Edward"
    assert heading(found) == (2, "Larghetto")


@pytest.mark.parametrize("artist", ["Mahler", "Joseph Joachim"])
def test_a_composer_among_the_artists_does_not_take_anothers_opus(artist: str) -> None:
    for title in ("Symphony No. 5 in C minor, Op. 67", "Violin Concerto in D, Op. 61: I. Allegro"):
        assert work_of(filed([title], ARTIST=artist)[0])[0] == "Beethoven, Ludwig van"
