"""Names and titles as a listener writes them, against those of the library.

Spellings of composers are those of the Library of Congress headings and their published variants;
catalogue numbers are those of the thematic catalogues named in them. Performers are invented.
"""

import pytest

from syncd.model import Composer, Work
from syncd.planner.matching import composer_fits, name_fits, nearest, text_fits, work_fits

BACH = Composer("Johann Sebastian Bach", "Bach, Johann Sebastian")
CPE = Composer("Carl Philipp Emanuel Bach", "Bach, Carl Philipp Emanuel")
DVORAK = Composer("Antonín Dvořák", "Dvořák, Antonín")
HANDEL = Composer("George Frideric Handel", "Handel, George Frideric")
TCHAIKOVSKY = Composer("Pyotr Ilyich Tchaikovsky", "Tchaikovsky, Pyotr Ilyich")
STRAUSS = Composer("Richard Strauss", "Strauss, Richard")
INVENTED = Composer("Aldona Viremsk", "Viremsk, Aldona")


@pytest.mark.parametrize(
    ("asked", "composer"),
    [
        ("Bach", BACH), ("bach, johann sebastian", BACH), ("J.S. Bach", BACH), ("JS Bach", BACH),
        ("C.P.E. Bach", CPE), ("dvorak", DVORAK), ("DVORÁK", DVORAK), ("Дворжак", DVORAK),
        ("Händel", HANDEL), ("Haendel", HANDEL), ("Handel", HANDEL), ("Чайковский", TCHAIKOVSKY),
        ("Strauss", STRAUSS), ("R. Strauss", STRAUSS), ("viremsk", INVENTED),
        ("A. Viremsk", INVENTED), ("Bach, *", CPE), ("vir?msk*", INVENTED),
    ],
)  # fmt: skip
def test_a_composer_is_found_by_every_spelling(asked: str, composer: Composer) -> None:
    assert composer_fits(asked, composer)


@pytest.mark.parametrize(
    ("asked", "composer"),
    [
        ("Bach", CPE), ("J.S. Bach", CPE), ("Beethofen", BACH), ("J. Strauss", STRAUSS),
        ("A.", INVENTED), ("Virems", INVENTED), ("B. Viremsk", INVENTED), ("Handl", HANDEL),
    ],
)  # fmt: skip
def test_nobody_else_is_taken_for_the_composer(asked: str, composer: Composer) -> None:
    assert not composer_fits(asked, composer)


@pytest.mark.parametrize(
    ("asked", "name", "fits"),
    [
        ("Ostrowald", "Quirin Ostrowald", True), ("Q. Ostrowald", "Quirin Ostrowald", True),
        ("Quirin Ostrowald", "Q. Ostrowald", True), ("Ostrowald, Quirin", "Quirin Ostrowald", True),
        ("quirin OSTROWALD", "Quírin Ostrowald", True), ("R. Ostrowald", "Quirin Ostrowald", False),
        ("Ostro", "Quirin Ostrowald", False), ("Moeller", "Jana Möller", True),
        ("Möller", "Jana Moeller", True), ("Петров", "Petrov Trio", True),
        ("Petrov", "Трио Петров", True), ("Trio", "Lowlands Trio", True), ("Q.", "Quirin", False),
    ],
)  # fmt: skip
def test_performers_are_found_by_words_and_initials(asked: str, name: str, fits: bool) -> None:
    assert name_fits(asked, name) is fits


@pytest.mark.parametrize(
    ("asked", "composer", "title", "catalogue", "fits"),
    [
        ("BWV 988", "Bach, Johann Sebastian", "Goldberg Variations", ("BWV 988",), True),
        ("bwv988", "Bach, Johann Sebastian", "Goldberg Variations", ("BWV 988",), True),
        ("BWV 98", "Bach, Johann Sebastian", "Goldberg Variations", ("BWV 988",), False),
        ("op. 27", "Beethoven, Ludwig van", "Piano Sonata No. 14", ("Op. 27 No. 2",), True),
        ("Op. 27/2", "Beethoven, Ludwig van", "Piano Sonata No. 14", ("Op. 27 No. 2",), True),
        ("Op. 27 No. 1", "Beethoven, Ludwig van", "Piano Sonata No. 14", ("Op. 27 No. 2",), False),
        ("op. 2", "Beethoven, Ludwig van", "Piano Sonata No. 14", ("Op. 27 No. 2",), False),
        ("K 331", "Mozart, Wolfgang Amadeus", "Piano Sonata No. 11", ("K. 331",), True),
        ("symphony no. 5", "Beethoven, Ludwig van", "Symphony No. 5", (), True),
        ("symphony no 5", "Beethoven, Ludwig van", "Symphony No. 55", (), False),
        ("Eroica", "Beethoven, Ludwig van", "Symphony No. 3", ("Op. 55",), True),
        # As tags often have it: no number. On the card it stands by its number (docs/programme.md).
        ("BWV 988", "Bach, Johann Sebastian", "Goldberg Variations", (), True),
        ("Moonlight", "Beethoven, Ludwig van", "Piano Sonata No. 14", (), True),
        ("From the New World", "Dvořák, Antonín", "Symphony No. 9", (), True),
        ("Op. 27", "Beethoven, Ludwig van", "Piano Sonata No. 14", (), True),
        ("Op. 57", "Beethoven, Ludwig van", "Piano Sonata No. 14", (), False),
        ("Op. 3", "Viremsk, Aldona", "Nocturne", ("Op. 3",), True),
        ("* No. 5", "Viremsk, Aldona", "Nocturne No. 5", (), True),
    ],
)  # fmt: skip
def test_works_are_found_by_title_nickname_and_number(
    asked: str, composer: str, title: str, catalogue: tuple[str, ...], fits: bool
) -> None:
    assert work_fits(asked, composer, Work(title, catalogue)) is fits


def test_texts_are_found_by_whole_words() -> None:
    assert text_fits("low tide", "At Low Tide, Vol. 2")
    assert not text_fits("low", "Slow Dances")
    assert not text_fits("...", "Slow Dances")
    assert text_fits("交響曲", "新交響曲集")


def test_what_is_nearly_right_is_suggested_only() -> None:
    names = ["Beethoven, Ludwig van", "Bach, Johann Sebastian", "Berlioz, Hector"]
    assert nearest("Beethofen", names) == "Beethoven, Ludwig van"
    assert nearest("Xylander", names) is None
    assert not composer_fits("Beethofen", Composer("Ludwig van Beethoven", names[0]))
