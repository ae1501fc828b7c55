"""A whole update, from store to catalogue, on FAT32 and exFAT by Linux's drivers, cut on the way.

The same update of a plain folder on the host says what must be on the card, byte for byte.
"""

import os
import random
import sqlite3
from pathlib import Path

import exfat_judges
import pytest
from card_image import CardImage
from exfat_image import ExfatImage
from fat_image import FatImage
from judges import assert_untouched, fsck, listed_by_mtools, repaired, used_catalogue
from update_kit import Place, make_library
from user_kernel import Bench, Job, no_bench, no_exfat_bench

from syncd.applier.identity import CARD_FILE

BOOTS = 20 if os.environ.get("SYNCD_DEEP") == "1" else 2
FOREIGN = {"Music/notes.txt": b"notes"}

READERS: dict[str, type[FatImage] | type[ExfatImage]] = {"vfat": FatImage, "exfat": ExfatImage}
LACKING = {"vfat": no_bench, "exfat": no_exfat_bench}


def of_image(card: CardImage) -> dict[str, bytes]:
    """The card's files as ``Place.files`` gives them."""
    found = {}
    for file in card.files():
        if file.path in (CARD_FILE, "FILLER.BIN", *FOREIGN) or file.path.endswith((".rec", ".REC")):
            continue
        data = card.read(file.path)
        assert data is not None
        found[file.path.replace("cat-b.db", "cat-a.db")] = data
    return found


def named(card: CardImage, scratch: Path) -> list[tuple[str, int]]:
    """What the catalogue that a player opens names; its files are there, of the size it says."""
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


@pytest.mark.parametrize("system", ["vfat", "exfat"])
def test_a_whole_update_of_a_card_ends_like_that_of_a_folder_however_often_it_is_cut(
    tmp_path: Path, system: str
) -> None:
    """The card is nearly full, so that what will be free is reckoned before anything is written."""
    if reason := LACKING[system]():
        pytest.skip(reason)
    read = READERS[system]
    mend = repaired if system == "vfat" else exfat_judges.repaired
    bench = Bench(tmp_path / "bench")
    home = Place(bench.base / "home")
    make_library(home.music)
    home.new_card()
    home.update()  # fills the store, too
    wanted = home.files()
    image = bench.image("card.img") if system == "vfat" else bench.exfat_image("card.img")
    draw = random.Random(3)
    device: Job = {"device": "/dev/ubdb", "system": system}
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
            card = read(image.read_bytes())
            listed = named(card, tmp_path / "catalogue.db")
            found = of_image(card)
            for path, _ in listed:
                assert found[path] == wanted[path]
            mend(image)
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
    card = read(image.read_bytes())
    assert of_image(card) == wanted
    assert len(named(card, tmp_path / "catalogue.db")) == 6
    if system == "vfat":
        assert fsck(image).harmless, fsck(image).said
        assert listed_by_mtools(image) == {file.path for file in card.files()}
    else:
        assert not exfat_judges.fsck(image)
        assert exfat_judges.counted(image) == (len(card.folders) + 1, len(card.files()))
    # After the repair every size tells its clusters, so that even "about" is exact.
    assert planned["free_told"] == updated["free_told"] == updated["free_after"]
    assert not (in_the_middle and planned["free_is_exact"]), "what a cut left is not called exact"
    assert updated["free_is_exact"]
    print(f"{system}: {BOOTS} cuts, {begun} in the middle, {ended} after the end")
