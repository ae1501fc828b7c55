"""What each selector of a programme chooses, from an invented library."""

import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "applier"))

from card_world import movement, song

from syncd.model import CataloguedTrack, Composer, Credit, Work
from syncd.planner.layout import group_tracks
from syncd.planner.programme import Choice, Clause, Programme
from syncd.planner.selecting import Selection, select


def work(
    name: str,
    composer: str,
    title: str,
    catalogue: tuple[str, ...] = (),
    *,
    credits: tuple[Credit, ...] = (),
    tags: tuple[str, ...] = (),
    **facts: Any,
) -> CataloguedTrack:
    """A recording of one movement, called *name*."""
    entry = movement(name, 1, "Allegro")
    family, _, given = composer.partition(", ")
    identity = replace(
        entry.identity,
        composer=Composer(f"{given} {family}", composer),
        work=Work(title, catalogue),
        credits=credits,
        tags=tags,
    )
    return CataloguedTrack(replace(entry.track, **facts), identity)


def popular(artist: str, album: str, **facts: Any) -> CataloguedTrack:
    entry = song(artist, album, 1, "Song")
    return CataloguedTrack(replace(entry.track, **facts), entry.identity)


GOLDBERG = work(
    "goldberg", "Bach, Johann Sebastian", "Goldberg Variations", ("BWV 988",), date="1981-05-02",
    credits=(Credit("Quirin Ostrowald", "soloist", "harpsichord"),), label="Kestrel Records",
    tags=("Sunday", "Night"), added=900, rating=100,
)  # fmt: skip
SONATA = work(
    "sonata", "Beethoven, Ludwig van", "Piano Sonata No. 14", ("Op. 27 No. 2",), date="1958",
    credits=(Credit("Mira Tollan", "soloist"),), label="Amberline", added=1000, rating=60,
)  # fmt: skip
FIFTH = work(
    "fifth", "Beethoven, Ludwig van", "Symphony No. 5", ("Op. 67",), date="1963",
    credits=(
        Credit("Osric Vandermeer", "conductor"), Credit("Marnesund Philharmonic", "ensemble"),
    ), added=990,
)  # fmt: skip
MASS = work(
    "mass", "Viremsk, Aldona", "Mass", credits=(
        Credit("Osric Vandermeer", "arranger"), Credit("Chamber Choir of Lune", "choir"),
    ), date="unknown",
)  # fmt: skip
TIDE = popular("Marnesund Five", "Low Tide", genre="Jazz", date="1958", label="Kestrel Records")
HARBOUR = popular("Harbour Lights", "Slow Dances", added=1001)
ALL = (GOLDBERG, SONATA, FIFTH, MASS, TIDE, HARBOUR)
NAMES = {
    "Goldberg Variations": "goldberg", "Piano Sonata No. 14": "sonata", "Symphony No. 5": "fifth",
    "Mass": "mass",
}  # fmt: skip


def names(selection: Selection) -> list[str]:
    found = []
    for _, group in selection.wanted:
        identity = group.members[0].identity
        title = identity.work.title if identity.work is not None else None
        found.append(NAMES[title] if title else str(identity.album).lower())
    return found


def chosen(*clauses: Clause, leave_out: tuple[Choice, ...] = (), today: int = 1001) -> Selection:
    programme = Programme(clause=clauses, leave_out=leave_out)
    return select(programme, group_tracks(ALL), today)


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({"everything": True}, "goldberg sonata fifth mass low_tide slow_dances"),
        ({"kind": "work"}, "goldberg sonata fifth mass"),
        ({"kind": "popular"}, "low_tide slow_dances"),
        ({"composer": "Beethoven"}, "sonata fifth"),
        ({"composer": ["J.S. Bach", "Viremsk"]}, "goldberg mass"),
        ({"work": "BWV 988"}, "goldberg"),
        ({"work": "Op. 27"}, "sonata"),
        ({"work": ["Moonlight", "symphony"]}, "sonata fifth"),
        ({"form": "sonaten"}, "sonata"),
        ({"form": ["Symphonies", "Variations", "mass"]}, "goldberg fifth mass"),
        ({"period": "Baroque"}, "goldberg"),
        ({"performer": "Vandermeer"}, "fifth mass"),
        ({"conductor": "Vandermeer"}, "fifth"),
        ({"soloist": ["M. Tollan", "Nobody Else"]}, "sonata"),
        ({"ensemble": "marnesund"}, "fifth"),
        ({"choir": "Lune"}, "mass"),
        ({"instrument": "cembalo"}, "goldberg"),
        ({"instrument": "piano"}, "sonata"),
        ({"artist": "Marnesund Five"}, "low_tide"),
        ({"album": "slow dances"}, "slow_dances"),
        ({"genre": "jazz"}, "low_tide"),
        ({"label": "kestrel"}, "goldberg low_tide"),
        ({"tag": "sunday"}, "goldberg"),
        ({"year": 1958}, "sonata low_tide"),
        ({"year": ["-1958", "1980-1989"]}, "goldberg sonata low_tide"),
        ({"rating": "3-"}, "goldberg sonata"),
        ({"rating": 3}, "sonata"),
        ({"added_days": 11}, "sonata fifth slow_dances"),
        ({"newest": 2}, "sonata slow_dances"),
        ({"composer": "Beethoven", "year": "1960-"}, "fifth"),
        ({"kind": "work", "label": "kestrel"}, "goldberg"),
        ({"kind": "work", "newest": 1}, "sonata"),
        ({"newest": 2, "leave_out": [{"kind": "popular"}]}, "sonata fifth"),
        ({"composer": "Beethoven", "leave_out": [{"form": "symphony"}]}, "sonata"),
        ({"everything": True, "leave_out": [{"kind": "popular"}, {"period": "classical"}]},
         "goldberg mass"),
    ],
)  # fmt: skip
def test_a_selector_chooses(asked: dict[str, Any], found: str) -> None:
    selection = chosen(Clause.model_validate(asked))
    wanted = [name.replace("_", " ") for name in found.split()]
    assert sorted(names(selection)) == sorted(wanted)
    assert selection.found[0].fitting == len(wanted)
    assert selection.unchosen == len(ALL) - len(wanted)


