"""A cue sheet is read as its manual has it, and whatever else is in it is told and left.

Commands, INDEX as mm:ss:ff with 75 frames a second and FLAGS: GNU ccd2cue manual. 588 samples a
frame at 44.1 kHz: RFC 9639 section 8.7. REM fields, SCMS and the loose forms: common practice.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncd.library.cuesheet import parse_sheet, samples_at, sheet_text

PLAIN = """\
REM GENRE Classical
REM DATE 1987
REM COMPOSER "Clara Schumann"
REM DISCNUMBER 2
REM a remark of no meaning
CATALOG 4006381333931
PERFORMER "Quirin Ostrowald"
TITLE "Trio and Songs"
FILE "Trio and Songs.wav" WAVE
  TRACK 01 AUDIO
    TITLE "Piano Trio: I. "Allegro" moderato"
    SONGWRITER "C. Schumann"
    ISRC DEZZZ8700001
    FLAGS PRE DCP
    INDEX 00 00:00:00
    INDEX 01 00:00:33
    INDEX 02 01:10:00
  TRACK 02 AUDIO
    TITLE Scherzo
    PERFORMER "Ilse Torvald"
    PREGAP 00:02:00
    POSTGAP 00:00:10
    INDEX 01 09:59:74
"""


def test_a_plain_sheet_is_read_whole() -> None:
    sheet = parse_sheet(PLAIN)
    assert sheet.notes == ()
    assert sheet.fields == {
        "GENRE": "Classical", "DATE": "1987", "COMPOSER": "Clara Schumann", "DISCNUMBER": "2",
        "CATALOG": "4006381333931", "PERFORMER": "Quirin Ostrowald", "TITLE": "Trio and Songs",
    }  # fmt: skip
    (file,) = sheet.files
    assert (file.name, file.kind) == ("Trio and Songs.wav", "WAVE")
    first, second = file.tracks
    assert (first.number, first.start, first.index_00) == (1, 33, 0)
    assert first.flags == {"PRE", "DCP"}
    # there is no escape for quotes: those inside stay
    assert first.fields["TITLE"] == 'Piano Trio: I. "Allegro" moderato'
    assert (first.fields["SONGWRITER"], first.fields["ISRC"]) == ("C. Schumann", "DEZZZ8700001")
    assert (second.start, second.pregap, second.postgap) == ((9 * 60 + 59) * 75 + 74, 150, 10)
    assert second.fields == {"TITLE": "Scherzo", "PERFORMER": "Ilse Torvald"}


@pytest.mark.parametrize("end", ["\r\n", "\r", "\n", "\n\n"])
def test_line_ends_tabs_and_small_letters_make_no_difference(end: str) -> None:
    loose = PLAIN.replace("    ", "\t").replace("TRACK", "track").replace("INDEX 01", "index 01")
    assert parse_sheet(loose.replace("\n", end)) == parse_sheet(PLAIN)


# (time, frames, samples at 44.1 kHz): 60 x 75 frames a minute, 588 samples a frame
@pytest.mark.parametrize(
    ("time", "frames", "samples"),
    [
        ("00:02:00", 150, 88_200), ("03:23:54", 15_279, 8_984_052),
        ("74:59:74", 337_499, 198_449_412), ("120:00:00", 540_000, 317_520_000),
    ],
)  # fmt: skip
def test_a_place_is_588_samples_a_frame(time: str, frames: int, samples: int) -> None:
    sheet = parse_sheet(f'FILE "a.wav" WAVE\nTRACK 01 AUDIO\nINDEX 01 {time}\n')
    assert sheet.files[0].tracks[0].start == frames
    assert samples_at(frames, 44_100) == samples


@given(st.integers(0, 10**6), st.integers(1, 400_000))
def test_a_place_at_any_rate_is_the_nearest_sample(frames: int, rate: int) -> None:
    assert abs(75 * samples_at(frames, rate) - frames * rate) * 2 <= 75


@pytest.mark.parametrize("time", ["00:60:00", "00:00:75", "1:2", "-1:00:00", "aa:bb:cc", ""])
def test_a_time_that_cannot_be_is_told_with_its_line(time: str) -> None:
    sheet = parse_sheet(f'FILE "a.wav" WAVE\nTRACK 01 AUDIO\nINDEX 01 {time}\n')
    assert sheet.files[0].tracks == ()
    assert sheet.notes[0].startswith("line 3 has an INDEX that is no time")


def test_tracks_belong_to_the_file_in_which_their_index_01_lies() -> None:
    sheet = parse_sheet(
        'FILE "1.wav" WAVE\nTRACK 01 AUDIO\nINDEX 01 00:00:00\n'
        'TRACK 02 AUDIO\nINDEX 00 03:00:00\nFILE "2.wav" WAVE\nINDEX 01 00:00:00\n'
    )
    assert [[track.number for track in file.tracks] for file in sheet.files] == [[1], [2]]
    assert sheet.files[1].tracks[0].index_00 is None


@pytest.mark.parametrize(
    ("line", "name", "kind"),
    [
        ('FILE "a b.flac" WAVE', "a b.flac", "WAVE"), ("FILE a b.wav WAVE", "a b.wav", "WAVE"),
        ("FILE a.mp3 MP3", "a.mp3", "MP3"), ('FILE "a.bin" BINARY', "a.bin", "BINARY"),
        ('file "the "best" of.wav" wave', 'the "best" of.wav', "WAVE"),
        ('FILE "a.aiff"', "a.aiff", ""),
    ],
)  # fmt: skip
def test_a_file_line_gives_name_and_type(line: str, name: str, kind: str) -> None:
    (file,) = parse_sheet(line).files
    assert (file.name, file.kind) == (name, kind)


def test_a_data_track_is_told_and_marked() -> None:
    sheet = parse_sheet(
        'FILE "a.bin" BINARY\nTRACK 01 MODE1/2352\nINDEX 01 00:00:00\n'
        "TRACK 02 AUDIO\nINDEX 01 20:00:00\n"
    )
    assert [track.audio for track in sheet.files[0].tracks] == [False, True]
    assert "line 2" in sheet.notes[0]
    assert "not audio" in sheet.notes[0]


def test_lines_that_mean_nothing_are_told_with_their_numbers() -> None:
    sheet = parse_sheet("nonsense\nINDEX 01 00:00:00\nFILE a.wav WAVE\n\nTRAC 01 AUDIO\n")
    assert [note.split(" ")[1] for note in sheet.notes] == ["1", "2", "5"]


def test_a_sheet_of_nonsense_tells_of_it_in_few_words() -> None:
    sheet = parse_sheet("x" * 100_000 + "\n" + "garbage\n" * 50_000)
    assert len(sheet.notes) == 21
    assert max(map(len, sheet.notes)) < 200


@pytest.mark.parametrize("line", ["TRACK 01 AUDIO\n", 'FILE "a" WAVE\n', "INDEX 01 00:00:00\n"])
def test_a_sheet_of_a_hundred_thousand_commands_is_read_no_further_than_it_can_be(
    line: str,
) -> None:
    sheet = parse_sheet('FILE "a.wav" WAVE\nTRACK 01 AUDIO\n' + line * 100_000)
    assert len(sheet.files) <= 255
    assert sum(len(file.tracks) for file in sheet.files) <= 255


ANY_TEXT = st.text(st.characters(), max_size=300)
SHEET_LIKE = st.text('TRACKINDEXF LEUO0123456789:"\n\t', max_size=300)


@given(ANY_TEXT | SHEET_LIKE)
def test_no_text_makes_reading_fail(text: str) -> None:
    sheet = parse_sheet(text)
    for file in sheet.files:
        assert all(track.start >= 0 for track in file.tracks)


@given(st.binary(max_size=300))
def test_no_bytes_make_decoding_fail(raw: bytes) -> None:
    assert isinstance(sheet_text(raw), str)


WESTERN = 'TITLE "Für Elise – Études, 2ª parte"\nPERFORMER "José Muñoz"\n'


@pytest.mark.parametrize(
    "form", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"]
)
def test_western_text_is_read_in_every_usual_form(form: str) -> None:
    assert sheet_text(WESTERN.encode(form)) == WESTERN


def test_big_endian_utf_16_is_known_by_its_mark() -> None:
    assert sheet_text(b"\xfe\xff" + WESTERN.encode("utf-16-be")) == WESTERN


# The titles are those of well-known works.
@pytest.mark.parametrize(
    ("page", "text"),
    [
        ("cp1251", 'TITLE "Щелкунчик: Вальс цветов"\nTITLE "Анданте кантабиле"\n'),
        ("koi8_r", 'TITLE "Щелкунчик: Вальс цветов"\nTITLE "Анданте кантабиле"\n'),
        ("cp1250", 'TITLE "Měsíčku na nebi hlubokém"\nTITLE "Příliš žluťoučký kůň úpěl"\n'),
        ("cp1250", 'PERFORMER "Antonín Dvořák"\n'), ("cp1250", 'TITLE "Janáček: Glagolská mše"\n'),
        ("cp1250", 'TITLE "Lutosławski"\n'), ("cp1252", 'TITLE "Nørgård: Ø – più è più"\n'),
        ("cp932", 'TITLE "交響曲第5番 運命"\nTITLE "アダージョ・カンタービレ"\n'),
        ("gb18030", 'TITLE "第五交响曲 命运"\nTITLE "二泉映月"\n'),
    ],
)  # fmt: skip
def test_other_code_pages_are_recognised_by_their_letters(page: str, text: str) -> None:
    assert sheet_text(text.encode(page)) == text
