"""What an interrupted update left in the middle is looked at before anything is written."""

from dataclasses import replace

import pytest
from card_world import SCENES, Scene, library, profile, song, update
from counting_volume import CountingVolume, PowerCut, Severity

from syncd.applier.identity import new_identity, write_identity
from syncd.applier.manifest import JournalLine, encode_line
from syncd.errors import CardProblem


@pytest.mark.parametrize("name", SCENES)
def test_before_anything_is_written_all_that_was_being_written_is_looked_at_or_removed(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its clusters may be told to be free on FAT, and would be given to what is written next."""
    scene = SCENES[name]
    monkeypatch.setattr(CountingVolume, "trim", lambda self, path: self.log.append(f"trim {path}"))
    start = scene.volume()
    changes = scene.updated(start).changes
    looked_at = 0
    for cut_at in range(changes):
        volume = Scene.clone(start)
        volume.cut_at = cut_at
        with pytest.raises(PowerCut):
            scene.update(volume)
        fresh = {path for path, inode in volume._now.files.values() if inode.data != inode.durable}
        left = volume.after_cut(Severity.ALL)
        scene.update(left)
        writing = ("write ", "append ", "more ")
        first = next((n for n, what in enumerate(left.log) if what.startswith(writing)), None)
        if first is None:
            continue
        seen = {what.split(" ", 1)[1] for what in left.log[:first] if what[:4] in ("trim", "remo")}
        assert fresh <= seen, f"cut at {cut_at}: {fresh - seen}"
        looked_at += len(fresh)
    assert looked_at


def test_a_file_whose_cluster_is_free_is_told_and_nothing_is_written(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    snapshot = library(*[song("Marnesund Five", "Low Tide", n, f"Song {n}") for n in (1, 2)])
    volume = CountingVolume()
    update(volume, snapshot, profile())
    volume.put("SYNCD/journal", encode_line(JournalLine("begin")))
    before, done = volume.content(), volume.changes
    lost: list[str] = []
    space = volume.space
    monkeypatch.setattr(volume, "trim", lost.append)
    monkeypatch.setattr(
        volume, "space", lambda: replace(space(), read_only="SYNCD/journal" in lost)
    )
    with pytest.raises(CardProblem, match=r"clusters of SYNCD/journal .*fsck\.vfat"):
        update(volume, library(*snapshot.tracks[:1]), profile())
    assert (volume.content(), volume.changes) == (before, done)
    lost.clear()
    monkeypatch.undo()
    update(volume, library(*snapshot.tracks[:1]), profile())


def test_enrolling_looks_at_what_an_interrupted_one_left(monkeypatch: pytest.MonkeyPatch) -> None:
    volume = CountingVolume()
    volume.put("SYNCD/card.json.new", b"{}")
    monkeypatch.setattr(CountingVolume, "trim", lambda self, path: self.log.append(f"trim {path}"))
    write_identity(volume, new_identity("X"))
    assert volume.log[:2] == ["trim SYNCD/card.json.new", "trim SYNCD/card.json"]
