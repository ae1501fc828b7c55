"""Words of folders' names that hold files and name nobody: "Music", "Downloads", "unsorted"."""

import re
from functools import lru_cache

from syncd.works.text import fold
from syncd.works.words.tables import word_set

_NOBODY = word_set(
    """
    music musik musique musica muzyka muziek musikk media audio mp3 mp3s flac ogg m4a wav songs
    tracks files download downloads library unsorted misc miscellaneous various sonstiges divers
    albums alben rips ripped new neu temp tmp share shared usb sdcard backup itunes desktop
    documents home unknown unbekannt artist album musiikki muzika музыка разное
    """
)
_WORD = re.compile(r"[^\W_]+")


@lru_cache(maxsize=4096)
def may_name_artist(folder: str) -> bool:
    """Whether a folder's name can be that of an artist."""
    words = _WORD.findall(fold(folder))
    return bool(words) and not _NOBODY.issuperset(words)
