"""What kind of audio file something is, by its content and not by its name."""

from typing import BinaryIO
from uuid import UUID

from syncd.library.mpeg import first_frame, is_free_format
from syncd.library.tagblocks import front_end, read_at, tail_start

_ASF_HEADER = UUID("75b22630-668e-11cf-a6d9-00aa0062ce6c").bytes_le


def container_of(file: BinaryIO, size: int) -> str | None:
    """The container of the audio in *file*, None when it holds none that syncd knows."""
    head = read_at(file, 0, 32)
    found = _by_magic(head)
    if found is None:
        # FLAC, AAC and others may stand behind an ID3v2 tag that does not belong there
        front = front_end(file, size)
        found = _by_magic(read_at(file, front, 32)) if front else None
        if found is None:
            end = tail_start(file, front, size)
            if _adts(file, front, end):
                found = "aac"
            elif first_frame(file, front, end) or is_free_format(file, front, end):
                found = "mp3"
    return found


def _by_magic(head: bytes) -> str | None:
    if head[:4] == b"fLaC":
        return "flac"
    if head[:4] == b"OggS":
        return "ogg"
    if head[:4] == b"wvpk":
        return "wavpack"
    if head[:4] in (b"RIFF", b"RF64", b"BW64") and head[8:12] == b"WAVE":
        return "wav"
    if head[:4] == b"FORM" and head[8:12] in (b"AIFF", b"AIFC"):
        return "aiff"
    if head[4:8] == b"ftyp":
        return "mp4"
    if head[:4] == b"TTA1":
        return "tta"
    if head[:4] == b"MAC ":
        return "ape"
    if head[:16] == _ASF_HEADER:
        return "asf"
    if head[:4] == b"DSD " and head[28:32] == b"fmt ":
        return "dsf"
    if head[:4] == b"FRM8" and head[12:16] == b"DSD ":
        return "dff"
    return None


def adts_frame(raw: bytes) -> int:
    """Length of the ADTS frame whose header *raw* begins with, 0 if none (ISO/IEC 14496-3)."""
    if len(raw) < 7 or raw[0] != 0xFF or raw[1] & 0xF6 != 0xF0 or raw[2] >> 2 & 15 > 12:
        return 0
    length = (raw[3] & 3) << 11 | raw[4] << 3 | raw[5] >> 5
    return length if length > 7 else 0


def _adts(file: BinaryIO, start: int, end: int) -> bool:
    for _ in range(3):
        length = adts_frame(read_at(file, start, 7))
        if length == 0:
            return False
        start += length
        if start == end:
            return True
    return True
