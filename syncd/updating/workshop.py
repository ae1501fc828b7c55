"""What the steps of an update share: library, store and tools, and what was learnt on the way.

What cannot be made or measured is remembered here for all cards of one run, so that it is tried
once. Who plans and who presses is others' affair.
"""

import contextlib
import datetime
import tempfile
import threading
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from syncd.applier.applied import CannotMake
from syncd.library.asknown import still_holds
from syncd.model import AudioHash, LeftOut, LibraryPath, LibrarySnapshot, Track
from syncd.planner.gain import LevelKey, Levels
from syncd.planner.pictures import PICTURE
from syncd.planner.plan import Plan, pressing_id
from syncd.profile import Profile
from syncd.transcoder.artwork import PictureForm, useless
from syncd.transcoder.dress import DamagedPressing
from syncd.transcoder.ffmpeg_port import Ffmpeg
from syncd.transcoder.measurements import Measurements
from syncd.transcoder.store import PressingKey, Store
from syncd.updating.known import KnownLevels, KnownSizes
from syncd.updating.values import Report
from syncd.utf8 import printable


@dataclass
class Workshop:
    """The means of one run of updates, and what it knows; see ``Updater`` for its settings."""

    library: LibrarySnapshot
    store: Store
    tool: Ffmpeg
    scratch: Path
    workers: int | None
    stop: threading.Event | None
    report: Report
    forgives: Callable[[Track], bool]
    checks: bool
    failed: dict[PressingKey, str] = field(default_factory=dict)
    """What could not be made, and why."""
    unmeasurable: set[LevelKey] = field(default_factory=set)
    uncheckable: set[PressingKey] = field(default_factory=set)
    notices: list[str] = field(default_factory=list)
    outdated: bool = False
    """Whether something could not be made since it was not as this run took it to be: a master is
    not as the library knows it, a pressing went out of the store. Then a scan and another run may
    do it."""
    dressed: KnownSizes = field(init=False)
    today: int = field(init=False)
    _damaged_before: set[PressingKey] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.dressed = KnownSizes(self.library, self.store)
        self.today = (datetime.date.today() - datetime.date(1970, 1, 1)).days

    def heed_stop(self) -> None:
        """Raises KeyboardInterrupt once the run was told to stop."""
        if self.stop is not None and self.stop.is_set():
            raise KeyboardInterrupt

    @contextlib.contextmanager
    def folder(self) -> Iterator[Path]:
        """A folder at home for what is made on the way; it goes at the end."""
        self.scratch.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=self.scratch) as folder:
            yield Path(folder)

    def measurements(self, profile: Profile) -> Measurements | None:
        """Where loudness is kept, if *profile* asks for any. Raises SetupProblem."""
        return self.store.measurements() if profile.loudness.mode != "off" else None

    def levels(self, profile: Profile) -> Levels | None:
        """What is known of loudness, if *profile* asks for any. Raises SetupProblem."""
        known = self.measurements(profile)
        return None if known is None else KnownLevels(known, self.unmeasurable)

    def damaged(self) -> dict[AudioHash, str]:
        """The damaged masters that are not to be used, with the reason. Raises SetupProblem."""
        known = self.store.checks().damaged() if self.checks else {}
        if not known:
            return {}
        tracks = [entry.track for entry in self.library.tracks if entry.track.audio_hash in known]
        forgiven = {track.audio_hash for track in tracks if self.forgives(track)}
        return {
            track.audio_hash: known[track.audio_hash].sentence(printable(track.address))
            for track in tracks
            if track.audio_hash not in forgiven
        }

    def cannot_be_made(self, profile: Profile) -> Mapping[PressingKey, str]:
        """What could not be made, with the pictures that are known to be none."""
        writing = profile.tags
        if writing.art != "file":
            return self.failed
        useless = self.store.useless_art(PictureForm.of(writing).name)
        return self.failed | {
            (AudioHash(digest), PICTURE): "It cannot be read as a picture." for digest in useless
        }

    def give_up(self, track: Track, recipe: str, reason: str) -> None:
        """Remember that *track* cannot be made by *recipe*, a key; and see why that may be."""
        if still_holds(track):
            self.failed[(track.audio_hash, recipe)] = reason
        else:
            self._out_of_reach(track, reason)

    def _out_of_reach(self, track: Track, reason: str) -> bool:
        """Take *track*'s file for one that cannot be read until the next scan; whether it was not.

        So what is on the card of its recording stays. Where its folder is gone, all that is in
        there counts as away: a disk that is unmounted takes no plan for each of its files.
        """
        self.outdated = True
        known = self.library
        if track.path.startswith(tuple(f"{folder.rstrip('/')}/" for folder in known.away)):
            return False
        if (folder := _gone_folder(track.path)) is not None:
            self.library = replace(known, away=(*known.away, folder))
            self.notices.append(
                f"The folder {printable(folder)} is not there any more. What is on the card of its "
                "music stays as it is. Scan the library again."
            )
            return True
        if any(item.path == track.path for item in known.unreadable):
            return False
        unreadable = (*known.unreadable, LeftOut(track.path, reason))
        self.library = replace(known, unreadable=unreadable)
        return True

    def pardon(self, key: PressingKey) -> None:
        """Forget that *key* could not be made: what is on the card of it stays. It is told."""
        if (reason := self.failed.pop(key, None)) is not None:
            self.notices.append(reason)

    def without_picture(self, profile: Profile, plan: Plan) -> list[str]:
        """What to tell of the pictures of *plan*'s tracks of which nothing can be made."""
        if profile.tags.art == "none":
            return []
        form = PictureForm.of(profile.tags).name
        tracks = [placement.track.track for placement in plan.end if placement.track is not None]
        pictures = {track.art.hash: track.art for track in tracks if track.art is not None}
        return sorted(
            useless(art) for art in pictures.values() if self.store.is_useless_art(art.hash, form)
        )

    def take_note(self, fault: CannotMake) -> None:
        """Remember what could not be made, so that the next plan is made without it."""
        key = pressing_id(fault.placement)
        if isinstance(fault.__cause__, DamagedPressing):
            damaged = self.store.get(*key)
            if damaged is not None:
                self.store.set_aside(damaged)
            if damaged is not None and key not in self._damaged_before:
                self._damaged_before.add(key)  # once: a store on a failing disk must not go round
                self.notices.append(fault.reason)
                return
        placed = fault.placement
        gone = placed.art is not None and not Path(placed.art.path).is_file()
        if placed.track is not None:
            pressed = placed.recipe is not None and placed.recipe.action != "carry"
            gone = gone or (pressed and self.store.get(*key) is None)
            gone = gone or not still_holds(placed.track.track)
            if gone and self._out_of_reach(placed.track.track, fault.reason):
                return
        self.failed[key] = fault.reason
        self.outdated = self.outdated or gone

    def all_notices(self) -> tuple[str, ...]:
        """What there is to tell, the store's own notices included, each once."""
        of_store = [*self.store.notices, *self.store.overs.sentences()]
        return tuple(dict.fromkeys([*self.notices, *of_store]))


def _gone_folder(path: str) -> LibraryPath | None:
    """The outermost folder of *path* that is not there, None where all are."""
    gone = None
    for folder in Path(path).parents:
        if folder.is_dir():
            break
        gone = LibraryPath(str(folder))
    return gone
