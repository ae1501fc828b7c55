"""Quick looks before long expressions: what they pass by, the expressions would not have found.

The expressions themselves are the measure; texts are generated around their own words.
"""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncd.works import album_edition, composer_pair, movement, people, player_roles, popular

_PIECES = st.sampled_from(
    [
        *("|".join(movement._FIRST_WORDS).replace("\\", "").split("|")),
        *("feat.", "remix", "radio edit", "original  mix", "main theme", "demo", "covers"),
        *("cd", "disc 2", "of", "2", "12", "IV", "x", "(live)", "[2011]", "sacd", "mono"),
        *("and", "und", "e", "y", "et", "&", "/", " - ", "–", "—", ";", "|", ",", "\n", "\\"),
        *("Bach-Busoni", "arr.", "Arr.", "piano", "violin", "Åsa", "ſatz", "№ 5", "#3", "n° 2"),
        *(" ", "  ", ".", ":", "(", ")", "[", "]", "'", "Allegro", "Symphony"),
    ]
)
_TEXTS = st.lists(st.one_of(_PIECES, st.text(max_size=4)), max_size=7).flatmap(
    lambda parts: st.sampled_from([" ".join(parts), "".join(parts), "".join(parts).upper()])
)


@given(_TEXTS)
def test_a_title_passed_by_has_neither_number_nor_heading(text: str) -> None:
    if not movement.may_be_numbered(text):
        stripped = text.strip(movement._AROUND)
        assert all(expression.match(stripped) is None for expression, _ in movement._HEADS)
        reading = movement.read_movement(text)
        assert (reading.number, reading.heading) == (None, None)


@given(_TEXTS)
def test_a_popular_remark_is_not_passed_by(text: str) -> None:
    small = text.lower() if text.isascii() else text
    assert popular.popular_title(text) == (popular._POPULAR_TITLE.search(small) is not None)


@given(_TEXTS)
def test_a_disc_or_an_edition_at_the_end_of_an_album_is_not_passed_by(text: str) -> None:
    assert album_edition.without_disc(text) == album_edition._DISC_REMARK.sub("", text)
    assert album_edition._without_remark(text) == album_edition._TRAILING_REMARK.sub("", text)


@pytest.mark.parametrize(
    ("look", "expression"),
    [
        (people._LIST_SIGN, people._LIST_MARK),
        (composer_pair._MARK, composer_pair._SIGN),
        (player_roles._MAY_BE_SEVERAL, player_roles._LABELS_MARK),
    ],
    ids=["lists of names", "pairs of composers", "lists of labels"],
)
@given(text=_TEXTS)
def test_a_mark_between_names_is_not_passed_by(
    look: re.Pattern[str], expression: re.Pattern[str], text: str
) -> None:
    if look.search(text) is None:
        assert expression.search(text) is None
