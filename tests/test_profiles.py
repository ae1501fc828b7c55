"""Player profiles and programmes: what is valid, and what is said of what is not."""

from pathlib import Path

import pytest

from syncd.errors import SetupProblem
from syncd.planner.programme import read_programme
from syncd.profile import find_profile, read_profile, sample_profiles

VALID = """
name = "A player"
[[plays]]
codec = "mp3"
[encode]
codec = "mp3"
quality = 2
"""


def said_of(text: str, tmp_path: Path) -> str:
    file = tmp_path / "mine.toml"
    file.write_text(text, "utf-8")
    with pytest.raises(SetupProblem) as told:
        read_profile(file)
    assert str(file) in str(told.value)
    return str(told.value)


@pytest.mark.parametrize("name", sample_profiles())
def test_the_profiles_that_come_with_syncd_are_valid(name: str) -> None:
    assert read_profile(sample_profiles()[name]).name


def test_there_are_at_least_four_profiles() -> None:
    assert len(sample_profiles()) >= 4


def test_equal_profiles_have_equal_keys_and_a_change_another(tmp_path: Path) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(VALID)
    first = read_profile(file).key()
    file.write_text("# a remark\n" + VALID)
    assert read_profile(file).key() == first
    file.write_text(VALID.replace("quality = 2", "quality = 3"))
    assert read_profile(file).key() != first


def test_a_misspelt_key_is_named_with_the_likely_one_and_the_allowed_ones(tmp_path: Path) -> None:
    told = said_of(VALID + '[tgas]\nart = "none"\n', tmp_path)
    assert "'tgas'" in told and "Did you mean 'tags'?" in told and "catalogue" in told


def test_a_wrong_value_is_named_with_what_is_allowed(tmp_path: Path) -> None:
    told = said_of(VALID.replace('codec = "mp3"\n[enc', 'codec = "mp4"\n[enc'), tmp_path)
    assert "'plays[1].codec' is 'mp4'" in told and "'flac'" in told


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    told = said_of(VALID + '[card]\ncharset = "latin"\nlongest_name = 3\n', tmp_path)
    assert "card.charset" in told and "card.longest_name" in told


@pytest.mark.parametrize(
    ("line", "fragment"),
    [
        ('work_layout = "{composr}/x"', "'{composr}' is not a field"),
        ('work_layout = "{composer"', "braces"),
        ('work_layout = "{number}/{movement}"', "behind the last slash"),
        ('popular_layout = "../{title}"', "dots"),
        ('root = "../elsewhere"', "folder on the card"),
        ('root = "syncd"', "kept for syncd"),
    ],
)
def test_a_layout_that_could_not_work_is_refused(line: str, fragment: str, tmp_path: Path) -> None:
    assert fragment in said_of(VALID + f"[card]\n{line}\n", tmp_path)


@pytest.mark.parametrize(
    ("encode", "fragment"),
    [
        ('codec = "flac"', "no 'plays' entry lists"),
        ('codec = "mp3"\nquality = 2\nbitrate_kbps = 192', "exclude each other"),
        ('codec = "mp3"\nbitrate_kbps = 500', "320"),
        ('codec = "mp3"\nmax_sample_rate_hz = 96000', "48000"),
    ],
)
def test_an_encoding_that_could_not_work_is_refused(
    encode: str, fragment: str, tmp_path: Path
) -> None:
    text = VALID.split("[encode]")[0] + "[encode]\n" + encode
    assert fragment in said_of(text, tmp_path)


def test_what_is_no_toml_or_not_there_is_told(tmp_path: Path) -> None:
    assert "line 1: 'name' has no value" in said_of("name = \n", tmp_path)
    with pytest.raises(SetupProblem, match="cannot be read"):
        read_profile(tmp_path / "nowhere.toml")
    with pytest.raises(SetupProblem, match="mcu-mp3"):
        find_profile("no such profile")


def test_a_programme_whose_clause_chooses_nothing_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "programme.toml"
    file.write_text("[[clause]]\n")
    with pytest.raises(SetupProblem, match="chooses nothing"):
        read_programme(file)
    file.write_text('[[clause]]\ncomposr = "Bach"\n')
    with pytest.raises(SetupProblem, match="Did you mean 'composer'"):
        read_programme(file)
    file.write_text("")
    with pytest.raises(SetupProblem, match="clause"):
        read_programme(file)


@pytest.mark.parametrize(
    ("plays", "fragment"),
    [
        ('codec = "mp3"\nobject_types = ["LC"]', "is a limit of aac, not of mp3"),
        ('codec = "mp3"\nmax_block_samples = 4096', "is a limit of flac and vorbis, not of mp3"),
        ('codec = "mp3"\nsubset = true', "is a limit of flac, not of mp3"),
        ('codec = "mp3"\nbitrate = "variable"', "'any' or 'constant'"),
        ('codec = "mp3"\nsample_rates_hz = [44]', "at least 8000"),
    ],
)
def test_a_limit_that_could_not_hold_is_refused(plays: str, fragment: str, tmp_path: Path) -> None:
    assert fragment in said_of(VALID.replace('codec = "mp3"', plays, 1), tmp_path)


@pytest.mark.parametrize(
    ("encode", "fragment"),
    [
        ('quality = 2\nbitrate = "constant"', "excludes 'quality'"),
        ("block_samples = 4096", 'is for codec "flac"'),
    ],
)
def test_a_setting_of_another_codec_is_refused(encode: str, fragment: str, tmp_path: Path) -> None:
    assert fragment in said_of(VALID.replace("quality = 2", encode), tmp_path)


@pytest.mark.parametrize("key", ["target_lufs = -3", "true_peak_ceiling_dbtp = 1", 'mode = "loud"'])
def test_a_loudness_that_cannot_be_is_named(key: str, tmp_path: Path) -> None:
    assert "'loudness." + key.split()[0] in said_of(VALID + f"[loudness]\n{key}\n", tmp_path)


def test_even_loudness_needs_tags_on_what_is_carried(tmp_path: Path) -> None:
    text = VALID + '[tags]\nrewrite_carried = false\n[loudness]\nmode = "tags"\n'
    assert "no gain tag reaches the files that are carried over" in said_of(text, tmp_path)
