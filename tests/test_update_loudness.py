"""Whole updates with even loudness: gain tags and baked gains, read back by mutagen and decoders.

The wanted gains follow from ReplayGain 2.0 (-18 LUFS minus loudness) and RFC 7845 (Q7.8 against
-23 LUFS), with the loudness of the joined masters by pyloudnorm.
"""

import contextlib
import math
import re
import sqlite3
import subprocess
from pathlib import Path
from typing import Any, Literal

import mutagen
import numpy as np
import pytest
import soundfile
from even_kit import Samples, make_music, music, player
from update_kit import RATE, Place

from syncd.catalogue.opening import find_catalogue
from syncd.planner.plan import Action
from syncd.profile import Levelling, Profile
from syncd.transcoder.ffmpeg_port import find_ffmpeg
from syncd.updating.updater import Updater
from syncd.updating.values import Outcome, Target


def lufs(samples: Samples, rate: int = RATE) -> float:
    """Integrated loudness by pyloudnorm (its default filter is not the standard's)."""
    pyloudnorm = pytest.importorskip("pyloudnorm", reason="pyloudnorm is not installed")
    return float(pyloudnorm.Meter(rate, filter_class="DeMan").integrated_loudness(samples))


def place_for(tmp_path: Path, profile: Profile) -> Place:
    place = Place(tmp_path, profile)
    place.new_card()
    return place


def files_of(place: Place, suffix: str) -> tuple[list[Path], list[Path]]:
    """Movements and songs on the card, in order."""
    found = sorted(place.card.rglob(f"*{suffix}"))
    popular = [path for path in found if "Low Tide" in path.parts]
    return [path for path in found if path not in popular], popular


def fields(path: Path) -> dict[str, str]:
    """Every gain field of *path* in whatever tag system, names in capitals."""
    audio = mutagen.File(path)
    found = {}
    for key, value in audio.tags.items():
        name = key.split(":")[-1].upper()
        if "GAIN" in name or "R128" in name or key.startswith("RVA2"):
            first = value.text[0] if hasattr(value, "text") else value[0]
            found[name] = first.decode() if isinstance(first, bytes) else str(first)
    return found


def db(text: str) -> float:
    assert re.fullmatch(r"[+-]?\d+\.\d\d dB", text)  # ReplayGain 2.0, metadata format
    return float(text.removesuffix(" dB"))


@pytest.mark.parametrize(
    ("codec", "suffix", "encode"),
    [
        ("mp3", ".mp3", {"quality": 2}),
        ("vorbis", ".ogg", {"bitrate_kbps": 128}),
        ("aac", ".m4a", {"bitrate_kbps": 128}),
        ("flac", ".flac", {}),  # carried over: measured by a decode pass of its own
    ],
)
def test_gain_tags_reach_every_kind_of_file(
    tmp_path: Path, codec: str, suffix: str, encode: dict[str, Any]
) -> None:
    movements, songs = make_music(tmp_path / "music")
    place = place_for(tmp_path, player(codec, Levelling(mode="tags"), **encode))
    outcome = place.update()
    assert outcome.pressed == (0 if codec == "flac" else 5)
    assert any("louder" in text for text in outcome.plan.cautions)  # the recording is raised
    whole = -18 - lufs(np.concatenate(movements))
    for path, samples in zip(files_of(place, suffix)[0], movements, strict=True):
        found = fields(path)
        assert found["REPLAYGAIN_TRACK_GAIN"] == found["REPLAYGAIN_ALBUM_GAIN"]
        assert db(found["REPLAYGAIN_TRACK_GAIN"]) == pytest.approx(whole, abs=0.1)
        peak = max(np.abs(one).max() for one in movements)
        assert found["REPLAYGAIN_TRACK_PEAK"] == f"{peak:.6f}"
        assert found["REPLAYGAIN_REFERENCE_LOUDNESS"] == "-18.00 LUFS"
        assert not any("R128" in name or "RVA2" in name for name in found)
        assert samples is not None
    album = -18 - lufs(np.concatenate(songs))
    for path, samples in zip(files_of(place, suffix)[1], songs, strict=True):
        found = fields(path)
        assert db(found["REPLAYGAIN_TRACK_GAIN"]) == pytest.approx(-18 - lufs(samples), abs=0.1)
        assert db(found["REPLAYGAIN_ALBUM_GAIN"]) == pytest.approx(album, abs=0.1)
        assert found["REPLAYGAIN_TRACK_PEAK"] == f"{np.abs(samples).max():.6f}"
    again = place.update()
    assert (again.applied.written, again.plan.steps, again.plan.cautions) == (0, (), ())
    place.check()


