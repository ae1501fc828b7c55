"""Browsing: the outline for pipes, and the walk at a terminal."""

from collections.abc import Callable
from io import StringIO
from pathlib import Path

import pytest
from catalogue_samples import BEETHOVEN, Shelf, mixed
from rich.console import Console

from syncd.catalogue.browse import clock, outline, run_browse
from syncd.catalogue.reader import Catalogue
from syncd.model import Composer, Identity, Kind, Movement, Work


def walked(shelf: Shelf, folder: Path, *answers: str) -> str:
    """What a walk prints; the input ends after the last answer."""
    out = StringIO()
    waiting = list(answers)

    def ask(prompt: str) -> str:
        if not waiting:
            raise EOFError
        answer = waiting.pop(0)
        out.write(f"{prompt}{answer}\n")
        return answer

    with Catalogue(shelf.built(folder)) as catalogue:
        console = Console(file=out, width=100)
        run_browse(catalogue, interactive=True, out=out, console=console, ask=ask)
    assert not waiting, "the walk ended early"
    return out.getvalue()


def test_the_outline_shows_the_way_from_composer_to_movement(tmp_path: Path) -> None:
    out = StringIO()
    with Catalogue(mixed().built(tmp_path)) as catalogue:
        run_browse(catalogue, interactive=False, out=out)
    assert out.getvalue() == (
        "2 composers, 3 works, 4 recordings, 3 popular artists, 3 popular albums, 17 tracks.\n"
        "\n"
        "Beethoven, Ludwig van\n"
        "  Piano Sonata No. 14, Op. 27 No. 2\n"
        "    Quirin Ostrowald  3:04\n"
        "      1. Movement 1  1:02\n"
        "      2. Movement 2  1:02\n"
        "      3. Movement 3  1:02\n"
        "  Symphony No. 5 in C minor, Op. 67\n"
        "    Ilvana Brandtner-Koss (1987)  4:06\n"
        "      1. Movement 1  1:02\n"
        "      2. Movement 2  1:02\n"
        "      3. Movement 3  1:02\n"
        "      4. Movement 4  1:02\n"
        "    Marnesund Philharmonic; Teodor Vasslin (2011)  4:06\n"
        "      1. Movement 1  1:02\n"
        "      2. Movement 2  1:02\n"
        "      3. Movement 3  1:02\n"
        "      4. Movement 4  1:02\n"
        "\n"
        "Chopin, Frédéric\n"
        "  Nocturne, Op. 9 No. 2\n"
        "    Quirin Ostrowald  1:02\n"
        "      1. Movement 1  1:02\n"
        "\n"
        "Popular\n"
        "  [Artist unknown]\n"
        "    [Album unknown]  1:02\n"
        "      unknown thing  1:02\n"
        "  Saffi Brandeluna\n"
        "    Slow Tram Home (2020)  1:02\n"
        "      1. Window Seat  1:02\n"
        "  The Thursday Kilns\n"
        "    Harbour of Small Lamps  3:04\n"
        "      1. Chalk  1:02\n"
        "      2. Interlude  1:02\n"
        "      3. Ferry  1:02\n"
    )


def test_an_empty_catalogue_says_so(tmp_path: Path) -> None:
    with Catalogue(Shelf().built(tmp_path)) as catalogue:
        assert list(outline(catalogue)) == ["The catalogue is empty."]
    assert "The catalogue is empty." in walked(Shelf(), tmp_path, "1", "", "x", "q")


@pytest.mark.parametrize(
    ("duration_ms", "shown"),
    [
        (0, "0:00"),
        (59_400, "0:59"),
        (59_600, "1:00"),
        (3_599_999, "1:00:00"),
        (3_727_000, "1:02:07"),
    ],
)
def test_durations_are_shown_to_the_second(duration_ms: int, shown: str) -> None:
    assert clock(duration_ms) == shown


