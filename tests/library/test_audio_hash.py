"""The audio hash: the same whatever is done to the tags, another when the audio is another."""

import io
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import mutagen
import numpy as np
import pytest
import soundfile
import xxhash
from library_kit import CONTAINERS, ENCODERS, RATE_HZ, chord
from mutagen.apev2 import APEv2
from mutagen.flac import Picture
from mutagen.id3 import APIC, ID3, TIT2
from mutagen.mp4 import MP4Cover

from syncd.library import audiohash
from syncd.library.audiohash import hash_file, payload_spans
from syncd.model import LibraryPath

PICTURE = b"\xff\xd8\xff\xe0" + bytes(range(256)) * 300

# xxHash repository, cli/xsum_sanity_check.c: XXH128 with seed 0 over the generated buffer
VECTORS = {
    0: "99AA06D3014798D86001C324468D497F",
    1: "A6CD5E9392000F6AC44BDFF4074EECDB",
    6: "082AFE0B8162D12A3E7039BDDA43CFC6",
    12: "6E3EFD8FC7802B18061A192713F69AD9",
    24: "0CE966E4678D37611E7044D28B1B901D",
    48: "A002AC4E5478227EF942219AED80F67B",
    81: "4952F58181AB00425E8BAFB9F95FB803",
    222: "337E09641B948717F1AEBD597CEC6B3A",
    403: "1B6DE21E332DD73DCDEB804D65C6DEA4",
    512: "18D2D110DCC9BCA1617E49599013CB6B",
    2048: "F736557FD47073A5DD59E2C3A5F038E0",
    2240: "CCB134FBFA7CE49D6E73A90539CF2948",
    2367: "E89C0F6FF369B427CB37AEB9E5D361ED",
}


def sanity_buffer(length: int) -> bytes:
    """The buffer of the published vectors, by its rule: g = P32, bits 56-63 out, g *= P64."""
    generator, out = 2654435761, bytearray()
    for _ in range(length):
        out.append(generator >> 56)
        generator = generator * 11400714785074694797 % 2**64
    return bytes(out)


def hashes(path: Path) -> audiohash.Hashes:
    return hash_file(LibraryPath(str(path)), CONTAINERS[path.suffix])


@pytest.mark.parametrize("length", [length for length in VECTORS if length > 0])
def test_the_file_hash_is_xxh3_128_by_its_published_vectors(tmp_path: Path, length: int) -> None:
    path = tmp_path / "a.mp3"
    path.write_bytes(sanity_buffer(length))
    both = hashes(path)
    assert both.file == VECTORS[length].lower()
    assert both.audio == both.file  # no tag block stands in these bytes


