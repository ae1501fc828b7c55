"""Files that would have a decoder open others, fetch things or fill the memory: none does.

MP4 data references: ISO/IEC 14496-12 section 8.7. What playlists and scripts do when ffmpeg may
choose for itself is shown in ``test_bad_sources_of_pressings.py``.
"""

import contextlib
import socket
import struct
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from transcoder_kit import facts, ffmpeg_encode, master, music, recipe_for, track_of

from syncd.errors import ItemProblem
from syncd.model import Art, AudioFacts, Codec, ContentHash, LibraryPath
from syncd.profile import TagWriting
from syncd.transcoder.artwork import PictureForm
from syncd.transcoder.checking import find_damage
from syncd.transcoder.ffmpeg_port import DEMUXERS, Ffmpeg, find_ffmpeg, source
from syncd.transcoder.press import press
from syncd.transcoder.store import Store


@pytest.fixture
def server() -> Iterator[tuple[int, list[str]]]:
    """A port of this machine on which somebody listens, and who called."""
    calls: list[str] = []
    with socket.create_server(("127.0.0.1", 0)) as listening:

        def answer() -> None:
            with contextlib.suppress(OSError):
                while True:
                    calling, _ = listening.accept()
                    calls.append("called")
                    calling.close()

        thread = threading.Thread(target=answer, daemon=True)
        thread.start()
        yield listening.getsockname()[1], calls
        listening.shutdown(socket.SHUT_RDWR)
    thread.join(5)


SCRIPTS = {
    "hls": "#EXTM3U\n#EXT-X-TARGETDURATION:9\n#EXTINF:9,\nhttp://127.0.0.1:{port}/a.ts\n",
    "concat": "ffconcat version 1.0\nfile 'http://127.0.0.1:{port}/a.flac'\n",
    "dash": '<?xml version="1.0"?><MPD><BaseURL>http://127.0.0.1:{port}/</BaseURL></MPD>',
    "sequence": "%03d.png\n",
}


@pytest.mark.parametrize("form", sorted(SCRIPTS))
@pytest.mark.parametrize("kind", ["mp3", "wav", "flac", "mp4"])
def test_a_playlist_named_as_audio_calls_nobody(
    tmp_path: Path,
    store: Store,
    tool: Ffmpeg,
    server: tuple[int, list[str]],
    form: str,
    kind: str,
) -> None:
    port, calls = server
    path = tmp_path / f"script.{kind}"
    path.write_text(SCRIPTS[form].format(port=port))
    audio = AudioFacts(kind, Codec.PCM, 44100, 2, 1.0, 16, 1_411_200, None)
    with pytest.raises(ItemProblem):
        press(track_of(path, audio), recipe_for(audio, codec="mp3", quality=4), store, tool)
    with pytest.raises(ItemProblem):
        find_damage(track_of(path, audio), tool)
    assert calls == []


@pytest.mark.parametrize("scheme", ["file", "http"])
def test_an_mp4_whose_samples_are_in_another_place_opens_it_not(
    tmp_path: Path, store: Store, tool: Ffmpeg, server: tuple[int, list[str]], scheme: str
) -> None:
    """The reference that says "in this file" is changed to a whole file, or an address."""
    port, calls = server
    master(tmp_path / "m.wav", music(44100))
    whole = ffmpeg_encode(tmp_path / "m.wav", tmp_path / "secret.m4a", "-c:a", "alac")
    data = whole.read_bytes()
    entry = struct.pack(">I4sI", 12, b"url ", 1)  # flag 1: the samples are in this file
    assert data.count(entry) == 1
    place = str(whole) if scheme == "file" else f"127.0.0.1:{port}/secret.m4a"
    address = f"{scheme}://{place}\0".encode()
    outside = struct.pack(">I4sI", 12 + len(address), b"url ", 0) + address
    longer = len(outside) - len(entry)
    changed = bytearray(data.replace(entry, outside))
    for box in (b"moov", b"trak", b"mdia", b"minf", b"dinf", b"dref"):
        at = changed.index(box) - 4
        size = int.from_bytes(changed[at : at + 4], "big")
        changed[at : at + 4] = (size + longer).to_bytes(4, "big")
    # Where the samples would be in this file there is nothing of the other.
    start = changed.index(b"mdat") + 4
    end = start - 8 + int.from_bytes(changed[start - 8 : start - 4], "big")
    changed[start:end] = bytes(end - start)
    path = tmp_path / "outside.m4a"
    path.write_bytes(changed)
    audio = facts("mp4", Codec.ALAC, 44100)
    with pytest.raises(ItemProblem):
        press(track_of(path, audio), recipe_for(audio, codec="mp3", quality=4), store, tool)
    assert store.sizes() == {}
    assert calls == []


@pytest.mark.parametrize(
    "picture",
    [
        b'<svg xmlns="http://www.w3.org/2000/svg"><image href="http://127.0.0.1:%d/"/></svg>',
        b"http://127.0.0.1:%d/cover.jpg",
        b"#EXTM3U\nhttp://127.0.0.1:%d/cover.jpg\n",
    ],
    ids=["svg", "address", "playlist"],
)
def test_a_cover_that_is_a_script_or_an_address_is_no_picture(
    tmp_path: Path, store: Store, server: tuple[int, list[str]], picture: bytes
) -> None:
    from syncd.transcoder.artwork import scaled_art

    port, calls = server
    path = tmp_path / "cover.jpg"
    path.write_bytes(picture % port)
    art = Art(ContentHash("1" * 32), LibraryPath(str(path)), embedded=False)
    notices: list[str] = []
    assert scaled_art(art, PictureForm.of(TagWriting()), store, notices) is None
    assert notices
    assert calls == []


def test_every_reader_is_the_one_that_we_name_and_no_other(tool: Ffmpeg) -> None:
    for kind, demuxer in DEMUXERS.items():
        words = source("/music/a", kind).output("-", f="null").compile()
        options = words[: words.index("-i")]
        assert options[options.index("-format_whitelist") + 1] == demuxer
        assert options[options.index("-protocol_whitelist") + 1] == "file,pipe"


def test_more_memory_than_is_allowed_is_told_in_a_sentence(tmp_path: Path) -> None:
    made = master(tmp_path / "m.flac", music(44100))
    small = Ffmpeg(find_ffmpeg(), memory_bytes=48 << 20)
    wanted = source(made.track.path, "flac").output("-", f="null")
    with pytest.raises(ItemProblem, match="more than the 48 MiB of memory") as caught:
        small.run(wanted, item="m.flac", limit_s=60)
    assert caught.value.reason.startswith("m.flac was given up: ")


def test_a_decoder_that_the_system_ends_is_told_with_its_signal(tmp_path: Path) -> None:
    path = tmp_path / "crashing"
    path.write_text("#!/bin/sh\nkill -SEGV $$\n")
    path.chmod(0o755)
    wanted = source("/music/a", "flac").output("-", f="null")
    with pytest.raises(ItemProblem, match="ended by signal 11"):
        Ffmpeg(str(path)).run(wanted, item="a.flac", limit_s=60)


def test_the_version_of_the_encoder_is_told(tool: Ffmpeg, tmp_path: Path) -> None:
    assert tool.version() == tool.another().version()
    assert tool.version() not in ("", "unknown")
    assert Ffmpeg(str(tmp_path / "none")).version() == "unknown"