def test_a_recording_is_the_first_clause_s_that_asks_for_it() -> None:
    selection = chosen(Clause(year=1958), Clause(composer="Beethoven"), Clause(everything=True))
    by_clause = [(number, name) for (number, _), name in zip(selection.wanted, names(selection), strict=True)]  # fmt: skip  # noqa: E501
    assert sorted(by_clause) == [
        (0, "low tide"), (0, "sonata"), (1, "fifth"), (2, "goldberg"), (2, "mass"),
        (2, "slow dances"),
    ]  # fmt: skip
    assert [(found.fitting, found.earlier) for found in selection.found] == [(2, 0), (2, 1), (6, 3)]


def test_what_a_clause_leaves_out_is_there_for_later_ones() -> None:
    out = (Choice(work="Mass"),)
    first = Clause(kind="work", leave_out=(Choice(composer="Bach"),))
    selection = chosen(first, Clause(everything=True), leave_out=out)
    clauses = dict(zip(names(selection), (number for number, _ in selection.wanted), strict=True))
    assert clauses == {"fifth": 0, "sonata": 0, "goldberg": 1, "low tide": 1, "slow dances": 1}
    assert selection.left_out == 1


@pytest.mark.parametrize(
    ("order", "first"),
    [
        ("newest", "slow dances"),
        ("year", "goldberg"),
        ("rating", "goldberg"),
        ("title", "goldberg"),
    ],
)
def test_a_stated_order_is_kept(order: str, first: str) -> None:
    selection = chosen(Clause.model_validate({"everything": True, "order": order}))
    assert names(selection)[0] == first
    ordered = names(chosen(Clause.model_validate({"kind": "work", "order": "newest"})))
    assert ordered == ["sonata", "fifth", "goldberg", "mass"]  # days 1000, 990, 900, not known


@pytest.mark.parametrize(
    ("asked", "note"),
    [
        ({"composer": ["Beethofen", "Bach"]},
         "No composer “Beethofen” is in the library; did you mean “Beethoven, Ludwig van”?"),
        ({"composer": "Sibelius"},
         "Nothing by Sibelius, Jean is in the library."),
        ({"composer": "Sibelus"},
         "Nothing by the composer “Sibelus” is in the library. Is Sibelius, Jean meant?"),
        ({"performer": "Vandermer"},
         "No performer “Vandermer” is in the library; did you mean “Osric Vandermeer”?"),
        ({"tag": "Sundays"}, "No tag “Sundays” is in the library; did you mean “Sunday”?"),
        ({"label": "Xylo"}, "No label “Xylo” is in the library."),
        ({"form": "Lied"}, "No work of the form “Song” is in the library."),
    ],
)  # fmt: skip
def test_what_is_not_in_the_library_is_told_with_what_may_be_meant(
    asked: dict[str, Any], note: str
) -> None:
    assert chosen(Clause.model_validate(asked)).found[0].notes == (note,)


def test_two_clauses_that_fit_each_alone_and_never_together_say_so() -> None:
    selection = chosen(Clause(composer="Bach", kind="popular"))
    assert selection.found[0] == type(selection.found[0])(0, 0, ())


def test_a_recording_is_as_new_as_its_newest_track_and_rated_by_those_that_are() -> None:
    tracks = [movement("Suite", n, f"Part {n}") for n in (1, 2, 3)]
    facts = [{"added": 10, "rating": 100}, {"added": 30, "rating": 80}, {"added": None}]
    parts = [
        CataloguedTrack(replace(t.track, **f), t.identity)  # type: ignore[arg-type]
        for t, f in zip(tracks, facts, strict=True)
    ]
    groups = group_tracks(parts)
    for asked, count in (
        ({"rating": 4.5}, 1), ({"rating": 5}, 0), ({"added_days": 5}, 1), ({"added_days": 4}, 0),
    ):  # fmt: skip
        programme = Programme(clause=(Clause.model_validate(asked),))
        assert len(select(programme, groups, 35).wanted) == count, asked
