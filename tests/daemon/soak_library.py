"""The soak's master library: albums that come, change and go, and what each card should make of it.

What is expected is reckoned here from what was put into the library, and by nothing of syncd: each
song has a *voice* by which its audio is known again on a card, a mark in the last frame of an MP3
file or the pitch of a tone. An inotify watch of its own sees whether anybody else writes.
"""

import ctypes
import io
import os
import random
import shutil
import struct
import subprocess
from dataclasses import dataclass, field
from pathlib import Path

import mutagen
import numpy as np
import soundfile
from mutagen.id3 import APIC, ID3
from PIL import Image

from syncd.transcoder.ffmpeg_port import find_ffmpeg

RATE = 44100
SPAN_S = 0.6
"""Of a tone in an image with a cue sheet: 45 frames of 1/75 s."""

TOLD = 0x2 | 0x4 | 0x8 | 0x40 | 0x80 | 0x100 | 0x200
"""inotify(7): MODIFY, ATTRIB, CLOSE_WRITE, MOVED_FROM, MOVED_TO, CREATE, DELETE."""


class Eyes:
    """Sees who changes what under some folders; nothing but the soak itself may."""

    def __init__(self) -> None:
        self._libc = ctypes.CDLL(None, use_errno=True)
        self._fd = -1

    def look_at(self, tops: list[Path]) -> None:
        self.close()
        self._fd = self._libc.inotify_init1(os.O_CLOEXEC | os.O_NONBLOCK)
        assert self._fd >= 0, os.strerror(ctypes.get_errno())
        for top in tops:
            for folder, _, _ in os.walk(top):
                assert self._libc.inotify_add_watch(self._fd, os.fsencode(folder), TOLD) >= 0

    def untouched(self) -> None:
        """Raises AssertionError when anything was opened for writing, changed, made or removed."""
        if self._fd < 0:
            return
        try:
            data = os.read(self._fd, 1 << 16)
        except BlockingIOError:
            return
        _, mask, _, length = struct.unpack_from("iIII", data)
        raise AssertionError(f"somebody wrote to the library: {mask:#x} {data[16 : 16 + length]!r}")

    def close(self) -> None:
        if self._fd >= 0:
            os.close(self._fd)
            self._fd = -1


@dataclass
class Song:
    """A song as it should come to a card. ``file`` is its name; none for one in an image."""

    title: str
    number: int
    voice: int
    file: str = ""
    broken: bool = False


@dataclass
class Album:
    """A folder with songs. ``sheet``: one file, an image, and a cue sheet says where they are."""

    folder: Path
    artist: str
    title: str
    songs: list[Song] = field(default_factory=list)
    sheet: bool = False
    colour: tuple[int, int, int] | None = None


@dataclass(frozen=True)
class Expected:
    """A file that a card should have: one of these voices, these tags, a cover of this colour.

    *perhaps*: one of its album cannot be read any more. A card that has the album keeps it, since
    its file may come back; one that has not gets none of it. *lost*: it is this one, and nothing
    can be changed in what the card has of it.
    """

    voices: frozenset[int]
    artist: str
    album: str
    title: str
    number: int
    colour: tuple[int, int, int] | None
    perhaps: bool = False
    lost: bool = False


