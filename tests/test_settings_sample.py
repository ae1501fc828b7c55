"""The commented settings file names each setting, and with it all is as without any file."""

import re
import tomllib
from pathlib import Path

import pytest

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
