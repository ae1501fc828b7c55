"""What errata do to a library: which tracks an entry touches, and what adding one alters.

Pure: tag values and errata in; touched tracks, and identities before and after, out. Reading and
writing the errata file is left to others.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from syncd.model import Identity, Kind, TaggedFile
from syncd.works.errata import Entry, Errata
from syncd.works.fields import read_fields
from syncd.works.identify import identify


@dataclass(frozen=True, slots=True)
class Change:
    """One track that is filed otherwise, or more surely, than before."""

    path: str
    before: Identity
    after: Identity

    @property
    def differences(self) -> tuple[tuple[str, str, str], ...]:
        """What is filed otherwise: name of the fact, before, after; an empty text is "not told".

        Empty where only the certainty changed.
        """
        before, after = _facts(self.before), _facts(self.after)
        names = dict.fromkeys((*before, *after))
        found = [
            (name, before.get(name, ""), after.get(name, ""))
            for name in names
            if before.get(name, "") != after.get(name, "")
        ]
        if not found and self.before.recording != self.after.recording:
            # An id that nobody reads, and that follows from the rest: told only if it stands alone.
            found = [("recording", self.before.recording or "", self.after.recording or "")]
        return tuple(found)


def touching(errata: Errata, file: TaggedFile) -> tuple[int, ...]:
    """The lines of the entries in *errata* that fit *file*."""
    fields = read_fields(file)
    return errata.correction(
        file.path, fields.album, fields.artist, fields.composer, fields.album_artist
    ).lines


def tracks_by_line(errata: Errata, files: Iterable[TaggedFile]) -> dict[int, int]:
    """How many of *files* each entry fits, by the line it begins on."""
    found = {entry.line: 0 for entry in errata.entries}
    if found:
        for file in files:
            for line in touching(errata, file):
                found[line] += 1
    return found


def effect(
    units: Iterable[Sequence[TaggedFile]], before: Errata, entry: Entry
) -> tuple[list[str], list[Change]]:
    """The tracks that *entry* fits, and what changes when it is added to *before*; by path."""
    alone = Errata((entry,))
    after = Errata((*before.entries, entry))
    paths: list[str] = []
    altered: list[Change] = []
    for unit in units:
        fitting = [file.path for file in unit if touching(alone, file)]
        if fitting:
            paths += fitting
            altered += changes(unit, before, after)
    return sorted(paths), sorted(altered, key=lambda change: change.path)


def changes(
    unit: Sequence[TaggedFile], before: Errata | None, after: Errata | None
) -> list[Change]:
    """The tracks of a whole album *unit* that *after* files otherwise than *before*, by path.

    A correction of one track may alter its neighbours, too: they are told as well.
    """
    pairs = zip(identify(unit, before), identify(unit, after), strict=True)
    found = [
        Change(file.path, old, new)
        for file, (old, new) in zip(unit, pairs, strict=True)
        if _filed(old) != _filed(new)
    ]
    return sorted(found, key=lambda change: change.path)


def _filed(identity: Identity) -> tuple[object, ...]:
    """All of *identity* but the reasons, which name lines of the errata."""
    return (_facts(identity), identity.recording, identity.confidence)


def _facts(identity: Identity) -> dict[str, str]:
    facts = {"kind": identity.kind.value, "tags": "; ".join(identity.tags)}
    if identity.kind is not Kind.WORK:
        return facts
    work, movement = identity.work, identity.movement
    facts["composer"] = identity.composer.sort if identity.composer else ""
    facts["work"] = work.title if work else ""
    facts["catalogue"] = ", ".join(work.catalogue) if work else ""
    facts["key"] = (work.key if work else None) or ""
    facts["movement"] = str(movement.number) if movement and movement.number else ""
    facts["movement title"] = (movement.title if movement else None) or ""
    for credit in identity.credits:
        name = f"{credit.name} ({credit.instrument})" if credit.instrument else credit.name
        facts[credit.role] = "; ".join(filter(None, (facts.get(credit.role, ""), name)))
    return facts
