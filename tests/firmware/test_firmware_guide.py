"""The C header and the guide say what the contract says, no more and no less."""

import re
import struct
import zlib
from pathlib import Path

import pytest
from compiling import GUIDE, PROGRAM, ROOT

from syncd.catalogue import contract, slots
from syncd.catalogue.contract import STATEMENTS, Statement
from syncd.catalogue.header import RECORD_FIELDS, RULE, header
from syncd.catalogue.rows import HOME

GUIDE_TEXT = GUIDE.read_text("utf-8")


def literal(text: str, name: str) -> str:
    """The string that the macro *name* stands for, its adjacent literals joined as C does."""
    lines = text.split(f"#define {name} \\\n")[1].split("\n")
    parts = []
    for line in lines:
        parts.append(line.strip().removesuffix("\\").strip().strip('"'))
        if not line.endswith("\\"):
            break
    return "".join(parts)


def constants(text: str) -> dict[str, int]:
    """All members of enums that have a value."""
    found = re.findall(r"^    (SYNCD_\w+) = (\d+),?$", text, re.MULTILINE)
    assert len(found) == len(dict(found))
    return {name: int(value) for name, value in found}


@pytest.mark.parametrize("statement", STATEMENTS, ids=lambda statement: statement.name)
def test_the_header_has_each_statement_and_where_its_columns_are(statement: Statement) -> None:
    name = statement.name.upper()
    assert literal(header(), f"SYNCD_SQL_{name}") == statement.sql
    found = constants(header())
    for place, column in enumerate(statement.columns):
        assert found[f"SYNCD_{name}_{column.upper()}"] == place
    assert found[f"SYNCD_{name}_COLUMNS"] == len(statement.columns)


def test_the_header_has_the_rows_of_home_by_their_ids() -> None:
    found = constants(header())
    assert [found[f"SYNCD_LIST_{name.upper()}"] for name, _ in HOME] == list(
        range(1, len(HOME) + 1)
    )


def test_the_header_has_every_limit_of_the_contract() -> None:
    for name, value in (
        ("FORM", contract.FORM),
        ("APPLICATION_ID", contract.APPLICATION_ID),
        ("PAGE_BYTES", contract.PAGE_BYTES),
        ("ROWS", contract.ROWS),
        ("QUEUE_ROWS", contract.QUEUE_ROWS),
        ("LABEL_BYTES", contract.LABEL_BYTES),
        ("WHOLE_BYTES", contract.WHOLE_BYTES),
        ("FIRST_PREFIX", contract.FIRST_PREFIX),
    ):
        (found,) = re.findall(rf"^#define SYNCD_{name} +(\w+)", header(), re.MULTILINE)
        assert int(found, 0) == value
    for step in contract.STEPS:
        assert re.search(rf"^ \* +{step.number} {step.name} +{step.reads} reads", header(), re.M)


def test_the_places_in_a_record_are_those_that_syncd_writes() -> None:
    written = slots.encode(slots.Record(0x01020304, 0x1112131415161718, "ab" * 16, 0x21222324))
    parts = {name: written[at : at + size] for name, at, size in RECORD_FIELDS}
    assert b"".join(parts.values()) == written
    assert parts["magic"] == slots.MAGIC
    numbers = [parts[name] for name in ("format", "generation", "file_crc", "crc")]
    told = [slots.RECORD_FORMAT, 0x01020304, 0x21222324, zlib.crc32(written[:60])]
    assert [struct.unpack("<I", number)[0] for number in numbers] == told
    assert struct.unpack("<Q", parts["size"]) == (0x1112131415161718,)
    assert parts["key"] == b"\xab" * 16
    assert parts["reserved"] == bytes(16)
    for name, at, size in RECORD_FIELDS:
        assert f"SYNCD_RECORD_{name.upper()}_AT = {at}" in header()
        assert re.search(rf"^\| {at} \| {size} \|", GUIDE_TEXT, re.MULTILINE)


def test_the_header_is_the_same_each_time_and_plain_ascii() -> None:
    assert header() == header()
    assert header().isascii()
    assert header().endswith("#endif\n")
    assert max(len(line) for line in header().split("\n")) <= 100


def test_the_guide_quotes_every_statement_and_no_other() -> None:
    blocks = re.findall(r"^```sql\n(.*?)^```$", GUIDE_TEXT, re.MULTILINE | re.DOTALL)
    quoted = [line for block in blocks for line in block.strip().split("\n")]
    assert sorted(quoted) == sorted(statement.sql for statement in STATEMENTS)
    assert GUIDE_TEXT.count("SELECT") == len(quoted)


def test_the_guide_has_each_step_with_its_budget() -> None:
    headings = re.findall(r"^### (\d+)\. .*: (\d+) reads$", GUIDE_TEXT, re.MULTILINE)
    assert headings == [(str(step.number), str(step.reads)) for step in contract.STEPS]


def test_the_guide_names_every_column_that_a_player_gets() -> None:
    told = re.sub(r"^```sql.*?^```$", "", GUIDE_TEXT, flags=re.MULTILINE | re.DOTALL)
    for statement in STATEMENTS:
        for column in set(statement.columns) - {"id", "list", "label"}:
            assert f"`{column}`" in told, column


def test_the_guide_and_the_header_have_the_rule_for_choosing_a_slot() -> None:
    assert len(RULE) == 4
    assert "```c\n" + "\n".join(RULE) + "\n```" in GUIDE_TEXT
    assert "\n".join(f"    {line}" for line in RULE) in header()


def test_the_guide_names_what_identifies_a_catalogue() -> None:
    assert f"`0x{contract.APPLICATION_ID:x}`" in GUIDE_TEXT
    assert f"the form, {contract.FORM};" in GUIDE_TEXT


def test_what_the_guide_points_to_is_there() -> None:
    for name in re.findall(r"`((?:docs|tests)/[\w./]+)", GUIDE_TEXT):
        assert (ROOT / name).exists(), name
    for option in re.findall(r"`(SYNCD_\w+|syncd_\w+)`", GUIDE_TEXT):
        assert option in header(), option
    for option in re.findall(r"`(?:PRAGMA )?(SQLITE_[A-Z_]+)", GUIDE_TEXT):
        if option not in ("SQLITE_CONFIG_HEAP", "SQLITE_CORRUPT", "SQLITE_NOTADB"):
            assert option in PROGRAM.read_text("utf-8"), option


def test_the_command_prints_the_header_or_writes_it_to_a_file(tmp_path: Path) -> None:
    from click.testing import CliRunner

    from syncd.cli.main import cli

    target = tmp_path / "syncd_catalogue.h"
    printed = CliRunner().invoke(cli, ["catalogue", "header"])
    written = CliRunner().invoke(cli, ["catalogue", "header", "-o", str(target)])
    assert (printed.exit_code, printed.output) == (0, header())
    assert (written.exit_code, written.output) == (0, "")
    assert target.read_bytes() == header().encode()
    refused = CliRunner().invoke(cli, ["catalogue", "header", "-o", str(tmp_path / "no" / "x.h")])
    assert "cannot be written" in str(refused.exception)
