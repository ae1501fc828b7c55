"""Where the inner pages of the table of tracks end: at places that no screen lies across.

A screen of tracks that lies on three pages costs one read too many where an inner page ends in the
middle of it. SQLite fills inner pages to some nine tenths, so each may as well end a few leaves
earlier or later: here the last and first children of neighbours change places until what a player
may ask for keeps to its budget. Leaves stay as they are, and so do the number of inner pages and
their places in the file; only pages of the kind "table b-tree interior" are written (SQLite
database file format, section 1.6). ``build`` calls this when the file is complete.
"""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from typing import BinaryIO

from syncd.catalogue.contract import OPEN, PAGE_BYTES, ROWS

_INTERIOR = 0x05
_HEAD = 12
_FARTHEST = 12
"""How many leaves an inner page may end earlier or later, where the pages have room."""


@dataclass(slots=True)
class _Node:
    """An inner page: its children, pages or nodes, and the highest id below each but the last."""

    page: int
    children: list[int]
    keys: list[int]
    nodes: list["_Node"]


def settle(file: BinaryIO, root: int, groups: Sequence[int]) -> None:
    """Move the ends of inner pages in the table with that *root*, whose ids are 1 and so on.

    *groups* tell for each row, in order, what it belongs to: a screen shows rows of one group.
    *file* is a complete database, open for reading and writing.
    """
    top = _read(file, root)
    if top is None or not top.nodes:
        return
    tree = _Tree(top, groups)
    if tree.move():
        changed = tree.changed()
        if any(_size(node.keys) > PAGE_BYTES for node in changed):
            return  # a higher page is full and one of its keys has grown by a byte
        for node in changed:
            file.seek((node.page - 1) * PAGE_BYTES)
            file.write(_page(node))


class _Tree:
    """The leaves of a table in order, and the inner pages right above them."""

    def __init__(self, top: _Node, groups: Sequence[int]) -> None:
        self._top = top
        self._groups = groups
        self._depth = 0
        self.lowest: list[_Node] = []
        self._dividers: list[tuple[_Node, int, int]] = []  # node, place of its key, levels above
        self._descend(top, 1)
        self._leaves = [leaf for node in self.lowest for leaf in node.children]
        self._last: list[int] = []  # the highest id on each leaf but the last
        for node, divider in zip(self.lowest, [*self._dividers, None], strict=True):
            self._last += node.keys
            if divider is not None:
                self._last.append(divider[0].keys[divider[1]])

    def _descend(self, node: _Node, depth: int) -> None:
        if not node.nodes:
            self._depth = depth
            self.lowest.append(node)
        for place, below in enumerate(node.nodes):
            self._descend(below, depth + 1)
            if place < len(node.keys):
                self._dividers.append((node, place, self._depth - depth))

    def move(self) -> bool:
        """Choose where each page ends; whether anything has changed."""
        ends: list[int] = []
        for node in self.lowest:
            ends.append((ends[-1] if ends else 0) + len(node.children))
        before = list(ends)
        for number, (_, _, above) in enumerate(self._dividers):
            begin = ends[number - 1] if number else 0
            ways = sorted(range(-_FARTHEST, _FARTHEST + 1), key=abs)
            best = self._costly(ends[number], above)
            for end in [ends[number] + way for way in ways]:
                if not best:
                    break
                if begin + 2 <= end <= ends[number + 1] - 2 and self._fit(
                    begin, end, ends[number + 1]
                ):
                    costly = self._costly(end, above)
                    if costly < best:
                        ends[number], best = end, costly
        if ends == before:
            return False
        begin = 0
        for node, end in zip(self.lowest, ends, strict=True):
            node.children = self._leaves[begin:end]
            node.keys = self._last[begin : end - 1]
            begin = end
        for (node, place, _), end in zip(self._dividers, ends, strict=False):
            node.keys[place] = self._last[end - 1]
        return True

    def _fit(self, begin: int, middle: int, end: int) -> bool:
        """Whether the leaves up to *middle*, and those behind it, have room on a page each."""
        return all(
            _size(self._last[first : last - 1]) <= PAGE_BYTES
            for first, last in ((begin, middle), (middle, end))
        )

    def _costly(self, end: int, above: int) -> int:
        """How many screens across the end of a page, behind *end* leaves, are over the budget.

        The page that is common to both sides is *above* levels up. A screen reads the database's
        first page, those on the way down, as many again as lie beside the way, and its leaves.
        """
        most = OPEN.reads - 1 - self._depth - above
        groups, here = self._groups, self._last[end - 1]
        group = groups[here - 1]
        costly = 0
        for first in range(max(1, here - ROWS + 2), here + 1):
            if groups[first - 1] != group:
                continue
            last = here
            while last < min(first + ROWS - 1, len(groups)) and groups[last] == group:
                last += 1
            leaves = bisect_left(self._last, last) - bisect_left(self._last, first) + 1
            costly += last > here and leaves > most
        return costly

    def changed(self) -> list[_Node]:
        """All inner pages; of the higher ones those that hold the keys between the lowest."""
        return [*self.lowest, *{node.page: node for node, _, _ in self._dividers}.values()]


def _read(file: BinaryIO, number: int) -> _Node | None:
    """The inner page with that number and those below it, None for a leaf."""
    file.seek((number - 1) * PAGE_BYTES)
    page = file.read(PAGE_BYTES)
    if page[0] != _INTERIOR:
        return None
    children, keys = [], []
    for place in range(int.from_bytes(page[3:5], "big")):
        at = int.from_bytes(page[_HEAD + 2 * place : _HEAD + 2 * place + 2], "big")
        children.append(int.from_bytes(page[at : at + 4], "big"))
        keys.append(_number(page, at + 4))
    children.append(int.from_bytes(page[8:12], "big"))
    first = _read(file, children[0])  # all leaves of a b-tree are equally deep
    if first is None:
        return _Node(number, children, keys, [])
    others = [node for child in children[1:] if (node := _read(file, child)) is not None]
    return _Node(number, children, keys, [first, *others])


def _page(node: _Node) -> bytes:
    """The content of an inner page."""
    cells = [
        child.to_bytes(4, "big") + _varint(key)
        for child, key in zip(node.children, node.keys, strict=False)
    ]
    at = PAGE_BYTES
    places = []
    for cell in cells:
        at -= len(cell)
        places.append(at.to_bytes(2, "big"))
    head = b"".join(
        (
            bytes((_INTERIOR, 0, 0)),
            len(cells).to_bytes(2, "big"),
            at.to_bytes(2, "big"),
            b"\0",
            node.children[-1].to_bytes(4, "big"),
            *places,
        )
    )
    return head + bytes(at - len(head)) + b"".join(reversed(cells))


def _size(keys: Sequence[int]) -> int:
    return _HEAD + sum(6 + len(_varint(key)) for key in keys)


def _varint(number: int) -> bytes:
    """SQLite's integer of variable length, up to 2**56: seven bits a byte, the highest first."""
    found = [number & 0x7F]
    while number := number >> 7:
        found.append(number & 0x7F | 0x80)
    return bytes(reversed(found))


def _number(page: bytes, at: int) -> int:
    """The integer of variable length that stands at *at*."""
    value = 0
    while page[at] & 0x80:
        value = value << 7 | page[at] & 0x7F
        at += 1
    return value << 7 | page[at]
