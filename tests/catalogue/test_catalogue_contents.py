"""What the catalogue says: what belongs together, in what order, and that nothing is missing."""

from pathlib import Path

import pytest
from catalogue_samples import (
    BEETHOVEN,
    CONDUCTOR,
    ENSEMBLE,
    PIANIST,
    Shelf,
    catalogue_of,
    labels,
    listed,
    mixed,
    only_group,
    reached_tracks,
)

from syncd.catalogue.reader import faults
from syncd.model import Composer, Credit, Identity, Kind, Movement, Work


def test_every_entry_is_reached_exactly_once(tmp_path: Path) -> None:
    shelf = mixed()
    with catalogue_of(shelf, tmp_path) as catalogue:
        reached = reached_tracks(catalogue)
    assert len(reached) == len(set(reached)) == len(shelf.entries)
    assert set(reached) == {entry.path for entry in shelf.entries}


def test_the_counts_of_home_are_those_of_the_rows(tmp_path: Path) -> None:
    with catalogue_of(mixed(), tmp_path) as catalogue:
        assert catalogue.counts() == {
            "composers": 2,
            "periods": 2,
            "forms": 3,
            "performers": 4,
            "conductors": 2,
            "ensembles": 1,
            "choirs": 0,
            "soloists": 1,
            "instruments": 1,
            "artists": 3,
            "albums": 3,
            "recent": 0,
            "works": 3,
            "recordings": 4,
            "artist_albums": 3,
            "entries": 37,
            "tracks": 17,
        }
        assert len(catalogue.tracks(1, 1000)) == 17


def test_symphonies_stand_in_the_order_of_their_numbers(tmp_path: Path) -> None:
    shelf = Shelf()
    for number in (10, 2, 1, 9):
        shelf.recording(Work(f"Symphony No. {number}"))
    assert labels(shelf, tmp_path, "works") == [
        "Symphony No. 1",
        "Symphony No. 2",
        "Symphony No. 9",
        "Symphony No. 10",
    ]


def test_works_of_one_title_stand_in_the_order_of_their_catalogue_numbers(tmp_path: Path) -> None:
    shelf = Shelf()
    for number in ("Op. 27 No. 2", "Op. 106", "Op. 9", "Op. 27 No. 1"):
        shelf.recording(Work("Piano Sonata", (number,), "A major"))
    assert labels(shelf, tmp_path, "works") == [
        "Piano Sonata in A major, Op. 9",
        "Piano Sonata in A major, Op. 27 No. 1",
        "Piano Sonata in A major, Op. 27 No. 2",
        "Piano Sonata in A major, Op. 106",
    ]


def test_composers_stand_by_family_name(tmp_path: Path) -> None:
    shelf = Shelf()
    for name, sort in (
        ("Antonín Dvořák", "Dvořák, Antonín"),
        ("Frédéric Chopin", "Chopin, Frédéric"),
        ("Johann Sebastian Bach", "Bach, Johann Sebastian"),
        ("Carl Philipp Emanuel Bach", "Bach, Carl Philipp Emanuel"),
    ):
        shelf.recording(Work("Sonata"), composer=Composer(name, sort))
    with catalogue_of(shelf, tmp_path) as catalogue:
        assert [row.label for row in listed(catalogue, "composers")] == [
            "Bach, Carl Philipp Emanuel",
            "Bach, Johann Sebastian",
            "Chopin, Frédéric",
            "Dvořák, Antonín",
        ]
        names = [catalogue.group(row.id).composer_name for row in listed(catalogue, "recordings")]
        assert names == [
            "Carl Philipp Emanuel Bach",
            "Johann Sebastian Bach",
            "Frédéric Chopin",
            "Antonín Dvořák",
        ]


def test_letters_lead_to_the_first_row_under_each(tmp_path: Path) -> None:
    shelf = Shelf()
    for number in range(40):
        name = f"{'ABDÉ'[number % 4]}{number:02}"
        shelf.recording(Work("Sonata"), composer=Composer(name, name))
    with catalogue_of(shelf, tmp_path) as catalogue:
        home = catalogue.list_named("composers")
        jumps = catalogue.letters(home)
        assert [(j.letter, j.first - home.first) for j in jumps] == [
            ("A", 0),
            ("B", 10),
            ("D", 20),
            ("E", 30),
        ]
        assert [catalogue.entry(jump.first).label for jump in jumps] == ["A00", "B01", "D02", "É03"]


def test_short_lists_have_no_letters(tmp_path: Path) -> None:
    with catalogue_of(mixed(), tmp_path) as catalogue:
        assert {home.jumps for home in catalogue.home()} == {0}
        assert catalogue.letters(catalogue.list_named("composers")) == []


def test_one_catalogue_number_is_one_work_however_its_title_is_spelt(tmp_path: Path) -> None:
    shelf = Shelf()
    shelf.recording(Work("Symphony No. 5", ("Op. 67",), "C minor"), 2)
    shelf.recording(Work("Sinfonie Nr. 5", ("Op. 67",)))
    with catalogue_of(shelf, tmp_path) as catalogue:
        (work,) = listed(catalogue, "works")
        assert work.label == "Symphony No. 5 in C minor, Op. 67"
        groups = [catalogue.group(entry.id) for entry in catalogue.children(work)]
        assert [(g.title, g.catalogue, g.key) for g in groups] == [
            ("Symphony No. 5", "Op. 67", "C minor")
        ] * 2


