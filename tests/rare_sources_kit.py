"""Files that no encoder at hand makes: one-bit audio (DSF, DSDIFF) and APE, written by the tests.

One-bit audio comes from a second-order sigma-delta modulator (textbook form: two integrators, each
fed back from the one-bit decision). Layouts: DSF file format specification 1.01, DSDIFF 1.5. APE is
the "fast" level of stream version 3.99 for one channel of 16 bit: first-order filter, four-tap
sign-adaptive predictor, Rice-like split and range coder, the inverse of what ffmpeg's open-source
decoder does. All layouts are from memory; that decoders take the files is what proves them.
"""

import struct
import zlib
from pathlib import Path
from typing import Any

import mutagen
import numpy as np
from mutagen.apev2 import APEBinaryValue
from mutagen.asf import ASFByteArrayAttribute
from mutagen.id3 import APIC, TCOM, TIT2, TPE3, TRCK

DSD64_HZ = 2_822_400
PICTURE = b"\xff\xd8\xff\xe0" + bytes(range(256)) * 40
TAGS = {"TITLE": "Andante", "COMPOSER": "Clara Schumann", "CONDUCTOR": "Ilvana Brandt"}
_BLOCK = 4096
_DSF_TYPES = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 7}  # "channel type" by number of channels

Signal = np.ndarray[Any, np.dtype[np.float64]]
Bits = np.ndarray[Any, np.dtype[np.uint8]]


def modulated(signal: Signal) -> Bits:
    """One bit for each value of *signal*, whose full scale is 1.0 and whose peak is below 0.7."""
    bits = np.zeros(len(signal), np.uint8)
    first = second = 0.0
    for at, value in enumerate(signal.tolist()):
        decision = 1.0 if second >= 0 else -1.0
        first += value - decision
        second += first - 2 * decision
        bits[at] = decision > 0
    return bits


def tone(hz: float, peak: float, samples: int, rate: int = DSD64_HZ) -> Signal:
    """A sine of *samples* values."""
    return peak * np.sin(2 * np.pi * hz * np.arange(samples) / rate)


def write_dsf(path: Path, channels: list[Bits], rate: int = DSD64_HZ) -> Path:
    """A DSF file: blocks of 4096 bytes a channel by turns, the earliest bit lowest."""
    raw = [np.packbits(bits, bitorder="little").tobytes() for bits in channels]
    raw = [one + bytes(-len(one) % _BLOCK) for one in raw]
    data = b"".join(one[at : at + _BLOCK] for at in range(0, len(raw[0]), _BLOCK) for one in raw)
    count = len(channels)
    layout = struct.pack(
        "<4sQIIIIIIQII",
        b"fmt ",
        52,
        1,
        0,
        _DSF_TYPES[count],
        count,
        rate,
        1,
        len(channels[0]),
        _BLOCK,
        0,
    )
    sound = struct.pack("<4sQ", b"data", 12 + len(data)) + data
    head = struct.pack("<4sQQQ", b"DSD ", 28, 28 + len(layout) + len(sound), 0)
    path.write_bytes(head + layout + sound)
    return path


def chunk(kind: bytes, body: bytes) -> bytes:
    """A chunk of a DSDIFF file."""
    return kind + struct.pack(">Q", len(body)) + body + bytes(len(body) & 1)


def write_dff(
    path: Path, channels: list[Bits], rate: int = DSD64_HZ, coded: bytes = b"DSD "
) -> Path:
    """A DSDIFF file: a byte of each channel by turns, the earliest bit highest.

    With *coded* "DST " the audio stands in frames of a 75th of a second that are marked as not
    compressed, which that compression allows.
    """
    data = np.stack([np.packbits(bits) for bits in channels], axis=1)
    names = b"MLFTMRGTC   LFE LS  RS  " if len(channels) == 6 else b"SLFTSRGT"
    names = names[: 4 * len(channels)]
    properties = b"SND " + chunk(b"FS  ", struct.pack(">I", rate))
    properties += chunk(b"CHNL", struct.pack(">H", len(channels)) + names)
    properties += chunk(b"CMPR", coded + b"\x0enot compressed")
    if coded == b"DSD ":
        sound = chunk(b"DSD ", data.tobytes())
    else:
        step = rate // 75 // 8
        frames = [data[at : at + step].tobytes() for at in range(0, len(data) - step + 1, step)]
        sound = chunk(b"FRTE", struct.pack(">IH", len(frames), 75))
        sound += b"".join(chunk(b"DSTF", b"\0" + frame) for frame in frames)
        sound = chunk(b"DST ", sound)
    body = b"DSD " + chunk(b"FVER", b"\x01\x05\0\0") + chunk(b"PROP", properties) + sound
    path.write_bytes(b"FRM8" + struct.pack(">Q", len(body)) + body)
    return path


_COUNTS = (
    0, 19578, 36160, 48417, 56323, 60899, 63265, 64435, 64971, 65232, 65351,
    65416, 65447, 65466, 65476, 65482, 65485, 65488, 65490, 65491, 65492, 65493,
)  # fmt: skip
_ESCAPE = 63
_TOP, _BOTTOM, _SHIFT = 1 << 31, 1 << 23, 23


