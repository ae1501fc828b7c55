"""A whole update, from store to catalogue, on FAT32 by the Linux driver, and cut on the way.

The same update of a plain folder on the host says what must be on the card, byte for byte.
"""

import os
import random
import sqlite3
from pathlib import Path

import pytest
from fat_image import FatImage
from judges import assert_untouched, fsck, listed_by_mtools, repaired, used_catalogue
from update_kit import Place, make_library
from user_kernel import Bench, Job, no_bench

from syncd.applier.identity import CARD_FILE

BOOTS = 20 if os.environ.get("SYNCD_DEEP") == "1" else 2
FOREIGN = {"Music/notes.txt": b"notes"}

pytestmark = pytest.mark.skipif(bool(no_bench()), reason=no_bench() or "")


def of_image(path: Path) -> dict[str, bytes]:
    """The card's files as ``Place.files`` gives them."""
    card = FatImage(path.read_bytes())
    found = {}
    for file in card.files():
        if file.path in (CARD_FILE, "FILLER.BIN", *FOREIGN) or file.path.endswith((".rec", ".REC")):
            continue
        data = card.read(file.path)
        assert data is not None
        found[file.path.replace("cat-b.db", "cat-a.db")] = data
    return found


def named(path: Path, scratch: Path) -> list[tuple[str, int]]:
    """What the catalogue that a player opens names; its files are there, of the size it says."""
    card = FatImage(path.read_bytes())
    assert_untouched(card, FOREIGN)
    used = used_catalogue(card)
    if used is None:
        return []
    scratch.write_bytes(used[1])
    opened = sqlite3.connect(scratch)
    listed = list(opened.execute("SELECT path, size FROM tracks"))
    opened.close()
    for named_path, size in listed:
        assert card.size(named_path) == size
    return listed


def test_a_whole_update_of_a_fat_card_ends_like_that_of_a_folder_however_often_it_is_cut(
    tmp_path: Path,
) -> None:
    """The card is nearly full, so that what will be free is reckoned before anything is written."""
    bench = Bench(tmp_path / "bench")
    home = Place(bench.base / "home")
    make_library(home.music)
    home.new_card()
    home.update()  # fills the store, too
    wanted = home.files()
    image = bench.image("card.img")
    draw = random.Random(3)
    device: Job = {"device": "/dev/ubdb"}
    begun = ended = 0
    in_the_middle = False
    deeds = ["plain all at once", "call capacity_deeds:fill"]
    assert not any(done["problem"] for done in bench.run([{**device, "deeds": deeds}], [image])[0])
    start = image.read_bytes()
    for _ in range(BOOTS):
        # After the sixth file comes the first barrier; then they take their places.
        job = {**device, "deeds": ["update home"], "signal": draw.choice((5, 6, 6, 6))}
        bench.cut([job], [image], draw.random() * 0.03)
        for _ in ("as it was left", "repaired"):
            listed = named(image, tmp_path / "catalogue.db")
            found = of_image(image)
            for path, _ in listed:
                assert found[path] == wanted[path]
            repaired(image)
        in_the_middle = "SYNCD/journal" in found
        begun += in_the_middle
        if not in_the_middle and listed:
            ended += 1
            assert found == wanted
            image.write_bytes(start)
    deeds = ["check home", "update home", "check home"]
    (results,) = bench.run([{**device, "deeds": deeds}], [image])
    assert [result["problem"] for result in results] == [None, None, None]
    planned, updated, nothing = results
    assert nothing["steps"] == 0
    assert of_image(image) == wanted
    assert len(named(image, tmp_path / "catalogue.db")) == 6
    assert fsck(image).harmless, fsck(image).said
    assert listed_by_mtools(image) == {f.path for f in FatImage(image.read_bytes()).files()}
    # After fsck.vfat every size tells its clusters, so that even "about" is exact.
    assert planned["free_told"] == updated["free_told"] == updated["free_after"]
    assert not (in_the_middle and planned["free_is_exact"]), "what a cut left is not called exact"
    assert updated["free_is_exact"]
    print(
        f"{BOOTS} cuts, {begun} in the middle, {ended} after the end; {planned['free_told']} free"
    )
