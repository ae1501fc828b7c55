"""Walking through MP3 frames and Ogg pages: what is lost is found, what is harmless is not told.

Written as ISO/IEC 11172-3 section 2.4.1 and RFC 3533 have it; outside judges are ogginfo and the
encoders' own counts.
"""

import io
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from mutagen.id3 import ID3, TIT2

from syncd.library.damage import Damage, clock
from syncd.library.framewalk import mpeg_damage, ogg_damage
from syncd.transcoder.ffmpeg_port import find_ffmpeg

SECONDS = 12
FRAME_S = 1152 / 44100


@pytest.fixture(scope="module")
def sounds(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Twelve seconds of pink noise as MP3 (fixed rate, with information frame), Vorbis, Opus."""
    folder = tmp_path_factory.mktemp("sounds")
    noise = f"anoisesrc=d={SECONDS}:c=pink:r=44100:a=0.3:seed=5"
    command = [find_ffmpeg(), "-v", "error", "-nostdin", "-f", "lavfi", "-i", noise]
    for name, options in (
        ("a.mp3", ["-b:a", "128k"]),
        ("bare.mp3", ["-b:a", "128k", "-write_xing", "0", "-id3v2_version", "0"]),
        ("a.ogg", ["-c:a", "libvorbis"]),
        ("a.opus", ["-c:a", "libopus"]),
    ):
        subprocess.run([*command, *options, str(folder / name)], check=True)
    return folder


def mpeg(data: bytes) -> Damage | None:
    return mpeg_damage(io.BytesIO(data))


def ogg(data: bytes, rate: int = 44100) -> Damage | None:
    return ogg_damage(io.BytesIO(data), rate)


def place_of(found: Damage | None) -> float:
    assert found is not None
    assert found.at_s is not None
    return found.at_s


def test_a_time_is_told_in_hours_minutes_seconds_and_tenths() -> None:
    assert [clock(seconds) for seconds in (0, 9.96, 61.25, 3599.99, 36000.3)] == [
        "0:00:00.0", "0:00:09.9", "0:01:01.2", "0:59:59.9", "10:00:00.3",
    ]  # fmt: skip
    assert (
        Damage("it is torn", 754.3)
        .sentence("a.mp3")
        .startswith("a.mp3 is damaged at 0:12:34.3: it is torn.")
    )


@pytest.mark.parametrize("name", ["a.mp3", "bare.mp3"])
def test_whole_mp3_files_are_whole(sounds: Path, name: str) -> None:
    assert mpeg((sounds / name).read_bytes()) is None


def id3v1() -> bytes:
    return b"TAG" + b"A title".ljust(125, b"\0")


def ape_tag() -> bytes:
    item = (1).to_bytes(4, "little") + bytes(4) + b"Title\0x"
    sizes = (2000).to_bytes(4, "little") + (len(item) + 32).to_bytes(4, "little")
    foot = b"APETAGEX" + sizes + (1).to_bytes(4, "little") + bytes(12)
    return item + foot


def id3v2(folder: Path) -> bytes:
    path = folder / "tag"
    path.unlink(missing_ok=True)
    tag = ID3()
    tag.add(TIT2(encoding=3, text="A title"))
    tag.save(path)
    return path.read_bytes()


@pytest.mark.parametrize("name", ["a.mp3", "bare.mp3"])
@pytest.mark.parametrize(
    "odd",
    [
        lambda data, _: bytes(3000) + data,
        lambda data, _: b"left over \xff\xfb from another stream" * 40 + data,
        lambda data, _: data + id3v1(),
        lambda data, _: data + ape_tag() + id3v1(),
        lambda data, _: data + bytes(5000),
        lambda data, tag: tag + data + id3v1(),
        lambda data, tag: data + id3v1() + tag + data,
    ],
    ids=["zeros", "junk", "id3v1", "ape", "zeros after", "id3v2", "two files"],
)
def test_harmless_oddities_of_mp3_files_are_no_damage(
    sounds: Path, tmp_path: Path, name: str, odd: Callable[[bytes, bytes], bytes]
) -> None:
    data = (sounds / name).read_bytes()
    if name == "a.mp3":
        data = data[data.index(b"\xff\xfb") :]  # without the encoder's own ID3v2
    assert mpeg(odd(data, id3v2(tmp_path))) is None


@pytest.mark.parametrize("name", ["a.mp3", "bare.mp3"])
@pytest.mark.parametrize("share", [0.3, 0.5, 0.9])
def test_a_truncated_mp3_is_found_with_the_time_of_its_end(
    sounds: Path, name: str, share: float
) -> None:
    data = (sounds / name).read_bytes()
    found = mpeg(data[: int(len(data) * share) + 17])
    assert place_of(found) == pytest.approx(SECONDS * share, abs=4 * FRAME_S)


@pytest.mark.parametrize("share", [0.25, 0.6])
@pytest.mark.parametrize("loss", ["cut", "zeroed", "foreign"])
def test_a_loss_of_frame_sync_is_found_with_its_time(sounds: Path, loss: str, share: float) -> None:
    data = (sounds / "a.mp3").read_bytes()
    at = int(len(data) * share)
    changed = {
        "cut": data[:at] + data[at + 1000 :],
        "zeroed": data[:at] + bytes(3000) + data[at + 3000 :],
        "foreign": data[:at] + b"another file's block" * 50 + data[at:],
    }[loss]
    assert place_of(mpeg(changed)) == pytest.approx(SECONDS * share, abs=4 * FRAME_S)


@pytest.mark.parametrize(("name", "rate"), [("a.ogg", 44100), ("a.opus", 48000)])
def test_whole_ogg_files_are_whole_also_with_a_tag_at_the_end(
    sounds: Path, name: str, rate: int
) -> None:
    data = (sounds / name).read_bytes()
    assert ogg(data, rate) is None
    assert ogg(data + id3v1(), rate) is None
    assert ogg(data + bytes(100), rate) is None


def place_words(found: Damage | None) -> str:
    assert found is not None
    return found.words


@pytest.mark.parametrize(("name", "rate"), [("a.ogg", 44100), ("a.opus", 48000)])
@pytest.mark.parametrize("share", [0.3, 0.7])
@pytest.mark.parametrize(
    ("loss", "words"),
    [("bit", "checksum"), ("cut", "middle of a page"), ("page", "should"), ("foreign", "none")],
)
def test_damaged_ogg_pages_are_found_with_their_time(
    sounds: Path, name: str, rate: int, share: float, loss: str, words: str
) -> None:
    data = (sounds / name).read_bytes()
    at = int(len(data) * share)
    page = data.index(b"OggS\0", at)
    following = data.index(b"OggS\0", page + 1)
    changed = {
        "bit": data[:at] + bytes([data[at] ^ 4]) + data[at + 1 :],
        "cut": data[:at],
        "page": data[:page] + data[following:],
        "foreign": data[:page] + b"another" * 100 + data[page:],
    }[loss]
    found = ogg(changed, rate)
    assert words in place_words(found)
    # Pages hold up to a second; the time is that of the end of the last sound one.
    assert place_of(found) == pytest.approx(SECONDS * share, abs=1.7)


def test_ogginfo_agrees_on_a_page_with_a_wrong_checksum(sounds: Path, tmp_path: Path) -> None:
    ogginfo = shutil.which("ogginfo")
    if ogginfo is None:
        pytest.skip("ogginfo is not here; it comes in Debian's package vorbis-tools")
    data = bytearray((sounds / "a.ogg").read_bytes())
    for changed in (False, True):
        if changed:
            data[len(data) // 2] ^= 4
        path = tmp_path / "a.ogg"
        path.write_bytes(data)
        said = subprocess.run([ogginfo, str(path)], capture_output=True, text=True, check=False)
        assert ("WARNING" in said.stdout + said.stderr) == changed == (ogg(bytes(data)) is not None)