@pytest.mark.parametrize("mode", ["tags", "baked"])
def test_the_catalogue_keeps_the_gain_of_what_was_on_the_card_before(
    tmp_path: Path, mode: Literal["tags", "baked"]
) -> None:
    """With gains in the samples, lossy masters still have theirs in tags."""
    make_music(tmp_path / "music")
    make_lossy(tmp_path / "music" / "Popular")
    place = place_for(tmp_path, player("mp3", Levelling(mode=mode), quality=2))
    place.update()
    first = catalogue_gains(place)
    assert len(first) == 5
    assert sum(bool(gain) for gain in first.values()) == (5 if mode == "tags" else 2)
    new = tmp_path / "music" / "new.flac"
    soundfile.write(new, 0.1 * np.sin(np.arange(RATE) / 10), RATE)
    place.update()
    second = catalogue_gains(place)
    assert len(second) == 6
    assert {path: second[path] for path in first} == first


@pytest.mark.parametrize("codec", ["mp3", "opus"])
def test_another_target_reaches_the_catalogue_also_where_no_file_changes(
    tmp_path: Path, codec: str
) -> None:
    """The gain in an Opus file is towards -23 LUFS whatever is wished (RFC 7845 section 5.2.1)."""
    make_music(tmp_path / "music")
    place = place_for(tmp_path, player(codec, Levelling(mode="tags"), bitrate_kbps=96))
    place.update()
    first = catalogue_gains(place)
    place.profile = player(codec, Levelling(mode="tags", target_lufs=-20.0), bitrate_kbps=96)
    outcome = place.update()
    assert outcome.applied.written == (0 if codec == "opus" else 5)
    assert catalogue_gains(place) == {
        path: pytest.approx((gain or 0) - 200, abs=1) for path, gain in first.items()
    }
    assert place.update().plan.steps == ()


def catalogue_gains(place: Place) -> dict[str, int | None]:
    """What the card's catalogue tells of each track, read with plain SQL as a player may."""
    path = find_catalogue(place.card).path
    with contextlib.closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as opened:
        return dict(opened.execute("SELECT path, gain FROM tracks"))


def test_opus_files_get_the_fields_of_rfc_7845_and_no_others(tmp_path: Path) -> None:
    movements, _ = make_music(tmp_path / "music")
    place = place_for(tmp_path, player("opus", Levelling(mode="tags"), bitrate_kbps=96))
    place.update()
    wanted = 256 * (-23 - lufs(np.concatenate(movements)))
    for path in files_of(place, ".opus")[0]:
        found = fields(path)
        assert set(found) == {"R128_TRACK_GAIN", "R128_ALBUM_GAIN"}
        for text in found.values():
            assert re.fullmatch(r"-?\d{1,5}", text)
            assert int(text) == pytest.approx(wanted, abs=26)  # 0.1 dB


