"""The C program of the guide for firmware reads cards as syncd's own reader does.

With the system's SQLite, and with SQLite as microcontrollers have it (SYNCD_SQLITE, get_sqlite.sh)
in the arena of 24 KiB that the contract promises. gcc judges the C.
"""

import shutil
import subprocess
import zlib
from pathlib import Path

import pytest
from big_library import big_library
from catalogue_samples import Shelf, mixed
from compiling import SMALL, STRICT, compiled, gcc, run, system_header, with_system_library
from update_kit import Place, make_library
from walked import walked

from syncd.catalogue import contract, slots
from syncd.catalogue.belonging import CatalogueEntry
from syncd.catalogue.build import build
from syncd.catalogue.header import header
from syncd.catalogue.labels import Charset
from syncd.catalogue.slots import Slot
from syncd.model import Composer, Credit, Work


def strange() -> Shelf:
    """Names of 10,000 characters, right-to-left, emoji, none at all; more credits than a screen."""
    shelf = Shelf()
    names = ("א" * 10_000, "\U0001f3bb violin", "", "tab\tand\nbreak", "Ж" * 99, "%s%n%x")
    for name in names:
        shelf.recording(
            Work(name, (name,)),
            2,
            composer=Composer(name, name),
            credits=tuple(Credit(f"{name} {number}", "soloist", name) for number in range(30)),
        )
        shelf.popular(name, name, name, name)
    return shelf


def put(
    card: Path, entries: list[CatalogueEntry], slot: Slot, generation: int, charset: Charset
) -> None:
    """A catalogue of *entries* into *slot* of the card's folder, with its record."""
    (card / slots.FOLDER).mkdir(parents=True, exist_ok=True)
    target = card / slots.catalogue_path(slot)
    build(entries, target, charset)
    record(card, slot, generation)


def record(card: Path, slot: Slot, generation: int) -> None:
    """The record for the catalogue file as it is."""
    data = (card / slots.catalogue_path(slot)).read_bytes()
    said = slots.Record(generation, len(data), "0" * 32, zlib.crc32(data))
    (card / slots.record_path(slot)).write_bytes(slots.encode(said))


