"""Counting what steps in a catalogue cost: reads, bytes moved, steps of SQLite's own machine.

A virtual file system in front of the system's own counts what SQLite asks for; the library apsw
lets Python write one. It is not needed for anything else, so it is not among syncd's dependencies.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from syncd.catalogue.contract import STATEMENTS, Statement
from syncd.catalogue.opening import address, damaged
from syncd.errors import SetupProblem

if TYPE_CHECKING:
    import apsw


@dataclass(frozen=True, slots=True)
class Cost:
    """What something cost. ``reads`` are calls of the file system, ``vm_steps`` SQLite's own."""

    reads: int = 0
    bytes: int = 0
    vm_steps: int = 0

    def __add__(self, other: "Cost") -> "Cost":
        return Cost(
            self.reads + other.reads, self.bytes + other.bytes, self.vm_steps + other.vm_steps
        )

    def __sub__(self, other: "Cost") -> "Cost":
        return Cost(
            self.reads - other.reads, self.bytes - other.bytes, self.vm_steps - other.vm_steps
        )


class CountingConnection:
    """A catalogue opened through the counting file system: the port that ``reader`` runs on.

    *pages* is how many pages SQLite may keep. ``total`` counts from the opening on. Raises
    SetupProblem where apsw is not installed.
    """

    def __init__(self, path: Path, pages: int = 16) -> None:
        self._apsw = _library()
        self._path = path
        self._reads = self._bytes = self._vm_steps = 0
        self.opened = Cost()
        self._name = f"syncd-counting-{id(self)}"
        self._vfs = _counting_vfs(self._apsw, self._name, self._count)
        flags = self._apsw.SQLITE_OPEN_READONLY | self._apsw.SQLITE_OPEN_URI
        try:
            self.connection: apsw.Connection = self._apsw.Connection(
                address(path), flags=flags, vfs=self._name, statementcachesize=len(STATEMENTS) + 4
            )
            self.connection.execute(f"PRAGMA cache_size={pages}")
            for statement in STATEMENTS:  # prepared once, as firmware does
                self.connection.execute(statement.sql, (1, 0)).fetchall()
            self.connection.trace_v2(self._apsw.SQLITE_TRACE_PROFILE, self._profiled)
        except self._apsw.Error as error:
            raise damaged(path, str(error)) from error
        self.opened = self.total

    @property
    def total(self) -> Cost:
        """All that was read so far."""
        return Cost(self._reads, self._bytes, self._vm_steps)

    def forget_pages(self) -> None:
        """Let go of all cached pages: what comes next is read from the card."""
        self.connection.release_memory()

    @contextmanager
    def cold(self) -> Iterator[list[Cost]]:
        """What is done inside, from an empty cache; its cost is in the list behind."""
        self.forget_pages()
        before = self.total
        result: list[Cost] = []
        yield result
        result.append(self.total - before)

    def run(self, statement: Statement, first: int, rows: int) -> list[tuple[object, ...]]:
        """At most *rows* rows of *statement* from id *first* on."""
        try:
            return list(self.connection.execute(statement.sql, (first, rows)))
        except self._apsw.Error as error:
            raise damaged(self._path, str(error)) from error
        except OverflowError:
            return []

    def plan(self, statement: Statement) -> list[str]:
        """SQLite's query plan for *statement*."""
        rows = self.connection.execute(f"EXPLAIN QUERY PLAN {statement.sql}", (1, 8))
        return [str(row[3]) for row in rows]

    def close(self) -> None:
        """Let go of the file."""
        self.connection.close()
        self._vfs.unregister()

    def _count(self, amount: int) -> None:
        self._reads += 1
        self._bytes += amount

    def _profiled(self, event: dict[str, Any]) -> None:
        self._vm_steps += event["stmt_status"]["SQLITE_STMTSTATUS_VM_STEP"]


def _library() -> Any:
    try:
        import apsw
    except ImportError as error:
        raise SetupProblem(
            "Counting what a step costs needs the Python package apsw, which is not installed. "
            "Install it beside syncd ('pip install apsw'), or leave --cost out."
        ) from error
    return apsw


def _counting_vfs(apsw: Any, name: str, count: Any) -> Any:
    """A file system called *name* that tells *count* the bytes of each read."""

    class CountedFile(apsw.VFSFile):  # type: ignore[misc]
        def __init__(self, filename: Any, flags: Any) -> None:
            super().__init__("", filename, flags)

        def xRead(self, amount: int, offset: int) -> Any:  # noqa: N802
            count(amount)
            return super().xRead(amount, offset)

    class CountingVfs(apsw.VFS):  # type: ignore[misc]
        def __init__(self) -> None:
            super().__init__(name, "")

        def xOpen(self, filename: Any, flags: Any) -> Any:  # noqa: N802
            return CountedFile(filename, flags)

    return CountingVfs()
