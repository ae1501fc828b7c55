"""``syncd errata`` from the outside: what it writes, shows and refuses, and that review follows."""

import json
import os
import shutil
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from cli_kit import Program
from update_kit import tag, tone

from syncd.cli.errata_options import WHAT, WHICH
from syncd.works.errata import VALUES, read_errata
from syncd.works.selectors import SELECTORS

BROKEN = '# mine\n\n[[entry]]\nalbum = "Low Tide"\nkomposer = "Bach"\n'


@pytest.fixture(scope="session")
def doubtful(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A library that raises questions: tags name no composer, or nothing at all."""
    root = tmp_path_factory.mktemp("doubtful") / "music"
    for number, title in ((1, "I. Allegro"), (2, "II. Andante"), (3, "III. Finale")):
        path = root / "Nameless" / f"{number:02}.flac"
        tone(path, 200 + number)
        tag(
            path,
            title=title,
            album="Symphony in D major",
            artist="Lowmere Ensemble",
            genre="Classical",
            tracknumber=str(number),
        )
    for number in (1, 2):
        tone(root / "Odd [tapes]" / f"{number:02}.flac", 300 + number)
    song = root / "Low Tide" / "01.flac"
    tone(song, 400)
    tag(song, artist="Marnesund Five", album="Low Tide", title="Ebb", genre="Pop")
    return root


@pytest.fixture
def known(bare: Program, doubtful: Path) -> Program:
    """The same, copied, known and scanned."""
    shutil.copytree(doubtful, bare.music)
    assert bare("library", "add", bare.music).status == 0
    assert bare("scan").status == 0
    return bare


def errata(program: Program) -> Path:
    return program.home / "state" / "errata.toml"


def put(program: Program, text: str) -> None:
    errata(program).write_bytes(text.encode())


def question(program: Program, key: str) -> dict[str, object]:
    """The one doubt of ``syncd review`` whose entry says *key*."""
    doubts = program("review", "--json").document["doubts"]
    (found,) = [doubt for doubt in doubts if key in doubt["values"]]
    assert isinstance(found, dict)
    return found


# -- add -----------------------------------------------------------------------------------------


def test_every_key_of_the_errata_is_an_option() -> None:
    assert tuple(WHICH) == SELECTORS
    assert set(WHAT) == set(VALUES)


def test_a_correction_is_shown_written_and_followed_by_the_review(known: Program) -> None:
    assert len(question(known, "is-composer")["paths"]) == 3  # type: ignore[arg-type]
    added = known("errata", "add", "--artist", "Lowmere*", "--is-composer", "Haydn, Joseph")
    assert added.status == 0
    assert "not told → Haydn, Joseph" in added.out
    assert "Nameless/02.flac" in added.out
    assert "Low Tide" not in added.out
    assert f"{errata(known)}, line 1" in added.out
    left = known("review", "--json").document["doubts"]
    assert [doubt["values"] for doubt in left] == [{"kind": "popular"}]


def test_identify_heeds_the_errata_wherever_it_is_called_from(
    known: Program, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(known.music / "Nameless")
    assert known("identify", "01.flac", "--json").lines[0]["composer"] is None
    assert known("errata", "add", "--folder", ".", "--is-composer", "Haydn").status == 0
    for path in ("01.flac", str(known.music / "Nameless" / "01.flac")):
        (told,) = known("identify", path, "--json").lines
        assert told["path"] == path
        assert told["composer"]["sort"] == "Haydn, Joseph"
    put(known, BROKEN)
    ran = known("identify", "01.flac", "--json")
    assert ran.status == 0
    assert ran.lines[0]["composer"] is None
    assert f"{errata(known)}, line 5" in ran.err


def test_a_dry_run_shows_the_same_and_writes_nothing(known: Program) -> None:
    arguments = ["errata", "add", "--album", "low tide", "--kind", "unknown", "--json"]
    tried = known(*arguments, "--dry-run").document
    assert not errata(known).exists()
    done = known(*arguments).document
    assert (tried.pop("written"), tried.pop("line")) == (False, None)
    assert (done.pop("written"), done.pop("line")) == (True, 1)
    assert tried == done
    (change,) = done["changes"]
    assert change["path"] == done["tracks"][0] == str(known.music / "Low Tide" / "01.flac")
    assert change["differences"] == [{"what": "kind", "before": "popular", "after": "unknown"}]
    assert (change["before"]["kind"], change["after"]["kind"]) == ("popular", "unknown")
    assert errata(known).read_text() == done["entry"]


def test_comments_order_line_ends_mode_and_link_survive(known: Program) -> None:
    real = known.base / "kept elsewhere.toml"
    before = '# mine – by hand\r\n\r\n[[entry]]   # the first\r\nalbum = "Low Tide"\r\nkey = "D"'
    real.write_bytes(before.encode())
    real.chmod(0o640)
    errata(known).symlink_to(real)
    assert known("errata", "add", "--album", "Low Tide", "--kind", "unknown").status == 0
    after = real.read_bytes().decode()
    assert after.startswith(before + "\r\n")
    assert after.count("\n") == after.count("\r\n")
    assert errata(known).is_symlink()
    assert stat.S_IMODE(real.stat().st_mode) == 0o640
    assert sorted(path.name for path in known.base.iterdir() if path.is_file()) == [real.name]
    assert [entry.line for entry in read_errata(after).entries] == [3, 7]


def test_a_path_of_the_library_is_understood_wherever_one_stands(
    known: Program, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(known.music / "Odd [tapes]")
    one = known("errata", "add", "--file", "./01.flac", "--kind", "popular", "--json").document
    assert one["tracks"] == [str(known.music / "Odd [tapes]" / "01.flac")]
    both = known("errata", "add", "--folder", ".", "--kind", "popular", "--json").document
    assert len(both["tracks"]) == 2
    home = known("errata", "add", "--folder", known.music, "--kind", "popular", "--json").document
    assert len(home["tracks"]) == 6


def test_a_selector_given_twice_means_one_or_the_other(known: Program) -> None:
    ran = known(
        *("errata", "add", "--file", "Nameless/01.flac", "--file", "Nameless/03.flac"),
        *("--soloists", "Nils Weir (clarinet)", "--soloists", "Ana Rook (piano)"),
    )
    assert ran.status == 0
    (entry,) = read_errata(errata(known).read_text()).entries
    assert dict(entry.selectors)["file"] == ("Nameless/01.flac", "Nameless/03.flac")
    (line,) = known("errata", "list", "--json").document["entries"]
    assert line["tracks"] == 2
    assert line["values"] == {"soloists": ["Nils Weir (clarinet)", "Ana Rook (piano)"]}


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--komposer", "Bach"], ["--komposer is not known here", "--is-composer"]),
        (["--album", "Low Tide"], ["corrects nothing", "is-composer"]),
        (["--kind", "popular"], ["which tracks", "album"]),
        (["--album", "Low Tide", "--kind", "rock"], ["rock", "popular"]),
        (["--album", "Low Tide", "--movement", "two"], ["movement", "whole number", "two"]),
        (["--album", "Low Tide", "--work", " "], ["--work is empty"]),
        (["--album", "Low Tide", "--work", "⟨title⟩"], ["work", "filled in"]),
        (["--album", "No Such", "--kind", "popular"], ["No track", "--anyway"]),
        (["--album", "Low Tide", "--kind", "popular"], ["1 track is filed so already", "--anyway"]),
        (["--album", "Low Tide", "--movement-title", "Ebb"], ["popular music has no works"]),
        (["--settle", "01234567"], ["01234567", "syncd review"]),
    ],
    ids=lambda value: " ".join(value),
)
def test_what_cannot_be_taken_is_a_sentence_and_nothing_is_written(
    known: Program, arguments: list[str], words: list[str]
) -> None:
    if "already" in " ".join(words):
        known("errata", "add", "--album", "Low Tide", "--kind", "popular")
    before = errata(known).read_bytes() if errata(known).exists() else None
    ran = known("errata", "add", *arguments)
    assert ran.status == 2
    assert ran.out == ""
    for word in words:
        assert word in ran.err
    assert (errata(known).read_bytes() if errata(known).exists() else None) == before


def test_music_still_to_come_can_be_corrected_beforehand(known: Program) -> None:
    ran = known("errata", "add", "--album", "No Such", "--kind", "popular", "--anyway")
    assert ran.status == 0
    assert len(read_errata(errata(known).read_text()).entries) == 1


@pytest.mark.parametrize("arguments", [["list"], ["add", "--album", "Low Tide", "--kind", "work"]])
def test_a_broken_file_is_refused_with_its_line_and_stays(
    known: Program, arguments: list[str]
) -> None:
    for text, line in ((BROKEN, 5), ("[[entry]\n", 1)):
        put(known, text)
        ran = known("errata", *arguments)
        assert ran.status == 2
        assert f"{errata(known)}, line {line}:" in ran.err
        assert errata(known).read_text() == text


def test_a_file_that_is_not_utf8_is_refused_with_its_line(known: Program) -> None:
    errata(known).write_bytes(b"# one\n# Dvo\xf8\xe1k\n")
    ran = known("errata", "check")
    assert ran.status == 2
    assert f"{errata(known)}, line 2" in ran.err
    assert known("scan").status == 2


def test_a_failed_write_leaves_the_old_file_and_nothing_beside_it(
    known: Program, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(known, "# mine\n")

    def full(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        ran = known("errata", "add", "--album", "Low Tide", "--kind", "unknown")
    assert ran.status == 2
    assert "cannot be written: No space left" in ran.err
    assert errata(known).read_text() == "# mine\n"
    assert not list((known.home / "state").glob("errata.toml.*"))


def test_two_processes_that_add_at_once_both_have_their_entry(known: Program) -> None:
    command = [sys.executable, "-m", "syncd", "errata", "add", "--anyway", "--kind", "popular"]
    started = [
        subprocess.Popen([*command, "--album", f"Album {number}"], stdout=subprocess.DEVNULL)
        for number in range(6)
    ]
    assert [process.wait() for process in started] == [0] * 6
    entries = read_errata(errata(known).read_text()).entries
    assert sorted(str(dict(entry.selectors)["album"]) for entry in entries) == [
        f"Album {number}" for number in range(6)
    ]


def test_without_a_library_nothing_is_added(bare: Program) -> None:
    ran = bare("errata", "add", "--album", "Low Tide", "--kind", "popular")
    assert ran.status == 2
    assert "syncd library add" in ran.err
    assert bare("errata", "list", "--json").document["entries"] == []


# -- settle --------------------------------------------------------------------------------------


def test_a_question_of_the_review_is_settled_by_its_id(known: Program) -> None:
    asked = question(known, "kind")
    assert str(asked["id"]) in known("review").out
    assert known("errata", "add", "--settle", str(asked["id"])).status == 0
    assert errata(known).read_text() == asked["entry"]
    left = known("review", "--json").document["doubts"]
    assert asked["id"] not in [doubt["id"] for doubt in left]


def test_a_question_that_only_a_person_can_answer_wants_the_answer(known: Program) -> None:
    identifier = str(question(known, "is-composer")["id"])
    ran = known("errata", "add", "--settle", identifier)
    assert ran.status == 2
    assert "Who composed" in ran.err
    assert "--is-composer" in ran.err
    assert not errata(known).exists()
    ran = known("errata", "add", "--settle", identifier, "--is-composer", "Haydn", "--album", "x")
    assert ran.status == 2
    assert "leave out --album" in ran.err
    done = known("errata", "add", "--settle", identifier, "--is-composer", "Haydn", "--json")
    assert {change["after"]["composer"]["sort"] for change in done.document["changes"]} == {
        "Haydn, Joseph"
    }
    assert known("scan").status == 0
    again = known("errata", "add", "--settle", identifier, "--is-composer", "Haydn")
    assert again.status == 2
    assert "No question has the id" in again.err


# -- list and check ------------------------------------------------------------------------------


def test_the_list_tells_line_and_number_of_tracks(known: Program) -> None:
    put(
        known,
        '# mine\n[[entry]]\nartist = "lowmere*"\nis-composer = "Haydn"\nconductor = []\n\n'
        '[[entry]]\nfile = ["Odd*/01.flac", "Odd*/02.flac"]\nkind = "popular"\n'
        '[[entry]]\nalbum = "Lost"\nkey = "D"\n',
    )
    ran = known("errata", "list", "--json")
    assert [(e["line"], e["tracks"]) for e in ran.document["entries"]] == [(2, 3), (7, 2), (10, 0)]
    told = known("errata", "list").out.splitlines()
    assert told[0] == (
        "line 2: artist “lowmere*”: is-composer “Haydn”, conductor nobody  (3 tracks)"
    )
    assert told[1].startswith("line 7: file “Odd*/01.flac” or “Odd*/02.flac”: kind “popular”")


def test_the_check_ends_with_0_1_or_2(known: Program) -> None:
    assert known("errata", "check").status == 0
    put(known, '[[entry]]\nalbum = "Low Tide"\nkind = "work"\n')
    assert known("errata", "check").status == 0
    put(known, '[[entry]]\nalbum = "Low Tide"\nkind = "work"\n[[entry]]\nalbum = "X"\nkey = "D"\n')
    idle = known("errata", "check")
    assert idle.status == 1
    assert f"{errata(known)}, line 4: album “X” fits no track" in idle.out
    assert known("errata", "check", "--json").document["touch_nothing"] == [4]


def test_the_check_names_every_wrong_entry_with_line_and_remedy(known: Program) -> None:
    put(
        known,
        BROKEN + '[[entry]]\nalbum = "Low Tide"\nis-composer = "⟨Family name, Given names⟩"\n'
        '[[entry]]\nalbum = "Low Tide"\nmovement = 0\n'
        '[[entry]]\nalbum = "Low Tide"\nkey = "D"\n',
    )
    ran = known("errata", "check", "--json")
    assert ran.status == 2
    assert [fault["line"] for fault in ran.document["faults"]] == [5, 8, 11]
    for fault, remedy in zip(
        ran.document["faults"], ("corrected can be", "Write what is so", "from 1 on"), strict=True
    ):
        assert f"{errata(known)}, line {fault['line']}:" in fault["message"]
        assert remedy in fault["message"]
    assert [entry["line"] for entry in ran.document["entries"]] == [12]
    assert known("errata", "check").out.count("line") == 3


def test_hostile_names_in_the_errata_reach_no_terminal(known: Program) -> None:
    put(known, '[[entry]]\nalbum = "\\u001b[2J"\nkey = "\\u0007"\n')
    for arguments in (["list"], ["check"]):
        ran = known("errata", *arguments)
        assert "\x1b" not in ran.out + ran.err
        assert "\x07" not in ran.out + ran.err


def test_every_errata_command_prints_one_json_document(known: Program) -> None:
    for arguments in (["list"], ["check"], ["add", "--album", "Low Tide", "--kind", "unknown"]):
        assert isinstance(json.loads(known("errata", *arguments, "--json").out), dict)


# -- review --------------------------------------------------------------------------------------


def test_the_review_lists_all_tracks_when_asked(known: Program) -> None:
    for number in range(3, 9):
        tone(known.music / "Odd [tapes]" / f"{number:02}.flac", 300 + number)
    short = known("review")
    assert "... and 3 more (--all lists them)" in short.out
    assert "08.flac" not in short.out
    whole = known("review", "--all")
    assert whole.status == short.status == 1
    assert "08.flac" in whole.out
    assert "more (" not in whole.out
