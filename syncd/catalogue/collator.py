"""The library's collator, with its table read letter by letter, as letters come up.

To read all of the table takes a tenth of a second, which a command that writes one catalogue would
spend on scripts that no name of it has. What a letter's entries say is the library's affair: this
only puts off reading them.
"""

import os
from importlib import resources
from typing import Any

from pyuca.collator import COLL_ELEMENT_PATTERN, Collator_9_0_0
from pyuca.trie import Trie
from pyuca.utils import hexstrings2int

_TABLE = f"allkeys-{Collator_9_0_0.UCA_VERSION}.txt"
_IMPLICIT = "@implicitweights"


class _Letters(dict[int, Any]):
    """What *trie* has below its root: the nodes by first code point, each read when asked for."""

    def __init__(self, trie: Trie, unread: dict[str, list[str]]) -> None:
        self._trie = trie
        self._unread = unread

    def __contains__(self, code: object) -> bool:
        for line in self._unread.pop(f"{code:04X}", ()):
            self._read(line)
        return super().__contains__(code)

    def _read(self, line: str) -> None:
        codes, _, weights = line.partition("#")[0].partition(";")
        elements = [hexstrings2int(each) for each in COLL_ELEMENT_PATTERN.findall(weights)]
        self._trie.add(hexstrings2int(codes.split()), elements)

    def read_all(self) -> None:
        while self._unread:
            for line in self._unread.popitem()[1]:
                self._read(line)


def collator() -> Collator_9_0_0:
    """A collator by the default table of the Unicode Collation Algorithm, 9.0."""
    made = Collator_9_0_0(os.devnull)
    unread: dict[str, list[str]] = {}
    for line in (resources.files("pyuca") / _TABLE).read_text("utf-8").split("\n"):
        if line.startswith(_IMPLICIT):
            letters, base = line.removeprefix(_IMPLICIT).split(";")
            first, last = letters.split("..")
            made.implicit_weights.append(hexstrings2int((first, last, base.partition("#")[0])))
        elif line and line[0] not in "@#":
            unread.setdefault(line[: line.index(" ")], []).append(line)
    made.table.root.children = _Letters(made.table, unread)
    return made


def all_letters(of: Collator_9_0_0) -> dict[int, Any]:
    """All of the table of a collator that ``collator`` made: the nodes by first code point."""
    letters: _Letters = of.table.root.children
    letters.read_all()
    return letters
