"""A folder's cover picture as the scan takes it: which bytes it has, and what is wrong with it.

What a player gets of it is the transcoder's: pictures are not decoded here.
"""

from syncd.errors import ItemProblem
from syncd.library.masterfile import open_master, shown
from syncd.model import LibraryPath

_LARGEST_PICTURE = 64 * 1024 * 1024
_JPEG, _PNG = b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n"
_SCAN, _END = b"\xff\xda", b"\xff\xd9"


def hash_picture(path: LibraryPath, notices: list[str]) -> str:
    """xxh3_128 of a JPEG or PNG file's bytes. Raises ItemProblem when it is neither.

    That its end is missing is told in *notices*.
    """
    with open_master(path) as (file, size):
        if size > _LARGEST_PICTURE:
            raise ItemProblem(
                shown(path),
                f"The picture {shown(path)} has {size} bytes, more than the {_LARGEST_PICTURE} "
                "that syncd takes; scale it down.",
            )
        data = file.read(_LARGEST_PICTURE)
    if not data.startswith((_JPEG, _PNG)):
        raise ItemProblem(
            shown(path),
            f"{shown(path)} is named as a picture but is neither JPEG nor PNG; replace it.",
        )
    if is_cut(data):
        notices.append(
            f"The picture {shown(path)} is cut off: its end is missing, and players may get none. "
            "Copy it again from its source."
        )
    import xxhash

    return xxhash.xxh3_128_hexdigest(data)


def is_cut(data: bytes) -> bool:
    """Whether a JPEG or PNG picture lacks its end.

    A JPEG ends with the marker EOI (ITU-T T.81, B.1.1.3), which cannot occur within the entropy-
    coded data behind the last SOS; one further on at the front belongs to a preview. A PNG ends
    with the chunk IEND (ISO/IEC 15948, 11.2.5).
    """
    if data.startswith(_PNG):
        return b"IEND" not in data[-64 * 1024 :]
    return data.rfind(_END) < data.rfind(_SCAN) or _SCAN not in data