def test_a_walk_leads_from_a_composer_to_the_path_of_a_movement(tmp_path: Path) -> None:
    said = walked(mixed(), tmp_path, "1", "1", "2", "2", "3", "q")
    assert "Composers (2)" in said
    assert "Beethoven, Ludwig van (2 works)" in said
    assert "Symphony No. 5 in C minor, Op. 67 (2 recordings)" in said
    assert "Marnesund Philharmonic; Teodor Vasslin (2011)  4:06" in said
    assert "Teodor Vasslin, conductor" in said
    assert "3. Movement 3  1:02" in said
    assert said.rstrip().splitlines()[-3].strip() == "Music/00002.flac"


def test_a_performer_leads_to_their_recordings(tmp_path: Path) -> None:
    said = walked(mixed(), tmp_path, "2", "Q", "1", "1")
    assert "Quirin Ostrowald (2)" in said
    assert "Beethoven: Piano Sonata No. 14, Op. 27 No. 2" in said
    assert "Chopin: Nocturne, Op. 9 No. 2" in said
    assert "Quirin Ostrowald, piano" in said


def many_composers() -> Shelf:
    shelf = Shelf()
    for number in range(20):
        name = f"{chr(ord('A') + number // 2)}. Composer {number % 2}"
        shelf.recording(Work("Sonata"), composer=Composer(name, name))
    return shelf


def test_lists_go_on_eight_rows_at_a_time(tmp_path: Path) -> None:
    said = walked(many_composers(), tmp_path, "1", "", "", "", "-")
    assert "1 to 8 of 20" in said
    assert said.count("9 to 16 of 20") == 2
    assert said.count("17 to 20 of 20") == 2, "Enter at the end stays there"


def test_a_letter_jumps_to_its_first_row(tmp_path: Path) -> None:
    said = walked(many_composers(), tmp_path, "1", "H")
    last = said.rsplit("> H", 1)[1]
    assert " 1  H. Composer 0" in last
    assert "15 to 20 of 20" in last


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        ("Z", "Nothing begins with 'Z' here. Letters: A B C"),
        ("9", "There is no row 9 here."),
        ("0", "There is no row 0 here."),
        ("9" * 10_000, "There is no row 99999999999999999999 here."),
        ("\x1b[2J", "Nothing begins with '\\x1b[2J' here."),
    ],
)
def test_an_answer_that_leads_nowhere_is_told_and_changes_nothing(
    tmp_path: Path, answer: str, said: str
) -> None:
    shown = walked(many_composers(), tmp_path, "1", answer)
    assert said in shown
    assert shown.count("1 to 8 of 20") == 2


def test_back_leads_the_way_up_and_ends_at_home(tmp_path: Path) -> None:
    said = walked(mixed(), tmp_path, "1", "1", "b", "b", "b", "q")
    headings = [line for line in said.splitlines() if line in ("Catalogue", "Composers")]
    assert headings == ["Catalogue", "Composers", "Composers", "Catalogue", "Catalogue"]


@pytest.mark.parametrize("show", ["outline", "walk"])
def test_text_of_the_card_cannot_steer_the_terminal(tmp_path: Path, show: str) -> None:
    """The builder cleans what it shows; a catalogue from elsewhere may not have been cleaned."""
    import sqlite3

    file = mixed().built(tmp_path)
    connection = sqlite3.connect(file)
    connection.execute("UPDATE composers SET label = char(27) || '[31m[bold]Red' WHERE id = 1")
    connection.commit()
    connection.close()
    out = StringIO()
    answers = iter(["1", "q"])
    ask: Callable[[str], str] = lambda prompt: next(answers)  # noqa: E731
    with Catalogue(file) as catalogue:
        run_browse(catalogue, interactive=show == "walk", out=out, ask=ask)
    assert "\x1b" not in out.getvalue()
    assert "[31m[bold]Red" in out.getvalue(), "markup is shown, not obeyed"


def test_a_movement_of_a_single_piece_carries_the_work_s_name(tmp_path: Path) -> None:
    shelf = Shelf()
    shelf.track(
        Identity(
            Kind.WORK, BEETHOVEN, Work("Egmont Overture", ("Op. 84",)), "r", Movement(None, None)
        )
    )
    with Catalogue(shelf.built(tmp_path)) as catalogue:
        assert catalogue.track(1).label == "Egmont Overture, Op. 84"
