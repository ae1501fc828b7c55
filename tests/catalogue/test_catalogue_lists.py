"""The lists across: periods, forms, recently added, albums by title; and search over all names.

Periods of composers: common practice, as in any dictionary of music.
"""

from dataclasses import replace
from pathlib import Path

import pytest
from catalogue_samples import BEETHOVEN, Shelf

from syncd.catalogue.reader import Catalogue
from syncd.catalogue.rows import RECENT_MOST
from syncd.catalogue.search import Prefix, hits_of, prefixes
from syncd.catalogue.wording import name_words, work_words
from syncd.model import Composer, Work
from syncd.works.topics import forms_of, period_of


def below(catalogue: Catalogue, name: str) -> dict[str, list[str]]:
    """The rows of a list, each with the rows under it."""
    return {
        row.label: [child.label for child in catalogue.children(row)]
        for row in catalogue.children(catalogue.list_named(name))
    }


def test_periods_stand_in_the_order_of_time_with_their_composers(tmp_path: Path) -> None:
    shelf = Shelf()
    for name, sort in (
        ("Frédéric Chopin", "Chopin, Frédéric"),
        ("Johann Sebastian Bach", "Bach, Johann Sebastian"),
        ("Antonio Vivaldi", "Vivaldi, Antonio"),
        ("Nobody Atall", "Atall, Nobody"),
    ):
        shelf.recording(Work("Concerto"), composer=Composer(name, sort))
    with Catalogue(shelf.built(tmp_path)) as catalogue:
        assert list(below(catalogue, "periods").items()) == [
            ("Baroque", ["Bach, Johann Sebastian", "Vivaldi, Antonio"]),
            ("Romantic", ["Chopin, Frédéric"]),
        ]
        (romantic,) = list(catalogue.children(catalogue.list_named("periods")))[1:]
        (chopin,) = catalogue.children(romantic)
        assert catalogue.entry(chopin.item).label == "Chopin, Frédéric"


@pytest.mark.parametrize(
    ("heading", "period"),
    [
        ("Bach, Johann Sebastian", "baroque"),
        ("Mozart, Wolfgang Amadeus", "classical"),
        ("Atall, Nobody", None),
    ],
)
def test_who_is_in_the_table_has_a_period(heading: str, period: str | None) -> None:
    assert period_of(heading) == period


@pytest.mark.parametrize(
    ("title", "forms"),
    [
        ("Symphony No. 5", ("Symphony",)),
        ("Piano Sonata No. 14", ("Sonata",)),
        ("Trio Sonata No. 3", ("Trio Sonata",)),
        ("Prelude and Fugue", ("Prelude", "Fugue")),
        ("Brandenburg Concerto No. 3", ("Concerto",)),
        ("Lieder ohne Worte, Book 1", ("Song",)),
        ("Variations on a Theme by Haydn", ("Variations",)),
        ("La mer", ()),
        ("", ()),
    ],
)
def test_a_title_tells_its_forms(title: str, forms: tuple[str, ...]) -> None:
    assert forms_of(title) == forms


def test_forms_lead_to_works_of_all_composers(tmp_path: Path) -> None:
    shelf = Shelf()
    shelf.recording(Work("Piano Sonata No. 14", ("Op. 27 No. 2",)))
    shelf.recording(Work("Violin Sonata", ("RV 1",)), composer=Composer("A B", "B, A"))
    with Catalogue(shelf.built(tmp_path)) as catalogue:
        assert below(catalogue, "forms") == {
            "Sonata": ["B: Violin Sonata, RV 1", "Beethoven: Piano Sonata No. 14, Op. 27 No. 2"]
        }


def dated(shelf: Shelf, days: dict[str, int]) -> None:
    """Give the tracks whose album or work is named the day on which they came."""
    shelf.entries = [
        replace(
            entry,
            track=replace(
                entry.track,
                added=days.get(
                    entry.identity.album
                    or (entry.identity.work.title if entry.identity.work else "")
                ),
            ),
        )
        for entry in shelf.entries
    ]