class _RangeCoder:
    """The carry-propagating range coder whose decoder the APE format has."""

    def __init__(self) -> None:
        self.out = bytearray()
        self._low, self._range, self._held, self._waiting = 0, _TOP, 0, 0

    def encode(self, start: int, width: int, unit: int) -> None:
        """Narrow to *width* units from *start*, a unit being *unit* of the present range."""
        self._low += start * unit
        self._range = width * unit

    def shifted(self, start: int, width: int, bits: int) -> None:
        self._normalise()
        self.encode(start, width, self._range >> bits)

    def uniform(self, value: int, total: int) -> None:
        self._normalise()
        self.encode(value, 1, self._range // total)

    def _normalise(self) -> None:
        while self._range <= _BOTTOM:
            self._push()
            self._range <<= 8

    def _push(self) -> None:
        if self._low < 0xFF << _SHIFT:
            self.out.append(self._held)
            self.out += b"\xff" * self._waiting
            self._waiting, self._held = 0, self._low >> _SHIFT
        elif self._low & _TOP:
            self.out.append(self._held + 1)
            self.out += bytes(self._waiting)
            self._waiting, self._held = 0, self._low >> _SHIFT & 0xFF
        else:
            self._waiting += 1
        self._low = self._low << 8 & (_TOP - 1)

    def finish(self) -> bytes:
        self._normalise()
        for _ in range(5):
            self._push()
        return bytes(self.out)


def _sign(value: int) -> int:
    return (value < 0) - (value > 0)


def _ape_frame(samples: list[int]) -> bytes:
    coder, step = _RangeCoder(), 10
    total = (1 << step) * 16
    weights, delay = [360, 317, -109, 98], [0, 0, 0, 0]
    before = last = 0
    for sample in samples:
        wanted = sample - (before * 31 >> 5)
        delay = [last, last - delay[0], delay[1], delay[2]]
        left = wanted - (sum(w * d for w, d in zip(weights, delay, strict=True)) >> 10)
        weights = [w + _sign(d) * _sign(left) for w, d in zip(weights, delay, strict=True)]
        before, last = sample, wanted
        folded = 2 * left - 1 if left > 0 else -2 * left
        pivot = max(1, total >> 5)
        over, base = divmod(folded, pivot)
        if over >= _ESCAPE:
            coder.shifted(65535, 1, 16)
            coder.shifted(over >> 16, 1, 16)
            coder.shifted(over & 0xFFFF, 1, 16)
        elif over >= len(_COUNTS) - 1:
            coder.shifted(65535 - 63 + over, 1, 16)
        else:
            coder.shifted(_COUNTS[over], _COUNTS[over + 1] - _COUNTS[over], 16)
        coder.uniform(base, pivot)
        total += (folded + 1) // 2 - ((total + 16) >> 5)
    checksum = zlib.crc32(np.array(samples, "<i2").tobytes()) >> 1
    return struct.pack(">I", checksum) + coder.finish()


def write_ape(path: Path, samples: list[int], rate: int = 44100) -> Path:
    """An APE file of one frame: one channel, 16 bit, "fast"."""
    frame = _ape_frame(samples)
    frame += bytes(-len(frame) % 4)
    words = np.frombuffer(frame, ">u4").astype("<u4").tobytes()  # stored as turned words
    first = 52 + 24 + 4
    head = struct.pack(
        "<4sHHIIIIIII16s", b"MAC ", 3990, 0, 52, 24, 4, 0, len(words), 0, 0, bytes(16)
    )
    head += struct.pack("<HHIIIHHI", 1000, 32, 73728, len(samples), 1, 16, 1, rate)
    path.write_bytes(head + struct.pack("<I", first) + words)
    return path


def set_tags(path: Path, title: str = "Andante") -> None:
    """Title, composer, conductor, number and picture as mutagen writes them for the format."""
    tagged: Any = mutagen.File(path)
    if path.suffix == ".wma":
        tagged["Title"], tagged["WM/Composer"] = title, TAGS["COMPOSER"]
        tagged["WM/Conductor"], tagged["WM/TrackNumber"] = TAGS["CONDUCTOR"], "3/4"
        names = "image/jpeg\0".encode("utf-16-le") + "front\0".encode("utf-16-le")
        picture = b"\x03" + struct.pack("<I", len(PICTURE)) + names + PICTURE
        tagged["WM/Picture"] = ASFByteArrayAttribute(picture)
    elif path.suffix == ".ape":
        if tagged.tags is None:
            tagged.add_tags()
        tagged["Title"], tagged["Composer"] = title, TAGS["COMPOSER"]
        tagged["Conductor"], tagged["Track"] = TAGS["CONDUCTOR"], "3/4"
        tagged["Cover Art (Front)"] = APEBinaryValue(b"front.jpg\0" + PICTURE)
    else:
        if tagged.tags is None:
            tagged.add_tags()
        for frame in (TIT2(text=title), TCOM(text=TAGS["COMPOSER"]), TPE3(text=TAGS["CONDUCTOR"]),
                      TRCK(text="3/4"), APIC(mime="image/jpeg", type=3, data=PICTURE)):  # fmt: skip
            tagged.tags.add(frame)
    tagged.save()
