"""What wants a person's eye: doubtful tracks, grouped so that one correction mends many.

Pure: identities in, doubts out, each with the errata entry that would settle it, ready to paste
(the listener replaces what stands between ⟨ and ⟩). Unreadable files are told elsewhere.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from syncd.model import Identity, Kind
from syncd.works.errata import entry_text
from syncd.works.fields import unit_of

SURE = 0.8
"""An identity below this confidence is shown for review."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """One question about one or many tracks.

    ``entry`` is TOML for the errata file; it is empty where no entry can help (a missing movement).
    """

    question: str
    paths: tuple[str, ...]
    confidence: float
    entry: str = ""


def review(items: Iterable[tuple[str, Identity]]) -> list[Doubt]:
    """The doubts about *items* (path and identity), those that concern most tracks first."""
    rows = sorted(items, key=lambda item: item[0])
    doubts = [
        *_unknown_tracks(rows),
        *_without_composer(rows),
        *_unsure_composers(rows),
        *_unsure_works(rows),
        *_missing_movements(rows),
    ]
    return sorted(doubts, key=lambda doubt: (-len(doubt.paths), doubt.paths))


def _by_unit(
    rows: Sequence[tuple[str, Identity]],
) -> dict[tuple[str, str], list[tuple[str, Identity]]]:
    groups: dict[tuple[str, str], list[tuple[str, Identity]]] = defaultdict(list)
    for path, identity in rows:
        groups[(unit_of(path), identity.album or "")].append((path, identity))
    return groups


def _selector(group: Sequence[tuple[str, Identity]], everything: bool) -> dict[str, str]:
    """What chooses the tracks of *group*: the album where all of it is meant, else the folder."""
    first_path, first = group[0]
    if len(group) == 1 and not everything:
        return {"file": _tail(first_path, 2)}
    folder = {"folder": _tail(unit_of(first_path), 2)} if "/" in first_path else {}
    if first.album:
        return {**folder, "album": _literal(first.album)}
    return folder or {"file": _tail(first_path, 2)}


def _tail(path: str, components: int) -> str:
    return _literal("/".join([part for part in path.split("/") if part][-components:]))


def _literal(text: str) -> str:
    """*text* as a pattern that fits only itself: characters with a meaning become ``?``."""
    return "".join("?" if ch in "[]*" else ch for ch in text)


def _worst(group: Sequence[tuple[str, Identity]]) -> float:
    return min(identity.confidence for _, identity in group)


def _paths(group: Sequence[tuple[str, Identity]]) -> tuple[str, ...]:
    return tuple(path for path, _ in group)


def _unknown_tracks(rows: Sequence[tuple[str, Identity]]) -> list[Doubt]:
    unknown = [(path, one) for path, one in rows if one.kind is Kind.UNKNOWN]
    return [
        Doubt(
            f"Nothing tells what {_count(group)} in {unit or 'this folder'} "
            f"{'is' if len(group) == 1 else 'are'}. A work or popular music?",
            _paths(group),
            _worst(group),
            entry_text(_selector(group, True), {"kind": Kind.POPULAR}),
        )
        for (unit, _), group in _by_unit(unknown).items()
    ]


def _without_composer(rows: Sequence[tuple[str, Identity]]) -> list[Doubt]:
    missing = [(path, one) for path, one in rows if one.kind is Kind.WORK and one.composer is None]
    return [
        Doubt(
            f"Who composed {_named(group)}? No tag names a composer.",
            _paths(group),
            _worst(group),
            entry_text(_selector(group, False), {"is-composer": "⟨Family name, Given names⟩"}),
        )
        for group in _by_unit(missing).values()
    ]


def _unsure_composers(rows: Sequence[tuple[str, Identity]]) -> list[Doubt]:
    groups: dict[tuple[str, str, str], list[tuple[str, Identity]]] = defaultdict(list)
    for path, one in rows:
        if one.kind is Kind.WORK and one.composer is not None and _composer_unsure(one):
            groups[(unit_of(path), one.album or "", one.composer.sort)].append((path, one))
    doubts = []
    for (_, _, sort), group in groups.items():
        reason = next((r for r in group[0][1].reasons if "composer" in r), "the evidence is weak")
        doubts.append(
            Doubt(
                f"Is {_named(group)} by {sort}? ({reason})",
                _paths(group),
                _worst(group),
                entry_text(_selector(group, False), {"is-composer": sort}),
            )
        )
    return doubts


def _composer_unsure(identity: Identity) -> bool:
    if identity.confidence >= SURE:
        return False
    weak = ("all other tracks", "another composer", "folder's name", "told by", "in no catalogue")
    return any(sign in reason for reason in identity.reasons for sign in weak)


def _unsure_works(rows: Sequence[tuple[str, Identity]]) -> list[Doubt]:
    unsure = [
        (path, one)
        for path, one in rows
        if one.kind is Kind.WORK
        and one.composer is not None
        and one.confidence < SURE
        and not _composer_unsure(one)
    ]
    groups: dict[tuple[str, str, str], list[tuple[str, Identity]]] = defaultdict(list)
    for path, one in unsure:
        groups[(unit_of(path), one.album or "", one.work.title if one.work else "")].append(
            (path, one)
        )
    doubts = []
    for (_, _, title), group in groups.items():
        composer = group[0][1].composer
        whose = f" by {composer.sort}" if composer is not None else ""
        question = (
            f"Is “{title}” the name of the work{whose}, for {_count(group)}?"
            if title
            else f"Which work{whose} is it, for {_count(group)}?"
        )
        doubts.append(
            Doubt(
                question,
                _paths(group),
                _worst(group),
                entry_text(_selector(group, False), {"work": title or "⟨title of the work⟩"}),
            )
        )
    return doubts


def _missing_movements(rows: Sequence[tuple[str, Identity]]) -> list[Doubt]:
    """Gaps in the numbering of a recording that has more than one movement."""
    recordings: dict[str, list[tuple[str, Identity]]] = defaultdict(list)
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
                    f"{_named(group)}: not there {_is_are(gaps)} {listed}. Is a file missing, too?",
                    _paths(group),
                    _worst(group),
                )
            )
    return doubts


def _count(group: Sequence[tuple[str, Identity]]) -> str:
    return "1 track" if len(group) == 1 else f"{len(group)} tracks"


def _named(group: Sequence[tuple[str, Identity]]) -> str:
    titles = {one.work.title for _, one in group if one.work is not None and one.work.title}
    if len(titles) == 1:
        return f"“{next(iter(titles))}”"
    album = group[0][1].album
    return f"{_count(group)} of “{album}”" if album else _count(group)


def _is_are(gaps: Sequence[int]) -> str:
    return "is movement" if len(gaps) == 1 else "are movements"
