"""What headers tell a small decoder: blocks and frames of FLAC, free format, rates that vary.

Written by second encoders (Debian's flac and lame) where those can do what ffmpeg cannot. FLAC:
RFC 9639 section 8.2. MP3 headers: ISO/IEC 11172-3 2.4.2.3. AAC object types: ISO/IEC 14496-3.
"""

import shutil
import subprocess
from pathlib import Path

import mutagen
import numpy as np
import pytest
import soundfile

from syncd.errors import ItemProblem
from syncd.library.tags import read_file
from syncd.model import AudioFacts, LibraryPath
from syncd.transcoder.ffmpeg_port import find_ffmpeg


def facts(path: Path) -> AudioFacts:
    return read_file(LibraryPath(str(path))).audio


def need(program: str, package: str) -> str:
    found = shutil.which(program)
    if found is None:
        pytest.skip(f"{program} is not here; it comes in Debian's package {package}")
    return found


@pytest.fixture(scope="module")
def wav(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two seconds: a quiet chord, then noise, so that a variable rate has cause to vary."""
    path = tmp_path_factory.mktemp("frames") / "m.wav"
    rng = np.random.default_rng(11)
    t = np.arange(44100) / 44100
    chord = 0.1 * np.sin(2 * np.pi * 220 * t)
    mono = np.concatenate([chord, 0.5 * rng.standard_normal(44100).clip(-1, 1)])
    soundfile.write(path, np.stack([mono, mono[::-1]], axis=1), 44100, subtype="PCM_16")
    return path


def made(source: Path, target: Path, *options: str) -> Path:
    command = [find_ffmpeg(), "-v", "error", "-nostdin", "-y", "-i", str(source)]
    subprocess.run([*command, *options, str(target)], check=True)
    return target


@pytest.mark.parametrize("block", [1152, 4096, 4608])
def test_flac_facts_have_the_block_size_that_the_encoder_was_told(
    block: int, wav: Path, tmp_path: Path
) -> None:
    target = tmp_path / "m.flac"
    flac = [need("flac", "flac"), "-s", "-b", str(block), "-o", str(target), str(wav)]
    subprocess.run(flac, check=True)
    found = facts(target)
    assert (found.block_samples, found.variable) == (block, False)
    listed = subprocess.run(
        [need("metaflac", "flac"), "--show-max-framesize", str(target)],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    assert found.frame_bytes == int(listed.stdout)


def test_flac_in_ogg_tells_its_blocks_too(wav: Path, tmp_path: Path) -> None:
    target = made(wav, tmp_path / "m.oga", "-c:a", "flac", "-frame_size", "2304")
    found = facts(target)
    assert (found.container, found.block_samples, found.variable) == ("ogg", 2304, False)


def test_vorbis_facts_have_the_longer_block(wav: Path, tmp_path: Path) -> None:
    # The encoder's blocks at 44.1 kHz are 256 and 2048 (its common setup).
    found = facts(made(wav, tmp_path / "m.ogg", "-c:a", "libvorbis", "-q:a", "4"))
    assert (found.block_samples, found.variable) == (2048, True)


@pytest.mark.parametrize(("options", "varies"), [(("-vbr", "off"), False), (("-vbr", "on"), True)])
def test_whether_the_rate_of_opus_varies_is_told_by_its_packets(
    options: tuple[str, ...], varies: bool, wav: Path, tmp_path: Path
) -> None:
    target = made(wav, tmp_path / "m.opus", "-c:a", "libopus", "-b:a", "96k", *options)
    assert facts(target).variable is varies
    encoder = [need("opusenc", "opus-tools"), "--quiet", "--bitrate", "96"]
    other = tmp_path / "other.opus"
    mode = "--vbr" if varies else "--hard-cbr"
    subprocess.run([*encoder, mode, str(wav), str(other)], check=True)
    assert facts(other).variable is varies


@pytest.mark.parametrize(
    ("options", "varies"),
    [
        (("-q:a", "4"), True),
        (("-b:a", "128k"), False),
        (("-b:a", "128k", "-write_xing", "0"), False),
        (("-q:a", "4", "-write_xing", "0"), True),
    ],
)
def test_whether_the_rate_of_an_mp3_varies_is_told_with_and_without_an_information_frame(
    options: tuple[str, ...], varies: bool, wav: Path, tmp_path: Path
) -> None:
    assert facts(made(wav, tmp_path / "m.mp3", *options)).variable is varies


def test_an_mp3_of_free_format_is_told_as_such(wav: Path, tmp_path: Path) -> None:
    target = tmp_path / "free.mp3"
    lame = [need("lame", "lame"), "--quiet", "--freeformat", "-b", "400", str(wav), str(target)]
    subprocess.run(lame, check=True)
    with pytest.raises(ItemProblem, match="free format"):
        facts(target)


def test_the_object_type_of_aac_is_told_where_it_shows(wav: Path, tmp_path: Path) -> None:
    assert facts(made(wav, tmp_path / "m.m4a", "-c:a", "aac")).profile == "LC"
    assert facts(made(wav, tmp_path / "m.aac", "-c:a", "aac")).profile == "LC"
    # A core of 22.05 kHz might be one of HE with the band above hidden in it.
    low = facts(made(wav, tmp_path / "low.aac", "-c:a", "aac", "-ar", "22050"))
    assert low.profile == ""


def test_main_profile_is_not_taken_for_lc(wav: Path, tmp_path: Path) -> None:
    path = made(wav, tmp_path / "m.aac", "-c:a", "aac")
    raw = bytearray(path.read_bytes())
    position = 0
    while position + 7 <= len(raw):  # the two profile bits of every ADTS header: 0 is Main
        length = (raw[position + 3] & 3) << 11 | raw[position + 4] << 3 | raw[position + 5] >> 5
        raw[position + 2] &= 0x3F
        position += length
    path.write_bytes(raw)
    assert mutagen.File(path).info.sample_rate == 44100
    assert facts(path).profile == "Main"
