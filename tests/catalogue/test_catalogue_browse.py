"""Browsing: the outline for pipes, search by text, and the walk by keys."""

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from big_library import big_library
from catalogue_samples import BEETHOVEN, Shelf, mixed

from syncd.catalogue.browse import outline, search, tree
from syncd.catalogue.build import build
from syncd.catalogue.contract import Step
from syncd.catalogue.reader import Catalogue, pages
from syncd.catalogue.showing import clock
from syncd.catalogue.walk import Walk
from syncd.cli.terminal import draw, key_names
from syncd.model import Composer, Identity, Kind, Movement, Work


def test_the_outline_shows_the_way_from_composer_to_movement(tmp_path: Path) -> None:
    with Catalogue(mixed().built(tmp_path)) as catalogue:
        lines = list(outline(catalogue))
    assert lines == [
        "2 composers, 3 works, 4 recordings, 3 popular artists, 3 popular albums, 17 tracks.",
        "",
        "Beethoven, Ludwig van",
        "  Piano Sonata No. 14, Op. 27 No. 2",
        "    Quirin Ostrowald  3:05",
        "      1. Movement 1  1:02",
        "      2. Movement 2  1:02",
        "      3. Movement 3  1:02",
        "  Symphony No. 5 in C minor, Op. 67",
        "    Ilvana Brandtner-Koss (1987)  4:06",
        "      1. Movement 1  1:02",
        "      2. Movement 2  1:02",
        "      3. Movement 3  1:02",
        "      4. Movement 4  1:02",
        "    Marnesund Philharmonic; Teodor Vasslin (2011)  4:06",
        "      1. Movement 1  1:02",
        "      2. Movement 2  1:02",
        "      3. Movement 3  1:02",
        "      4. Movement 4  1:02",
        "",
        "Chopin, Frédéric",
        "  Nocturne, Op. 9 No. 2",
        "    Quirin Ostrowald  1:02",
        "      1. Movement 1  1:02",
        "",
        "Popular",
        "  [Artist unknown]",
        "    [Album unknown]  1:02",
        "      unknown thing  1:02",
        "  Saffi Brandeluna",
        "    Slow Tram Home (2020)  1:02",
        "      1. Window Seat  1:02",
        "  The Thursday Kilns",
        "    Harbour of Small Lamps  3:05",
        "      1. Chalk  1:02",
        "      2. Interlude  1:02",
        "      3. Ferry  1:02",
    ]


def test_the_tree_for_json_holds_every_track_once(tmp_path: Path) -> None:
    shelf = mixed()
    with Catalogue(shelf.built(tmp_path)) as catalogue:
        found = list(paths(tree(catalogue)))
    assert sorted(found) == [entry.path for entry in shelf.entries]


def paths(value: object) -> Iterator[str]:
    if isinstance(value, dict):
        if "path" in value:
            yield value["path"]
        value = list(value.values())
    if isinstance(value, list):
        for one in value:
            yield from paths(one)


def test_an_empty_catalogue_says_so_and_can_be_walked(tmp_path: Path) -> None:
    with Catalogue(Shelf().built(tmp_path)) as catalogue:
        assert list(outline(catalogue)) == ["The catalogue is empty."]
        walk = Walk(catalogue)
        for key in ("right", "down", "left", "last", "x", "/", "a", "rub out", "right", "left"):
            assert walk.press(key)
        assert "  The catalogue is empty." in walk.lines()
        assert not walk.press("q")


@pytest.mark.parametrize(
    ("milliseconds", "shown"),
    [
        (0, "0:00"),
        (59_400, "0:59"),
        (59_500, "1:00"),
        (3_599_999, "1:00:00"),
        (3_727_000, "1:02:07"),
    ],
)
def test_durations_are_shown_to_the_second(milliseconds: int, shown: str) -> None:
    assert clock(milliseconds) == shown


def walked(shelf: Shelf, folder: Path, *keys: str) -> list[str]:
    """The screen after *keys*."""
    with Catalogue(shelf.built(folder)) as catalogue:
        walk = Walk(catalogue)
        for key in keys:
            assert walk.press(key), "the walk ended early"
        return walk.lines()


