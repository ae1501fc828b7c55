"""Search by turning a wheel: a tree of prefixes over the words of names. Pure.

A hit is one word of one name. The hits of a prefix are one range, in the order of their words, and
the best eight of them another. A prefix with at most eight hits is not extended: all its hits are
on the screen already. So the tree grows with the names, not with their letters.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

BEST = 8
LONGEST_WORD_CHARS = 24
MOST_WORDS = 12


@dataclass(frozen=True, slots=True)
class Prefix:
    """One node: its letters lead to the nodes from ``child`` on, its hits are places from 0 on.

    ``best`` are places of hits, the best first.
    """

    letters: str
    child: int
    first: int
    count: int
    best: tuple[int, ...]


Hit = tuple[str, int, int]
"""A word, the rank of what it is a word of among all (low is good), and which that is."""


def hits_of(names: Sequence[Sequence[str]], ranks: Sequence[int]) -> list[Hit]:
    """The hits of *names*, each the words of one thing, in the order of the words.

    A thing found by its first word ranks before all that are found by another.
    """
    hits: list[Hit] = []
    behind = len(names)
    for place, words in enumerate(names):
        seen = set()
        rank = ranks[place]
        for number, word in enumerate(words[:MOST_WORDS]):
            cut = word[:LONGEST_WORD_CHARS]
            if cut not in seen:
                seen.add(cut)
                hits.append((cut, rank if number == 0 else rank + behind, place))
    hits.sort()
    return hits


def prefixes(hits: Sequence[Hit]) -> list[Prefix]:
    """The tree over *hits*, level by level, its root first; what follows a letter is in one row."""
    words = [hit[0] for hit in hits]
    nodes: list[tuple[int, int, str, int]] = []  # first, end, letters, child
    level = [(0, len(words))]
    depth = 0
    while level:
        following: list[tuple[int, int]] = []
        behind = len(nodes) + len(level)
        for first, end in level:
            child = behind + len(following)
            letters = ""
            if end - first > BEST:
                at = first
                for letter, run in groupby([word[depth : depth + 1] for word in words[first:end]]):
                    length = len(list(run))
                    if letter:
                        letters += letter
                        following.append((at, at + length))
                    at += length
            nodes.append((first, end, letters, child if letters else 0))
        level = following
        depth += 1
    best: list[tuple[int, ...]] = [()] * len(nodes)
    for number in range(len(nodes) - 1, -1, -1):
        first, end, letters, child = nodes[number]
        if letters:
            found = [place for one in best[child : child + len(letters)] for place in one]
            # What ends with this prefix stands before what goes on.
            found += range(first, nodes[child][0])
        else:
            found = list(range(first, end))
        best[number] = _best(hits, found)
    return [
        Prefix(letters, child, first, end - first, best[number])
        for number, (first, end, letters, child) in enumerate(nodes)
    ]


def _best(hits: Sequence[Hit], places: list[int]) -> tuple[int, ...]:
    """The best eight of *places*, each thing once."""
    if len(places) > 1:
        places.sort(key=lambda place: hits[place][1:])
    chosen: dict[int, int] = {}
    for place in places:
        if chosen.setdefault(hits[place][2], place) == place and len(chosen) == BEST:
            break
    return tuple(chosen.values())
