"""Errata: read, applied, added to; what they change; and the review that proposes them."""

from dataclasses import replace

import pytest

from syncd.errors import SetupProblem
from syncd.model import Composer, Identity, Kind, TaggedFile, Work
from syncd.works.corrections import changes, effect, tracks_by_line
from syncd.works.errata import add_entry, check_entry, examine, read_errata
from syncd.works.identify import identify
from syncd.works.review import review
from syncd.works.selectors import Asked, fits

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
        ('file = ["02 Largo.flac", "01 Adagio.flac"]', True),
        ('folder = ["Bo", "CD 2"]', False),
        ('artist = ["Even Trio", "odd trio"]', True),
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
        ('[[entry]]\nalbum = "A"\nis-composer = "⟨Family name⟩"\n', 3, "filled in"),
        ('[[entry]]\nalbum = []\nkey = "D"\n', 2, "album"),
        ('[[entry]]\nalbum = ["A", " "]\nkey = "D"\n', 2, "album"),
        ('entry = ["A"]\n', 1, "two brackets"),
        ('#\nentry = [{album = "A", key = "D"}]\n', 2, "two brackets"),
        ('[entry]\nalbum = "A"\nkey = "D"\n', 1, "two brackets"),
        ('[[entry]]\nalbum = "A"\nalbum = "B"\nkey = "D"\n', 3, "already"),
        ('[[entry]]\nalbum = "A"\nis-composer =', 3, "'is-composer' has no value"),
        ('[[entry]]\nalbum = "A"\niscomposer = "B"\n', 3, "Did you mean “is-composer”?"),
        ("x = 1\n", 1, "x"),
        ("[[entry]\n", 1, "as many ']'"),
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


def test_adding_keeps_the_line_ends_of_the_file() -> None:
    after = add_entry("# mine\r\n", {"album": "A"}, {"key": "D"})
    assert after == '# mine\r\n\r\n[[entry]]\r\nalbum = "A"\r\nkey = "D"\r\n'
    assert read_errata(after).entries[0].line == 3


def test_an_entry_that_could_not_be_read_back_is_not_added() -> None:
    with pytest.raises(SetupProblem, match="komposer"):
        add_entry("", {"album": "A"}, {"komposer": "Bach"})
    with pytest.raises(SetupProblem, match="filled in"):
        check_entry({"album": "A"}, {"work": "⟨title of the work⟩"})


def test_sound_entries_are_found_beside_wrong_ones() -> None:
    errata, faults = examine(
        '[[entry]]\nkey = "D"\n[[entry]]\nalbum = "A"\nkey = "D"\n[[entry]]\nalbum = "B"\nkey = 4\n'
    )
    assert [entry.line for entry in errata.entries] == [3]
    assert [fault.line for fault in faults] == [1, 8]


def test_an_album_named_with_underscores_is_found_as_tagged_and_as_read() -> None:
    file = TaggedFile("/m/a/1.flac", {"ALBUM": ["Late_Works"], "TITLE": ["Adagio"]})
    for album in ("Late_Works", "Late Works"):
        errata = read_errata(f'[[entry]]\nalbum = "{album}"\nis-composer = "Haydn"\n')
        (identity,) = identify([file], errata)
        assert identity.composer is not None
        assert tracks_by_line(errata, [file]) == {1: 1}


def test_what_an_entry_changes_is_told_track_by_track() -> None:
    files = _doubtful()
    entry = check_entry({"folder": "Nameless"}, {"is-composer": "Haydn", "work": "Symphony No. 1"})
    paths, altered = effect([files, [FILE]], read_errata(""), entry)
    assert paths == [file.path for file in files] == [change.path for change in altered]
    told = {name: (old, new) for name, old, new in altered[0].differences}
    assert told["composer"] == ("", "Haydn, Joseph")
    assert told["work"] == ("Symphony", "Symphony No. 1")
    assert "recording" not in told


def test_a_recording_told_apart_is_a_difference_by_itself() -> None:
    files = _doubtful()
    errata = read_errata('[[entry]]\nfile = "01.flac"\nrecording = "the other"\n')
    told = {change.path: change.differences for change in changes(files, None, errata)}
    assert [name for name, _, _ in told[files[0].path]] == ["recording"]


def test_errata_that_say_the_same_change_nothing() -> None:
    files = _doubtful()
    errata = read_errata('[[entry]]\nalbum = "Symphony*"\nis-composer = "Haydn"\n')
    assert changes(files, errata, errata) == []
    assert [change.differences for change in changes(files, errata, None)] != []


def _box() -> list[TaggedFile]:
    """Two boxes with discs of the same name; some works of each have no composer."""
    return [
        TaggedFile(
            f"/music/{box}/CD 1/0{number}.flac",
            {
                "TITLE": [title],
                "ALBUM": ["Concert Night"],
                "GENRE": ["Classical"],
                "TRACKNUMBER": [str(number)],
                **({"COMPOSER": ["Joseph Haydn"]} if number > 2 else {}),
            },
        )
        for box in ("Red Box", "Blue Box")
        for number, title in (
            (1, "Trio in G minor: I. Allegro"),
            (2, "Trio in G minor: II. Adagio"),
            (3, "String Quartet in D major: I. Allegro"),
            (4, "String Quartet in D major: II. Adagio"),
        )
    ]


