"""The programme's language: what a file may say, and what is said of its faults, with the line."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncd.errors import SetupProblem
from syncd.planner.programme import Programme, read_programme
from syncd.toml_config import lines_of

ROOT = Path(__file__).resolve().parent.parent.parent


def read(folder: Path, text: str) -> Programme:
    path = folder / "programme.toml"
    path.write_text(text, "utf-8")
    return read_programme(path)


def faults(folder: Path, text: str) -> list[str]:
    with pytest.raises(SetupProblem) as caught:
        read(folder, text)
    return str(caught.value).split("\n  ")[1:]


def test_the_sample_programme_is_valid_and_uses_every_key() -> None:
    sample = ROOT / "config" / "programme.toml"
    programme = read_programme(sample)
    assert programme.fit is not None
    text = sample.read_text("utf-8")
    for key in type(programme.clause[0]).model_fields:
        assert key in text, key


def test_the_reference_names_every_key() -> None:
    text = (ROOT / "docs" / "programme.md").read_text("utf-8")
    clause = read_programme(ROOT / "config" / "programme.toml").clause[0]
    for key in type(clause).model_fields:
        assert f"`{key}" in text or f"[clause.{key}]" in text, key


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("1958", (1958, 1958)),
        ('"1950-1969"', (1950, 1969)),
        ('"1980-"', (1980, float("inf"))),
        ('"-1949"', (0, 1949)),
        ('"1950 \u2013 1969"', (1950, 1969)),
    ],
)
def test_years_are_numbers_and_ranges(
    tmp_path: Path, written: str, meant: tuple[float, float]
) -> None:
    programme = read(tmp_path, f"[[clause]]\nyear = {written}\n")
    assert programme.clause[0].year == (meant,)


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ('"8 GB"', 8 * 10**9),
        ('"7.5GiB"', 7.5 * 2**30),
        ('"500 mb"', 500 * 10**6),
        ('"12 KiB"', 12 * 1024),
        ("123456", 123456),
    ],
)
def test_sizes_have_decimal_and_binary_units(tmp_path: Path, written: str, meant: float) -> None:
    """Prefixes by IEC 80000-13: k, M, G of ten, Ki, Mi, Gi of two."""
    text = f"[[clause]]\neverything = true\n[clause.limit]\nsize = {written}\n"
    limit = read(tmp_path, text).clause[0].limit
    assert limit is not None
    assert limit.size == meant


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        (
            "[[clause]]\n\ncompser = 'x'\n",
            "line 3: 'clause[1].compser' is not a key here. Did you mean 'composer'?",
        ),
        (
            "[[clause]]\nform = ['sonata', 'sonatta']\n",
            "line 2: 'clause[1].form': 'sonatta' is not a form",
        ),
        ("[[clause]]\nperiod = 'barock'\n", "line 2: 'clause[1].period': 'barock' is not a period"),
        (
            "[[clause]]\nyear = 'sixties'\n",
            "line 2: 'clause[1].year': it must be a number, or a range",
        ),
        (
            "[[clause]]\nyear = '1969-1950'\n",
            "line 2: 'clause[1].year': the range ends before it begins",
        ),
        ("[[clause]]\nrating = 6\n", "line 2: 'clause[1].rating': ratings go from 0 to 5"),
        ("[[clause]]\ncomposer = 7\n", "line 2: 'clause[1].composer': it must be a text in quotes"),
        ("[[clause]]\ncomposer = []\n", "line 2: 'clause[1].composer': the list is empty"),
        (
            "[[clause]]\ncomposer = 'x'\n[clause.limit]\nsize = '8 XB'\n",
            "line 4: 'clause[1].limit.size': it must be an amount",
        ),
        (
            "[[clause]]\ncomposer = 'x'\n[clause.limit]\n",
            "line 3: 'clause[1].limit': a limit must say",
        ),
        ("[[clause]]\nname = 'nothing'\n", "line 1: 'clause[1]': a clause chooses nothing"),
        (
            "[[clause]]\neverything = true\nform = 'sonata'\n",
            "line 1: 'clause[1]': 'everything' chooses all",
        ),
        (
            "[[clause]]\nyear = 1\n[[clause]]\nyear = 2\nleave_out = {everything = true}\n",
            "line 3: 'clause[2]': 'leave_out' with 'everything = true' leaves nothing",
        ),
        ("[[clause]]\ncomposer = 'x'\norder = 'newst'\n", "line 3: 'clause[1].order'"),
        ("[[clause]]\nadded_days = 0\n", "line 2: 'clause[1].added_days'"),
        (
            "[[clause]]\neverything = 'yes'\n",
            "line 2: 'clause[1].everything' is 'yes', but it must be true or false",
        ),
        (
            "[[clause]]\nnewest = '20'\n",
            "line 2: 'clause[1].newest' is '20', but it must be a whole number, without quotes.",
        ),
        ("[[clause]]\nnewest = true\n", "line 2: 'clause[1].newest' is true, but"),
        (
            "[[clause]]\nname = 5\ncomposer = 'x'\n",
            "line 2: 'clause[1].name' is 5, but it must be a text",
        ),
        (
            "[[clause]]\ncomposer = 'x'\nlimit = '8 GB'\n",
            "line 3: 'clause[1].limit' is '8 GB', but it must be a table, under a line [clause",
        ),
        (
            "[[clause]]\ncomposer = 'x'\nleave_out = ['y']\n",
            "line 3: 'clause[1].leave_out[1]' is 'y', but it must be a table, under a line "
            "[[clause.leave_out]].",
        ),
        (
            "leave_out = 'y'\n[[clause]]\ncomposer = 'x'\n",
            "line 1: 'leave_out' is 'y', but it must be a table, under a line [[leave_out]].",
        ),
        (
            "[[clause]]\ncomposer = 'x'\nfit = true\n",
            "line 3: 'clause[1].fit' is not a key here. 'fit' belongs at the top, before",
        ),
        (
            "[limit]\nhours = 3\n[[clause]]\ncomposer = 'x'\n",
            "line 1: 'limit' is not a key here. It belongs below [[clause]], as [clause.limit].",
        ),
        (
            "[[clause]]\ncomposer = 'x'\n[clause.limit]\nsize = 7.5\n",
            'line 4: \'clause[1].limit.size\': it must be an amount such as "8 GB", "500 MB" or '
            '"7.5 GiB" (found 7.5).',
        ),
        (
            "[[clause]]\ncomposer = 'x'\n[clause.limit]\nsize = '0.4 B'\n",
            "line 4: 'clause[1].limit.size'",
        ),
        (
            "[[clause]]\ncomposer = 'x'\n[clause.limit]\nhours = inf\n",
            "line 4: 'clause[1].limit.hours' is inf, but it must be a number.",
        ),
        ("[[clause]]\nyear = inf\n", "line 2: 'clause[1].year': it must be a number"),
        (
            "[[clause]]\nrating = 'good'\n",
            "line 2: 'clause[1].rating': it must be a number, or a range such as \"4-\"",
        ),
        ("fit = true\n", "A line [[clause]] with what belongs to it is missing. Add it."),
        (
            "[[clause]]\ncomposer =",
            "line 2: 'composer' has no value; write it behind the '=', or take the line away.",
        ),
        ("[[clause]]\ncomposer = # who?\nyear = 1\n", "line 2: 'composer' has no value;"),
        (
            "[[clause]]\ncomposer = Bach\n",
            "line 2: 'composer' is Bach; text goes in quotes: composer = \"Bach\".",
        ),
        (
            "[[clause]]\nyear = 1950-1960\n",
            "line 2: 'year' is 1950-1960; text goes in quotes: year = \"1950-1960\".",
        ),
        (
            "[[clause]]\neverything = True\n",
            "line 2: 'everything' is True; write it small: everything = t",
        ),
        (
            "[[clause]]\ncomposer = 'x'\ncomposer = 'y'\n",
            "line 3: 'composer' is there already; keep",
        ),
        (
            "[[clause]]\n[clause]\n",
            "line 2: [clause] is there already; put the lines below it under",
        ),
        (
            "[clause.limit]\nhours = 3\n[[clause]]\ncomposer = 'x'\n",
            "line 3: [[clause]] comes too late: put what belongs to it below this line.",
        ),
        ('[[clause]]\ncomposer = "x\n', "line 2: a text is not closed"),
        ("[[clause]]\ncomposer = ['x' 'y']\n", "line 2: a list is not closed"),
        (
            "[[clause]\ncomposer = 'x'\n",
            "line 1: a line that begins with '[' must end with as many",
        ),
        ('[[clause]]\nalbum = "C:\\Users"\n', "line 2: a backslash in a text"),
        ("[[clause]]\ncomposer: Bach\n", "line 2: a key without a value; write: key = value."),
        ("fit = 'yes'\n[[clause]]\ncomposer = 'x'\n", "line 1: 'fit'"),
        (
            "[fit]\nlowest_kbps = 200\nhighest_kbps = 100\n[[clause]]\ncomposer = 'x'\n",
            "line 1: 'fit': 'lowest_kbps' is above 'highest_kbps'",
        ),
        ("format = 2\n[[clause]]\ncomposer = 'x'\n", "line 1: 'format'"),
        (
            "leave_out = [{}]\n[[clause]]\ncomposer = 'x'\n",
            "line 1: 'leave_out': 'leave_out' must say what",
        ),
    ],
)
def test_a_fault_is_told_with_its_line_and_what_to_write(
    tmp_path: Path, text: str, fault: str
) -> None:
    told = faults(tmp_path, text)
    assert len(told) == 1
    assert told[0].startswith(fault), told[0]


def test_a_mark_before_the_first_letter_that_some_editors_write_is_no_fault(tmp_path: Path) -> None:
    """The byte order mark of UTF-8 (Unicode 23.8), as Windows' editor writes it."""
    (tmp_path / "programme.toml").write_bytes(b"\xef\xbb\xbf[[clause]]\r\ncomposer = 'x'\r\n")
    assert read_programme(tmp_path / "programme.toml").clause[0].composer == ("x",)


