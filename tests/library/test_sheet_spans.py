"""Which sheet divides which file, where, and what tags the spans get."""

from dataclasses import replace
from typing import Any

import pytest

from syncd.library.cuesheet import BlockTrack, EmbeddedSheet
from syncd.library.sheetspans import SheetableFile, SpanReading, derived_hash, divide
from syncd.model import AudioFacts, AudioHash, Codec

RATE = 44100
MINUTE = RATE * 60


def facts(minutes: int = 10, **changes: Any) -> AudioFacts:
    audio = AudioFacts(
        "flac", Codec.FLAC, RATE, 2, minutes * 60.0, 16, 700_000, minutes * MINUTE
    )  # fmt: skip
    return replace(audio, **changes)


def music(name: str, sheet: EmbeddedSheet | None = None, **tags: str) -> SheetableFile:
    values = {key: (value,) for key, value in tags.items()}
    return SheetableFile(name, facts(), AudioHash("ab" * 16), values, sheet or EmbeddedSheet())


def sheet(file: str, *starts: str, disc: str = "", track: str = "") -> str:
    lines = [disc, f'FILE "{file}" WAVE']
    for number, start in enumerate(starts, 1):
        lines += [f"TRACK {number:02} AUDIO", f'TITLE "Song {number}"', track, f"INDEX 01 {start}"]
    return "\n".join(lines)


def only(files: list[SheetableFile], *sheets: tuple[str, str]) -> tuple[SpanReading, ...]:
    (found,) = divide(files, sheets).spans.values()
    return found


def places(spans: tuple[SpanReading, ...]) -> list[tuple[int, int | None]]:
    return [(each.span.start, each.span.length) for each in spans]