def test_another_target_rewrites_tags_and_encodes_nothing(tmp_path: Path) -> None:
    make_music(tmp_path / "music")
    place = place_for(tmp_path, player("mp3", Levelling(), quality=2))
    assert place.update().pressed == 5
    assert not any(fields(path) for path in place.card.rglob("*.mp3"))
    assert not (place.store / "loudness.db").exists()  # off: nothing is measured
    place.profile = player("mp3", Levelling(mode="tags"), quality=2)
    planned = place.plan()
    assert planned.count(Action.MEASURE) == 5
    assert planned.count(Action.PRESS) == 0
    outcome = place.update()
    assert (outcome.pressed, outcome.applied.written) == (0, 5)
    before = db(fields(files_of(place, ".mp3")[0][0])["REPLAYGAIN_TRACK_GAIN"])
    place.profile = player("mp3", Levelling(mode="tags", target_lufs=-20), quality=2)
    assert place.plan().count(Action.MEASURE) == 0
    outcome = place.update()
    assert (outcome.pressed, outcome.applied.written) == (0, 5)
    after = fields(files_of(place, ".mp3")[0][0])
    assert db(after["REPLAYGAIN_TRACK_GAIN"]) == pytest.approx(before - 2, abs=0.001)
    assert after["REPLAYGAIN_REFERENCE_LOUDNESS"] == "-20.00 LUFS"
    place.profile = player("mp3", Levelling(), quality=2)
    assert place.update().pressed == 0
    assert not any(fields(path) for path in place.card.rglob("*.mp3"))


def decoded(path: Path) -> Samples:
    command = [find_ffmpeg(), "-v", "error", "-nostdin", "-i", str(path), "-f", "f32le"]
    data = subprocess.run([*command, "-"], check=True, capture_output=True).stdout
    return np.frombuffer(data, dtype="<f4").reshape(-1, 2).astype(np.float64)


def true_peak_db(samples: Samples) -> float:
    """By scipy's resampling to eight times the rate."""
    signal = pytest.importorskip("scipy.signal", reason="scipy is not installed")
    return float(20 * math.log10(np.abs(signal.resample(samples, 8 * len(samples))).max()))


@pytest.mark.parametrize(
    ("codec", "suffix", "encode", "overshoot_db"),
    [
        ("flac", ".flac", {}, 0.01),
        ("pcm", ".wav", {}, 0.01),
        # The codec's own: what it changes of the wave adds to the peaks. Measured here: 0.1 dB.
        ("mp3", ".mp3", {"quality": 0}, 0.5),
    ],
)
def test_a_baked_gain_is_in_the_samples(
    tmp_path: Path, codec: str, suffix: str, encode: dict[str, Any], overshoot_db: float
) -> None:
    movements, songs = make_music(tmp_path / "music")
    wanted = Levelling(mode="baked", target_lufs=-16)
    place = place_for(tmp_path, player(codec, wanted, **encode))
    outcome = place.update()
    assert outcome.pressed == 5
    for paths, masters in zip(files_of(place, suffix), (movements, songs), strict=True):
        assert not any(fields(path) for path in paths if codec != "pcm")
        made = [decoded(path) for path in paths]
        gain = -16 - lufs(np.concatenate(masters))
        peak = max(true_peak_db(samples) for samples in masters)
        gain = min(gain, -1.0 - peak)
        reached = lufs(np.concatenate(masters)) + gain
        assert lufs(np.concatenate(made)) == pytest.approx(reached, abs=0.1)
        assert max(true_peak_db(samples) for samples in made) <= -1.0 + overshoot_db
        # one gain for all: the proportion between them is kept
        for samples, master in zip(made, masters, strict=True):
            assert len(samples) == len(master)
            ratio = np.sqrt(np.mean(samples**2) / np.mean(master**2))
            assert 20 * math.log10(ratio) == pytest.approx(gain, abs=0.1)
    again = place.update()
    assert (again.pressed, again.plan.steps) == (0, ())


def test_the_ceiling_holds_a_recording_back(tmp_path: Path) -> None:
    movements, _ = make_music(tmp_path / "music")
    wanted = Levelling(mode="baked", target_lufs=-5, true_peak_ceiling_dbtp=-3)
    place = place_for(tmp_path, player("flac", wanted))
    place.update()
    made = [decoded(path) for path in files_of(place, ".flac")[0]]
    assert max(true_peak_db(samples) for samples in made) == pytest.approx(-3.0, abs=0.05)
    assert lufs(np.concatenate(made)) < -6
    assert len(made) == len(movements)


