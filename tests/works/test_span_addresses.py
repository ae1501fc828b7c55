"""One span of a file is named path#03: in errata, in review, and when a title is missing."""

import pytest

from syncd.model import TaggedFile, span_address, span_in
from syncd.works.errata import read_errata
from syncd.works.fields import read_fields
from syncd.works.selectors import Asked, fits


@pytest.mark.parametrize(
    ("address", "parts"),
    [
        ("/m/a.flac#03", ("/m/a.flac", 3)), ("/m/a.flac#103", ("/m/a.flac", 103)),
        ("/m/a.flac", ("/m/a.flac", None)), ("/m/a #03.flac", ("/m/a #03.flac", None)),
        ("/m/No. 3 #12", ("/m/No. 3 #12", None)), ("/m.x/a#12", ("/m.x/a#12", None)),
        ("/m/a.flac#3", ("/m/a.flac#3", None)), ("/m/a.flac#", ("/m/a.flac#", None)),
        ("", ("", None)),
    ],
)  # fmt: skip
def test_an_address_is_taken_apart_as_it_was_made(
    address: str, parts: tuple[str, int | None]
) -> None:
    assert span_in(address) == parts
    if parts[1] is not None:
        assert span_address(parts[0], parts[1]) == address


@pytest.mark.parametrize(
    ("pattern", "wanted"),
    [
        ("album.flac#02", True), ("album.flac#03", False), ("album.flac", True),
        ("Box/album.flac", True), ("/m/Box/album.flac#02", True), ("other.flac", False),
        ("*.flac", True), ("album.flac#*", True),
    ],
)  # fmt: skip
def test_an_entry_names_one_span_or_all_of_a_file(pattern: str, wanted: bool) -> None:
    asked = Asked("/m/Box/album.flac#02", "", (), ())
    assert fits((("file", pattern),), asked) == wanted


def test_the_errata_find_the_entry_of_one_span() -> None:
    errata = read_errata(
        '[[entry]]\nfile = "album.flac"\nwork = "Both"\n'
        '[[entry]]\nfile = "album.flac#02"\nmovement = 2\n'
    )
    first = errata.correction("/m/album.flac#01", "", (), ())
    second = errata.correction("/m/album.flac#02", "", (), ())
    assert (first.work, first.movement) == ("Both", None)
    assert (second.work, second.movement) == ("Both", 2)


def test_a_span_without_title_is_named_by_its_file() -> None:
    fields = read_fields(TaggedFile("/m/Evening Music.flac#02", {"TRACKNUMBER": ["2"]}))
    assert (fields.title, fields.track) == ("Evening Music", 2)
