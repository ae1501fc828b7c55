"""The info frame of MP3 files: delay, padding and CRC-16 against figures measured elsewhere."""

from pathlib import Path

import pytest
from transcoder_kit import ffmpeg_encode, master, music

from syncd.transcoder import mp3_info


def encoded(tmp_path: Path, samples: int, *options: str, rate: int = 44100) -> Path:
    master(tmp_path / "m.wav", music(samples, rate=rate), rate)
    bare = ("-map_metadata", "-1", "-id3v2_version", "0", "-write_id3v1", "0")
    return ffmpeg_encode(tmp_path / "m.wav", tmp_path / "m.mp3", *bare, *options)


# LAME 3.100: F = ceil((N + 1152) / 1152), padding = 1152 F - 576 - N (measured with it).
@pytest.mark.parametrize(
    ("samples", "frames", "padding"), [(57600, 51, 576), (132300, 116, 756), (588000, 512, 1248)]
)
def test_frames_delay_and_padding_are_those_of_the_reference_encoder(
    samples: int, frames: int, padding: int, tmp_path: Path
) -> None:
    info = mp3_info.read_info_frame(encoded(tmp_path, samples).read_bytes()[:4096])
    assert info is not None
    assert (info.frames, info.delay, info.padding) == (frames, 576, padding)
    assert info.samples == samples


def test_a_capped_padding_is_mended_to_the_reference_encoders_value(tmp_path: Path) -> None:
    path = encoded(tmp_path, 57601)
    before = mp3_info.read_info_frame(path.read_bytes()[:4096])
    assert before is not None
    assert before.padding == 1681  # as written: 46 samples too many would be heard
    assert mp3_info.mend(path, 57601)
    after = mp3_info.read_info_frame(path.read_bytes()[:4096])
    assert after is not None
    assert after.padding == 1727  # LAME 3.100 for N = 57601 (measured with it)
    assert after.samples == 57601
    assert not mp3_info.mend(path, 57601)


def test_what_stands_before_the_music_counts_as_delay(tmp_path: Path) -> None:
    path = encoded(tmp_path, 57_600)
    assert mp3_info.mend(path, 57_600 - 576 - 300, ahead=576)
    info = mp3_info.read_info_frame(path.read_bytes()[:4096])
    assert info is not None
    assert (info.delay, info.padding, info.samples) == (1152, 876, 56_724)


@pytest.mark.parametrize("options", [("-q:a", "2"), ("-b:a", "128k")])
def test_the_crc_is_the_one_that_the_muxer_writes_for_stereo(
    options: tuple[str, ...], tmp_path: Path
) -> None:
    frame = encoded(tmp_path, 23_040, *options).read_bytes()[:4096]
    info = mp3_info.read_info_frame(frame)
    assert info is not None
    # Rewriting the padding that is there must give back the very bytes, CRC included.
    assert mp3_info.with_padding(frame, info, info.padding) == frame
    assert mp3_info.with_padding(frame, info, info.padding + 1) != frame


# Side information: 32 bytes, mono 17, and 17 and 9 for MPEG-2 (ISO/IEC 11172-3, 13818-3; memory).
@pytest.mark.parametrize(
    ("rate", "channels", "side"), [(44100, "2", 32), (44100, "1", 17), (22050, "2", 17),
                                   (22050, "1", 9)]
)  # fmt: skip
def test_the_mended_crc_covers_all_bytes_before_it(
    rate: int, channels: str, side: int, tmp_path: Path
) -> None:
    path = encoded(tmp_path, 20 * 1152 + 5, "-q:a", "2", "-ac", channels, rate=rate)
    mp3_info.mend(path, 20 * 1152 + 5)
    data = path.read_bytes()
    at = 4 + side + 154
    assert int.from_bytes(data[at : at + 2], "big") == mp3_info.crc16(data[:at])


def test_crc16_has_the_published_check_value() -> None:
    # CRC-16/ARC (reflected 0x8005 = 0xA001, start 0): check value of "123456789" is 0xBB3D.
    assert mp3_info.crc16(b"123456789") == 0xBB3D


@pytest.mark.parametrize(
    "data", [b"", b"\xff\xfb", b"\xff\xfb\x90\x00" + b"\0" * 200, b"RIFF" * 90]
)
def test_what_is_no_info_frame_is_left_alone(data: bytes, tmp_path: Path) -> None:
    assert mp3_info.read_info_frame(data) is None
    path = tmp_path / "x.mp3"
    path.write_bytes(data)
    assert not mp3_info.mend(path, 1000)
    assert path.read_bytes() == data
