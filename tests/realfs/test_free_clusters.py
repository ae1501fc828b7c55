"""Names that a cut left with clusters beyond their size, or with one that the FAT calls free."""

import struct
import subprocess
from pathlib import Path

import pytest
from judges import fsck
from user_kernel import Bench, no_bench

pytestmark = pytest.mark.skipif(bool(no_bench()), reason=no_bench() or "")


def test_trimming_gives_back_what_is_beyond_the_size_and_finds_a_free_cluster(
    tmp_path: Path,
) -> None:
    bench = Bench(tmp_path / "bench")
    image = bench.image("card.img", 34 << 20, "-s", "1")
    content = tmp_path / "content"
    content.write_bytes(bytes(range(256)) * 4)  # two clusters of 512 bytes
    for name in ("ONE.BIN", "TWO.BIN"):
        command = ["mcopy", "-i", str(image), str(content), f"::{name}"]
        subprocess.run(command, check=True, capture_output=True, env={"PATH": "/usr/bin:/bin"})
    data = bytearray(image.read_bytes())
    one, two = (data.index(name + b"BIN ") for name in (b"ONE     ", b"TWO     "))
    # Size at 28, first cluster's low half at 26 (FAT specification, page 23).
    struct.pack_into("<I", data, one + 28, 100)
    (cluster,) = struct.unpack_from("<H", data, two + 26)
    reserved, fats, sectors = struct.unpack_from("<HB", data, 14) + struct.unpack_from(
        "<I", data, 36
    )
    for number in range(fats):  # its second cluster follows the first one
        struct.pack_into("<I", data, (reserved + number * sectors) * 512 + 4 * cluster + 4, 0)
    image.write_bytes(data)
    kinds = fsck(image).kinds
    assert {"File size is # bytes, cluster chain length is", "Contains a free cluster"} <= {*kinds}
    deeds = ["call link_deeds:trimmed"]
    ((deed,),) = bench.run([{"device": "/dev/ubdb", "deeds": deeds}], [image])
    assert deed["problem"] is None
    assert deed["value"] == [[1, False], [0, True]]
