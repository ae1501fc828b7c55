"""Names that are one to exFAT, by the recommended up-case table (exFAT specification 7.2.5.1).

The table is read from a fresh image as mkfs.exfat makes it: 5836 bytes packed, checksum 0xE619D30D.
"""

import os
import shutil
import struct
import subprocess
from collections import defaultdict

import pytest

from syncd.planner.names import fold

_PATH = os.pathsep.join([os.environ.get("PATH", ""), "/usr/sbin", "/sbin"])
MKFS = shutil.which("mkfs.exfat", path=_PATH)


def checksum(data: bytes) -> int:
    total = 0
    for byte in data:
        total = ((total << 31 | total >> 1) + byte) & 0xFFFF_FFFF
    return total


@pytest.fixture(scope="module")
def table(tmp_path_factory: pytest.TempPathFactory) -> dict[int, int]:
    if MKFS is None:
        pytest.skip("needs the Debian package exfatprogs")
    image = tmp_path_factory.mktemp("table") / "image"
    with image.open("wb") as file:
        file.truncate(8 << 20)
    subprocess.run([MKFS, str(image)], check=True, capture_output=True)
    data = image.read_bytes()
    heap, _, root = struct.unpack_from("<III", data, 88)  # in sectors; specification 3.1
    sector, cluster = 1 << data[108], 1 << (data[108] + data[109])

    def at(number: int) -> int:
        return heap * sector + (number - 2) * cluster

    folder = data[at(root) : at(root) + cluster]
    entry = next(
        folder[start : start + 32] for start in range(0, cluster, 32) if folder[start] == 0x82
    )
    wanted, first, length = struct.unpack("<IxxxxxxxxxxxxIQ", entry[4:])
    packed = data[at(first) : at(first) + length]
    assert (length, wanted, checksum(packed)) == (5836, 0xE619D30D, 0xE619D30D)
    upper: dict[int, int] = {}
    code = 0
    units = iter(struct.unpack(f"<{length // 2}H", packed))
    for unit in units:
        if unit == 0xFFFF:
            code += next(units, 1)  # so many stay as they are; the last unit is one itself
            continue
        if unit != code:
            upper[code] = unit
        code += 1
    return upper


def test_names_that_the_table_makes_one_are_one_to_us(table: dict[int, int]) -> None:
    assert len(table) == 874  # measured on a fresh image
    same: dict[int, list[str]] = defaultdict(list)
    for code in range(0x20, 0x10000):
        if not 0xD800 <= code <= 0xDFFF:
            same[table.get(code, code)].append(chr(code))
    for letters in same.values():
        assert len({fold(letter) for letter in letters}) == 1, letters
        assert len({fold(f"a{letter}b") for letter in letters}) == 1, letters


def test_we_unite_a_few_names_more_which_costs_a_number_only() -> None:
    assert fold("Strau\u00df") == fold("STRAUSS")  # two names to the table
    assert fold("Dvor\u030c\u00e1k") == fold("DVO\u0158\u00c1K")  # and so are the normal forms
