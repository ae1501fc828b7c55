"""The scenes of the applier's tests, and a large one, for cards on real file systems."""

from card_world import SCENES as SMALL
from card_world import Scene, library, movement, retagged, song

_OLD = [
    song("Marnesund Five", f"Album {album}", number, f"Song {number}", size=60_000 + 900 * number)
    for album in range(4)
    for number in range(1, 11)
]
_NEW = [
    movement(f"Sonata {work}", number, f"Part {number}", size=90_000 + 700 * number)
    for work in range(8)
    for number in range(1, 6)
]
_FOREIGN = {"Music/notes.txt": b"notes", "DCIM/0001.jpg": b"photo" * 20_000}

LARGE = Scene(
    "large",
    library(*_OLD),
    # Some stay, some get other tags, some another name, some go; forty come.
    library(
        *_OLD[:10],
        *[retagged(entry, genre="Folk") for entry in _OLD[10:20]],
        *[retagged(entry, title=f"Other {at}") for at, entry in enumerate(_OLD[20:28])],
        *_NEW,
    ),
    foreign=_FOREIGN,
)

SCENES = {**SMALL, "large": LARGE}
