"""Lists of performers as taggers write them (common practice; all names invented)."""

import pytest

from syncd.works.cast import Lists, cast_of


def cast(text: str, solo: bool = False) -> list[tuple[str, str]]:
    credits = cast_of(Lists(artist=(text,)), frozenset(), solo).credits
    return [(credit.name, credit.instrument or credit.role) for credit in credits]


ORCHESTRA = ("Harbour Philharmonic", "ensemble")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Harbour Philharmonic, Karl Brenner", [ORCHESTRA, ("Karl Brenner", "conductor")]),
        ("Harbour Philharmonic / Brenner, Karl", [ORCHESTRA, ("Karl Brenner", "conductor")]),
        ("Harbour Philharmonic, dir. Karl Brenner", [ORCHESTRA, ("Karl Brenner", "conductor")]),
        ("Harbour Philharmonic, director: Karl Brenner", [ORCHESTRA, ("Karl Brenner", "conductor")]),  # noqa: E501
        ("Harbour Philharmonic o.l.v. Karl Brenner", [ORCHESTRA, ("Karl Brenner", "conductor")]),
        ("Harbour Philharmonic (Karl Brenner)", [ORCHESTRA, ("Karl Brenner", "conductor")]),
        ("Karl Brenner: Harbour Philharmonic", [("Karl Brenner", "conductor"), ORCHESTRA]),
        (
            "Mia Sorn (violin), Harbour Philharmonic, Karl Brenner",
            [("Mia Sorn", "violin"), ORCHESTRA, ("Karl Brenner", "conductor")],
        ),
        (
            "Mia Sorn, Violine; Harbour Philharmonic; Karl Brenner, Dirigent",
            [("Mia Sorn", "violin"), ORCHESTRA, ("Karl Brenner", "conductor")],
        ),
        ("Mia Sorn & Lea Holm", [("Mia Sorn", "soloist"), ("Lea Holm", "soloist")]),
        ("Mia Sorn (alto) & Lea Holm (pf)", [("Mia Sorn", "alto"), ("Lea Holm", "piano")]),
        ("Chorus & Orchestra of the Harbour Opera", [("Chorus & Orchestra of the Harbour Opera", "ensemble")]),  # noqa: E501
        ("Ostheim-Quartett", [("Ostheim-Quartett", "ensemble")]),
        ("Kantorei Ostheim", [("Kantorei Ostheim", "choir")]),
        ("Various Artists", []),
    ],
)  # fmt: skip
def test_a_list_gives_names_and_roles(text: str, expected: list[tuple[str, str]]) -> None:
    assert cast(text) == expected


def test_one_person_before_an_orchestra_plays_a_concerto_and_conducts_a_symphony() -> None:
    text = "Mia Sorn, Harbour Philharmonic"
    assert cast(text, solo=True)[0] == ("Mia Sorn", "soloist")
    assert cast(text, solo=False)[0] == ("Mia Sorn", "conductor")


def test_the_composer_in_the_artist_field_is_no_performer() -> None:
    lists = Lists(artist=("Ludwig van Beethoven; Mia Sorn",))
    found = cast_of(lists, frozenset({"Beethoven, Ludwig van"}), False).credits
    assert [credit.name for credit in found] == ["Mia Sorn"]


def test_an_abbreviation_is_the_full_name_from_another_field() -> None:
    lists = Lists(
        artist=("Northmoor SO/Whitlock",),
        conductor=("Jonas Whitlock",),
        album_artist=("Northmoor Symphony Orchestra",),
    )
    found = {(c.name, c.role) for c in cast_of(lists, frozenset(), False).credits}
    assert found == {("Jonas Whitlock", "conductor"), ("Northmoor Symphony Orchestra", "ensemble")}
