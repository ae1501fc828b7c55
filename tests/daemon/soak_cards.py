"""How the soak judges a card: by mutagen, libsndfile, sqlite3, gzip and xxhash, not by syncd."""

import contextlib
import gzip
import json
import sqlite3
from collections import Counter
from pathlib import Path

import mutagen
import xxhash
from soak_library import Expected, colour_of, voice_of

COLOURS_DIFFER = 12
"""Of 255: what JPEG, twice, may make of a plain colour."""


def judged(card: Path, expected: list[Expected], foreign: dict[str, bytes]) -> None:
    """Raises AssertionError where *card* is not as *expected*, or one of its own files changed."""
    for name, data in foreign.items():
        assert (card / name).read_bytes() == data, f"{name}, not ours, was changed"
    ours = card / "SYNCD"
    for left in ("journal", "incoming", "manifest.new"):
        assert not (ours / left).exists(), f"{left} was left behind"
    files = {
        path.relative_to(card).as_posix(): path
        for path in card.rglob("*")
        if path.is_file() and ours not in path.parents
    }
    files = {name: path for name, path in files.items() if name not in foreign}
    lines = gzip.decompress((ours / "manifest.gz").read_bytes()).splitlines()[1:]
    manifest = {entry["path"]: entry for entry in map(json.loads, lines)}
    assert manifest.keys() == files.keys(), manifest.keys() ^ files.keys()
    for name, path in files.items():
        data = path.read_bytes()
        assert manifest[name]["size"] == len(data), name
        assert manifest[name]["xxh3_128"] == xxhash.xxh3_128_hexdigest(data), name
    (catalogue,) = ours.glob("cat-?.db")
    opened = sqlite3.connect(f"file:{catalogue}?immutable=1", uri=True)
    with contextlib.closing(opened):
        assert opened.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        named = dict(opened.execute("SELECT path, size FROM tracks"))
        assert opened.execute("SELECT count(*) FROM tracks").fetchone() == (len(named),)
    assert named == {name: path.stat().st_size for name, path in files.items()}
    _as_expected(files, expected)


def _as_expected(files: dict[str, Path], expected: list[Expected]) -> None:
    wanted = {voice: one for one in expected for voice in one.voices}
    seen: list[Expected] = []
    for name, path in files.items():
        one = wanted.get(voice := voice_of(path.read_bytes()))
        assert one is not None, f"{name} has the audio of none that is wanted ({voice})"
        seen.append(one)
        if one.lost:
            continue
        tags = mutagen.File(path, easy=True)
        said = [tags.get(key, [""])[0] for key in ("artist", "album", "title")]
        assert said == [one.artist, one.album, one.title], (name, said, one)
        assert tags.get("tracknumber", ["0"])[0].partition("/")[0] == str(one.number), (name, one)
        colour = colour_of(path)
        assert (colour is None) == (one.colour is None), (name, colour, one)
        if colour is not None and one.colour is not None:
            far = max(abs(a - b) for a, b in zip(colour, one.colour, strict=True))
            assert far <= COLOURS_DIFFER, (name, colour, one)
    missing = Counter(one for one in expected if not one.perhaps) - Counter(seen)
    too_many = Counter(seen) - Counter(expected)
    assert not missing and not too_many, f"too many: {too_many}\nmissing: {missing}"


def on_card(card: Path, foreign: dict[str, bytes]) -> dict[str, bytes]:
    """Every file but for the identity, the slot's letter and record (I3), and the listener's."""
    found = {}
    for path in card.rglob("*"):
        shown = path.relative_to(card).as_posix()
        ours = shown != "SYNCD/card.json" and not shown.endswith(".rec") and shown not in foreign
        if path.is_file() and ours:
            found[shown.replace("cat-b.db", "cat-a.db")] = path.read_bytes()
    return found


def differences(one: dict[str, bytes], other: dict[str, bytes]) -> list[str]:
    """The names of what is in one only, or not the same in both."""
    return sorted(name for name in one.keys() | other.keys() if one.get(name) != other.get(name))