def test_a_walk_leads_from_a_composer_to_all_about_a_movement(tmp_path: Path) -> None:
    # composers, Beethoven, the symphony, its second recording, its third movement
    way = ["right", "right", "down", "right", "down", "right"]
    assert walked(mixed(), tmp_path, *way) == [
        "Marnesund Philharmonic; Teodor Vasslin  1 of 4",
        "  Ludwig van Beethoven",
        "  Symphony No. 5 in C minor, Op. 67",
        "  Teodor Vasslin, conductor",
        "  Marnesund Philharmonic, ensemble",
        "",
        " > 1. Movement 1  1:02",
        "   2. Movement 2  1:02",
        "   3. Movement 3  1:02",
        "   4. Movement 4  1:02",
        "",
        "up, down; right: open; left: back; /: search; q: end",
    ]
    assert walked(mixed(), tmp_path, *way, "down", "down", "right")[:8] == [
        "3. Movement 3",
        "  Ludwig van Beethoven",
        "  Symphony No. 5 in C minor, Op. 67",
        "  movement 3 of 4, 1:02",
        "  Teodor Vasslin, conductor",
        "  Marnesund Philharmonic, ensemble",
        "  2011",
        "  Music/00002.flac",
    ]


def many_composers() -> Shelf:
    shelf = Shelf()
    for number in range(40):
        name = f"{chr(ord('A') + number // 4)}. Composer {number % 4}"
        shelf.recording(Work("Sonata"), composer=Composer(name, name))
    return shelf


def test_the_list_moves_when_the_mark_leaves_the_screen(tmp_path: Path) -> None:
    lines = walked(many_composers(), tmp_path, "right", *["down"] * 8)
    assert lines[0] == "Composers  9 of 40"
    rows = [line for line in lines if "Composer " in line]
    assert rows[0] == "   A. Composer 1  1"
    assert rows[-1] == " > C. Composer 0  1"
    assert len(rows) == 8
    back = walked(many_composers(), tmp_path, "right", "last", *["up"] * 9)
    assert back[0] == "Composers  31 of 40"
    assert back[2] == " > H. Composer 2  1"


def test_a_letter_jumps_to_its_first_row_and_back_leads_up(tmp_path: Path) -> None:
    lines = walked(many_composers(), tmp_path, "right", "h")
    assert lines[0] == "Composers  29 of 40"
    assert " > H. Composer 0  1" in lines
    assert walked(many_composers(), tmp_path, "right", "h", "left")[0] == "Catalogue  1 of 5"


@pytest.mark.parametrize(
    ("key", "said"),
    [
        ("z", "Nothing begins with z. Letters: A B C D E F G H I J"),
        ("\x1b", "Nothing begins with \ufffd. Letters: A B C D E F G H I J"),
    ],
)
def test_a_letter_that_leads_nowhere_is_told(tmp_path: Path, key: str, said: str) -> None:
    assert walked(many_composers(), tmp_path, "right", key)[-1] == said


def test_letters_are_turned_until_one_is_left(tmp_path: Path) -> None:
    shelf = mixed()
    for number in range(20):
        shelf.popular(f"Quentin {number}", f"Quarry {number}", "x")
    lines = walked(shelf, tmp_path, "/", "q", "u")
    assert lines[0] == "Search: qu_  1 of 8"
    assert lines[1] == "  41 hits"
    assert lines[-1].startswith("letters: a e i;")
    lines = walked(shelf, tmp_path, "/", "q", "u", "i")
    assert lines[0] == "Search: qui_  1 of 1"
    assert " > Quirin Ostrowald  2" in lines
    assert lines[-1].startswith("all of them are shown;")
    assert walked(shelf, tmp_path, "/", "q", "u", "i", "rub out") == walked(
        shelf, tmp_path, "/", "q", "u"
    )
    assert walked(shelf, tmp_path, "/", "q", "x")[-1] == "Nothing goes on with x."
    opened = walked(shelf, tmp_path, "/", "q", "u", "i", "right")
    assert " > Beethoven: Piano Sonata No. 14, Op. 27 No. 2  3:05" in opened


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("beeth", "Beethoven, Ludwig van"),
        ("Ludwig", "Beethoven, Ludwig van"),
        ("op27no2", "Beethoven: Piano Sonata No. 14, Op. 27 No. 2"),
        ("HARBOUR", "The Thursday Kilns: Harbour of Small Lamps"),
        ("Frédéric", "Chopin, Frédéric"),
    ],
)
def test_text_finds_what_its_letters_lead_to(tmp_path: Path, text: str, first: str) -> None:
    with Catalogue(mixed().built(tmp_path)) as catalogue:
        *_, (prefix, rows) = search(catalogue, text)
        assert rows[0].label == first
        assert prefix.count == len(rows)
        assert list(search(catalogue, f"{text}zzz"))[-1][1] == []


