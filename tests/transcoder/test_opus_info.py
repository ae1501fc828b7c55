"""Pre-skip and end of Opus files: RFC 7845 sections 4 and 5.1; pages, CRC: RFC 3533 section 6."""

from pathlib import Path

import pytest
from transcoder_kit import decode, ffmpeg_encode, master, music

from syncd.transcoder import opus_info


def encoded(tmp_path: Path, samples: int) -> Path:
    master(tmp_path / "m.wav", music(samples, rate=48000), 48000)
    return ffmpeg_encode(tmp_path / "m.wav", tmp_path / "m.opus", "-c:a", "libopus")


def pages(data: bytes) -> list[bytes]:
    found, at = [], 0
    while at < len(data):
        lacing = data[at + 27 : at + 27 + data[at + 26]]
        end = at + 27 + len(lacing) + sum(lacing)
        found.append(data[at:end])
        at = end
    return found


def test_the_crc_is_the_one_that_the_muxer_writes(tmp_path: Path) -> None:
    for page in pages(encoded(tmp_path, 60_000).read_bytes()):
        assert opus_info.with_crc(page) == page


# 312 + 48000 fills 51 packets of 960 but for 648 samples; 312 + 77160 + 288 fills 81.
@pytest.mark.parametrize("samples", [48_000 + 648, 77_448])
def test_players_leave_out_what_is_told_at_both_ends(samples: int, tmp_path: Path) -> None:
    path = encoded(tmp_path, samples)
    whole, _ = decode(path)
    assert opus_info.mend(path, 700, 500)
    inner, _ = decode(path)
    assert len(inner) == samples - 1200
    # Opus converges: what is left out is decoded all the same (RFC 7845 section 4.2).
    assert abs(inner - whole[700:-500]).max() < 1e-6
    head = pages(path.read_bytes())[0]
    assert int.from_bytes(head[28 + 10 : 28 + 12], "little") == 312 + 700


def test_what_would_end_before_its_last_page_is_left_as_it_was(tmp_path: Path) -> None:
    path = encoded(tmp_path, 48_000 + 648)
    before = path.read_bytes()
    assert not opus_info.mend(path, 700, 60_000)
    assert path.read_bytes() == before


@pytest.mark.parametrize("data", [b"", b"OggS", bytes(4000), b"OggS" + bytes(200) + b"OpusHead"])
def test_what_is_no_opus_file_is_left_alone(data: bytes, tmp_path: Path) -> None:
    path = tmp_path / "a.opus"
    path.write_bytes(data)
    assert not opus_info.mend(path, 1, 1)
    assert path.read_bytes() == data
