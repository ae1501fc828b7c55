"""What wants a person's eye: doubtful tracks, grouped so that one correction mends many.

Pure: identities in, doubts out, each with the errata entry that would settle it, ready to paste
(the listener replaces what stands between ⟨ and ⟩), and an id by which a command can settle it.
An entry fits the tracks that the question is about, and no others. Unreadable files are told
elsewhere.
"""

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from syncd.model import Identity, Kind
from syncd.works.errata import entry_text
from syncd.works.fields import unit_of
from syncd.works.selectors import Patterns, literal
from syncd.works.text import fold

SURE = 0.8
"""An identity below this confidence is shown for review."""

NAME_TO_FILL_IN = "⟨Family name, Given names⟩"
TITLE_TO_FILL_IN = "⟨title of the work⟩"

_Row = tuple[str, Identity]


@dataclass(frozen=True, slots=True)
class Doubt:
    """One question about one or many tracks.

    ``entry`` is TOML for the errata file, made of ``selectors`` and ``values``; all are empty where
    no entry can help (a missing movement), and so is ``id``. The id stays the same as long as the
    same is asked of the same tracks.
    """

    question: str
    paths: tuple[str, ...]
    confidence: float
    entry: str = ""
    id: str = ""
    selectors: Mapping[str, Patterns] = field(default_factory=dict)
    values: Mapping[str, str] = field(default_factory=dict)

    @property
    def to_fill_in(self) -> tuple[str, ...]:
        """The keys of the entry for which the listener has to say what is so."""
        return tuple(key for key, value in self.values.items() if "⟨" in value)


def review(items: Iterable[_Row]) -> list[Doubt]:
    """The doubts about *items* (path and identity), those that concern most tracks first."""
    rows = sorted(items, key=lambda item: item[0])
    chooser = _Chooser(rows)
    doubts = [
        *_unknown_tracks(rows, chooser),
        *_without_composer(rows, chooser),
        *_unsure_composers(rows, chooser),
        *_unsure_works(rows, chooser),
        *_missing_movements(rows),
    ]
    return sorted(doubts, key=lambda doubt: (-len(doubt.paths), doubt.paths))


def _doubt(
    question: str, group: Sequence[_Row], chooser: "_Chooser", key: str, value: str
) -> Doubt:
    paths = tuple(path for path, _ in group)
    selectors = chooser.selectors(group)
    digest = hashlib.sha256("\0".join((key, *paths)).encode("utf-8", "surrogatepass"))
    return Doubt(
        question,
        paths,
        min(identity.confidence for _, identity in group),
        entry_text(selectors, {key: value}),
        digest.hexdigest()[:8],
        selectors,
        {key: value},
    )


class _Chooser:
    """Finds selectors that fit some tracks of a library and none of its others."""

    def __init__(self, rows: Sequence[_Row]) -> None:
        self._albums: dict[str, list[tuple[str, str]]] = defaultdict(list)
        for path, identity in rows:
            folder = path.rpartition("/")[0]
            self._albums[folder].append((path, fold(identity.album or "")))
        self._below: dict[str, list[str]] = defaultdict(list)
        for folder in self._albums:
            for above in _with_those_above(folder):
                self._below[above].append(folder)
        self._short: dict[str, set[str]] = defaultdict(set)
        for folder in self._below:
            for components in _LENGTHS:
                self._short[fold(_tail(folder, components))].add(folder)

    def selectors(self, group: Sequence[_Row]) -> dict[str, Patterns]:
        """The folder (and album) where the group is all of it, else its files."""
        first_path, first = group[0]
        paths = {path for path, _ in group}
        album = fold(first.album or "")
        unit = unit_of(first_path)
        if unit in self._below:
            folders = [unit]
        else:
            folders = sorted({path.rpartition("/")[0] for path in paths} - {""})
        below = [
            item for one in folders for folder in self._below[one] for item in self._albums[folder]
        ]
        if paths == {path for path, other in below if other == album} and len(group) > 1:
            chosen = _one_or_more([self._shortest(folder) for folder in folders])
            if first.album:
                return {"folder": chosen, "album": literal(first.album)}
            if paths == {path for path, _ in below}:
                return {"folder": chosen}
        return {"file": _one_or_more([self._file(path) for path in sorted(paths)])}

    def _file(self, path: str) -> str:
        folder, _, name = path.rpartition("/")
        return f"{self._shortest(folder)}/{literal(name)}" if folder else literal(name)

    def _shortest(self, folder: str) -> str:
        """The last components of *folder*, as many as no other folder of the library ends with."""
        for components in _LENGTHS:
            tail = _tail(folder, components)
            if self._short[fold(tail)] == {folder}:
                return literal(tail)
        return literal(folder)


_LENGTHS = (2, 3, 4)


def _with_those_above(folder: str) -> Iterable[str]:
    while folder:
        yield folder
        folder = folder.rpartition("/")[0]


def _tail(path: str, components: int) -> str:
    return "/".join([part for part in path.split("/") if part][-components:])


def _one_or_more(patterns: list[str]) -> Patterns:
    return patterns[0] if len(patterns) == 1 else tuple(patterns)


def _by_unit(rows: Sequence[_Row]) -> dict[tuple[str, str], list[_Row]]:
    groups: dict[tuple[str, str], list[_Row]] = defaultdict(list)
    for path, identity in rows:
        groups[(unit_of(path), identity.album or "")].append((path, identity))
    return groups


