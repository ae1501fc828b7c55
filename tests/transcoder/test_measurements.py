"""What was measured is kept, found for rows of tracks, bounded, and made again when damaged."""

from pathlib import Path

import pytest
from loudness_signals import measured, sine

from syncd.model import AudioHash
from syncd.planner.gain import LevelKey
from syncd.transcoder.loudness import Measurement, joined
from syncd.transcoder.measurements import Measurements

RATE = 8000


def key(number: int, done: str = "") -> LevelKey:
    return AudioHash(f"{number:032x}"), done


def part(level: float, seconds: float = 2.013, channels: int = 2) -> Measurement:
    return measured(sine(RATE, [(seconds, level)], hz=500)[:, :channels], RATE)


def opened(folder: Path, clock: list[float] | None = None) -> Measurements:
    ticks = clock or [0.0]
    return Measurements(folder, [], lambda: ticks[0])


def test_a_row_is_heard_as_joined_and_remembered(tmp_path: Path) -> None:
    kept = opened(tmp_path)
    one, other = part(-20), part(-30)
    kept.keep(key(1), one)
    assert kept.known(key(1)) and not kept.known(key(2))
    assert kept.of((key(1), key(2))) is None
    kept.keep(key(2), other)
    heard = kept.of((key(1), key(2)))
    assert heard is not None
    wanted = joined([one, other])
    assert heard.lufs == pytest.approx(wanted.lufs, abs=0.005)
    assert heard.sample_peak == pytest.approx(wanted.sample_peak)
    kept.close()
    again = opened(tmp_path)
    assert again.of((key(1), key(2))) == heard
    assert again.of((key(2), key(1))) != heard or heard.lufs is not None
    again.close()


def test_the_same_audio_mixed_down_is_another_measurement(tmp_path: Path) -> None:
    kept = opened(tmp_path)
    kept.keep(key(1), part(-20))
    assert kept.of((key(1, "mix6to2"),)) is None
    kept.close()


def test_a_mono_track_counts_as_it_is_played(tmp_path: Path) -> None:
    kept = opened(tmp_path)
    kept.keep(key(1), part(-20, channels=1))
    kept.keep(key(2), part(-20))
    mono, stereo = kept.of((key(1),)), kept.of((key(2),))
    assert mono is not None and stereo is not None
    assert mono.lufs == pytest.approx(stereo.lufs, abs=0.01)
    kept.close()


def test_trimming_forgets_energies_and_keeps_the_loudness_found(tmp_path: Path) -> None:
    clock = [0.0]
    kept = opened(tmp_path, clock)
    for number in range(4):
        clock[0] += 1
        kept.keep(key(number), part(-20 - number))
    size = len(part(-20).to_bytes())
    heard = kept.of((key(0),))
    assert kept.trim(4 * size) == 0
    assert kept.trim(2 * size) == 2
    assert [kept.known(key(number)) for number in range(4)] == [False, False, True, True]
    assert kept.of((key(0),)) == heard  # found once, it needs no energies
    assert kept.of((key(0), key(1))) is None
    kept.close()


def test_energies_of_another_form_are_measured_again(tmp_path: Path) -> None:
    kept = opened(tmp_path)
    kept.keep(key(1), part(-20))
    kept.keep(key(2), part(-20))
    kept._db.execute("UPDATE steps SET data = x'09' WHERE audio_hash = ?", (key(1)[0],))
    assert kept.known(key(1))
    assert kept.of((key(1), key(2))) is None
    assert not kept.known(key(1))
    kept.close()


def test_a_damaged_file_is_set_aside_and_said(tmp_path: Path) -> None:
    kept = opened(tmp_path)
    kept.keep(key(1), part(-20))
    kept.close()
    (tmp_path / "loudness.db").write_bytes(b"no database" * 1000)
    notices: list[str] = []
    again = Measurements(tmp_path, notices)
    assert "measured again" in notices[0]
    assert not again.known(key(1))
    assert (tmp_path / "loudness.db.damaged-1").exists()
    again.close()
