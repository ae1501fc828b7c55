"""The contract with firmware: statements, query plans, and budgets by a counting file system.

EXPLAIN QUERY PLAN as in SQLite's documentation of it: SEARCH by rowid and nothing else.
"""

import ast
import sqlite3
from pathlib import Path

import pytest
from big_library import big_library
from catalogue_samples import hostile, mixed
from contract_steps import Measured

from syncd.catalogue import contract
from syncd.catalogue.build import build
from syncd.catalogue.cost import CountingConnection

SYNCD = Path(contract.__file__).parents[1]


@pytest.fixture(scope="module", params=[1_000, 10_000])
def big(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("big") / f"{request.param}.db"
    build(big_library(request.param), target)
    return target


def test_no_step_reads_more_than_its_budget_from_an_empty_cache(big: Path) -> None:
    measured = Measured(big, 8)
    found = measured.cold(every=1 if measured.tracks < 5_000 else 7)
    assert all(worst.runs for worst in found.values())
    over = {step.name: worst.at for step, worst in found.items() if worst.reads > step.reads}
    assert over == {}
    assert max(worst.bytes for worst in found.values()) <= contract.MOST_BYTES_A_STEP
    assert max(worst.vm_steps for worst in found.values()) <= contract.MOST_VM_STEPS


@pytest.mark.parametrize("hears", [True, False])
def test_a_warm_session_seldom_reads(big: Path, hears: bool) -> None:
    session = sorted(Measured(big, contract.WARM_PAGES).session(3_000, hears))
    assert sum(session) / len(session) <= contract.WARM_MEAN_READS
    assert session[len(session) * 99 // 100] <= contract.WARM_P99_READS


def test_a_track_takes_as_little_room_as_promised(big: Path) -> None:
    assert big.stat().st_size / int(big.stem) <= 390


def test_each_statement_is_one_search_by_rowid(tmp_path: Path) -> None:
    connection = CountingConnection(mixed().built(tmp_path))
    for statement in contract.STATEMENTS:
        (plan,) = connection.plan(statement)
        assert plan == f"SEARCH {statement.table} USING INTEGER PRIMARY KEY (rowid>?)"
    connection.close()


def test_the_tables_have_the_columns_that_the_statements_name_and_no_others(tmp_path: Path) -> None:
    opened = sqlite3.connect(mixed().built(tmp_path))
    tables = {row[0] for row in opened.execute("SELECT name FROM sqlite_schema")}
    assert tables == {statement.table for statement in contract.STATEMENTS}
    for statement in contract.STATEMENTS:
        columns = {row[1] for row in opened.execute(f"PRAGMA table_info({statement.table})")}
        assert columns == set(statement.columns)
    opened.close()


def test_the_schema_fits_into_one_page_beside_the_first(tmp_path: Path) -> None:
    """Boot reads the header, page 1 and one more."""
    connection = CountingConnection(mixed().built(tmp_path))
    assert connection.opened.reads == contract.BOOT.reads == 3
    assert connection.opened.bytes == 100 + 2 * contract.PAGE_BYTES
    connection.close()


def test_the_ten_steps_use_the_statements_and_each_statement_has_a_use() -> None:
    assert [step.number for step in contract.STEPS] == list(range(1, 11))
    assert {s for step in contract.STEPS for s in step.statements} == set(contract.STATEMENTS)
    assert all(step.aim <= step.reads for step in contract.STEPS)


def test_the_faces_of_the_catalogue_run_no_sql_of_their_own() -> None:
    """Whatever browses goes through the reader, and the reader through the contract."""
    for name in ("reader", "browse", "walk", "showing", "verify", "from_plan"):
        source = (SYNCD / "catalogue" / f"{name}.py").read_text("utf-8")
        texts = [
            node.value
            for node in ast.walk(ast.parse(source))
            if isinstance(node, ast.Constant) and isinstance(node.value, str)
        ]
        assert not [text for text in texts if text.startswith("SELECT")], name


def test_costs_are_those_of_the_card_and_not_of_a_warm_cache(tmp_path: Path) -> None:
    measured = Measured(mixed().built(tmp_path), 16)
    with measured.connection.cold() as cold:
        measured.catalogue.home()
    before = measured.connection.total
    measured.catalogue.home()
    assert cold[0].reads == 2, "page 1 and the table's only page"
    assert (measured.connection.total - before).reads == 0


@pytest.mark.parametrize(
    "kind",
    [
        "5,000 composers of one letter",
        "a composer with 20,000 works",
        "a work with 1,000 movements",
        "a recording with 200 credits",
        "9 names alike for 24 letters",
    ],
)
def test_the_budgets_hold_in_libraries_of_odd_proportions(tmp_path: Path, kind: str) -> None:
    shelf = hostile(kind)
    measured = Measured(shelf.built(tmp_path), 8)
    found = measured.cold(every=max(1, len(shelf.entries) // 500))
    assert {step.name: w.at for step, w in found.items() if w.reads > step.reads} == {}


def test_names_as_long_as_essays_cost_lists_nothing_and_details_little(tmp_path: Path) -> None:
    measured = Measured(hostile("names of 10,000 characters").built(tmp_path), 8)
    found = measured.cold()
    lists = (contract.SHOW_LIST, contract.JUMP, contract.SEARCH)
    assert {step.name: found[step].at for step in lists if found[step].over} == {}
    assert max(worst.reads for worst in found.values()) <= contract.PLAYING.reads
