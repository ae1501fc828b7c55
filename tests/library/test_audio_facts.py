"""What the headers say is what decoders deliver."""

import shutil
import struct
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
import soundfile
from library_kit import CONTAINERS, ENCODERS, FRAMES, RATE_HZ, chord
from mutagen.mp3 import MP3

from syncd.library.mpeg import frame_header
from syncd.library.tagblocks import synchsafe
from syncd.library.tags import read_file
from syncd.model import Codec, LibraryPath


def facts(path: Path):
    return read_file(LibraryPath(str(path))).audio


def decoded_frames(run_ffmpeg: Callable[..., bytes], path: Path, rate_hz: int) -> int:
    raw = run_ffmpeg("-i", path, "-f", "s16le", "-ac", "2", "-ar", str(rate_hz), "-")
    return len(raw) // 4


@pytest.mark.parametrize("name", ENCODERS)
def test_container_rate_and_channels_are_read_in_every_format(masters: Path, name: str) -> None:
    audio = facts(masters / name)
    assert audio.container == CONTAINERS[Path(name).suffix]
    # RFC 7845 §5.1: Opus decodes at 48 kHz whatever the source was
    assert audio.sample_rate_hz == (48000 if name == "a.opus" else RATE_HZ)
    assert audio.channels == 2
    assert audio.duration_s == pytest.approx(FRAMES / RATE_HZ, abs=0.07 if "aac" in name else 1e-4)


@pytest.mark.parametrize("name", [name for name in ENCODERS if name not in ("a.aac", "a.ogg")])
def test_the_sample_count_is_what_ffmpeg_decodes(
    masters: Path, name: str, run_ffmpeg: Callable[..., bytes]
) -> None:
    audio = facts(masters / name)
    assert audio.samples == decoded_frames(run_ffmpeg, masters / name, audio.sample_rate_hz)


def test_a_stream_of_adts_frames_has_no_exact_count(masters: Path) -> None:
    assert facts(masters / "a.aac").samples is None


@pytest.mark.parametrize("name", ["a.flac", "a24.flac", "a.ogg", "a.wav", "float.wav", "a.aiff"])
def test_the_sample_count_is_what_libsndfile_decodes(masters: Path, name: str) -> None:
    samples, rate_hz = soundfile.read(masters / name)
    assert (facts(masters / name).samples, rate_hz) == (len(samples), RATE_HZ)


@pytest.mark.parametrize(
    ("name", "codec", "bits", "profile"),
    [
        ("a.flac", Codec.FLAC, 16, ""),
        ("a24.flac", Codec.FLAC, 24, ""),
        ("a.mp3", Codec.MP3, None, ""),
        ("aac.m4a", Codec.AAC, None, "LC"),
        ("alac.m4a", Codec.ALAC, 16, ""),
        ("a.ogg", Codec.VORBIS, None, ""),
        ("a.opus", Codec.OPUS, None, ""),
        ("flac.oga", Codec.FLAC, 16, ""),
        ("a.wav", Codec.PCM, 16, ""),
        ("float.wav", Codec.PCM, 32, "float"),
        ("a.aiff", Codec.PCM, 16, ""),
        ("a.wv", Codec.WAVPACK, 16, ""),
    ],
)
def test_codec_bits_and_profile_are_read(
    masters: Path, name: str, codec: Codec, bits: int | None, profile: str
) -> None:
    audio = facts(masters / name)
    assert (audio.codec, audio.bits_per_sample, audio.profile) == (codec, bits, profile)


@pytest.mark.parametrize("frames", [1000, 57600, 132300])
def test_mp3_from_ffmpeg_counts_exactly_where_mutagen_does_not(
    tmp_path: Path, run_ffmpeg: Callable[..., bytes], frames: int
) -> None:
    """mutagen counts whole frames for an encoder string 'Lavc' (measured with 1.48)."""
    source, target = tmp_path / "s.wav", tmp_path / "s.mp3"
    soundfile.write(source, chord(frames), RATE_HZ, subtype="PCM_16")
    run_ffmpeg("-i", source, "-c:a", "libmp3lame", target)
    audio = facts(target)
    assert audio.samples == frames
    assert audio.duration_s == pytest.approx(frames / RATE_HZ)
    assert round(MP3(target).info.length * RATE_HZ) % 1152 == 0 != frames % 1152 or frames == 57600


