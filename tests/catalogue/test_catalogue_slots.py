"""The generation record and the player's rule for choosing between two slots."""

import binascii
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncd.catalogue.slots import (
    RECORD_BYTES,
    Record,
    SlotState,
    catalogue_path,
    decode,
    encode,
    idle,
    newest,
    next_generation,
    record_path,
)

KEY = "00112233445566778899aabbccddeeff"
RECORDS = st.builds(
    Record,
    generation=st.integers(0, 2**32 - 1),
    size_bytes=st.integers(0, 2**64 - 1),
    content_key=st.binary(min_size=16, max_size=16).map(bytes.hex),
    crc32=st.integers(0, 2**32 - 1),
)


def state(generation: int, size: int = 4096, there: int | None = 4096) -> SlotState:
    return SlotState(Record(generation, size, KEY, 1), there)


def test_the_record_has_each_field_at_its_documented_place() -> None:
    data = encode(Record(7, 0x1_0000_0002, KEY, 0xDEADBEEF))
    assert len(data) == RECORD_BYTES == 64
    assert data[0:8] == b"SYNCDCAT"
    assert struct.unpack_from("<I", data, 8) == (1,)
    assert struct.unpack_from("<I", data, 12) == (7,)
    assert struct.unpack_from("<Q", data, 16) == (0x1_0000_0002,)
    assert data[24:40].hex() == KEY
    assert struct.unpack_from("<I", data, 40) == (0xDEADBEEF,)
    assert data[44:60] == bytes(16)
    # CRC-32 of ISO 3309 by another implementation of the standard library.
    assert struct.unpack_from("<I", data, 60) == (binascii.crc32(data[:60]),)


def test_the_checksum_is_the_published_crc_32() -> None:
    # Check value of CRC-32 (ISO 3309, ITU-T V.42): "123456789" gives CBF43926. Common practice
    # in catalogues of check sums; value from memory.
    assert binascii.crc32(b"123456789") == 0xCBF43926
    record = encode(Record(1, 2, KEY, 3))
    assert _crc32_by_the_book(record[:60]) == struct.unpack_from("<I", record, 60)[0]


def _crc32_by_the_book(data: bytes) -> int:
    crc = 0xFFFFFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ (0xEDB88320 if crc & 1 else 0)
    return crc ^ 0xFFFFFFFF


@given(RECORDS)
def test_a_record_reads_as_it_was_written(record: Record) -> None:
    assert decode(encode(record)) == record


@given(RECORDS, st.integers(0, RECORD_BYTES - 1), st.integers(1, 255))
def test_any_changed_byte_makes_a_record_invalid(record: Record, place: int, change: int) -> None:
    data = bytearray(encode(record))
    data[place] ^= change
    assert decode(bytes(data)) is None


@given(RECORDS, st.integers(0, RECORD_BYTES - 1))
def test_a_torn_record_is_invalid(record: Record, kept: int) -> None:
    data = encode(record)
    assert decode(data[:kept]) is None
    torn = data[:kept] + bytes(RECORD_BYTES - kept)
    assert decode(torn) is None or torn == data
    assert decode(data + b"\0") is None


@given(st.binary(max_size=200))
def test_garbage_is_no_record(data: bytes) -> None:
    assert decode(data) is None


def test_sectors_of_zeros_or_ones_are_no_record() -> None:
    assert decode(bytes(64)) is None
    assert decode(b"\xff" * 64) is None


def test_a_record_of_a_later_format_is_left_alone() -> None:
    data = bytearray(encode(Record(1, 2, KEY, 3)))
    struct.pack_into("<I", data, 8, 2)
    struct.pack_into("<I", data, 60, binascii.crc32(bytes(data[:60])))
    assert decode(bytes(data)) is None


@pytest.mark.parametrize(
    "record",
    [
        Record(-1, 0, KEY, 0),
        Record(2**32, 0, KEY, 0),
        Record(1, 2**64, KEY, 0),
        Record(1, 0, KEY[:-2], 0),
        Record(1, 0, KEY, -1),
    ],
)
def test_a_field_that_does_not_fit_is_refused(record: Record) -> None:
    with pytest.raises(ValueError, match=r"32 hexadecimal digits|does not fit"):
        encode(record)


def test_the_higher_generation_wins() -> None:
    assert newest(state(4), state(5)) == "b"
    assert newest(state(6), state(5)) == "a"


def test_equal_generations_are_settled_the_same_way_by_all() -> None:
    assert newest(state(5), state(5)) == "a"


def test_a_slot_whose_file_has_another_size_does_not_count() -> None:
    assert newest(state(4), state(5, there=4095)) == "a"
    assert newest(state(4), state(5, there=None)) == "a"
    assert newest(state(4, there=1), state(5, there=4095)) is None


def test_a_slot_without_a_valid_record_does_not_count() -> None:
    assert newest(SlotState(None, 4096), state(1)) == "b"
    assert newest(state(1), SlotState(None, 4096)) == "a"
    assert newest(SlotState(None, 4096), SlotState()) is None


STATES = st.builds(
    SlotState, st.none() | RECORDS, st.none() | st.integers(0, 2**64 - 1)
) | RECORDS.map(lambda record: SlotState(record, record.size_bytes))


@given(STATES, STATES)
def test_the_idle_slot_is_never_the_one_that_is_open(a: SlotState, b: SlotState) -> None:
    assert idle(a, b) != newest(a, b)
    chosen = newest(a, b)
    assert chosen is None or {"a": a, "b": b}[chosen].usable
    assert chosen is not None or not (a.usable or b.usable)


@given(STATES, STATES, st.integers(0, 2**40))
def test_a_new_catalogue_in_the_idle_slot_is_the_newest(
    a: SlotState, b: SlotState, size: int
) -> None:
    known = [s.record.generation for s in (a, b) if s.record is not None]
    if max(known, default=0) == 2**32 - 1:
        with pytest.raises(ValueError, match="no generation number"):
            next_generation(a, b)
        return
    slots = {"a": a, "b": b}
    place = idle(a, b)
    slots[place] = SlotState(Record(next_generation(a, b), size, KEY, 0), size)
    assert newest(slots["a"], slots["b"]) == place


@given(RECORDS, st.integers(0, RECORD_BYTES))
def test_a_power_cut_while_the_record_is_written_leaves_the_old_catalogue(
    record: Record, written: int
) -> None:
    """The idle slot's record is overwritten byte by byte; the one in use is not touched."""
    in_use = Record(9, 5000, KEY, 1)
    new = Record(10, record.size_bytes, record.content_key, record.crc32)
    old_idle = encode(Record(8, 4000, KEY, 2))
    torn = encode(new)[:written] + old_idle[written:]
    found = newest(SlotState(in_use, 5000), SlotState(decode(torn), new.size_bytes))
    assert found == ("b" if torn == encode(new) else "a")


def test_the_files_have_their_agreed_names() -> None:
    assert [catalogue_path("a"), record_path("a"), catalogue_path("b"), record_path("b")] == [
        "SYNCD/cat-a.db",
        "SYNCD/cat-a.rec",
        "SYNCD/cat-b.db",
        "SYNCD/cat-b.rec",
    ]