@pytest.fixture(scope="module")
def cards(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Cards of several kinds; "updated" was written by a real update."""
    base = tmp_path_factory.mktemp("cards")
    put(base / "large", list(big_library(1_000)), "a", 1, "unicode")
    put(base / "letters", mixed().entries, "b", 7, "unicode")
    put(base / "plain", mixed().entries, "a", 3, "ascii")
    put(base / "strange", strange().entries, "a", 1, "unicode")
    put(base / "empty", Shelf().entries, "a", 1, "unicode")
    place = Place(base / "updated")
    make_library(place.music)
    place.new_card()
    place.update()
    return {name: base / name for name in ("large", "letters", "plain", "strange", "empty")} | {
        "updated": place.card
    }


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return with_system_library(tmp_path_factory.mktemp("program"), header())


@pytest.fixture(scope="module")
def checked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The program under the compiler's own watch over addresses and undefined behaviour."""
    folder = tmp_path_factory.mktemp("checked")
    flags = ("-fsanitize=address,undefined", "-fno-sanitize-recover=all", "-g")
    source = folder / "try.c"
    source.write_text("int main(void) { return 0; }\n")
    tried = subprocess.run([gcc(), *flags, source, "-o", folder / "try"], capture_output=True)
    if tried.returncode:
        pytest.skip("needs gcc's sanitizers (Debian: libasan and libubsan, which gcc brings)")
    return with_system_library(folder, header(), *flags)


def test_the_header_alone_compiles_cleanly_and_may_be_included_twice(tmp_path: Path) -> None:
    (tmp_path / "syncd_catalogue.h").write_text(header())
    source = tmp_path / "twice.c"
    source.write_text('#include "syncd_catalogue.h"\n' * 2 + "int main(void) { return 0; }\n")
    words = [gcc(), *STRICT, "-c", str(source), "-o", str(tmp_path / "twice.o")]
    assert subprocess.run(words, capture_output=True).stderr == b""


@pytest.mark.parametrize("name", ["large", "letters", "plain", "strange", "empty", "updated"])
def test_the_program_reads_what_syncd_reads(
    program: Path, cards: dict[str, Path], name: str
) -> None:
    ran = run(program, "--check", cards[name])
    assert ran.status == 0, ran.said
    assert ran.lines == walked(cards[name])


def test_it_keeps_the_budgets_of_reads_from_an_empty_cache(
    program: Path, cards: dict[str, Path]
) -> None:
    _within_budgets(run(program, "--cold", cards["large"]).costs)


def _within_budgets(costs: dict[str, tuple[int, int, int, int]]) -> None:
    assert list(costs) == [step.name for step in contract.STEPS]
    for step in contract.STEPS:
        runs, reads, moved, vm_steps = costs[step.name]
        assert runs
        assert reads <= step.reads, step.name
        assert moved <= contract.MOST_BYTES_A_STEP
        assert vm_steps <= contract.MOST_VM_STEPS


@pytest.mark.parametrize("kept, kib", [(1, 24), (2, 28), (8, 40)])
@pytest.mark.parametrize("folder", SMALL or [None], ids=lambda folder: folder and folder.name)
def test_the_whole_contract_runs_in_a_fixed_arena(
    cards: dict[str, Path], tmp_path: Path, folder: Path | None, kept: int, kib: int
) -> None:
    """With eight pages of cache, in 32 bits, by the program's own allocator."""
    if folder is None:
        pytest.skip("needs SYNCD_SQLITE: folders made by tests/firmware/get_sqlite.sh")
    if (folder / "sqlite3.o").read_bytes()[4] != 1:  # ELF's class of 32 bits
        pytest.skip("needs a compiler for 32 bits (Debian: gcc-multilib)")
    words = ("-m32", "-Os", f"-DKEPT={kept}", f"-DARENA_BYTES={kib * 1024}", f"-I{folder}")
    small = compiled(tmp_path, header(), *words, folder / "sqlite3.o")
    for name, card in cards.items():
        ran = run(small, card)
        assert ran.status == 0, (name, ran.said)
        assert ran.lines == walked(card)
        assert f"arena {kib * 1024} bytes, 8 pages" in ran.said
    cold = run(small, "--cold", cards["large"])
    assert cold.status == 0
    _within_budgets(cold.costs)


def test_too_small_an_arena_is_told(cards: dict[str, Path], tmp_path: Path) -> None:
    system_header()
    small = compiled(tmp_path, header(), "-DARENA_BYTES=8192", "-lsqlite3")
    ran = run(small, cards["letters"])
    assert ran.status == 1
    assert "The arena of 8192 bytes is too small." in ran.said


# -- slots ---------------------------------------------------------------------------------------


def test_the_newer_of_two_slots_is_opened(checked: Path, tmp_path: Path) -> None:
    put(tmp_path, mixed().entries, "a", 4, "unicode")
    put(tmp_path, mixed().entries, "b", 5, "unicode")
    assert run(checked, tmp_path).lines[0] == "slot b, generation 5"
    record(tmp_path, "a", 6)
    assert run(checked, tmp_path).lines[0] == "slot a, generation 6"
    record(tmp_path, "b", 6)
    assert run(checked, tmp_path).lines[0] == "slot a, generation 6"


@pytest.mark.parametrize("harm", ["torn", "bit", "long", "format", "gone"])
def test_a_damaged_record_leaves_the_other_slot(checked: Path, tmp_path: Path, harm: str) -> None:
    put(tmp_path, mixed().entries, "a", 4, "unicode")
    put(tmp_path, mixed().entries, "b", 5, "unicode")
    path = tmp_path / slots.record_path("b")
    data = bytearray(path.read_bytes())
    if harm == "torn":
        path.write_bytes(data[:40])
    elif harm == "bit":
        data[13] ^= 1
        path.write_bytes(data)
    elif harm == "long":
        path.write_bytes(data + b"\0")
    elif harm == "format":
        data[8] = 2
        data[60:] = zlib.crc32(data[:60]).to_bytes(4, "little")
        path.write_bytes(data)
    else:
        path.unlink()
    ran = run(checked, tmp_path)
    assert (ran.status, ran.lines[0]) == (0, "slot a, generation 4")


def test_a_card_without_a_valid_slot_is_told(checked: Path, tmp_path: Path) -> None:
    put(tmp_path, mixed().entries, "a", 4, "unicode")
    (tmp_path / slots.record_path("a")).write_bytes(b"\xff" * 64)
    for card in (tmp_path, tmp_path / "nothing here"):
        ran = run(checked, card)
        assert (ran.status, ran.lines) == (1, [])
        assert "There is no catalogue on the card at" in ran.said


# -- damaged, foreign, newer ---------------------------------------------------------------------


def harmed(card: Path, harm: str) -> None:
    """A catalogue in slot a with *harm* done to it; its record says the size that it has."""
    put(card, mixed().entries, "a", 4, "unicode")
    path = card / slots.catalogue_path("a")
    data = bytearray(path.read_bytes())
    if harm == "cut":
        data = data[: len(data) // 2]
    elif harm == "newer":
        data[63] += 1
    elif harm == "older":
        data[63] -= 1
    elif harm == "foreign":
        data[68] ^= 1
    elif harm == "text":
        data = bytearray(b"Dear player, this is no database. " * 40)
    elif harm == "short":
        data = data[:50]
    elif harm == "zeros":
        data[1024:] = bytes(len(data) - 1024)
    path.write_bytes(data)
    record(card, "a", 4)


@pytest.mark.parametrize(
    "harm, told",
    [
        ("cut", "is damaged: it has"),
        ("newer", f"has form {contract.FORM + 1}, and this player reads form {contract.FORM}. It"),
        ("older", f"has form {contract.FORM - 1}, and this player reads form {contract.FORM}. Up"),
        ("foreign", "is a database of another program"),
        ("text", "is not a SQLite database"),
        ("short", "is not a SQLite database"),
        ("zeros", "The catalogue is damaged: "),
    ],
)
def test_what_is_no_whole_catalogue_is_told(
    checked: Path, tmp_path: Path, harm: str, told: str
) -> None:
    harmed(tmp_path, harm)
    ran = run(checked, tmp_path)
    assert ran.status == 1
    assert told in ran.said


def test_a_slot_that_cannot_be_read_leaves_the_other(checked: Path, tmp_path: Path) -> None:
    put(tmp_path, mixed().entries, "b", 3, "unicode")
    harmed(tmp_path, "newer")
    ran = run(checked, tmp_path)
    assert (ran.status, ran.lines[0]) == (0, "slot b, generation 3")


def test_a_changed_byte_shows_in_the_checksum(checked: Path, tmp_path: Path) -> None:
    put(tmp_path, mixed().entries, "a", 4, "unicode")
    path = tmp_path / slots.catalogue_path("a")
    data = bytearray(path.read_bytes())
    data[-10] ^= 4
    path.write_bytes(data)
    ran = run(checked, "--check", tmp_path)
    assert ran.status == 1
    assert "its checksum differs" in ran.said


def test_no_damaged_page_makes_it_crash_or_run_for_ever(checked: Path, tmp_path: Path) -> None:
    put(tmp_path / "good", mixed().entries, "a", 4, "unicode")
    good = (tmp_path / "good" / slots.catalogue_path("a")).read_bytes()
    ended = set()
    for number in range(60):
        card = tmp_path / "bad"
        shutil.copytree(tmp_path / "good", card)
        data = bytearray(good)
        for step in range(1 + number % 7):  # places and values without a pattern, but always these
            place = zlib.crc32(f"{number} {step}".encode())
            data[100 + place % (len(data) - 100)] ^= 1 << (place >> 29)
        (card / slots.catalogue_path("a")).write_bytes(data)
        ran = run(checked, card)
        assert "Sanitizer" not in ran.said and "runtime error" not in ran.said, (number, ran.said)
        assert ran.status in (0, 1), (number, ran.said)
        assert ran.status == 0 or "is damaged" in ran.said
        ended.add(ran.status)
        shutil.rmtree(card)
    assert ended == {0, 1}


# -- the card is pulled --------------------------------------------------------------------------


def test_a_card_that_was_away_for_a_moment_goes_on_where_it_was(
    checked: Path, cards: dict[str, Path]
) -> None:
    whole = walked(cards["letters"])
    for read in (5, 9, 17, 33):
        ran = run(checked, "--cold", "--pull", str(read), cards["letters"])
        assert ran.status == 0
        assert "The card cannot be read" in ran.said
        assert "The card is back." in ran.said
        assert ran.lines == whole


def test_a_card_that_is_away_while_it_is_opened_is_told(
    checked: Path, cards: dict[str, Path]
) -> None:
    ran = run(checked, "--pull", "2", cards["letters"])
    assert ran.status == 1
    assert "The card cannot be read" in ran.said
