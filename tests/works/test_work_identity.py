"""One work is one, however its tags name it; namesakes are told apart or left unnamed.

Numbers, keys and the composers of the works below: the thematic catalogues named in
``test_thematic_catalogues.py``; the Strauss family's opus numbers from memory.
"""

import pytest

from syncd.model import Identity, TaggedFile
from syncd.works.identify import identify
from syncd.works.known_works import identity_of
from syncd.works.text import title_key

BEETHOVEN = "Beethoven, Ludwig van"


def one(**tags: str) -> Identity:
    return identify([TaggedFile("Album/01.flac", {k: [v] for k, v in tags.items()})])[0]


@pytest.mark.parametrize(
    ("composer", "title", "numbers", "key", "sign"),
    [
        (BEETHOVEN, "Symphony No. 5", (), None, "Op. 67"),
        (BEETHOVEN, "Symphony No. 5", ("Op. 67",), "C minor", "Op. 67"),
        (BEETHOVEN, "Piano Sonata No. 14", (), "C-sharp minor", "Op. 27 No. 2"),
        (BEETHOVEN, "Waldstein Sonata", (), None, "Op. 53"),
        ("Dvořák, Antonín", "String Quartet No. 12", ("B. 179",), None, "Op. 96"),
        ("Strauss, Richard", "Don Juan", (), None, "Op. 20"),
    ],
)
def test_a_work_without_its_number_is_the_work_with_it(
    composer: str, title: str, numbers: tuple[str, ...], key: str | None, sign: str
) -> None:
    assert identity_of(composer, title, numbers, key) == (composer, sign)


@pytest.mark.parametrize(
    ("composer", "title", "key"),
    [
        (BEETHOVEN, "Piano Sonata", None),  # there are 32
        (BEETHOVEN, "Symphony No. 5", "D minor"),  # the key speaks against it
        (BEETHOVEN, "Symphony", None),
        ("", "Symphony No. 5", None),
    ],
)
def test_a_title_that_could_mean_another_work_keeps_to_itself(
    composer: str, title: str, key: str | None
) -> None:
    assert identity_of(composer, title, (), key)[1] == title_key(title)


def test_the_number_is_never_shown_where_the_tags_do_not_say_it() -> None:
    identity = one(TITLE="Symphony No. 5: II. Andante con moto", COMPOSER="Beethoven")
    assert identity.work is not None
    assert identity.work.title == "Symphony No. 5"
    assert identity.work.catalogue == ()
    assert identity.work.key is None


def test_an_orchestra_in_the_field_of_the_composer_is_none() -> None:
    identity = one(TITLE="Walzer in D", COMPOSER="Johann Strauss Orchester", GENRE="Classical")
    assert identity.composer is None


def test_the_arranger_in_the_field_of_the_composer_is_an_arranger() -> None:
    identity = one(TITLE="Beethoven: Symphony No. 5", COMPOSER="Franz Liszt", GENRE="Classical")
    assert identity.composer is not None and identity.composer.sort == BEETHOVEN
    assert identity.confidence <= 0.7
    assert [(c.name, c.role) for c in identity.credits] == [("Franz Liszt", "arranger")]


@pytest.mark.parametrize("name", ["Strauss", "STRAUSS", "Strauß", "Scarlatti", "Stamitz", "Benda"])
@pytest.mark.parametrize("title", ["Allegro in D", "Symphony No. 5", "Violin Concerto", "Waltz"])
def test_a_family_name_of_several_names_nobody(name: str, title: str) -> None:
    identity = one(TITLE=title, COMPOSER=name, GENRE="Classical")
    assert identity.composer is None
    assert identity.confidence <= 0.5
    assert any("several are called" in reason for reason in identity.reasons)


@pytest.mark.parametrize(
    ("name", "title", "sort"),
    [
        ("Strauss", "Don Juan, Op. 20", "Strauss, Richard"),
        ("Strauss", "An der schönen blauen Donau", "Strauss, Johann II"),
        ("Strauss", "Horn Concerto No. 1 in E flat, Op. 11", "Strauss, Richard"),
        ("Johann Strauss", "Radetzky-Marsch op. 228", "Strauss, Johann I"),
        ("Johann Strauss", "Kaiser-Walzer op. 437", "Strauss, Johann II"),
        ("Johann Strauss (Vater)", "Walzer op. 1", "Strauss, Johann I"),
        ("Strauss, Johann (1804-1849)", "Walzer op. 1", "Strauss, Johann I"),
        ("Strauss, Johann (1825-1899)", "Walzer op. 1", "Strauss, Johann II"),
        ("Bach (C.P.E.)", "Symphony in B minor", "Bach, Carl Philipp Emanuel"),
    ],
)
def test_namesakes_are_told_by_the_work_the_years_or_the_bracket(
    name: str, title: str, sort: str
) -> None:
    identity = one(TITLE=title, COMPOSER=name, GENRE="Classical")
    assert identity.composer is not None
    assert identity.composer.sort == sort