class Library:
    """Two roots with albums, and the deeds of a listener."""

    def __init__(self, base: Path, draw: random.Random) -> None:
        self.base, self.draw = base, draw
        self.roots = [base / "music", base / "shelf"]
        self.albums: list[Album] = []
        self.count = 0
        self.ripping: tuple[Path, bytes] | None = None
        self.eyes = Eyes()
        for root in self.roots:
            root.mkdir()
        wave = 0.3 * np.sin(2 * np.pi * 440 * np.arange(RATE // 2) / RATE)
        soundfile.write(base / "sample.flac", np.stack([wave, wave * 0.9], 1), RATE)
        sample = base / "sample.mp3"
        command = [find_ffmpeg(), "-v", "error", "-i", str(base / "sample.flac")]
        subprocess.run([*command, "-b:a", "64k", str(sample)], check=True)
        self._mp3 = sample.read_bytes()
        for _ in range(3):
            for root in self.roots:
                self.add_album(root)
        self.add_album(self.roots[0], image=True)

    # -- where things are -----------------------------------------------------------------------

    def hidden(self, root: Path) -> Path:
        return root.with_name(f"{root.name} away")

    def here(self) -> list[Path]:
        return [root for root in self.roots if root.exists()]

    def under(self, root: Path) -> list[Album]:
        return [album for album in self.albums if root in album.folder.parents]

    def reachable(self) -> list[Album]:
        return [album for root in self.here() for album in self.under(root)]

    def any_album(self, *, sheet: bool | None = None) -> Album | None:
        found = [a for a in self.reachable() if sheet is None or bool(sheet) == self.has_image(a)]
        found = [a for a in found if self.ripping is None or self.ripping[0].parent != a.folder]
        return self.draw.choice(found) if found else None

    def has_broken(self) -> bool:
        return any(song.broken for album in self.albums for song in album.songs)

    @staticmethod
    def has_image(album: Album) -> bool:
        return not album.songs[0].file

    def expected(self, artist: str | None = None) -> list[Expected]:
        """What a card should have when all is at rest: of one *artist*, or everything."""
        found = []
        for album in self.albums:
            if artist is not None and album.artist != artist:
                continue
            if self.has_image(album) and not album.sheet:
                voices = frozenset(song.voice for song in album.songs)
                found.append(
                    Expected(voices, album.artist, album.title, "Whole disc", 1, album.colour)
                )
                continue
            found += [
                Expected(
                    frozenset({song.voice}), album.artist, album.title, song.title, song.number,
                    album.colour, any(each.broken for each in album.songs),
                    song.broken,
                )
                for song in album.songs
            ]  # fmt: skip
        return found

    # -- what a listener does -------------------------------------------------------------------

    def add_album(self, root: Path | None = None, *, image: bool | None = None) -> None:
        if root is None:
            if not self.here() or len(self.albums) > 16:
                return
            root = self.draw.choice(self.here())
        self.count += 1
        number = self.count
        if image is None:
            image = self.draw.random() < 0.2
        album = Album(root / f"Album {number:05}", f"Marnesund {number % 5}", f"Low Tide {number}")
        aside = self.base / "making"
        aside.mkdir()
        songs = self.draw.randint(2, 3) if image else self.draw.randint(1, 4)
        for track in range(1, songs + 1):
            self.count += 1
            album.songs.append(Song(f"Song {number}.{track}", track, self.count))
        if image:
            self._write_image(aside, album)
            album.sheet = True
            (aside / "disc.cue").write_text(sheet(album))
        else:
            for song in album.songs:
                if self.draw.random() < 0.25:
                    song.voice = -tone_of(song.voice)
                self._write_song(aside, album, song)
        if self.draw.random() < 0.4:
            self._paint(aside, album)
        if self.draw.random() < 0.2:
            self._misdate(aside)
        aside.rename(album.folder)
        self.albums.append(album)

    def _write_song(self, folder: Path, album: Album, song: Song) -> None:
        if not song.file:
            song.file = f"{song.number:02}.{'flac' if song.voice < 0 else 'mp3'}"
        path = folder / song.file
        if song.voice < 0:
            wave = 0.3 * np.sin(2 * np.pi * -song.voice * np.arange(RATE // 2) / RATE)
            soundfile.write(path, np.stack([wave, wave * 0.9], 1), RATE)
        else:
            path.write_bytes(self._mp3[:-8] + struct.pack(">II", 0x50A50A50, song.voice))
        tag(path, album, song.title, song.number)

    def _write_image(self, folder: Path, album: Album) -> None:
        tones = []
        for song in album.songs:
            song.voice = -tone_of(song.voice)
            time = np.arange(int(RATE * SPAN_S)) / RATE
            tones.append(0.3 * np.sin(2 * np.pi * -song.voice * time))
        wave = np.concatenate(tones)
        soundfile.write(folder / "disc.flac", np.stack([wave, wave * 0.9], 1), RATE)
        tag(folder / "disc.flac", album, "Whole disc", 1)

    def _paint(self, folder: Path, album: Album) -> None:
        album.colour = (self.draw.randrange(256), self.draw.randrange(256), 128)
        held = io.BytesIO()
        Image.new("RGB", (64, 64), album.colour).save(held, "JPEG", quality=95)
        aside = self.base / "cover aside"
        aside.write_bytes(held.getvalue())
        aside.replace(folder / "cover.jpg")

    def _misdate(self, folder: Path) -> None:
        """As a copy from a computer whose clock is wrong; now and then to the full second."""
        for path in folder.iterdir():
            moment = path.stat().st_mtime_ns + self.draw.randint(-(10**18), 10**17)
            if self.draw.random() < 0.5:
                moment -= moment % 10**9
            os.utime(path, ns=(moment, moment))

    def remove_album(self) -> None:
        album = self.any_album()
        root = next(
            (r for r in self.roots if album is not None and r in album.folder.parents), None
        )
        if album is not None and root is not None and len(self.under(root)) > 2:
            shutil.rmtree(album.folder)
            self.albums.remove(album)

    def move_album(self) -> None:
        """To another name, or another root, or into a folder of its artist's."""
        album = self.any_album()
        if album is None:
            return
        self.count += 1
        root = next(r for r in self.roots if r in album.folder.parents)
        if len(self.under(root)) > 2:
            root = self.draw.choice(self.here())
        if self.draw.random() < 0.3:
            root = root / f"Artist {self.count}"
            root.mkdir()
        target = root / f"Album {self.count:05} moved"
        album.folder.rename(target)
        album.folder = target

    def move_tree(self) -> None:
        """All that is under one root goes into a folder, or comes out of it again."""
        if not self.here():
            return
        root = self.draw.choice(self.here())
        deep = [folder for folder in root.iterdir() if folder.name.startswith("All ")]
        self.count += 1
        target = root / f"All {self.count}"
        if deep:
            deep[0].rename(target)
        else:
            aside = self.base / target.name
            aside.mkdir()
            for folder in list(root.iterdir()):
                folder.rename(aside / folder.name)
            aside.rename(target)
        moved = deep[0] if deep else root
        for album in self.under(moved):
            album.folder = target / album.folder.relative_to(moved)

    def retag(self) -> None:
        """Anew beside it and renamed, or in place, as most programs do."""
        album = self.any_album(sheet=False)
        if album is None:
            return
        song = self.draw.choice(album.songs)
        if song.broken:
            return
        song.title = f"Other title {self.draw.randint(100, 999)}"
        path = album.folder / song.file
        if self.draw.random() < 0.5:
            tag(path, album, song.title, song.number)
            return
        aside = self.base / path.name
        shutil.copy(path, aside)
        tag(aside, album, song.title, song.number)
        aside.replace(path)

    def swap(self) -> None:
        """Two files of one album get each other's names; what the tags say goes along."""
        album = self.any_album(sheet=False)
        if album is None:
            return
        by_suffix: dict[str, list[Song]] = {}
        for song in album.songs:
            if not song.broken:
                by_suffix.setdefault(song.file[-4:], []).append(song)
        pairs = [songs for songs in by_suffix.values() if len(songs) > 1]
        if pairs:
            one, other = self.draw.sample(self.draw.choice(pairs), 2)
            aside = self.base / "swapping"
            (album.folder / one.file).rename(aside)
            (album.folder / other.file).rename(album.folder / one.file)
            aside.rename(album.folder / other.file)
            one.file, other.file = other.file, one.file

    def replace_audio(self) -> None:
        """A better copy takes the place of a song: other audio of the same length, same tags."""
        album = self.any_album(sheet=False)
        if album is None:
            return
        song = self.draw.choice(album.songs)
        if not song.broken:
            self.count += 1
            song.voice = -tone_of(self.count) if song.voice < 0 else self.count
            aside = self.base / "better"
            aside.mkdir()
            self._write_song(aside, album, song)
            (aside / song.file).replace(album.folder / song.file)
            aside.rmdir()

    def break_song(self) -> None:
        """Its file holds no audio any more, nor anything that tells what it was."""
        album = self.any_album(sheet=False)
        if album is None or sum(not song.broken for song in album.songs) < 2:
            return
        song = self.draw.choice(album.songs)
        (album.folder / song.file).unlink()
        nothing = self.draw.choice([b"", b"no music at all\n" * 20, bytes(5000)])
        (album.folder / song.file).write_bytes(nothing)
        song.broken = True

    def mend_song(self) -> None:
        broken = [(a, s) for a in self.reachable() for s in a.songs if s.broken]
        if broken:
            album, song = self.draw.choice(broken)
            song.broken = False
            aside = self.base / "mended"
            aside.mkdir()
            self._write_song(aside, album, song)
            (aside / song.file).replace(album.folder / song.file)
            aside.rmdir()

    def paint(self) -> None:
        album = self.any_album()
        if album is None:
            return
        if album.colour is not None and self.draw.random() < 0.3:
            (album.folder / "cover.jpg").unlink()
            album.colour = None
        else:
            self._paint(album.folder, album)

    def change_sheet(self) -> None:
        album = self.any_album(sheet=True)
        if album is None:
            return
        path = album.folder / "disc.cue"
        if album.sheet and self.draw.random() < 0.3:
            path.unlink()
            album.sheet = False
            return
        self.draw.choice(album.songs).title = f"Other span {self.draw.randint(100, 999)}"
        path.write_text(sheet(album))
        album.sheet = True

    def begin_rip(self) -> bytes | None:
        """Half of a file more in an album; the folder that the watch would call restless."""
        album = self.any_album(sheet=False)
        if album is None or self.ripping is not None or len(album.songs) > 5:
            return None
        self.count += 1
        song = Song(f"Late song {self.count}", max(s.number for s in album.songs) + 1, self.count)
        aside = self.base / "ripping"
        aside.mkdir()
        self._write_song(aside, album, song)
        data = (aside / song.file).read_bytes()
        shutil.rmtree(aside)
        path = album.folder / song.file
        path.write_bytes(data[: len(data) // 2])
        album.songs.append(song)
        self.ripping = (path, data)
        return os.fsencode(album.folder)

    def end_rip(self) -> bool:
        if self.ripping is None or not self.ripping[0].exists():
            return False
        path, data = self.ripping
        with path.open("ab") as file:
            file.write(data[len(data) // 2 :])
        self.ripping = None
        return True

    def lose_root(self) -> None:
        if self.here():
            root = self.draw.choice(self.here())
            root.rename(self.hidden(root))

    def root_back(self) -> None:
        for root in self.roots:
            if not root.exists():
                self.hidden(root).rename(root)


def tone_of(number: int) -> int:
    """Hz, a tone that no other of a thousand songs has."""
    return 300 + 6 * (number % 1000)


def tag(path: Path, album: Album, title: str, number: int) -> None:
    audio = mutagen.File(path, easy=True)
    audio["artist"], audio["album"] = album.artist, album.title
    audio["title"], audio["tracknumber"], audio["genre"] = title, str(number), "Pop"
    audio.save()


def sheet(album: Album) -> str:
    lines = [f'PERFORMER "{album.artist}"', f'TITLE "{album.title}"', 'FILE "disc.flac" WAVE']
    for place, song in enumerate(album.songs):
        frames = round(place * SPAN_S * 75)
        lines += [
            f"  TRACK {song.number:02} AUDIO", f'    TITLE "{song.title}"',
            f"    INDEX 01 00:{frames // 75:02}:{frames % 75:02}",
        ]  # fmt: skip
    return "\n".join(lines) + "\n"


def voice_of(data: bytes) -> int:
    """The mark in an MP3 file that was carried over, else minus the pitch of its tone in Hz."""
    mark = data.rfind(struct.pack(">I", 0x50A50A50))
    if mark >= 0:
        return int(struct.unpack_from(">I", data, mark + 4)[0])
    samples, rate = soundfile.read(io.BytesIO(data))
    middle = samples[len(samples) // 5 : -len(samples) // 5, 0]
    padded = np.abs(np.fft.rfft(middle * np.hanning(len(middle)), 1 << 17))
    pitch = float(np.argmax(padded)) * rate / (1 << 17)
    return -round((pitch - 300) / 6) * 6 - 300


def colour_of(path: Path) -> tuple[int, int, int] | None:
    """The colour of the picture in an MP3 file's ID3 tag."""
    pictures = [frame for frame in ID3(path).values() if isinstance(frame, APIC)]
    if not pictures:
        return None
    with Image.open(io.BytesIO(pictures[0].data)) as opened:
        seen = opened.convert("RGB").resize((1, 1)).getpixel((0, 0))
    assert isinstance(seen, tuple)
    return (int(seen[0]), int(seen[1]), int(seen[2]))
