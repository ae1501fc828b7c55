"""One-bit audio, TTA, APE, WMA and MPEG layer II: facts, tags, pictures, hashes, refusals.

mutagen reads the headers of all but layer II as well, so it is the second opinion on them; it also
does the tagging. DSF, DSDIFF and APE files are the tests' own (rare_sources_kit), whose layouts two
decoders take. No encoder of WMA Professional, Lossless or Voice is at hand: their headers are those
of a version 2 file with another registered format tag, and only reading them is tested.
"""

import contextlib
import os
import shutil
import sqlite3
import struct
from collections.abc import Callable
from pathlib import Path
from typing import Any

import mutagen
import numpy as np
import pytest
import soundfile
import xxhash
from hypothesis import given, settings
from hypothesis import strategies as st
from library_kit import DAMAGES, DRAWN, FRAMES, RATE_HZ, HeadDamage, chord, survives
from mutagen.id3 import TALB, TPE1
from rare_sources_kit import (
    DSD64_HZ,
    PICTURE,
    TAGS,
    chunk,
    modulated,
    set_tags,
    tone,
    write_ape,
    write_dff,
    write_dsf,
)

from syncd.errors import ItemProblem
from syncd.library.audiohash import hash_file
from syncd.library.index import LibraryIndex
from syncd.library.scan import scan
from syncd.library.tags import embedded_picture, read_file
from syncd.model import AudioFacts, Codec, LibraryPath

ONE_BIT = 100_000  # no whole number of blocks of 4096 bytes
APE_SAMPLES = 6_000

# container, codec, rate, channels, bits, samples, profile
KNOWN = {
    "a.dsf": ("dsf", Codec.DSD, DSD64_HZ, 2, 1, ONE_BIT, ""),
    "a.dff": ("dff", Codec.DSD, DSD64_HZ, 2, 1, ONE_BIT, ""),
    "a.ape": ("ape", Codec.APE, RATE_HZ, 1, 16, APE_SAMPLES, ""),
    "a.tta": ("tta", Codec.TTA, RATE_HZ, 2, 16, FRAMES, ""),
    "b.tta": ("tta", Codec.TTA, 96000, 2, 24, FRAMES, ""),
    "v1.wma": ("asf", Codec.WMA, RATE_HZ, 2, None, None, "1"),
    "v2.wma": ("asf", Codec.WMA, RATE_HZ, 2, None, None, "2"),
    "a.mp2": ("mp3", Codec.MP2, RATE_HZ, 2, None, None, ""),
}
TAGGED = [name for name in KNOWN if name != "a.mp2"]  # whose tags are an MP3's


@pytest.fixture(scope="session")
def rare(tmp_path_factory: pytest.TempPathFactory, run_ffmpeg: Callable[..., bytes]) -> Path:
    """A folder with one file for each entry of KNOWN. Not to be changed by a test."""
    folder = tmp_path_factory.mktemp("rare")
    one_bit = [modulated(tone(hz, 0.4, ONE_BIT)) for hz in (1000, 1500)]
    write_dsf(folder / "a.dsf", one_bit)
    write_dff(folder / "a.dff", one_bit)
    sound = chord(FRAMES)
    write_ape(folder / "a.ape", np.round(sound[:APE_SAMPLES, 0] * 20000).astype(int).tolist())
    source, high = folder / "source.wav", folder / "high.wav"
    soundfile.write(source, sound, RATE_HZ, subtype="PCM_16")
    soundfile.write(high, sound, 96000, subtype="PCM_24")
    for name, codec in (
        ("a.tta", "tta"),
        ("v1.wma", "wmav1"),
        ("v2.wma", "wmav2"),
        ("a.mp2", "mp2"),
    ):
        run_ffmpeg(
            "-i",
            source,
            "-map_metadata",
            "-1",
            "-fflags",
            "+bitexact",
            "-c:a",
            codec,
            folder / name,
        )
    run_ffmpeg("-i", high, "-c:a", "tta", folder / "b.tta")
    return folder


