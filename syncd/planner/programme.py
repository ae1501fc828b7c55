"""The programme: what shall be on a card, in order of priority.

A TOML file a card. Without one, everything in the library is wanted. Pure but for reading that
file; choosing is by whole recordings and albums.
"""

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, field_validator

from syncd.model import Kind
from syncd.planner.layout import Group
from syncd.toml_config import Table, read_table


class Clause(Table):
    """What one clause chooses: groups for which every given field matches.

    Texts match when they are contained in the value, whatever the case: ``composer = "bach, j"``.
    ``everything = true`` chooses all that no earlier clause chose.
    """

    everything: bool = False
    kind: Literal["work", "popular"] | None = None
    composer: str | None = None
    work: str | None = None
    performer: str | None = None
    artist: str | None = None
    album: str | None = None

    def matches(self, group: Group) -> bool:
        """Whether the clause chooses *group*."""
        if self.everything:
            return True
        asked = self.model_dump(exclude={"everything"}, exclude_none=True)
        return bool(asked) and all(_matches(group, name, str(text)) for name, text in asked.items())


class Programme(Table):
    """Clauses in order of priority, and what to leave out whatever they say."""

    format: Literal[1] = 1
    clause: Annotated[tuple[Clause, ...], Field(min_length=1)]
    leave_out: tuple[Clause, ...] = ()

    @field_validator("clause", "leave_out", mode="before")
    @classmethod
    def _tuple(cls, value: object) -> object:
        return tuple(value) if isinstance(value, list) else value

    @field_validator("clause", "leave_out")
    @classmethod
    def _says_something(cls, value: tuple[Clause, ...]) -> tuple[Clause, ...]:
        for clause in value:
            if clause == Clause():
                raise ValueError(
                    "a clause chooses nothing; give it 'everything = true' or one of kind, "
                    "composer, work, performer, artist, album"
                )
        return value

    def in_order(self, groups: tuple[Group, ...]) -> list[tuple[int, Group]]:
        """The groups that are wanted, each with the index of the clause that chose it."""
        wanted = []
        for group in groups:
            if any(clause.matches(group) for clause in self.leave_out):
                continue
            for index, clause in enumerate(self.clause):
                if clause.matches(group):
                    wanted.append((index, group))
                    break
        wanted.sort(key=lambda pair: pair[0])  # stable: within a clause, the groups' own order
        return wanted


EVERYTHING = Programme(clause=(Clause(everything=True),))


def read_programme(path: Path) -> Programme:
    """Read and check the programme in *path*. Raises SetupProblem naming every fault."""
    return read_table(path, Programme, "programme")


def _matches(group: Group, name: str, text: str) -> bool:
    text = text.casefold()
    first = group.members[0]
    identity = first.identity
    match name:
        case "kind":
            return (identity.kind is Kind.WORK) == (text == "work")
        case "composer":
            composer = identity.composer
            return composer is not None and (
                text in composer.sort.casefold() or text in composer.name.casefold()
            )
        case "work":
            work = identity.work
            return work is not None and any(
                text in value.casefold() for value in (work.title, *work.catalogue)
            )
        case "performer":
            return any(
                text in credit.name.casefold()
                for member in group.members
                for credit in member.identity.credits
            )
        case "artist":
            values = (first.track.artist, first.track.album_artist, identity.artist or "")
            return any(text in value.casefold() for value in values)
        case _:
            return text in (identity.album or first.track.album).casefold()
