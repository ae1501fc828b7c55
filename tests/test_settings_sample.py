"""The commented settings file names each setting, and with it all is as without any file."""

import re
import tomllib
from pathlib import Path

import pytest

from syncd.errors import SetupProblem
from syncd.settings_file import Settings, read_settings

SAMPLE = Path(__file__).resolve().parent.parent / "config" / "syncd.toml"


def test_the_sample_gives_the_defaults() -> None:
    assert read_settings(SAMPLE) == Settings()


@pytest.mark.parametrize("name", Settings.model_fields)
def test_the_sample_has_each_setting(name: str) -> None:
    """Those without a default that could be written are commented out."""
    text = SAMPLE.read_text("utf-8")
    has_value = Settings.model_fields[name].get_default(call_default_factory=True) is not None
    assert (name in tomllib.loads(text)) == has_value
    assert re.search(rf"^{'' if has_value else '# '}{name} = ", text, re.M)


def test_what_the_sample_has_commented_out_is_valid_as_well(tmp_path: Path) -> None:
    text = re.sub(r"^# (\w+ = )", r"\1", SAMPLE.read_text("utf-8"), flags=re.M)
    (tmp_path / "all.toml").write_text(text)
    told = read_settings(tmp_path / "all.toml")
    assert set(tomllib.loads(text)) == set(Settings.model_fields)
    assert told != Settings()


def test_a_tilde_is_the_listeners_own_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    (tmp_path / "s.toml").write_text(
        'ffmpeg = "~/bin/ffmpeg"\ncard_folders = ["~/cards", "/mnt/x"]\n'
        'polled_roots = ["~"]\nnotice_command = ["~/tell", "~"]\n'
    )
    told = read_settings(tmp_path / "s.toml")
    assert told.ffmpeg == f"{tmp_path}/bin/ffmpeg"
    assert told.card_folders == [f"{tmp_path}/cards", "/mnt/x"]
    assert told.polled_roots == [str(tmp_path)]
    assert told.notice_command == [f"{tmp_path}/tell", "~"]


@pytest.mark.parametrize(
    "line",
    [
        'ffmpeg = "bin/ffmpeg"', 'card_folders = ["/x", "cards"]', 'polled_roots = ["Music"]',
        'notice_command = ["./tell"]', 'card_folders = ["~nobody-of-that-name/x"]',
    ],
)  # fmt: skip
def test_a_path_that_begins_nowhere_is_told_with_its_key(tmp_path: Path, line: str) -> None:
    (tmp_path / "s.toml").write_text(line)
    with pytest.raises(SetupProblem, match=f"'{line.split()[0]}.*(whole path|not known)"):
        read_settings(tmp_path / "s.toml")


def test_a_program_may_be_named_without_its_folder(tmp_path: Path) -> None:
    (tmp_path / "s.toml").write_text('ffmpeg = "ffmpeg"\nnotice_command = ["mail-me", "./x"]\n')
    told = read_settings(tmp_path / "s.toml")
    assert (told.ffmpeg, told.notice_command) == ("ffmpeg", ["mail-me", "./x"])