def test_two_composers_of_one_title_keep_their_works_apart(tmp_path: Path) -> None:
    shelf = Shelf()
    shelf.recording(Work("Requiem"), composer=Composer("A One", "One, A"))
    shelf.recording(Work("Requiem"), composer=Composer("A Two", "Two, A"))
    assert labels(shelf, tmp_path, "works") == ["Requiem", "Requiem"]


def test_movements_stand_by_their_numbers_over_two_discs(tmp_path: Path) -> None:
    shelf = Shelf()
    for number, disc, track in ((3, 2, 1), (1, 1, 1), (4, 2, 2), (2, 1, 2)):
        shelf.track(
            Identity(
                Kind.WORK,
                BEETHOVEN,
                Work("Fidelio", ("Op. 72",)),
                "r",
                Movement(number, f"m{number}"),
            ),
            disc=disc,
            number=track,
        )
    with catalogue_of(shelf, tmp_path) as catalogue:
        assert [(t.number, t.disc, t.label) for t in catalogue.tracks(1)] == [
            (1, 1, "m1"),
            (2, 1, "m2"),
            (3, 2, "m3"),
            (4, 2, "m4"),
        ]


def test_numbers_that_begin_anew_with_each_act_give_way_to_the_discs(tmp_path: Path) -> None:
    shelf = Shelf()
    for number, disc, track, title in (
        (1, 2, 1, "c"),
        (1, 1, 1, "a"),
        (2, 2, 2, "d"),
        (2, 1, 2, "b"),
    ):
        shelf.track(
            Identity(Kind.WORK, BEETHOVEN, Work("Fidelio"), "r", Movement(number, title)),
            disc=disc,
            number=track,
        )
    assert labels(shelf, tmp_path, "tracks") == ["a", "b", "c", "d"]


def test_what_the_tags_do_not_say_stays_unsaid(tmp_path: Path) -> None:
    shelf = Shelf()
    shelf.track(Identity(Kind.WORK), title="", path="Music/nameless.flac", seconds=0)
    with catalogue_of(shelf, tmp_path) as catalogue:
        (composer,), (work,) = listed(catalogue, "composers"), listed(catalogue, "works")
        (recording,) = listed(catalogue, "recordings")
        assert composer.label == "[Composer unknown]"
        assert (work.label, recording.label) == ("[Work unknown]", "[Performers unknown]")
        group, track = catalogue.group(recording.id), catalogue.track(1)
        assert (group.catalogue, group.key, group.year) == ("", None, None)
        assert (group.added, group.art, track.gain) == (None, None, None)
        assert (track.number, track.milliseconds) == (0, 0)


def test_credits_are_the_recording_s_and_a_movement_s_own(tmp_path: Path) -> None:
    shelf = Shelf()
    singer = Credit("Aurelio Santabruna", "soloist", "tenor")
    for number, credits in ((1, (CONDUCTOR, ENSEMBLE)), (2, (CONDUCTOR, ENSEMBLE, singer))):
        shelf.track(
            Identity(
                Kind.WORK, BEETHOVEN, Work("Symphony No. 9"), "r", Movement(number, "x"), credits
            )
        )
    with catalogue_of(shelf, tmp_path) as catalogue:
        recording = only_group(catalogue)
        whole = catalogue.credits(recording.first_credit, recording.credit_count)
        assert [(c.name, c.role, c.instrument) for c in whole] == [
            ("Teodor Vasslin", "conductor", None),
            ("Marnesund Philharmonic", "ensemble", None),
            ("Aurelio Santabruna", "soloist", "tenor"),
        ]
        first, last = catalogue.tracks(1)
        assert (last.first_credit, last.credit_count) == (
            recording.first_credit,
            recording.credit_count,
        ), "the same credits are stored once"
        own = catalogue.credits(first.first_credit, first.credit_count)
        assert [c.name for c in own] == ["Teodor Vasslin", "Marnesund Philharmonic"]


def test_a_performer_leads_to_exactly_the_recordings_that_name_them(tmp_path: Path) -> None:
    shelf = mixed()
    with catalogue_of(shelf, tmp_path) as catalogue:
        by_credit: dict[str, set[int]] = {}
        for entry in listed(catalogue, "recordings"):
            recording = catalogue.group(entry.id)
            for credit in catalogue.credits(recording.first_credit, recording.credit_count):
                by_credit.setdefault(credit.name, set()).add(recording.id)
                assert catalogue.entry(credit.performer).label == credit.name
        by_heading = {
            row.label: {link.item for link in catalogue.children(row)}
            for row in listed(catalogue, "performers")
        }
        assert by_heading == by_credit
        assert len(by_credit) == 4