THREE = ("00:00:00", "03:00:00", "07:30:37")
THREE_PLACES = [
    (0, 3 * MINUTE),
    (3 * MINUTE, MINUTE * 9 // 2 + 37 * 588),
    (MINUTE * 15 // 2 + 37 * 588, MINUTE * 5 // 2 - 37 * 588),
]


@pytest.mark.parametrize(
    "wanted",
    ["Album.flac", "album.FLAC", "ALBUM.WAV", "album.ape", "..\\..\\x\\Album.wav",
     "/etc/Album.flac", "C:\\rips\\Album.wav", "../Album.flac", "Other name.wav"],
)  # fmt: skip
def test_a_sheet_means_the_file_of_its_own_folder(wanted: str) -> None:
    # the last one by the sheet's own name, since there is one FILE line only
    assert places(only([music("Album.flac")], ("Album.cue", sheet(wanted, *THREE)))) == THREE_PLACES


@pytest.mark.parametrize("wanted", ["../secret.flac", "/etc/passwd", "other.flac", ".."])
def test_a_sheet_for_a_file_that_is_not_there_divides_nothing_and_says_so(wanted: str) -> None:
    made = divide([music("Album.flac")], [("Disc.cue", sheet(wanted, *THREE))])
    assert made.spans == {}
    assert "is not in its folder" in made.notes["Disc.cue"][0]


def test_a_sheet_of_split_files_divides_nothing() -> None:
    files = [music("1.flac"), music("2.flac")]
    text = sheet("1.flac", "00:00:00") + "\nTRACK 02 AUDIO\nINDEX 00 09:58:00\n"
    text += 'FILE "2.flac" WAVE\nINDEX 01 00:00:00\n'
    made = divide(files, [("Album.cue", text)])
    assert (made.spans, made.notes) == ({}, {})


def test_two_files_of_one_sheet_are_divided_each_by_its_own_tracks() -> None:
    text = (
        'FILE "A.wav" WAVE\nTRACK 01 AUDIO\nINDEX 01 00:00:00\nTRACK 02 AUDIO\nINDEX 01 04:00:00\n'
        'FILE "B.wav" WAVE\nTRACK 03 AUDIO\nINDEX 01 00:00:00\nTRACK 04 AUDIO\nINDEX 01 05:00:00\n'
    )
    made = divide([music("A.flac"), music("B.flac")], [("Album.cue", text)])
    assert {name: [each.span.number for each in spans] for name, spans in made.spans.items()} == {
        "A.flac": [1, 2], "B.flac": [3, 4],
    }  # fmt: skip


def test_a_gap_stays_with_the_track_before_it() -> None:
    text = sheet("A.flac", "00:00:00", "03:00:00").replace(
        "INDEX 01 03:00:00", "INDEX 00 02:58:00\nINDEX 01 03:00:00"
    )
    assert places(only([music("A.flac")], ("A.cue", text)))[0] == (0, 3 * MINUTE)


def test_silence_before_the_first_track_belongs_to_none() -> None:
    spans = only([music("A.flac")], ("A.cue", sheet("A.flac", "00:00:33", "03:00:00")))
    assert [each.span.number for each in spans] == [1, 2]
    assert spans[0].span.start == 33 * 588


def test_a_long_stretch_before_the_first_track_is_track_0_and_told() -> None:
    made = divide([music("A.flac")], [("A.cue", sheet("A.flac", "00:30:00", "03:00:00"))])
    spans = made.spans["A.flac"]
    assert [each.span.number for each in spans] == [0, 1, 2]
    assert places(spans)[0] == (0, RATE * 30)
    assert "30 s of audio" in made.notes["A.flac"][0]


def test_a_data_track_ends_the_track_before_and_is_none_itself() -> None:
    text = sheet("A.flac", *THREE).replace("TRACK 03 AUDIO", "TRACK 03 MODE2/2352")
    assert places(only([music("A.flac")], ("A.cue", text))) == THREE_PLACES[:2]


@pytest.mark.parametrize(
    ("starts", "words"),
    [
        (("00:00:00", "11:00:00"), "is 600.00 s long"),
        (("00:00:00", "05:00:00", "05:00:00"), "begin after"),
    ],
)
def test_a_sheet_that_does_not_fit_the_file_is_left_and_told(
    starts: tuple[str, ...], words: str
) -> None:
    made = divide([music("A.flac")], [("A.cue", sheet("A.flac", *starts))])
    assert made.spans == {}
    assert words in made.notes["A.flac"][0]


def test_the_end_of_a_file_of_unknown_length_stays_open() -> None:
    file = replace(music("A.flac"), audio=facts(samples=None))
    last = only([file], ("A.cue", sheet("A.flac", *THREE)))[-1]
    assert (last.span.length, last.audio.samples) == (None, None)
    assert last.audio.duration_s == pytest.approx(150 - 37 / 75)


def test_the_sheet_beside_wins_over_the_tag_and_the_tag_over_the_block() -> None:
    block = tuple(BlockTrack(n + 1, n * MINUTE) for n in range(4))
    tag = sheet("x.wav", "00:00:00", "05:00:00")
    beside = ("A.cue", sheet("A.flac", *THREE))
    all_three = divide([music("A.flac", EmbeddedSheet(tag, block))], [beside])
    assert places(all_three.spans["A.flac"]) == THREE_PLACES
    assert len(all_three.notes["A.flac"]) == 2  # both others are told to differ
    assert len(only([music("A.flac", EmbeddedSheet(tag, block))])) == 2
    assert len(only([music("A.flac", EmbeddedSheet("", block))])) == 4


def test_sheets_that_agree_are_not_told_of_and_share_their_flags() -> None:
    block = (BlockTrack(1, 0, emphasis=True), BlockTrack(2, 3 * MINUTE))
    file = music("A.flac", EmbeddedSheet("", block))
    made = divide([file], [("A.cue", sheet("A.flac", "00:00:00", "03:00:00"))])
    assert made.notes == {}
    assert [each.emphasis for each in made.spans["A.flac"]] == [True, False]


def test_the_tags_of_a_span_are_the_files_under_the_sheets() -> None:
    file = music(
        "A.flac", TITLE="The whole album", TRACKNUMBER="1", ALBUM="Old name", LABEL="Fjordlyd",
        CONDUCTOR="Ida Holm", COMPOSER="Somebody Else", COMPOSERSORT="Else, Somebody",
    )  # fmt: skip
    disc = 'TITLE "Quartets"\nPERFORMER "Lowlands Quartet"\nREM DATE 1994\nCATALOG 4006381333931'
    spans = only(
        [file], ("A.cue", sheet("A.flac", *THREE, disc=disc, track='SONGWRITER "Clara Schumann"'))
    )
    assert spans[1].tags == {
        "TITLE": ("Song 2",), "TRACKNUMBER": ("2",), "TRACKTOTAL": ("3",), "ALBUM": ("Quartets",),
        "ARTIST": ("Lowlands Quartet",), "ALBUMARTIST": ("Lowlands Quartet",), "DATE": ("1994",),
        "LABEL": ("Fjordlyd",), "CONDUCTOR": ("Ida Holm",), "COMPOSER": ("Clara Schumann",),
        "BARCODE": ("4006381333931",),
    }  # fmt: skip


def test_a_flagged_file_of_one_track_is_a_span_of_all_of_it() -> None:
    flagged = sheet("A.flac", "00:00:00", track="FLAGS PRE")
    (span,) = only([music("A.flac")], ("A.cue", flagged))
    assert (span.span.start, span.span.length, span.emphasis) == (0, 10 * MINUTE, True)


def test_the_hash_of_a_span_follows_the_audio_and_the_place_alone() -> None:
    first = only([music("A.flac")], ("A.cue", sheet("A.flac", *THREE)))
    renamed = only([music("B.flac", ALBUM="x")], ("B.cue", sheet("B.flac", *THREE)))
    assert [each.audio_hash for each in first] == [each.audio_hash for each in renamed]
    assert len({each.audio_hash for each in first}) == 3
    other = only([music("A.flac")], ("A.cue", sheet("A.flac", "00:00:00", "03:00:01", THREE[2])))
    same = [a.audio_hash == b.audio_hash for a, b in zip(first, other, strict=True)]
    assert same == [False, False, True]
    assert derived_hash(AudioHash("x"), 0, 1) != derived_hash(AudioHash("y"), 0, 1)


@pytest.mark.parametrize("numbers", [(1, 1), (0, 1)])
def test_a_block_with_numbers_that_cannot_be_is_left(numbers: tuple[int, int]) -> None:
    block = tuple(BlockTrack(number, n * MINUTE) for n, number in enumerate(numbers))
    made = divide([music("A.flac", EmbeddedSheet("", block))], [])
    assert made.spans == {}
    assert "number" in made.notes["A.flac"][0]