def test_hashing_in_pieces_gives_the_published_value(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.mp3"
    path.write_bytes(sanity_buffer(2367))
    for piece in (1, 7, 64):
        monkeypatch.setattr(audiohash, "_PIECE", piece)
        assert hashes(path).audio == VECTORS[2367].lower()


def set_tags(path: Path, size: int) -> None:
    """Tags and a picture, of any length, in whatever form the format has."""
    text = "Andante con moto " * size
    if path.suffix == ".aac":
        tags = ID3()
        tags.add(TIT2(text=text))
        tags.save(path)
        return
    tagged: Any = mutagen.File(path)
    if path.suffix in (".flac", ".ogg", ".opus", ".oga"):
        picture = Picture()
        picture.data, picture.mime, picture.type = PICTURE * (1 + size // 1000), "image/jpeg", 3
        tagged["TITLE"] = text
        if path.suffix == ".flac":
            tagged.clear_pictures()
            tagged.add_picture(picture)
        else:
            import base64

            tagged["METADATA_BLOCK_PICTURE"] = base64.b64encode(picture.write()).decode()
    elif path.suffix == ".m4a":
        tagged["\xa9nam"] = text
        tagged["covr"] = [MP4Cover(PICTURE, MP4Cover.FORMAT_JPEG)]
    elif path.suffix == ".wv":
        tagged["Title"] = text
    else:
        if tagged.tags is None:
            tagged.add_tags()
        tagged.tags.add(TIT2(text=text))
        tagged.tags.add(APIC(mime="image/jpeg", type=3, data=PICTURE))
    tagged.save()


@pytest.mark.parametrize("name", ENCODERS)
def test_growing_and_shrinking_tags_leave_the_audio_hash(
    copy_of: Callable[..., Path], name: str
) -> None:
    path = copy_of(name)
    before = hashes(path)
    for size in (1, 5000, 2):
        set_tags(path, size)
        after = hashes(path)
        assert after.audio == before.audio
        assert after.file != before.file
        before = after


@pytest.mark.parametrize("name", [name for name in ENCODERS if name != "a.aac"])
def test_removing_all_tags_leaves_the_audio_hash(copy_of: Callable[..., Path], name: str) -> None:
    path = copy_of(name)
    set_tags(path, 100)
    before = hashes(path).audio
    mutagen.File(path).delete()
    assert hashes(path).audio == before


def test_tags_at_the_end_of_an_mp3_leave_the_audio_hash(copy_of: Callable[..., Path]) -> None:
    path = copy_of("a.mp3")
    before = hashes(path).audio
    tags = ID3()
    tags.add(TIT2(text="Title"))
    tags.save(path, v1=2, v2_version=3)
    assert path.read_bytes()[-128:-125] == b"TAG"
    assert hashes(path).audio == before
    ape = APEv2()
    ape["Title"] = "Title"
    ape.save(path)
    assert b"APETAGEX" in path.read_bytes()
    assert hashes(path).audio == before


def test_lyrics_at_the_end_of_an_mp3_leave_the_audio_hash(copy_of: Callable[..., Path]) -> None:
    """Lyrics3 v2 before ID3v1, laid out as its description says (from memory)."""
    path = copy_of("a.mp3")
    before = hashes(path).audio
    body = b"LYRICSBEGIN" + b"IND0000200" + b"LYR00005la la"
    raw = path.read_bytes() + body + b"%06d" % len(body) + b"LYRICS200"
    path.write_bytes(raw + b"TAG" + bytes(125))
    assert hashes(path).audio == before


def test_the_payload_of_an_mp3_is_its_frames(copy_of: Callable[..., Path]) -> None:
    path = copy_of("a.mp3")
    set_tags(path, 50)
    raw = path.read_bytes()
    ((start, end),) = payload_spans(io.BytesIO(raw), len(raw), "mp3")
    assert raw[start] == 0xFF and raw[start + 1] & 0xE0 == 0xE0
    assert hashes(path).audio == xxhash.xxh3_128_hexdigest(raw[start:end])


def test_the_payload_of_a_flac_begins_with_a_frame_and_reaches_the_end(masters: Path) -> None:
    """RFC 9639 §9.1: a frame begins with the 15-bit sync code 0b111111111111100."""
    raw = (masters / "a.flac").read_bytes()
    ((start, end),) = payload_spans(io.BytesIO(raw), len(raw), "flac")
    assert raw[start] == 0xFF and raw[start + 1] & 0xFE == 0xF8
    assert end == len(raw)


def test_the_payload_of_a_wav_is_its_format_and_its_samples(masters: Path) -> None:
    path = masters / "a.wav"
    samples, _ = soundfile.read(path, dtype="int16")
    raw = path.read_bytes()
    spans = list(payload_spans(io.BytesIO(raw), len(raw), "wav"))
    assert raw[spans[-1][0] : spans[-1][1]] == samples.astype("<i2").tobytes()
    assert spans[0][1] - spans[0][0] in (16, 18, 40)


@pytest.mark.parametrize("name", ENCODERS)
def test_one_changed_sample_changes_the_audio_hash(
    tmp_path: Path, run_ffmpeg: Callable[..., bytes], name: str
) -> None:
    sound = chord(4410)
    found = []
    for number in range(2):
        sound[2000:2400] += number * 0.2 * np.sin(np.arange(400) / 9)[:, None]
        source, target = tmp_path / "s.wav", tmp_path / str(number) / name
        target.parent.mkdir()
        soundfile.write(source, sound, RATE_HZ, subtype="PCM_16")
        run_ffmpeg("-i", source, *ENCODERS[name], target)
        found.append(hashes(target).audio)
    assert found[0] != found[1]


def test_audio_in_a_long_file_is_hashed_in_little_memory(tmp_path: Path) -> None:
    import tracemalloc

    path = tmp_path / "long.wav"
    silence = np.zeros((200_000, 2), dtype="int16")
    with soundfile.SoundFile(path, "w", RATE_HZ, 2, "PCM_16") as target:
        for _ in range(50):
            target.write(silence)
    assert path.stat().st_size > 40_000_000
    tracemalloc.start()
    hashes(path)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 3_000_000


@pytest.mark.parametrize("name", ENCODERS)
def test_both_hashes_come_from_one_read(
    masters: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Beside one pass over the bytes only heads and tails are looked at."""
    path = masters / name
    read = 0

    class Counting(io.FileIO):
        def readinto(self, buffer: Any) -> int:
            nonlocal read
            count = super().readinto(buffer)
            read += count
            return count

        def read(self, size: int = -1) -> bytes:
            nonlocal read
            data = super().read(size)
            read += len(data)
            return data

    from contextlib import contextmanager

    @contextmanager
    def opened(where: str):
        with Counting(where) as file:
            yield file, path.stat().st_size

    monkeypatch.setattr(audiohash, "open_master", opened)
    hashes(path)
    assert path.stat().st_size <= read <= path.stat().st_size + 4096


def test_pictures_and_tags_in_ogg_may_move_pages(copy_of: Callable[..., Path]) -> None:
    """A comment packet over many pages shifts the setup packet; the packets stay the same."""
    path = copy_of("a.ogg")
    before = hashes(path).audio
    pages = path.read_bytes().count(b"OggS")
    set_tags(path, 99)
    assert path.read_bytes().count(b"OggS") > pages
    assert hashes(path).audio == before


def test_a_copy_under_another_name_has_both_hashes(masters: Path, tmp_path: Path) -> None:
    for name in ENCODERS:
        target = Path(shutil.copyfile(masters / name, tmp_path / ("other" + Path(name).suffix)))
        assert hashes(target) == hashes(masters / name)
