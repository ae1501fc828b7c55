"""The bytes of a card's files: pressings and masters in their tags, playlists, pictures."""

import contextlib
from collections.abc import Iterator
from pathlib import Path

from syncd.applier.applied import Content
from syncd.errors import ItemProblem
from syncd.library.asknown import still_holds, sure
from syncd.planner.plan import Placement, pressing_id
from syncd.profile import Profile
from syncd.transcoder.artwork import PictureForm, scaled_art
from syncd.transcoder.dress import dress, undressed
from syncd.updating.workshop import Workshop


@contextlib.contextmanager
def content_of(
    shop: Workshop, profile: Profile, placement: Placement, scratch: Path
) -> Iterator[Content]:
    """The bytes of *placement*'s file. Raises ItemProblem where they cannot be made."""
    if placement.track is None or placement.recipe is None:
        yield _Small(_small(shop, profile, placement))
        return
    track = placement.track.track
    art = None
    if placement.art is not None:
        form = PictureForm.of(profile.tags)
        art = scaled_art(placement.art, form, shop.store, shop.notices)
        if art is None and not Path(placement.art.path).is_file():
            # Without it the file would be taken for the one with it, for good.
            raise ItemProblem(
                track.path,
                f"The picture {placement.art.path} went away since the last scan. Scan the library "
                "again.",
            )
    if placement.recipe.action == "carry":
        master = Path(track.path)
        _check_there(master)
        sure(track, still_holds)
        if not profile.tags.rewrite_carried:
            with undressed(master) as content:
                yield content
            return
        made = dress(master, track.audio.container, placement.tags, art, profile.tags, scratch)
    else:
        pressing = shop.store.get(*pressing_id(placement))
        if pressing is None:
            raise ItemProblem(
                track.path, f"The pressing of {track.path} went out of the store meanwhile."
            )
        made = dress(
            pressing.path,
            placement.recipe.container,
            placement.tags,
            art,
            profile.tags,
            scratch,
            expect=pressing.hash,
        )
    with made as content:
        yield content


def _small(shop: Workshop, profile: Profile, placement: Placement) -> bytes:
    """The content of a playlist or a picture file."""
    if placement.art is None:
        return placement.text.encode("utf-8", "replace")
    made = scaled_art(placement.art, PictureForm.of(profile.tags), shop.store, shop.notices)
    if made is None:
        raise ItemProblem(placement.art.path, f"No picture can be made from {placement.art.path}.")
    return made


class _Small:
    """The content of a playlist or a picture."""

    def __init__(self, data: bytes) -> None:
        self._data = data

    @property
    def size(self) -> int:
        """Bytes."""
        return len(self._data)

    def chunks(self) -> Iterator[bytes]:
        """The whole at once."""
        yield self._data


def _check_there(master: Path) -> None:
    try:
        master.stat()
    except OSError as error:
        raise ItemProblem(
            str(master), f"{master} cannot be read: {error.strerror}. Scan the library again."
        ) from error
