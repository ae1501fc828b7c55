"""Errata: read, applied, added to; and the review that proposes them."""

import pytest

from syncd.errors import SetupProblem
from syncd.model import Kind, TaggedFile
from syncd.works.errata import add_entry, read_errata
from syncd.works.identify import identify
from syncd.works.review import review

FILE = TaggedFile(
    "/music/Box/CD 1/01 Adagio.flac",
    {"TITLE": ["Adagio"], "ALBUM": ["Late [Works]"], "ARTIST": ["Odd Trio"]},
)


def test_a_rule_for_an_artist_names_the_composer() -> None:
    errata = read_errata('[[entry]]\nartist = "Odd Trio"\nis-composer = "Beethoven"\n')
    (identity,) = identify([FILE], errata)
    assert identity.kind is Kind.WORK
    assert identity.composer is not None
    assert identity.composer.sort == "Beethoven, Ludwig van"
    assert any("errata (line 1)" in reason for reason in identity.reasons)


def test_all_values_of_an_entry_are_taken() -> None:
    errata = read_errata(
        '[[entry]]\nfile = "CD 1/01*"\nis-composer = "Brahms"\nwork = "Clarinet Trio"\ncatalogue = ["op 114"]\n'  # noqa: E501
        'key = "a-Moll"\nmovement = 2\nmovement-title = "Adagio"\nconductor = []\n'
        'soloists = ["Nils Weir (clarinet)"]\n'
    )
    (identity,) = identify([FILE], errata)
    assert identity.work is not None and identity.movement is not None
    assert (identity.work.title, identity.work.catalogue, identity.work.key) == (
        "Clarinet Trio", ("Op. 114",), "A minor",
    )  # fmt: skip
    assert (identity.movement.number, identity.movement.title) == (2, "Adagio")
    soloists = [(c.name, c.instrument) for c in identity.credits if c.role == "soloist"]
    assert soloists == [("Nils Weir", "clarinet")]


@pytest.mark.parametrize(
    ("selector", "fits"),
    [
        ('folder = "Box"', True),
        ('folder = "/music"', True),
        ('folder = "Bo"', False),
        ('folder = "/Box"', False),
        ('file = "01 Adagio.flac"', True),
        ('file = "*/01*"', True),
        ('album = "late ?works?"', True),
        ('album = "Late"', False),
    ],
)
def test_paths_are_compared_by_component(selector: str, fits: bool) -> None:
    errata = read_errata(f'[[entry]]\n{selector}\nkind = "popular"\nis-composer = "Bach"\n')
    assert bool(errata.correction(FILE.path, "Late [Works]", ["Odd Trio"], [])) is fits


def test_a_later_entry_wins_key_by_key() -> None:
    errata = read_errata(
        '[[entry]]\nfolder = "Box"\nis-composer = "Bach"\nkey = "D"\n[[entry]]\nfolder = "Box"\nis-composer = "Haydn"\n'  # noqa: E501
    )
    found = errata.correction(FILE.path, "", [], [])
    assert (found.composer, found.key, found.lines) == ("Haydn", "D", (1, 5))


@pytest.mark.parametrize(
    ("text", "line", "word"),
    [
        ('# mine\n\n[[entry]]\nalbum = "A"\nkomposer = "B"\n', 5, "komposer"),
        ('[[entry]]\nalbum = "A"\nmovement = "two"\n', 3, "whole number"),
        ('[[entry]]\nalbum = "A"\nkind = "rock"\n', 3, "rock"),
        ('[[entry]]\nis-composer = "B"\n', 1, "which tracks"),
        ('[[entry]]\nalbum = "A"\n', 1, "corrects nothing"),
        ('[[entry]]\nalbum = "A"\nkey = "D"\n[[entry]]\nalbum = 3\nkey = "D"\n', 5, "album"),
        ("x = 1\n", 1, "x"),
        ("[[entry]\n", 1, "TOML"),
    ],
)
def test_a_wrong_entry_is_named_with_its_line(text: str, line: int, word: str) -> None:
    with pytest.raises(SetupProblem) as caught:
        read_errata(text, "errata.toml")
    message = str(caught.value)
    assert f"errata.toml, line {line}" in message
    assert word in message


def test_adding_keeps_comments_and_order() -> None:
    before = '# my corrections\n\n[[entry]]   # first\nartist = "B"\nis-composer = "Bach"'
    after = add_entry(before, {"album": 'Say "hello"\\'}, {"kind": Kind.POPULAR})
    assert after.startswith(before)
    assert [entry.line for entry in read_errata(after).entries] == [3, 7]
    assert read_errata(after).entries[1].selectors == (("album", 'Say "hello"\\'),)


def _doubtful() -> list[TaggedFile]:
    return [
        TaggedFile(
            f"/music/Nameless/0{n}.flac",
            {
                "TITLE": [f"{r}. Allegro"],
                "ALBUM": ["Symphony in D major"],
                "GENRE": ["Classical"],
                "TRACKNUMBER": [str(n)],
            },
        )
        for n, r in ((1, "I"), (2, "II"), (3, "III"))
    ]


def test_review_asks_once_for_many_tracks_and_its_entry_settles_them() -> None:
    files = _doubtful()
    doubts = review(zip((f.path for f in files), identify(files), strict=True))
    assert len(doubts) == 1
    assert len(doubts[0].paths) == 3
    errata = read_errata(doubts[0].entry.replace("⟨Family name, Given names⟩", "Haydn, Joseph"))
    settled = identify(files, errata)
    assert {i.composer.sort for i in settled if i.composer} == {"Haydn, Joseph"}
    assert review(zip((f.path for f in files), settled, strict=True)) == [] or all(
        "Who composed" not in d.question
        for d in review(zip((f.path for f in files), settled, strict=True))
    )


def test_review_tells_a_missing_movement() -> None:
    files = [
        TaggedFile(
            f"/m/x/{n}.flac",
            {
                "TITLE": [f"Beethoven: Symphony No. 5 in C minor, Op. 67 - {r}. Allegro"],
                "TRACKNUMBER": [str(n)],
            },
        )
        for n, r in ((1, "I"), (2, "III"), (3, "IV"))
    ]
    questions = [
        d.question for d in review(zip((f.path for f in files), identify(files), strict=True))
    ]
    assert any("movement 2" in question for question in questions)