def test_an_entry_of_the_review_fits_what_is_asked_about_and_nothing_else() -> None:
    for files in (_box(), _doubtful(), [*_doubtful(), *_box(), FILE]):
        doubts = review(zip((f.path for f in files), identify(files), strict=True))
        assert doubts
        for doubt in doubts:
            if not doubt.entry:
                continue
            (entry,) = read_errata(doubt.entry.replace("⟨", "").replace("⟩", "")).entries
            assert dict(entry.selectors) == doubt.selectors
            fitting, _ = effect([files], read_errata(""), entry)
            assert tuple(fitting) == doubt.paths, doubt.question


def test_a_question_keeps_its_id_and_no_two_share_one() -> None:
    files = [*_doubtful(), *_box()]
    doubts = review(zip((f.path for f in files), identify(files), strict=True))
    ids = [doubt.id for doubt in doubts if doubt.entry]
    assert len(set(ids)) == len(ids) > 1
    alone = review(zip((f.path for f in files[:3]), identify(files[:3]), strict=True))
    assert {doubt.id for doubt in alone} <= set(ids)


def test_many_entries_are_found_as_if_each_had_been_tried() -> None:
    selectors = [
        *('file = "01*"', 'file = "cd 1/01 adagio.flac"', 'file = ["x", "/music/Box/CD ?/0*"]'),
        *('folder = "BOX"', 'folder = "/"', 'folder = ["Bo", "B*"]', 'folder = "01 Adagio.flac"'),
        *('album = "LATE [wW]orks"', 'album = "late_[works]"', 'album = "*"', 'album = "Late"'),
        *('artist = "odd trio"', 'artist = "Ödd*"', 'composer = "*"', 'composer = "Odd Trio"'),
        *('folder = "Box"\nartist = "Even Trio"', 'album = "L*"\nfolder = "CD 1"'),
    ]  # fmt: skip
    errata = read_errata("".join(f'[[entry]]\n{one}\nkey = "D"\n' for one in selectors))
    lines = set()
    for album in ("Late [Works]", "Late Works", ""):
        for artists in (("Odd Trio",), ("Even Trio",), ()):
            asked = Asked(FILE.path, album, artists, ())
            tried = tuple(one.line for one in errata.entries if fits(one.selectors, asked))
            assert errata.correction(FILE.path, album, artists, ()).lines == tried
            lines.update(tried)
    assert 8 < len(lines) < len(selectors)


def test_who_composed_it_is_not_asked_again_once_the_errata_say_it() -> None:
    """His catalogues do not have the number: so the work is asked about, and only once."""
    tags = {"TITLE": ["Sonata in D minor, K. 141"], "ALBUM": ["Sonatas"], "GENRE": ["Classical"]}
    file = TaggedFile("/m/Sonatas/1.flac", tags)
    for text, key in (
        ("", "is-composer"),
        ('[[entry]]\nfolder = "Sonatas"\nis-composer = "Haydn, Joseph"\n', "work"),
    ):
        (doubt,) = review([(file.path, identify([file], read_errata(text))[0])])
        assert list(doubt.values) == [key]
    settled = text + doubt.entry
    assert review([(file.path, identify([file], read_errata(settled))[0])]) == []


def test_doubtful_roles_of_performers_do_not_put_the_composer_in_question() -> None:
    identity = Identity(
        kind=Kind.WORK,
        composer=Composer("Claude Debussy", "Debussy, Claude"),
        work=Work("Pelléas et Mélisande"),
        confidence=0.75,
        reasons=("composer: COMPOSER tag (name)", "credits: roles told by the order of the names"),
    )
    (doubt,) = review([("/m/Pelléas/1.flac", identity)])
    assert doubt.values == {"work": "Pelléas et Mélisande"}


def test_a_file_that_begins_with_an_editors_mark_is_read_and_kept() -> None:
    before = '\ufeff[[entry]]\nalbum = "A"\nkey = "D"\n'
    after = add_entry(before, {"album": "B"}, {"key": "D"})
    assert after.startswith(before)
    assert [entry.line for entry in read_errata(after).entries] == [1, 5]


def test_lines_are_counted_as_editors_do() -> None:
    text = '# one\u2028still one\u0085\r\n[[entry]]\r\nalbum = "A"\r\nkey = "D"\r\n'
    assert [entry.line for entry in read_errata(text).entries] == [2]


def test_own_words_of_all_entries_add_up_and_correct_nothing() -> None:
    errata = read_errata(
        '[[entry]]\nartist = "Odd Trio"\ntags = ["Sunday", "Night"]\n'
        '[[entry]]\nalbum = "Late *"\ntags = "Night"\n'
        '[[entry]]\nfolder = "Box"\ntags = ["Box"]\n'
    )
    (plain,) = identify([FILE], None)
    (tagged,) = identify([FILE], errata)
    assert tagged.tags == ("Sunday", "Night", "Box")
    assert replace(tagged, tags=()) == plain