def test_what_came_last_stands_first_and_what_has_no_day_nowhere(tmp_path: Path) -> None:
    shelf = Shelf()
    shelf.popular("The Thursday Kilns", "Lamps", "Chalk")
    shelf.popular("The Thursday Kilns", "Older", "Ferry")
    shelf.recording(Work("Sonata"), 2)
    shelf.recording(Work("Undated"))
    dated(shelf, {"Lamps": 20_000, "Sonata": 20_001, "Older": 15_000})
    with Catalogue(shelf.built(tmp_path)) as catalogue:
        rows = list(catalogue.children(catalogue.list_named("recent")))
        assert [row.label for row in rows] == [
            "Beethoven: Sonata",
            "The Thursday Kilns: Lamps",
            "The Thursday Kilns: Older",
        ]
        assert [catalogue.group(row.item).added for row in rows] == [20_001, 20_000, 15_000]
        assert [track.label for track in catalogue.tracks(rows[0].first, rows[0].count)] == [
            "Movement 1",
            "Movement 2",
        ]


def test_the_list_of_what_came_last_has_an_end(tmp_path: Path) -> None:
    shelf = Shelf()
    for number in range(RECENT_MOST + 20):
        shelf.popular("The Thursday Kilns", f"Album {number}", "x")
    dated(shelf, {f"Album {number}": number + 1 for number in range(RECENT_MOST + 20)})
    with Catalogue(shelf.built(tmp_path)) as catalogue:
        rows = list(catalogue.children(catalogue.list_named("recent")))
        assert len(rows) == RECENT_MOST
        assert rows[0].label == f"The Thursday Kilns: Album {RECENT_MOST + 19}"


def test_albums_stand_by_title_whoever_made_them(tmp_path: Path) -> None:
    shelf = Shelf()
    for artist, album in (("B", "Äther"), ("A", "Zinc"), ("C", "Boat 10"), ("C", "Boat 9")):
        shelf.popular(artist, album, "x")
    with Catalogue(shelf.built(tmp_path)) as catalogue:
        rows = catalogue.children(catalogue.list_named("albums"))
        assert [row.label for row in rows] == ["Äther", "Boat 9", "Boat 10", "Zinc"]


# Search


def test_linking_words_are_no_words_to_search_by() -> None:
    assert name_words("Beethoven, Ludwig van") == ["beethoven", "ludwig"]
    assert name_words("The The") == ["the", "the"]
    assert work_words("Symphony No. 5", ("Op. 67",)) == ["symphony", "op67"]
    assert work_words("4'33\"", ()) == ["4", "33"]


def plainly(words: list[tuple[str, int]], prefix: str) -> list[int]:
    return [place for word, place in sorted(words) if word.startswith(prefix)]


def test_the_tree_finds_what_a_plain_search_finds() -> None:
    names = [[f"{a}{b}{c}", f"{c}x"] for a in "abc" for b in "abcd" for c in "ab"]
    hits = hits_of(names, list(range(len(names))))
    tree = prefixes(hits)
    words = [(word, place) for place, both in enumerate(names) for word in both]
    seen = 0

    def visit(node: Prefix, prefix: str) -> None:
        nonlocal seen
        seen += 1
        found = [hit[2] for hit in hits[node.first : node.first + node.count]]
        assert sorted(found) == sorted(plainly(words, prefix))
        going_on = {word[len(prefix)] for word, _ in words if word.startswith(prefix) and
                    len(word) > len(prefix)}  # fmt: skip
        assert node.letters == ("".join(sorted(going_on)) if node.count > 8 else "")
        ranks = [hits[place][1] for place in node.best]
        assert ranks == sorted(ranks)
        assert len(ranks) == min(8, len(set(found)))
        for place, letter in enumerate(node.letters):
            visit(tree[node.child + place], prefix + letter)

    visit(tree[0], "")
    assert seen == len(tree), "every row is reached by turning letters"


def test_the_best_hit_is_who_has_most_and_whose_name_begins_so(tmp_path: Path) -> None:
    shelf = Shelf()
    for number in range(20):
        name = f"Bee {number}"
        shelf.popular(name, "x", "y")
    shelf.recording(Work("Symphony No. 5"), 30, composer=BEETHOVEN)
    with Catalogue(shelf.built(tmp_path)) as catalogue:
        prefix = catalogue.prefix()
        for letter in "bee":
            turned = catalogue.turned(prefix, letter)
            assert turned is not None
            prefix = turned
            assert catalogue.found(prefix).best[0].label == "Beethoven, Ludwig van"
        assert (prefix.count, len(catalogue.found(prefix).best)) == (21, 8)
        assert prefix.letters == "t"
