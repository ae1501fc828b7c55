"""What the works engine's tests share: filing a folder of titles, short looks at the answers."""

from syncd.model import Identity, TaggedFile
from syncd.works.identify import identify


def filed(titles: list[str], folder: str = "Folder", **tags: str) -> list[Identity]:
    """The identities of one folder of tracks with *titles* and the same further *tags*."""
    return identify(
        [
            TaggedFile(
                f"{folder}/{number:02d}.flac",
                {
                    "TITLE": [title],
                    "TRACKNUMBER": [str(number)],
                    **{name: [value] for name, value in tags.items()},
                },
            )
            for number, title in enumerate(titles, start=1)
        ]
    )


def composer_and_title(identity: Identity) -> tuple[str | None, str | None]:
    """Whose work it is (sort form), and what that is called."""
    composer = identity.composer.sort if identity.composer is not None else None
    return composer, work_title(identity)


def work_title(identity: Identity) -> str | None:
    return identity.work.title if identity.work is not None else None


def work_of(identity: Identity) -> tuple[str | None, str | None, tuple[str, ...], str | None]:
    """Composer, title, catalogue numbers and key of what must be a work."""
    work = identity.work
    assert work is not None, identity
    return *composer_and_title(identity), work.catalogue, work.key


def heading(identity: Identity) -> tuple[int | None, str | None]:
    """The movement's number and title."""
    movement = identity.movement
    return (movement.number, movement.title) if movement is not None else (None, None)


def numbers(identities: list[Identity]) -> list[int | None]:
    """The movements' numbers."""
    return [heading(identity)[0] for identity in identities]


def performers(identity: Identity, *roles: str) -> list[str]:
    """The names of those who have one of *roles*."""
    return [credit.name for credit in identity.credits if credit.role in roles]


def lines(table: str) -> list[tuple[str, ...]]:
    """The rows of a *table* whose columns are parted by bars."""
    return [tuple(line.split("|")) for line in table.strip().splitlines()]