def test_every_hit_of_a_prefix_has_a_word_that_begins_so(tmp_path: Path) -> None:
    """The tree against the plain definition, on a library of some size."""
    target = tmp_path / "big.db"
    build(big_library(2_000), target)
    with Catalogue(target) as catalogue:
        root = catalogue.prefix()
        words = 0
        for letter in root.letters:
            prefix = catalogue.turned(root, letter)
            assert prefix is not None
            words += prefix.count
            rows = list(pages(catalogue.entries, prefix.first, prefix.count))
            assert len(rows) == prefix.count
            best = catalogue.found(prefix).best
            assert len({row.item for row in best}) == len(best) <= 8
            assert {row.item for row in best} <= {row.item for row in rows}
        assert words == root.count


def test_each_step_of_a_walk_is_one_of_the_contract(tmp_path: Path) -> None:
    taken: list[Step] = []
    with Catalogue(many_composers().built(tmp_path)) as catalogue:
        walk = Walk(catalogue, taken.append)
        for key in ("right", "h", "page down", "right", "right", "right", "right", "left", "/"):
            walk.press(key)
    assert [step.name for step in taken] == [
        "home",
        "list",
        "letter",
        "list",
        "open",
        "open",
        "open",
        "playing",
        "search",
    ]


@pytest.mark.parametrize("show", ["outline", "walk"])
def test_text_of_the_card_cannot_steer_the_terminal(tmp_path: Path, show: str) -> None:
    """The builder cleans what it shows; a catalogue from elsewhere may not have been cleaned."""
    file = mixed().built(tmp_path)
    connection = sqlite3.connect(file)
    connection.execute("UPDATE entries SET label = char(27) || '[31mRed'")
    connection.commit()
    connection.close()
    with Catalogue(file) as catalogue:
        lines = list(outline(catalogue))
        if show == "walk":
            walk = Walk(catalogue)
            walk.press("right")
            walk.press("right")
            lines = walk.lines()
    assert not [line for line in lines if "\x1b" in line]
    assert any("\ufffd[31mRed" in line for line in lines)


def test_a_movement_of_a_single_piece_carries_the_work_s_name(tmp_path: Path) -> None:
    shelf = Shelf()
    work = Work("Egmont Overture", ("Op. 84",))
    shelf.track(Identity(Kind.WORK, BEETHOVEN, work, "r", Movement(None, None)))
    with Catalogue(shelf.built(tmp_path)) as catalogue:
        assert catalogue.track(1).label == "Egmont Overture, Op. 84"


@pytest.mark.parametrize(
    ("sent", "names"),
    [
        ("\x1b[A\x1b[B\x1bOC\x1b[D", ["up", "down", "right", "left"]),
        ("\x1b[5~\x1b[6~\x1b[H\x1b[4~", ["page up", "page down", "first", "last"]),
        ("aÉ/\x7f\r ", ["a", "É", "/", "rub out", "right", "page down"]),
        ("\x1b[99;99Xq", ["q"]),
        ("\x01q", ["q"]),
        ("a\x04b", ["a"]),
    ],
)
def test_keys_are_known_by_what_terminals_send(sent: str, names: list[str]) -> None:
    waiting = list(sent)
    read = lambda: waiting.pop(0) if waiting else ""  # noqa: E731
    assert list(key_names(read, lambda: bool(waiting))) == names


def test_a_lone_escape_leads_back() -> None:
    waiting = ["\x1b", "a"]
    read = lambda: waiting.pop(0) if waiting else ""  # noqa: E731
    assert list(key_names(read, lambda: False)) == ["left", "a"]


def test_lines_are_cut_to_the_terminal() -> None:
    assert draw(["123456", "12"], 4).endswith("1234\r\n12\r\n")
