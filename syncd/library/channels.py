"""Which places a plain-sample file's channels have, where its header leaves that open.

A WAV file without a channel mask, and every AIFF file, has its channels in the usual order of their
number (RFC 9639 §9.1.3: three are left, right, centre; four are two in front and two behind). A
decoder that guesses otherwise (left, right, low frequencies; or a single one behind) loses or
misplaces a channel in a downmix.
"""

from syncd.library.boxes import iff_chunks
from syncd.library.masterfile import open_master
from syncd.library.tagblocks import read_at
from syncd.model import LibraryPath


def states_places(path: LibraryPath) -> bool:
    """Whether the WAV file *path* has a mask with a place for each channel.

    Raises ItemProblem when it cannot be read.
    """
    with open_master(path) as (file, size):
        layout = next((one for one in iff_chunks(file, size) if one.kind == b"fmt "), None)
        raw = b"" if layout is None else read_at(file, layout.start, min(layout.held, 40))
    if int.from_bytes(raw[:2], "little") != 0xFFFE or len(raw) < 24:
        return False
    mask = int.from_bytes(raw[20:24], "little")
    return mask.bit_count() == int.from_bytes(raw[2:4], "little")