def _unknown_tracks(rows: Sequence[_Row], chooser: _Chooser) -> list[Doubt]:
    unknown = [(path, one) for path, one in rows if one.kind is Kind.UNKNOWN]
    return [
        _doubt(
            f"{'What is this track' if len(group) == 1 else f'What are these {_count(group)}'}"
            f"{_of_album(group)}: works, or popular music? Nothing in the tags tells.",
            group,
            chooser,
            "kind",
            Kind.POPULAR.value,
        )
        for group in _by_unit(unknown).values()
    ]


def _without_composer(rows: Sequence[_Row], chooser: _Chooser) -> list[Doubt]:
    missing = [(path, one) for path, one in rows if one.kind is Kind.WORK and one.composer is None]
    return [
        _doubt(
            f"Who composed {_named(group)}? {_why(group, 'No tag names a composer')}.",
            group,
            chooser,
            "is-composer",
            NAME_TO_FILL_IN,
        )
        for group in _by_unit(missing).values()
    ]


def _why(group: Sequence[_Row], otherwise: str) -> str:
    """What the engine says about the composer of *group*, without the word itself."""
    for reason in group[0][1].reasons:
        subject, colon, rest = reason.partition(": ")
        if colon and subject == "composer":
            return rest[:1].upper() + rest[1:]
    return otherwise


def _unsure_composers(rows: Sequence[_Row], chooser: _Chooser) -> list[Doubt]:
    groups: dict[tuple[str, str, str], list[_Row]] = defaultdict(list)
    for path, one in rows:
        if one.kind is Kind.WORK and one.composer is not None and _composer_unsure(one):
            groups[(unit_of(path), one.album or "", one.composer.sort)].append((path, one))
    return [
        _doubt(
            f"Is {_named(group)} by {sort}? {_why(group, 'The evidence is weak')}.",
            group,
            chooser,
            "is-composer",
            sort,
        )
        for (_, _, sort), group in groups.items()
    ]


def _composer_unsure(identity: Identity) -> bool:
    if identity.confidence >= SURE or "composer: from the errata" in identity.reasons:
        return False
    weak = ("all other tracks", "another composer", "folder's name", "told by", "in no catalogue")
    return any(
        sign in reason
        for reason in identity.reasons
        if not reason.startswith("credits:")
        for sign in weak
    )


def _unsure_works(rows: Sequence[_Row], chooser: _Chooser) -> list[Doubt]:
    unsure = [
        (path, one)
        for path, one in rows
        if one.kind is Kind.WORK
        and one.composer is not None
        and one.confidence < SURE
        and not _composer_unsure(one)
    ]
    groups: dict[tuple[str, str, str, str], list[_Row]] = defaultdict(list)
    for path, one in unsure:
        title = one.work.title if one.work else ""
        sort = one.composer.sort if one.composer else ""
        groups[(unit_of(path), one.album or "", sort, title)].append((path, one))
    doubts = []
    for (_, _, sort, title), group in groups.items():
        those = f"{_count(group)}{_of_album(group)}"
        question = (
            f"Is the work by {sort} called “{title}”, for {those}?"
            if title
            else f"Which work by {sort} is it, for {those}?"
        )
        doubts.append(_doubt(question, group, chooser, "work", title or TITLE_TO_FILL_IN))
    return doubts


def _missing_movements(rows: Sequence[_Row]) -> list[Doubt]:
    """Gaps in the numbering of a recording that has more than one movement."""
    recordings: dict[str, list[_Row]] = defaultdict(list)
    for path, one in rows:
        if one.recording is not None:
            recordings[one.recording].append((path, one))
    doubts = []
    for group in recordings.values():
        numbers = sorted(
            {
                one.movement.number
                for _, one in group
                if one.movement is not None and one.movement.number is not None
            }
        )
        if len(numbers) < 2 or len(numbers) * 2 < numbers[-1]:
            continue  # excerpts, not a gap
        gaps = [n for n in range(1, numbers[-1]) if n not in numbers]
        if gaps:
            listed = ", ".join(str(n) for n in gaps)
            doubts.append(
                Doubt(
                    f"Where {_is_are(gaps)} {listed} of {_whose(group)}? "
                    "Files may be missing, or numbered wrongly.",
                    tuple(path for path, _ in group),
                    min(identity.confidence for _, identity in group),
                )
            )
    return doubts


def _count(group: Sequence[_Row]) -> str:
    return "1 track" if len(group) == 1 else f"{len(group)} tracks"


def _of_album(group: Sequence[_Row]) -> str:
    album = group[0][1].album
    return f" of the album “{album}”" if album else ""


def _named(group: Sequence[_Row]) -> str:
    titles = {one.work.title for _, one in group if one.work is not None and one.work.title}
    those = f"{_count(group)}{_of_album(group)}"
    return f"“{next(iter(titles))}” ({those})" if len(titles) == 1 else those


def _whose(group: Sequence[_Row]) -> str:
    one = group[0][1]
    title = f"“{one.work.title}”" if one.work is not None and one.work.title else _named(group)
    return f"{title} by {one.composer.sort}" if one.composer is not None else title


def _is_are(gaps: Sequence[int]) -> str:
    return "is movement" if len(gaps) == 1 else "are movements"
