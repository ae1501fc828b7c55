"""Arias and pieces that go by their own names are filed under the work that they belong to.

Which opera an aria is from is a public fact (any opera guide); from memory. Performers are
invented.
"""

import json
from importlib import resources

import pytest
from works_kit import composer_and_title, filed, heading, work_of

from syncd.model import Kind
from syncd.works.known_parts import part_called
from syncd.works.known_works import by_title, known_works
from syncd.works.text import title_key

ROWS = json.loads(
    (resources.files("syncd.works") / "data" / "parts.json").read_text(encoding="utf-8")
)
PLAYERS = {"ARTIST": "Jan Venn, tenore; Orchestra Filarmonica di Monteverde", "ALBUM": "Arie"}


def test_every_part_is_of_a_known_work_and_means_no_other() -> None:
    names = [title_key(name) for row in ROWS for name in row["parts"]]
    assert len(names) == len(set(names)) > 350
    for row in ROWS:
        whole = by_title(row["composer"], row["whole"])
        assert whole is not None and whole.title == row["whole"], row
        for name in row["parts"]:
            known = known_works().by_title.get(title_key(name), [])
            assert not [work for work in known if work.title == name], name


@pytest.mark.parametrize(
    ("title", "composer", "whole"),
    [
        ("La donna è mobile", "Verdi, Giuseppe", "Rigoletto"),
        ("Nessun dorma!", "Puccini, Giacomo", "Turandot"),
        ("Vesti la giubba", "Leoncavallo, Ruggero", "Pagliacci"),
        ("Largo al factotum", "Rossini, Gioacchino", "Il barbiere di Siviglia"),
        ("Una furtiva lagrima", "Donizetti, Gaetano", "L'elisir d'amore"),
        ("Mon cœur s'ouvre à ta voix", "Saint-Saëns, Camille", "Samson et Dalila"),
        ("Der Hölle Rache kocht in meinem Herzen", "Mozart, Wolfgang Amadeus", "Die Zauberflöte"),
        ("Куда, куда, вы удалились", "Tchaikovsky, Pyotr Ilyich", "Eugene Onegin"),
    ],
)
def test_an_aria_tells_composer_and_opera_but_never_surely(
    title: str, composer: str, whole: str
) -> None:
    found = filed([title, "Another song"], **PLAYERS)[0]
    assert composer_and_title(found) == (composer, whole), found.reasons
    assert heading(found) == (None, title.rstrip())
    assert found.confidence <= 0.6


def test_an_aria_beside_those_of_one_composer_is_not_given_to_him() -> None:
    titles = ["Puccini: Tosca - Recondita armonia", "Nessun dorma", "La donna è mobile"]
    found = filed(titles, **PLAYERS)
    assert [composer_and_title(one)[0] for one in found] == [
        "Puccini, Giacomo", "Puccini, Giacomo", "Verdi, Giuseppe",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("title", "tags"),
    [
        ("Nessun dorma", {"COMPOSER": "Lara Kint"}),  # a song of that name by another
        ("Nessun dorma", {"ARTIST": "The Milk Crates"}),
        ("Va, pensiero", {"ARTIST": "The Milk Crates", "GENRE": "Rock"}),
    ],
)
def test_the_name_alone_makes_no_aria(title: str, tags: dict[str, str]) -> None:
    [found] = filed([title], **{"ALBUM": "Halo", **tags})
    assert found.kind is Kind.POPULAR or composer_and_title(found)[1] == title


def test_a_number_of_its_own_goes_before() -> None:
    [found] = filed(["The Arrival of the Queen of Sheba, HWV 67"], COMPOSER="Handel")
    assert work_of(found)[1:3] == ("Solomon", ("HWV 67",))


@pytest.mark.parametrize(
    "titles",
    [
        ["Non più andrai", "Voi che sapete"],
        ["Voi che sapete (Le nozze di Figaro)", "Non più andrai (Le nozze di Figaro)"],
        ["Voi che sapete (from Le nozze di Figaro)", "Aprite un po' (from Le nozze di Figaro)"],
    ],
)
def test_arias_on_a_recital_are_not_counted(titles: list[str]) -> None:
    found = filed(titles, COMPOSER="Mozart", ALBUM="Recital", GENRE="Opera")
    assert [composer_and_title(one)[1] for one in found] == ["Le nozze di Figaro"] * 2
    assert [heading(one)[0] for one in found] == [None, None]


@pytest.mark.parametrize("name", ["Ave Maria", "Summertime", "Habanera", "Air", "", "Finale"])
def test_names_that_many_works_have_are_no_parts(name: str) -> None:
    assert part_called(name) is None