def make_lossy(folder: Path) -> None:
    """Make MP3s of the files in *folder*."""
    for path in sorted(folder.glob("*.flac")):
        command = [find_ffmpeg(), "-v", "error", "-nostdin", "-i", str(path), "-b:a", "192k"]
        subprocess.run([*command, str(path.with_suffix(".mp3"))], check=True)
        path.unlink()


def test_lossy_masters_are_not_encoded_for_a_gain_and_get_tags(tmp_path: Path) -> None:
    make_music(tmp_path / "music")
    folder = tmp_path / "music" / "Popular"
    make_lossy(folder)
    songs = [decoded(path) for path in sorted(folder.glob("*.mp3"))]
    place = place_for(tmp_path, player("mp3", Levelling(mode="baked"), quality=2))
    planned = place.plan()
    assert planned.count(Action.MEASURE) == 5
    outcome = place.update()
    assert outcome.pressed == 3
    album = -18 - lufs(np.concatenate(songs))
    for path in files_of(place, ".mp3")[1]:
        assert db(fields(path)["REPLAYGAIN_TRACK_GAIN"]) == pytest.approx(album, abs=0.1)
    told = {one.recipe.reasons[-1] for one in outcome.plan.end if one.recipe.action == "carry"}
    assert any("not encoded again" in reason for reason in told)


def test_a_track_that_went_away_is_told_and_the_rest_gets_its_gain(tmp_path: Path) -> None:
    make_music(tmp_path / "music")
    place = place_for(tmp_path, player("flac", Levelling(mode="tags")))

    def work(updater: Updater, target: Target) -> Outcome:
        (tmp_path / "music" / "Popular" / "01.flac").unlink()
        updater.shop.checks = False  # else it is found to be gone before it is measured
        return updater.update(target)

    outcome = place._with(work, None)
    assert isinstance(outcome, Outcome)
    assert any("01.flac cannot be measured" in text for text in outcome.notices)
    assert [one.path.rpartition("/")[2] for one in outcome.plan.left_out] == ["01.flac"]
    recording, album = files_of(place, ".flac")
    assert len(album) == 1
    assert all("REPLAYGAIN_TRACK_GAIN" in fields(path) for path in (*recording, *album))


def test_damaged_measurements_are_set_aside_and_made_again(tmp_path: Path) -> None:
    make_music(tmp_path / "music")
    place = place_for(tmp_path, player("mp3", Levelling(mode="tags"), quality=2))
    place.update()
    before = place.files()
    (place.store / "loudness.db").write_bytes(b"no database at all" * 400)
    for side in ("-wal", "-shm"):
        (place.store / f"loudness.db{side}").unlink(missing_ok=True)
    outcome = place.update()
    assert any("measured again" in text for text in outcome.notices)
    assert (outcome.pressed, outcome.applied.written) == (0, 0)
    assert place.files() == before
    assert (place.store / "loudness.db.damaged-1").exists()


@pytest.mark.parametrize("mode", ["off", "tags", "baked"])
def test_floats_above_full_scale_are_told_as_clipped_or_brought_right(
    tmp_path: Path, mode: Literal["off", "tags", "baked"]
) -> None:
    path = tmp_path / "music" / "loud.wav"
    path.parent.mkdir()
    samples = music(1.5, 9.5, 3)
    soundfile.write(path, samples, RATE, subtype="FLOAT")
    place = place_for(tmp_path, player("flac", Levelling(mode=mode), max_bits_per_sample=24))
    outcome = place.update()
    told = [text for text in outcome.notices if "above full scale" in text]
    (file,) = place.card.rglob("*.flac")
    made = decoded(file)
    if mode == "baked":
        assert told == []
        assert lufs(made) == pytest.approx(-18.0, abs=0.05)
        assert true_peak_db(made) < -1.0
    else:
        assert len(told) == 1
        assert "loud.wav (+9.5 dBFS)" in told[0]
        assert np.abs(made).max() > 0.9999
    (one,) = outcome.plan.end
    assert any("floating point to 24 bit" in text for text in one.recipe.reasons)