@pytest.fixture
def take(rare: Path, tmp_path: Path) -> Callable[..., Path]:
    """A copy of one of the files, which the test may change."""

    def copy(name: str, new_name: str | None = None) -> Path:
        return Path(shutil.copyfile(rare / name, tmp_path / (new_name or name)))

    return copy


Take = Callable[..., Path]


def facts(path: Path) -> AudioFacts:
    return read_file(LibraryPath(str(path))).audio


def audio_hash(path: Path) -> str:
    return hash_file(LibraryPath(str(path)), facts(path).container).audio


def refusal(path: Path) -> str:
    with pytest.raises(ItemProblem) as caught:
        read_file(LibraryPath(str(path)))
    assert caught.value.reason.startswith(str(path)) or str(path) in caught.value.reason
    assert caught.value.reason.endswith(".")
    return caught.value.reason


@pytest.mark.parametrize("name", KNOWN)
def test_headers_are_read_exactly(rare: Path, name: str) -> None:
    audio = facts(rare / name)
    container, codec, rate, channels, bits, samples, profile = KNOWN[name]
    assert (audio.container, audio.codec, audio.sample_rate_hz) == (container, codec, rate)
    assert (audio.channels, audio.bits_per_sample, audio.samples) == (channels, bits, samples)
    assert audio.profile == profile
    assert audio.lossless == (bits is not None)
    if samples is not None:
        assert audio.duration_s == samples / rate
    else:  # the encoder rounds up to whole frames of 2048 (WMA) or 1152 samples
        assert audio.duration_s == pytest.approx(FRAMES / RATE_HZ, abs=2 * 2048 / RATE_HZ)


@pytest.mark.parametrize("name", TAGGED)
def test_a_second_reader_finds_the_same_rate_channels_and_length(rare: Path, name: str) -> None:
    audio, other = facts(rare / name), mutagen.File(rare / name).info
    assert other.sample_rate == audio.sample_rate_hz
    if not name.endswith(".tta"):  # it reads no channels there
        assert other.channels == audio.channels
    assert other.length == pytest.approx(audio.duration_s, abs=0.002)


@pytest.mark.parametrize("name", KNOWN)
@pytest.mark.parametrize("suffix", [".flac", ".mpc", ".wav"])
def test_content_decides_whatever_the_name_says(take: Take, name: str, suffix: str) -> None:
    reading = read_file(LibraryPath(str(take(name, f"mislabelled{suffix}"))))
    assert reading.audio.container == KNOWN[name][0]
    assert any("its content is" in note for note in reading.notes)


@pytest.mark.parametrize("name", TAGGED)
def test_tags_and_picture_come_under_vorbis_names(take: Take, name: str) -> None:
    path = take(name)
    assert read_file(LibraryPath(str(path))).art is None
    set_tags(path)
    reading = read_file(LibraryPath(str(path)))
    assert {key: reading.tags[key] for key in TAGS} == {key: (v,) for key, v in TAGS.items()}
    assert (reading.tags["TRACKNUMBER"], reading.tags["TRACKTOTAL"]) == (("3",), ("4",))
    assert reading.art == xxhash.xxh3_128_hexdigest(PICTURE)
    assert embedded_picture(LibraryPath(str(path))) == PICTURE
    assert reading.notes == ()


@pytest.mark.parametrize("name", TAGGED)
def test_retagging_leaves_the_audio_hash_and_the_facts(take: Take, name: str) -> None:
    path = take(name)
    before, known = audio_hash(path), facts(path)
    for title in ("A", "Andante con moto " * 3000, "B"):
        set_tags(path, title)
        assert audio_hash(path) == before
        if name != "a.ape":  # whose bit rate counts the seek table and not the tags, all the same
            assert facts(path) == known
    mutagen.File(path).delete()
    assert audio_hash(path) == before