def test_who_has_two_roles_in_a_recording_has_it_listed_once(tmp_path: Path) -> None:
    shelf = Shelf()
    both = (Credit("Liesbet van Orsmael", "soloist", "violin"),)
    shelf.recording(
        Work("Violin Concerto"), credits=(*both, Credit("Liesbet van Orsmael", "conductor"))
    )
    with catalogue_of(shelf, tmp_path) as catalogue:
        (heading,) = listed(catalogue, "performers")
        assert heading.count == 1
        assert only_group(catalogue).credit_count == 2


def test_lists_by_role_and_instrument_hold_who_belongs_there(tmp_path: Path) -> None:
    shelf = Shelf()
    credits = (CONDUCTOR, ENSEMBLE, PIANIST, Credit("Choir of Saint Orsolan", "choir"))
    shelf.recording(
        Work("Choral Fantasy", ("Op. 80",)), credits=(*credits, Credit("N N", "arranger"))
    )
    with catalogue_of(shelf, tmp_path) as catalogue:
        found = {
            name: [row.label for row in listed(catalogue, name)]
            for name in ("conductors", "ensembles", "choirs", "soloists", "instruments")
        }
        assert found == {
            "conductors": ["Teodor Vasslin"],
            "ensembles": ["Marnesund Philharmonic"],
            "choirs": ["Choir of Saint Orsolan"],
            "soloists": ["Quirin Ostrowald"],
            "instruments": ["Piano"],
        }
        assert catalogue.counts()["performers"] == 4, "an arranger does not perform"
        assert [c.performer > 0 for c in catalogue.credits(1, 5)] == [True] * 4 + [False]
        for heading in listed(catalogue, "performers"):
            (link,) = catalogue.children(heading)
            assert link.label == "Beethoven: Choral Fantasy, Op. 80"


def test_albums_hold_their_tracks_in_order_and_guests_are_named(tmp_path: Path) -> None:
    shelf = Shelf()
    for disc, number, title in ((2, 1, "third"), (1, 2, "second"), (1, 1, "first")):
        shelf.track(
            Identity(Kind.POPULAR, artist="The Thursday Kilns", album="Double"),
            title=title,
            artist="The Thursday Kilns" if disc == 1 else "The Thursday Kilns feat. Saffi",
            disc=disc,
            number=number,
            seconds=60,
        )
    with catalogue_of(shelf, tmp_path) as catalogue:
        (album,) = listed(catalogue, "albums")
        assert (album.count, album.seconds) == (3, 180)
        assert [(t.label, t.artist) for t in catalogue.tracks(1)] == [
            ("first", None),
            ("second", None),
            ("third", "The Thursday Kilns feat. Saffi"),
        ]


def test_a_compilation_stays_one_album_under_the_album_s_artist(tmp_path: Path) -> None:
    shelf = Shelf()
    for number, artist in enumerate(("The Thursday Kilns", "Saffi Brandeluna"), start=1):
        shelf.track(
            Identity(Kind.POPULAR, artist=artist, album="Lamps, Vol. 2"),
            artist=artist,
            album_artist="Various Artists",
            number=number,
        )
    with catalogue_of(shelf, tmp_path) as catalogue:
        assert [row.label for row in listed(catalogue, "artists")] == ["Various Artists"]
        (album,) = listed(catalogue, "albums")
        assert (album.label, album.count) == ("Lamps, Vol. 2", 2)
        assert [track.artist for track in catalogue.tracks(1)] == [
            "The Thursday Kilns",
            "Saffi Brandeluna",
        ]


def test_a_duplicate_title_is_two_tracks(tmp_path: Path) -> None:
    shelf = Shelf()
    shelf.popular("The Thursday Kilns", "Lamps", "Interlude", "Interlude")
    assert labels(shelf, tmp_path, "tracks") == ["Interlude", "Interlude"]


def test_the_year_is_the_first_four_figures_of_the_date(tmp_path: Path) -> None:
    shelf = Shelf()
    for number, date in enumerate(("1987-05-01", "c. 1990", "", "٢٠٢٠", "0000")):
        shelf.recording(Work(f"Sonata No. {number}"), date=date)
    with catalogue_of(shelf, tmp_path) as catalogue:
        years = [catalogue.group(row.id).year for row in listed(catalogue, "recordings")]
        assert years == [1987, None, None, None, None]
        assert [row.number for row in listed(catalogue, "recordings")] == [1987, 0, 0, 0, 0]


@pytest.mark.parametrize(
    ("kind", "none"), [("works", "artists"), ("popular", "composers"), ("nothing", "tracks")]
)
def test_a_library_of_one_kind_or_none_is_a_catalogue(tmp_path: Path, kind: str, none: str) -> None:
    shelf = Shelf()
    if kind == "works":
        shelf.recording(Work("Sonata"))
    elif kind == "popular":
        shelf.popular("The Thursday Kilns", "Lamps", "Chalk")
    with catalogue_of(shelf, tmp_path) as catalogue:
        home = catalogue.list_named(none)
        assert (home.first, home.count, home.jumps) == (0, 0, 0)
        assert len(reached_tracks(catalogue)) == len(shelf.entries)
        assert faults(catalogue.path) == []