@pytest.mark.skipif(shutil.which("lame") is None, reason="needs Debian's lame")
def test_mp3_from_lame_counts_exactly(tmp_path: Path) -> None:
    source, target = tmp_path / "s.wav", tmp_path / "s.mp3"
    soundfile.write(source, chord(57601), RATE_HZ, subtype="PCM_16")
    subprocess.run(["lame", "--quiet", source, target], check=True)
    assert facts(target).samples == 57601


def test_opus_length_is_the_source_at_48_khz(
    tmp_path: Path, run_ffmpeg: Callable[..., bytes]
) -> None:
    """RFC 7845 §4.3: PCM position = granule - pre-skip; 57601 at 44.1 kHz is 62695 at 48 kHz."""
    source, target = tmp_path / "s.wav", tmp_path / "s.opus"
    soundfile.write(source, chord(57601), RATE_HZ, subtype="PCM_16")
    run_ffmpeg("-i", source, "-c:a", "libopus", target)
    assert facts(target).samples == 62695


def test_streaminfo_is_read_as_the_standard_lays_it_out(masters: Path) -> None:
    """RFC 9639 §8.2: rate u20, channels-1 u3, bits-1 u5, total u36 from byte 10 of the block."""
    raw = (masters / "a24.flac").read_bytes()
    packed = int.from_bytes(raw[18:26], "big")
    audio = facts(masters / "a24.flac")
    assert audio.sample_rate_hz == packed >> 44
    assert audio.bits_per_sample == (packed >> 36 & 31) + 1
    assert audio.samples == packed & 0xFFFFFFFFF


@pytest.mark.parametrize(
    ("kbps", "rate_hz", "lengths"),
    [
        (128, 44100, {417, 418}),
        (160, 44100, {522, 523}),
        (192, 44100, {626, 627}),
        (320, 44100, {1044, 1045}),
        (32, 48000, {96}),
        (320, 48000, {960}),
        (160, 32000, {720}),
    ],
)
def test_frame_lengths_follow_the_standard(kbps: int, rate_hz: int, lengths: set[int]) -> None:
    """ISO/IEC 11172-3 §2.4.3.1: floor(144 * bitrate / rate) + pad; rate tables from memory."""
    kilobits = (0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320)
    rates = (44100, 48000, 32000)
    found = set()
    for pad in (0, 1) if rate_hz == 44100 else (0,):
        third = kilobits.index(kbps) << 4 | rates.index(rate_hz) << 2 | pad << 1
        header = frame_header(bytes([0xFF, 0xFB, third, 0x44]))
        assert header is not None
        assert (header.samples, header.channels, header.layer) == (1152, 2, 3)
        found.add(header.length)
    assert found == lengths


@pytest.mark.parametrize(
    ("number", "raw"),
    [
        (127, "0000007F"), (128, "00000100"), (255, "0000017F"), (256, "00000200"),
        (257, "00000201"), (16384, "00010000"), (2**28 - 1, "7F7F7F7F"),
    ],
)  # fmt: skip
def test_synchsafe_integers_follow_the_standard(number: int, raw: str) -> None:
    """ID3v2.4.0 main structure §6.2."""
    assert synchsafe(bytes.fromhex(raw)) == number


def test_a_wav_whose_size_was_never_filled_in_is_read_to_its_end(copy_of) -> None:
    """What a program leaves that writes WAV into a pipe: the size field is all ones."""
    path = copy_of("a.wav")
    raw = bytearray(path.read_bytes())
    at = raw.index(b"data") + 4
    raw[at : at + 4] = struct.pack("<I", 0xFFFFFFFF)
    path.write_bytes(raw)
    assert facts(path).samples == FRAMES


def test_a_wide_wav_counts_by_its_64_bit_size(
    masters: Path, tmp_path: Path, run_ffmpeg: Callable[..., bytes]
) -> None:
    """EBU Tech 3306: RF64 with ds64."""
    target = tmp_path / "wide.wav"
    run_ffmpeg("-i", masters / "a.wav", "-rf64", "always", target)
    assert target.read_bytes()[:4] == b"RF64"
    assert facts(target).samples == FRAMES


def test_an_mp4_text_with_the_sample_count_is_believed_over_the_edit_list(copy_of) -> None:
    """De facto form, from memory: zero, delay, padding, then 16 hexadecimal digits of samples."""
    from mutagen.mp4 import MP4

    path = copy_of("aac.m4a")
    tagged = MP4(path)
    text = f" 00000000 00000400 000000B8 {FRAMES - 10:016X} 00000000"
    tagged["----:com.example:GAPLESS"] = text.encode()
    tagged.save()
    reading = read_file(LibraryPath(str(path)))
    assert reading.audio.samples == FRAMES - 10
    assert "GAPLESS" not in reading.tags