@pytest.mark.parametrize("name", KNOWN)
def test_one_changed_byte_of_audio_changes_the_audio_hash(take: Take, name: str) -> None:
    path = take(name)
    before = audio_hash(path)
    raw = bytearray(path.read_bytes())
    raw[len(raw) * 2 // 3] ^= 1
    path.write_bytes(raw)
    assert audio_hash(path) != before


@pytest.mark.parametrize("name", TAGGED)
@pytest.mark.parametrize("part", [0.01, 0.5, 0.95])
def test_a_truncated_file_is_refused(take: Take, name: str, part: float) -> None:
    """Layer II states no length, so that a cut cannot be told from a short file there."""
    path = take(name)
    os.truncate(path, int(path.stat().st_size * part))
    reason = refusal(path)
    assert "cut off" in reason or "holds no audio" in reason or "damaged" in reason


@pytest.mark.parametrize("name", ["a.dsf", "a.dff", "a.tta", "a.ape", "v2.wma"])
def test_a_file_that_lacks_one_byte_of_audio_is_refused(take: Take, name: str) -> None:
    path = take(name)
    os.truncate(path, path.stat().st_size - 1)
    assert "cut off" in refusal(path)


def test_one_bit_audio_that_is_compressed_is_refused_with_the_reason(tmp_path: Path) -> None:
    path = write_dff(tmp_path / "a.dff", [modulated(tone(1000, 0.4, 80_000))], coded=b"DST ")
    assert "compressed by DST" in refusal(path)


def test_title_and_artist_of_a_dsdiff_without_id3_are_read(take: Take) -> None:
    path = take("a.dff")
    text = b"".join(
        chunk(kind, struct.pack(">I", len(value)) + value)
        for kind, value in ((b"DITI", b"Andante"), (b"DIAR", b"Trio Marne"))
    )
    raw = path.read_bytes() + chunk(b"DIIN", text)
    path.write_bytes(raw[:4] + struct.pack(">Q", len(raw) - 12) + raw[12:])
    tags = read_file(LibraryPath(str(path))).tags
    assert (tags["TITLE"], tags["ARTIST"]) == (("Andante",), ("Trio Marne",))


def test_a_dsf_whose_tag_is_cut_off_is_read_with_a_note(take: Take) -> None:
    path = take("a.dsf")
    set_tags(path)
    os.truncate(path, path.stat().st_size - 5000)
    reading = read_file(LibraryPath(str(path)))
    assert reading.audio.samples == ONE_BIT
    assert reading.notes


def patched(path: Path, old: bytes, new: bytes) -> Path:
    raw = path.read_bytes()
    assert raw.count(old) == 1
    path.write_bytes(raw.replace(old, new))
    return path


@pytest.mark.parametrize(
    ("tag", "codec", "profile", "bits"),
    [
        (0x0162, Codec.WMA, "pro", None),
        (0x0163, Codec.WMA_LOSSLESS, "", 16),
        (0x000A, Codec.WMA, "voice", None),
    ],
)
def test_other_kinds_of_wma_are_told_by_their_format_tag(
    take: Take, tag: int, codec: Codec, profile: str, bits: int | None
) -> None:
    form = struct.pack("<HHI", 0x0161, 2, RATE_HZ)
    path = patched(take("v2.wma"), form, struct.pack("<H", tag) + form[2:])
    audio = facts(path)
    assert (audio.codec, audio.profile, audio.bits_per_sample) == (codec, profile, bits)


def test_other_sound_in_an_asf_file_is_refused(take: Take) -> None:
    form = struct.pack("<HHI", 0x0161, 2, RATE_HZ)
    path = patched(take("v2.wma"), form, b"\x55\0" + form[2:])
    assert "0x0055" in refusal(path)


@pytest.mark.parametrize(
    "guid",
    [
        "fbb31122 23bd d211 b4b7 00a0c955fc6e",  # Content Encryption Object
        "14e68a29 2226 174c b935 dae07ee9289c",  # Extended Content Encryption Object
    ],
)
def test_encrypted_wma_is_refused_at_sight(take: Take, guid: str) -> None:
    """GUIDs as they stand in a file: ASF specification rev. 01.20 §10.1, from memory."""
    path = take("v2.wma")
    raw = path.read_bytes()
    added = bytes.fromhex(guid) + struct.pack("<Q", 24 + 16) + bytes(16)
    length, count = struct.unpack("<QI", raw[16:28])
    head = raw[:16] + struct.pack("<QI", length + len(added), count + 1) + raw[28:30]
    path.write_bytes(head + added + raw[30:])
    assert "encrypted" in refusal(path)


def test_a_stream_marked_as_encrypted_is_refused(take: Take) -> None:
    path = take("v2.wma")
    raw = bytearray(path.read_bytes())
    at = raw.find(struct.pack("<HHI", 0x0161, 2, RATE_HZ)) - 6
    assert raw[at] == 1 and raw[at + 1] == 0  # stream number 1
    raw[at + 1] |= 0x80
    path.write_bytes(raw)
    assert "encrypted" in refusal(path)


def test_a_tta_under_a_password_is_refused(take: Take) -> None:
    path = take("a.tta")
    raw = path.read_bytes()
    path.write_bytes(b"TTA1\2\0" + raw[6:])
    assert "password" in refusal(path)


def test_an_ape_file_of_a_version_that_ffmpeg_does_not_decode_is_refused(take: Take) -> None:
    path = take("a.ape")
    raw = path.read_bytes()
    path.write_bytes(raw[:4] + struct.pack("<H", 3700) + raw[6:])
    assert "version 3.70" in refusal(path)


@pytest.mark.parametrize(
    ("version", "level", "flags", "blocks", "bits"),
    [
        (3970, 2000, 32, 73728 * 4, 16),
        (3920, 2000, 32 | 8, 73728, 24),
        (3850, 4000, 32, 73728, 16),
        (3850, 2000, 32 | 1, 9216, 8),
    ],
)
def test_the_one_header_of_older_ape_files_is_read(
    tmp_path: Path, version: int, level: int, flags: int, blocks: int, bits: int
) -> None:
    """Synthetic: no encoder of these is at hand. mutagen reads the same length, except where the
    level decides: it compares with 4, the files (and ffmpeg) have 4000.
    """
    path = tmp_path / "old.ape"
    head = struct.pack("<4sHHHHIIIII", b"MAC ", version, level, flags, 2, RATE_HZ, 0, 0, 3, 500)
    path.write_bytes(head + bytes(4 * 3) + bytes(2000))
    audio = facts(path)
    assert (audio.samples, audio.bits_per_sample) == (2 * blocks + 500, bits)
    if level < 4000:
        assert mutagen.File(path).info.length == pytest.approx(audio.duration_s)


@pytest.mark.parametrize(
    ("name", "options", "rate", "bits", "channels", "profile"),
    [
        ("a.m4a", ["-c:a", "alac", "-sample_fmt", "s32p"], 96000, 24, 2, ""),
        ("a.flac", ["-c:a", "flac", "-ar", "384000"], 384000, 24, 2, ""),
        ("b.flac", ["-c:a", "flac", "-ar", "352800"], 352800, 24, 2, ""),
        ("c.flac", ["-c:a", "flac", "-af", "pan=7.1|c0=c0|c7=c1"], 96000, 24, 8, ""),
        ("a.wav", ["-c:a", "pcm_f64le"], 96000, 64, 2, "float"),
        ("b.wav", ["-c:a", "pcm_s32le"], 96000, 32, 2, ""),
        ("c.wav", ["-c:a", "pcm_u8", "-ac", "1"], 96000, 8, 1, ""),
        ("d.wav", ["-c:a", "pcm_s24le", "-af", "pan=7.1|c0=c0|c7=c1"], 96000, 24, 8, ""),
        ("e.wav", ["-c:a", "pcm_s24le", "-ar", "384000"], 384000, 24, 2, ""),
    ],
)
def test_long_words_high_rates_and_many_channels_are_read(
    tmp_path: Path, run_ffmpeg: Callable[..., bytes], name: str, options: list[str],
    rate: int, bits: int, channels: int, profile: str,
) -> None:  # fmt: skip
    source, path = tmp_path / "source.wav", tmp_path / name
    soundfile.write(source, chord(9600), 96000, subtype="PCM_24")
    run_ffmpeg("-i", source, *options, path)
    audio = facts(path)
    assert (audio.sample_rate_hz, audio.bits_per_sample) == (rate, bits)
    assert (audio.channels, audio.profile, audio.lossless) == (channels, profile, True)
    raw = run_ffmpeg("-i", path, "-f", "s16le", "-")
    assert audio.samples == len(raw) // (2 * channels)


def test_channels_of_a_dsdiff_in_an_unknown_order_are_refused(tmp_path: Path) -> None:
    bits = [modulated(tone(1000, 0.4, 16_000))] * 6
    path = write_dff(tmp_path / "a.dff", bits)
    assert facts(path).channels == 6
    patched(path, b"MLFTMRGTC   LFE ", b"C   MLFTMRGTLFE ")
    assert "order" in refusal(path)


def test_a_scan_takes_them_all_into_the_library(rare: Path, tmp_path: Path) -> None:
    root = tmp_path / "music"
    root.mkdir()
    for name in KNOWN:
        shutil.copyfile(rare / name, root / name)
    with LibraryIndex(tmp_path / "library.db") as index:
        index.add_root(root)
        result = scan(index)
        found = {Path(one.track.path).name: one.track.audio for one in index.snapshot().tracks}
    assert (result.new, result.notices) == (len(KNOWN), ())
    assert {name: audio.codec for name, audio in found.items()} == {
        name: known[1] for name, known in KNOWN.items()
    }
    assert found["a.dsf"].samples == ONE_BIT


def test_valid_bits_of_a_wide_word_are_its_bits(tmp_path: Path) -> None:
    """20 valid bits in words of 24 (WAVEFORMATEXTENSIBLE: wValidBitsPerSample, RIFF/WAVE)."""
    path = tmp_path / "a.wav"
    form = struct.pack("<HHIIHHHHIH", 0xFFFE, 2, 48000, 48000 * 6, 6, 24, 22, 20, 3, 1)
    form += bytes.fromhex("000000001000800000aa00389b71")
    body = b"WAVE" + b"fmt " + struct.pack("<I", 40) + form + b"data" + struct.pack("<I", 600)
    path.write_bytes(b"RIFF" + struct.pack("<I", len(body) + 600) + body + bytes(600))
    audio = facts(path)
    assert (audio.bits_per_sample, audio.samples, audio.bitrate_bps) == (20, 100, 48000 * 48)


@settings(DRAWN, max_examples=250)
@given(name=st.sampled_from(sorted(KNOWN)), damage=DAMAGES)
def test_damaged_heads_raise_nothing_but_an_item_problem(
    rare: Path, tmp_path: Path, name: str, damage: HeadDamage
) -> None:
    survives(tmp_path / name, damage.of((rare / name).read_bytes()))


def test_id3_and_apev2_in_one_tta_complete_each_other(take: Take) -> None:
    path = take("a.tta")
    tagged: Any = mutagen.File(path)
    if tagged.tags is None:
        tagged.add_tags()
    tagged.tags.add(TALB(text="Album"))
    tagged.tags.add(TPE1(text="Trio Marne"))
    tagged.save()
    from mutagen.apev2 import APEv2

    ape = APEv2()
    ape["Album"], ape["Composer"] = "Other", "Clara Schumann"
    ape.save(path)
    tags = read_file(LibraryPath(str(path))).tags
    assert (tags["ALBUM"], tags["COMPOSER"]) == (("Album",), ("Clara Schumann",))


def test_what_an_older_version_refused_is_read_again(rare: Path, tmp_path: Path) -> None:
    root, path = tmp_path / "music", tmp_path / "library.db"
    root.mkdir()
    for name in ("a.ape", "a.tta"):
        shutil.copyfile(rare / name, root / name)
    with LibraryIndex(path) as index:
        index.add_root(root)
        scan(index)
    with contextlib.closing(sqlite3.connect(path)) as database, database:
        database.execute(
            "UPDATE files SET reason = 'is not read', track = NULL, file_hash = NULL"
            " WHERE name = CAST('a.ape' AS BLOB)"
        )
        database.execute("PRAGMA user_version = 2")
    with LibraryIndex(path) as index:
        assert len(index.snapshot().tracks) == 1
        scan(index)
        snapshot = index.snapshot()
        assert (len(snapshot.tracks), snapshot.unreadable) == (2, ())
        assert scan(index).read == 0
