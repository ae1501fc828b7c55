"""What the tests of whole updates share: a small library of real audio, a home, a card's folder.

Half a second each, made with numpy and libsndfile, tagged with mutagen. All names are invented but
for the composer's. MP3 comes from ffmpeg.
"""

import contextlib
import os
import shutil
import sqlite3
import subprocess
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import mutagen
import numpy as np
import soundfile

from syncd.applier.folder_volume import FolderVolume
from syncd.applier.identity import CARD_FILE, new_identity, write_identity
from syncd.applier.locked import open_volume
from syncd.applier.reading import read_card
from syncd.applier.verify import Verified, verify
from syncd.applier.volume import content_hash
from syncd.catalogue.reader import find_catalogue
from syncd.library.index import LibraryIndex
from syncd.model import Track
from syncd.planner.plan import Plan
from syncd.profile import Profile, read_profile, sample_profiles
from syncd.refresh import refresh
from syncd.transcoder.ffmpeg_port import Ffmpeg, find_ffmpeg
from syncd.transcoder.store import Store
from syncd.updating.updater import Updater
from syncd.updating.values import Outcome, Report, Target

RATE = 44100


def tone(path: Path, hz: float) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    time = np.arange(RATE // 2) / RATE
    wave = 0.3 * np.sin(2 * np.pi * hz * time)
    soundfile.write(path, np.stack([wave, wave * 0.9], axis=1), RATE, format="FLAC")


def tag(path: Path, **values: str) -> None:
    audio = mutagen.File(path, easy=True)
    for name, value in values.items():
        audio[name] = value
    audio.save()


def tag_movement(path: Path, number: int, title: str, player: str, **more: str) -> None:
    """Tag one of the first three movements of a sonata, with whatever *more* there is to say."""
    work = "Piano Sonata No. 1 in F minor, Op. 2 No. 1"
    tag(
        path,
        composer="Ludwig van Beethoven",
        work=work,
        title=f"{work}: {'I' * number}. {title}",
        movementname=title,
        movement=str(number),
        artist=player,
        performer=f"{player} (piano)",
        tracknumber=str(number),
        genre="Classical",
        **more,
    )


def make_library(root: Path) -> None:
    """Four movements of two recordings, two popular songs (one of them MP3)."""
    for player, hz in (("Quirin Ostrowald", 220.0), ("Ilse Torvald", 330.0)):
        for number, title in ((1, "Allegro"), (2, "Adagio")):
            path = root / "Classical" / player / f"{number:02}.flac"
            tone(path, hz + number * 20)
            tag_movement(path, number, title, player, album=f"Sonatas ({player})")
    song = root / "Popular" / "Low Tide" / "01.flac"
    tone(song, 500)
    tag(song, artist="Marnesund Five", album="Low Tide", title="Ebb", tracknumber="1", genre="Pop")
    other = song.with_name("02.mp3")
    tone(root / "temp.flac", 600)
    command = [find_ffmpeg(), "-v", "error", "-nostdin", "-i", str(root / "temp.flac")]
    subprocess.run([*command, "-b:a", "128k", str(other)], check=True)
    (root / "temp.flac").unlink()
    tag(
        other, artist="Marnesund Five", album="Low Tide", title="Flow", tracknumber="2", genre="Pop"
    )


class Folders:
    """Where the library and the card of a test lie, below its folder *base*."""

    base: Path

    @property
    def music(self) -> Path:
        return self.base / "music"

    @property
    def card(self) -> Path:
        return self.base / "card"


@dataclass
class Place(Folders):
    """A library, a home and a card, each a folder of a test."""

    base: Path
    profile: Profile = field(default_factory=lambda: read_profile(sample_profiles()["mcu-mp3"]))
    forgives: Callable[[Track], bool] | None = None

    @property
    def store(self) -> Path:
        return self.base / "store"

    def copy_from(self, made: Path, *parts: str) -> None:
        """Have *parts* ("music", "store", "card") as they are below *made*."""
        for part in parts:
            shutil.copytree(made / part, self.base / part)

    def new_card(self) -> None:
        if self.card.exists():
            shutil.rmtree(self.card)
        self.card.mkdir()
        with FolderVolume(self.card) as volume:
            write_identity(volume, new_identity("KITCHEN"))

    def updater(
        self,
        index: LibraryIndex,
        store: Store,
        report: Report | None = None,
    ) -> Updater:
        tool = Ffmpeg(find_ffmpeg())
        return Updater(
            index.snapshot(),
            store,
            tool,
            self.base / "scratch",
            workers=2,
            report=report,
            forgives=self.forgives,
        )

    def _with(self, work: Callable[[Updater, Target], object], report: Report | None) -> object:
        with LibraryIndex(self.base / "library.db") as index, Store(self.store) as store:
            if not index.roots():
                index.add_root(self.music)
            refresh(index)
            with open_volume(self.card, "KITCHEN") as volume:
                return work(self.updater(index, store, report), Target(volume, self.profile))

    def update(self, report: Report | None = None) -> Outcome:
        outcome = self._with(lambda work, target: work.update(target), report)
        assert isinstance(outcome, Outcome)
        return outcome

    def plan(self) -> Plan:
        plan = self._with(lambda work, target: work.plan(target)[0], None)
        assert isinstance(plan, Plan)
        return plan

    def repair(self) -> tuple[Verified, Outcome]:
        found: list[Verified] = []

        def work(updater: Updater, target: Target) -> Outcome:
            found.append(verify(target.volume, read_card(target.volume)))
            return updater.update(target, found[0])

        outcome = self._with(work, None)
        assert isinstance(outcome, Outcome)
        return found[0], outcome

    def files(self) -> dict[str, bytes]:
        """The card's files but for its identity and the catalogue's slot letter and record."""
        found = {}
        for folder, _, names in os.walk(self.card):
            for name in names:
                path = Path(folder) / name
                shown = path.relative_to(self.card).as_posix()
                if shown == CARD_FILE or shown.endswith(".rec"):
                    continue
                found[shown.replace("cat-b.db", "cat-a.db")] = path.read_bytes()
        return found

    def folders(self) -> set[str]:
        return {
            Path(folder).relative_to(self.card).as_posix() for folder, _, _ in os.walk(self.card)
        }

    def check(self) -> None:
        """I1: what the catalogue names is there, with the hash that the manifest gives."""
        with FolderVolume(self.card) as volume:
            given = {str(entry.path): entry for entry in read_card(volume).state.entries}
            if (
                not (self.card / "SYNCD" / "cat-a.db").exists()
                and not (self.card / "SYNCD" / "cat-b.db").exists()
            ):
                return
            for path, size in named(find_catalogue(self.card).path):
                entry = given[path]
                assert entry.size == size == volume.size(path)
                assert content_hash(volume.chunks(path)) == entry.xxh3_128


def named(catalogue: Path) -> list[tuple[str, int]]:
    """Path and size of every track in *catalogue*, read with plain SQL as a player may."""
    with contextlib.closing(sqlite3.connect(f"file:{catalogue}?mode=ro", uri=True)) as opened:
        return list(opened.execute("SELECT path, size FROM tracks ORDER BY id"))
