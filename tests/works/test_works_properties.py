"""The engine's promises for any input: it never raises, order does not matter, units stand alone."""  # noqa: E501

import json
import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from syncd.model import TaggedFile
from syncd.works.fields import unit_of
from syncd.works.identify import explain, identify, to_json
from syncd.works.text import LONGEST_VALUE
from syncd.works.title import read_title
from syncd.works.worktitle.reader import read_work

DATA = Path(__file__).parents[1] / "data"
NAMES = [
    "TITLE", "ALBUM", "ARTIST", "ALBUMARTIST", "COMPOSER", "CONDUCTOR", "PERFORMER", "WORK", "OPUS",
    "MOVEMENT", "MOVEMENTNAME", "GROUPING", "GENRE", "TRACKNUMBER", "DISCNUMBER", "TPE3", "©wrk", "",  # noqa: E501
    "----:com.example:CONDUCTOR",
]  # fmt: skip
PIECES = [
    "Symphony", "No.", "5", "in", "C", "minor", "Op.", "67", "/", "2", ":", " - ", "I.", "IV", "Bach", "(", ")",  # noqa: E501
    "“", "”", '"', "'", "K.", "Hob.", "XVI:52", "TWV", "51:G9", "BWV", "h-Moll", "fis", "Allegro", "arr.", "from",  # noqa: E501
    "Act", "1", ",", ";", "&", "posth.", "第1楽章", "№", "é", "Ø", "\u202e", "\x00", "\ud800", "♭", "#", "--", "..",  # noqa: E501
    "Beethoven", "piano", "Orchestra", "dir.", "[", "]", "«", "»", "Nr", "n°", "1/2", "12345678901234567890",  # noqa: E501
]  # fmt: skip
TEXT = st.one_of(
    st.text(max_size=40),
    st.lists(st.sampled_from(PIECES), max_size=14).map(" ".join),
    st.lists(st.sampled_from(PIECES), max_size=14).map("".join),
)
TAGS = st.dictionaries(st.sampled_from(NAMES), st.lists(TEXT, max_size=3), max_size=7)
PATH = st.lists(
    st.sampled_from(
        ["CD 1", "Disc 2", "Ring - CD1", "Album", "Bach", "01 Allegro.flac", "..", "x"]
    ),
    min_size=1,
    max_size=4,
).map("/".join)
FILES = st.lists(st.builds(TaggedFile, PATH, TAGS), max_size=6)
CAREFUL = settings(
    max_examples=150, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)


def _library() -> list[TaggedFile]:
    cases = json.loads((DATA / "tagcases.json").read_text(encoding="utf-8"))
    return [TaggedFile(f"{c['id']}/{f['path']}", f["tags"]) for c in cases for f in c["files"]]


@CAREFUL
@given(FILES)
def test_no_tags_make_identify_raise(files: list[TaggedFile]) -> None:
    identities = identify(files)
    assert len(identities) == len(files)
    for file, identity in zip(files, identities, strict=True):
        assert 0.0 <= identity.confidence <= 1.0
        assert to_json(file.path, identity)["kind"] in ("work", "popular", "unknown")
        assert explain(identity)
        if identity.recording is not None:
            assert identity.work is not None


@CAREFUL
@given(FILES, st.randoms(use_true_random=False))
def test_the_order_of_files_with_paths_of_their_own_changes_nothing(
    files: list[TaggedFile], shuffler: random.Random
) -> None:
    distinct = list({file.path: file for file in files}.values())
    shuffled = list(distinct)
    shuffler.shuffle(shuffled)
    before = {f.path: i for f, i in zip(distinct, identify(distinct), strict=True)}
    after = {f.path: i for f, i in zip(shuffled, identify(shuffled), strict=True)}
    assert before == after


@CAREFUL
@given(TEXT)
def test_any_title_is_read_to_its_end(text: str) -> None:
    assert read_title(text).text == text
    assert read_work(text).title is not None


def test_a_bracketed_form_before_a_movement_is_read() -> None:
    title = "Eine kleine Nachtmusik (Serenade No. 13 in G), K. 525 - 2. Romanze"
    reading = read_work(title)
    assert (reading.number, reading.key) == (13, "G major")
    assert reading.title == "Serenade No. 13"
    file = TaggedFile("a/1.flac", {"TITLE": ["Romanze"], "WORK": [title]})
    assert len(identify([file])) == 1


def test_the_order_of_a_library_changes_nothing() -> None:
    files = _library()
    backwards = list(reversed(files))
    assert identify(files) == list(reversed(identify(backwards)))


def test_each_unit_by_itself_gives_what_all_together_give() -> None:
    files = _library()
    together = dict(zip((f.path for f in files), identify(files), strict=True))
    units: dict[str, list[TaggedFile]] = {}
    for file in files:
        units.setdefault(unit_of(file.path), []).append(file)
    for members in units.values():
        for file, identity in zip(members, identify(members), strict=True):
            assert identity == together[file.path]


def test_a_moved_folder_keeps_its_recording_ids() -> None:
    files = _library()
    moved = [TaggedFile(f"/elsewhere/{f.path}", f.tags) for f in files]
    assert [i.recording for i in identify(files)] == [i.recording for i in identify(moved)]


@pytest.mark.parametrize(
    ("path", "unit"),
    [
        ("/m/Album/01.flac", "/m/Album"),
        ("/m/Album/CD 1/01.flac", "/m/Album"),
        ("/m/Album/Disc 2/01.flac", "/m/Album"),
        ("/m/Ring - CD1/01.flac", "/m/Ring"),
        ("/m/Ring - CD2/01.flac", "/m/Ring"),
        ("/m/Ring (Disc 2)/01.flac", "/m/Ring"),
        ("01.flac", ""),
    ],
)
def test_discs_belong_to_one_unit(path: str, unit: str) -> None:
    assert unit_of(path) == unit


def _work_of(count: int) -> int:
    """How many Python calls identifying a folder of *count* odd files costs, as a measure of time."""  # noqa: E501
    import sys

    files = [
        TaggedFile(
            f"a/{n:05d}.flac",
            {"TITLE": [f"Piece {n}"], "COMPOSER": ["Nobody Known"], "GENRE": ["Classical"]},
        )
        for n in range(count)
    ]
    calls = 0

    def trace(frame: object, event: str, argument: object) -> None:
        nonlocal calls
        calls += 1

    sys.setprofile(trace)
    try:
        identify(files)
    finally:
        sys.setprofile(None)
    return calls


def test_the_cost_of_a_folder_grows_in_proportion_to_it() -> None:
    _work_of(50)
    small, large = _work_of(200), _work_of(800)
    assert large < 4.6 * small


@pytest.mark.parametrize(
    "unit", ["(", "“", "I. ", "Op. ", " - ", "a", "Symphony ", "Bach ", "'", "1", ","]
)
def test_huge_values_are_cut_not_suffered(unit: str) -> None:
    text = unit * (200_000 // len(unit))
    (identity,) = identify(
        [
            TaggedFile(
                "a/b.flac", {"TITLE": [text], "ARTIST": [text], "COMPOSER": [text], "ALBUM": [text]}
            )
        ]
    )
    for value in (
        identity.artist or "",
        identity.album or "",
        identity.work.title if identity.work else "",
    ):
        assert len(value) <= LONGEST_VALUE
