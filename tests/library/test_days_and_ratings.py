"""When a file came to the library, and what its tags say that the listener thinks of it."""

import os
import shutil
import sys
from pathlib import Path

import pytest
from mutagen.id3 import ID3, POPM, TIT2
from mutagen.mp4 import MP4FreeForm

from syncd.library.filerows import rating_of
from syncd.library.index import LibraryIndex
from syncd.library.scan import scan
from syncd.library.tagnames import TagValues, from_id3, from_mp4, from_vorbis
from syncd.model import LibraryPath

sys.path.insert(0, str(Path(__file__).parent.parent))

DAY_NS = 86_400 * 10**9


@pytest.mark.parametrize(
    ("step", "stars"),
    [(0, None), (1, 1), (31, 1), (64, 2), (128, 3), (196, 4), (255, 5), (223, 4), (224, 5)],
)
def test_popularimeters_are_read_as_stars(step: int, stars: int | None) -> None:
    """ID3v2.4.0 frames, 4.17: 1 is worst, 255 is best, 0 is unknown. The stars: common practice."""
    tags = ID3()
    tags.add(TIT2(encoding=3, text=["A"]))
    tags.add(POPM(email="someone@example.org", rating=step, count=3))
    values = TagValues()
    from_id3(tags, values)
    assert rating_of(values.values()) == (None if stars is None else stars * 20)


@pytest.mark.parametrize(
    ("name", "text", "hundredths"),
    [
        ("RATING", "4", 80), ("rating", "80", 80), ("RATING", "0.8", 80), ("RATING", "3.5", 70),
        ("RATING:someone@example.org", "5", 100), ("FMPS_RATING", "1", 100), ("RATING", "0", None),
        ("RATING", "great", None), ("RATING", "250", None), ("RATING", "nan", None),
        ("RATINGS", "5", None),
    ],
)  # fmt: skip
def test_ratings_of_other_tags_are_stars_or_hundredths(
    name: str, text: str, hundredths: int | None
) -> None:
    values = TagValues()
    from_vorbis([(name, text)], values)
    assert rating_of(values.values()) == hundredths


def test_the_rating_of_mp4_files_is_read() -> None:
    values = TagValues()
    from_mp4({"rate": ["60"], "----:x:y": [MP4FreeForm(b"z")]}, values)
    assert rating_of(values.values()) == 60


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    import numpy
    import soundfile

    path = tmp_path_factory.mktemp("sound") / "a.flac"
    soundfile.write(path, numpy.zeros(4410), 44100)
    return path


class Library:
    """A root with files, scanned on days of the test's choosing."""

    def __init__(self, base: Path, sound: Path) -> None:
        self.root = base / "music"
        self.root.mkdir()
        self.sound = sound
        self.index = LibraryIndex(base / "index.db")
        self.index.add_root(self.root)
        self._made = 0

    def put(self, name: str, day: int) -> Path:
        path = self.root / name
        path.parent.mkdir(exist_ok=True)
        self._made += 1
        # A byte behind the audio makes each file another one.
        path.write_bytes(self.sound.read_bytes() + bytes([self._made]))
        os.utime(path, ns=(day * DAY_NS, day * DAY_NS))
        return path

    def days(self, today: int) -> dict[str, int | None]:
        scan(self.index, now_ns=lambda: today * DAY_NS + 5)
        return {
            os.path.relpath(entry.track.path, self.root): entry.track.added
            for entry in self.index.snapshot().tracks
        }


@pytest.fixture
def music(tmp_path: Path, sound: Path) -> Library:
    return Library(tmp_path, sound)


def test_what_a_new_root_has_is_as_old_as_its_files_and_what_comes_later_is_new(
    music: Library,
) -> None:
    music.put("old.flac", 1000)
    music.put("future.flac", 99_999)
    assert music.days(20_000) == {"old.flac": 1000, "future.flac": 20_000}
    music.put("copied.flac", 900)
    assert music.days(20_005)["copied.flac"] == 20_005, "copying keeps the time of the file"
    assert music.days(20_009) == {"old.flac": 1000, "future.flac": 20_000, "copied.flac": 20_005}


def test_another_content_and_another_place_keep_the_day(music: Library) -> None:
    music.put("first.flac", 1000)
    music.days(20_000)
    music.put("a.flac", 500)
    music.put("b.flac", 500)
    music.days(20_005)
    path = music.put("a.flac", 20_006)
    assert music.days(20_007)["a.flac"] == 20_005
    path.rename(music.root / "c.flac")
    (music.root / "other").mkdir()
    shutil.copy(music.root / "b.flac", music.root / "other" / "b.flac")  # another inode and time
    (music.root / "b.flac").unlink()
    days = music.days(20_010)
    assert days == {"first.flac": 1000, "c.flac": 20_005, "other/b.flac": 20_005}


def test_a_root_that_was_taken_out_and_comes_again_is_not_all_new(music: Library) -> None:
    music.put("old.flac", 1000)
    music.days(20_000)
    music.index.remove_root(music.root)
    music.index.add_root(music.root)
    assert music.days(20_100) == {"old.flac": 1000}
    assert LibraryPath(str(music.root)) in music.index.roots()