def test_all_faults_are_told_at_once_in_the_order_of_their_lines(tmp_path: Path) -> None:
    told = faults(tmp_path, "[[clause]]\nyer = 1\n[[clause]]\nform = 'x'\nyear = 'x'\nfo = 1\n")
    assert [fault.partition(":")[0] for fault in told] == ["line 2", "line 4", "line 5", "line 6"]


def test_a_word_that_is_nearly_known_is_suggested(tmp_path: Path) -> None:
    text = "[[clause]]\nform = 'sonatta'\nperiod = 'barock'\norder = 'newst'\n"
    form, period, order = faults(tmp_path, text)
    assert "did you mean 'Sonata'?" in form
    assert "did you mean 'baroque'?" in period
    assert "'newest'" in order


def test_what_is_not_toml_is_told_with_its_line(tmp_path: Path) -> None:
    with pytest.raises(SetupProblem, match="line 2"):
        read(tmp_path, '[[clause]]\ncomposer = "x\n')


def test_lines_are_found_in_every_form_that_toml_has() -> None:
    text = (
        "# [[clause]]\na = 1\n\n[[clause]]\n'b c' . d = [\n  'x', # ]\n  \"[\",\n]\n"
        'long = """\ne = 1\n[[clause]]\n"""\nf = {g = 1}\n[clause.limit]\nh=2\n[[clause]]\ni = 3\n'
    )
    lines = lines_of(text)
    assert lines == {
        ("a",): 2,
        ("clause",): 4,
        ("clause", 0): 4,
        ("clause", 0, "b c", "d"): 5,
        ("clause", 0, "long"): 9,
        ("clause", 0, "f"): 13,
        ("clause", 0, "limit"): 14,
        ("clause", 0, "limit", "h"): 15,
        ("clause", 1): 16,
        ("clause", 1, "i"): 17,
    }


@given(st.text(max_size=200))
def test_looking_for_lines_takes_any_text(text: str) -> None:
    count = text.count("\n") + 1
    assert all(1 <= line <= count for line in lines_of(text).values())
