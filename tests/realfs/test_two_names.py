"""Two names on the same clusters, as a cut in the middle of a rename leaves them on FAT."""

import struct
import subprocess
from pathlib import Path

import pytest
from judges import fsck
from user_kernel import Bench, no_bench

pytestmark = pytest.mark.skipif(bool(no_bench()), reason=no_bench() or "")


def test_two_names_on_the_same_clusters_are_told_from_two_equal_files(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "bench")
    image = bench.image("card.img")
    content = tmp_path / "content"
    content.write_bytes(bytes(range(256)) * 40)
    for name in ("ONE.BIN", "TWO.BIN", "THREE.BIN"):
        command = ["mcopy", "-i", str(image), str(content), f"::{name}"]
        subprocess.run(command, check=True, capture_output=True, env={"PATH": "/usr/bin:/bin"})
    data = bytearray(image.read_bytes())
    one, two = (data.index(name + b"BIN ") for name in (b"ONE     ", b"TWO     "))
    # First cluster: the high half at 20, the low half at 26 (FAT specification, page 23).
    for at in (20, 26):
        struct.pack_into("<H", data, two + at, *struct.unpack_from("<H", data, one + at))
    image.write_bytes(data)
    assert "share clusters" in fsck(image).kinds
    ((deed,),) = bench.run([{"device": "/dev/ubdb", "deeds": ["call link_deeds:linked"]}], [image])
    assert deed["problem"] is None
    assert deed["value"] == [True, True, False, False, True]
