"""The planner: library snapshot, card state, profile and programme in; a plan out. Pure.

It opens nothing, logs nothing and knows no clock. Equal inputs give equal plans, in whatever order
their parts come. What a step does to the card is the applier's affair; which steps there are, in
which order and why, is decided here:

1. press      what the store does not have yet is made at home
2. write      new files are put on the card aside, named by nothing
3. publish    only if something that the catalogue names must change place, content or go first:
              a catalogue without it
4. remove / rename, and the new files take their places
5. publish    the catalogue of the end state
6. remove     what is not wanted any more (if it did not have to go before)
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

import xxhash
from anyascii import anyascii

from syncd.model import Art, AudioHash, CardPath, CataloguedTrack, LeftOut, LibrarySnapshot
from syncd.planner.card_state import CardState, ManifestEntry, Source
from syncd.planner.card_tags import CardTags, card_tags
from syncd.planner.layout import Group, Layout, group_tracks
from syncd.planner.names import fold
from syncd.planner.places import Places, current_folder
from syncd.planner.programme import EVERYTHING, Programme
from syncd.planner.recipe import Recipe, Unplayable, make_recipe
from syncd.profile import Profile

DRESS_VERSION = 1
"""Part of every dress digest. Raised when equal tags would be written as other bytes."""

PLAYLIST = "playlist"
CATALOGUE_BYTES_A_TRACK = 400
MANIFEST_BYTES_A_TRACK = 120
RESERVE_BYTES = 1 << 20
TAG_BYTES = 4096
"""Allowance for text tags in a file whose size is not known yet."""


class Action(StrEnum):
    """What a step does."""

    PRESS = "press"
    WRITE = "write"
    RENAME = "rename"
    REMOVE = "remove"
    PUBLISH = "publish"


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a plan. ``origin`` is the old path of a rename."""

    action: Action
    target: str
    bytes: int
    reason: str
    origin: CardPath | None = None


@dataclass(frozen=True, slots=True)
class Placement:
    """One file of the card's end state and all that is needed to make it.

    ``size`` is exact for a file that is on the card already, else an upper estimate. ``track``
    is None for a playlist, whose ``text`` is its whole content.
    """

    path: CardPath
    source: Source
    size: int
    track: CataloguedTrack | None = None
    recipe: Recipe | None = None
    tags: CardTags = ()
    art: Art | None = None
    text: str = ""


@dataclass(frozen=True, slots=True)
class NotFitting:
    """A recording or album that was wanted and has no room."""

    title: str
    tracks: int
    bytes: int
    reason: str


@dataclass(frozen=True, slots=True)
class Plan:
    """The steps that take a card from what it is to what it should be.

    ``end`` is the card's end state in playing order. ``staying`` are the paths that no step
    touches: what an interim catalogue may name. ``catalogue_key`` is that of the end state.
    """

    steps: tuple[Step, ...] = ()
    end: tuple[Placement, ...] = ()
    staying: frozenset[CardPath] = frozenset()
    catalogue_key: str | None = None
    not_fitting: tuple[NotFitting, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    foreign: tuple[CardPath, ...] = ()
    bytes_free_before: int = 0
    bytes_free_after: int = 0
    presses: tuple[Placement, ...] = ()
    """What must be pressed first: one placement for each pressing that the store lacks."""

    def count(self, action: Action) -> int:
        """How many steps do *action*."""
        return sum(step.action is action for step in self.steps)


@dataclass(frozen=True, slots=True)
class Pressings:
    """What is known about pressings beforehand.

    ``sizes`` maps (audio hash, recipe key) to the bytes of the pressing in the store; ``failed``
    maps the same pair to the reason why it could not be made.
    """

    sizes: Mapping[tuple[AudioHash, str], int] = field(default_factory=dict)
    failed: Mapping[tuple[AudioHash, str], str] = field(default_factory=dict)


def make_plan(
    library: LibrarySnapshot,
    card: CardState,
    profile: Profile,
    programme: Programme = EVERYTHING,
    pressings: Pressings | None = None,
    catalogue_form: str = "",
) -> Plan:
    """Return the steps that take *card* from what it is to what it should be.

    *catalogue_form* names the form in which the catalogue is built; another form is another
    catalogue, even of the same files. Nothing is chosen but whole recordings. What cannot be
    read, played or fitted is told in the plan. Equal inputs give equal plans, in whatever order
    their parts come.
    """
    return _Planning(
        library, card, profile, programme, pressings or Pressings(), catalogue_form
    ).plan()


@dataclass(slots=True)
class _Member:
    """A track on its way to a place."""

    entry: CataloguedTrack
    recipe: Recipe
    recipe_key: str
    suffix: str
    wish: str = ""
    current: ManifestEntry | None = None
    tags: CardTags = ()
    dress: str = ""
    size: int = 0


@dataclass(slots=True)
class _Chosen:
    group: Group
    members: list[_Member]


class _Planning:
    """The working space of one call of make_plan."""

    def __init__(
        self,
        library: LibrarySnapshot,
        card: CardState,
        profile: Profile,
        programme: Programme,
        pressings: Pressings,
        catalogue_form: str,
    ) -> None:
        self.library = library
        self.card = card
        self.profile = profile
        self.programme = programme
        self.pressings = pressings
        self.catalogue_form = catalogue_form
        self.left_out: list[LeftOut] = sorted(library.unreadable, key=lambda item: item.path)
        self.not_fitting: list[NotFitting] = []
        self.layout = Layout(profile)
        self._recipes: dict[tuple[object, ...], tuple[Recipe, str, str] | str] = {}
        self._away = tuple(root.rstrip("/") + "/" for root in library.away)
        art = profile.tags.art == "embedded"
        side = profile.tags.art_longest_side_px
        # A baseline JPEG of photographs at quality 85 takes under half a byte a pixel.
        self._art_bytes = side * side // 2 + 2048 if art else 0
        self._writing = "\0".join(
            (
                str(DRESS_VERSION),
                profile.tags.id3_version,
                profile.tags.charset,
                f"{side}" if art else "",
                "rewrite" if profile.tags.rewrite_carried else "keep",
            )
        )

    def plan(self) -> Plan:
        groups = group_tracks(self.library.tracks)
        chosen = self._fitting(self._playable(groups))
        end = self._placed(chosen)
        return self._steps(end)

    # -- choosing ---------------------------------------------------------------------------

    def _playable(self, groups: tuple[Group, ...]) -> list[tuple[int, _Chosen]]:
        """Groups in order of priority with their recipes; what cannot be played is left out."""
        playable = []
        for clause, group in self.programme.in_order(groups):
            members: list[_Member] = []
            faults: list[tuple[CataloguedTrack, str]] = []
            for entry in group.members:
                made = self._member(entry)
                if isinstance(made, str):
                    faults.append((entry, made))
                else:
                    members.append(made)
            if faults:
                self.left_out.extend(LeftOut(entry.track.path, why) for entry, why in faults)
                if group.is_recording:
                    for member in members:
                        reason = f"Its recording is not whole without {faults[0][0].track.path}."
                        self.left_out.append(LeftOut(member.entry.track.path, reason))
                    continue
            if members:
                kept = tuple(member.entry for member in members)
                whole = (
                    group if not faults else Group(group.key, group.is_recording, group.title, kept)
                )
                playable.append((clause, _Chosen(whole, members)))
        self._find_current([chosen for _, chosen in playable])
        return [pair for pair in playable if self._has_sources(pair[1])]

    def _member(self, entry: CataloguedTrack) -> _Member | str:
        """The track with its recipe, or the reason why it cannot be played or pressed."""
        audio = entry.track.audio
        facts = (
            audio.container,
            audio.codec,
            audio.sample_rate_hz,
            audio.channels,
            audio.bits_per_sample,
            audio.bitrate_bps,
            audio.profile,
        )
        made = self._recipes.get(facts)
        if made is None:
            try:
                recipe = make_recipe(audio, self.profile)
                made = (recipe, recipe.key, recipe.suffix.removeprefix("."))
            except Unplayable as fault:
                made = str(fault)
            self._recipes[facts] = made
        if isinstance(made, str):
            return made
        recipe, key, suffix = made
        failed = self.pressings.failed.get((entry.track.audio_hash, key))
        if failed is not None:
            return failed
        return _Member(entry, recipe, key, suffix)

    def _find_current(self, chosen: list[_Chosen]) -> None:
        """Find for each track the file on the card that holds its pressing, if there is one."""
        lying: dict[tuple[str, str], list[ManifestEntry]] = {}
        for entry in sorted(self.card.entries, key=lambda entry: entry.path):
            lying.setdefault((entry.source.audio, entry.source.recipe), []).append(entry)
        rest: list[_Member] = []
        for choice in chosen:
            suffixes = [member.suffix for member in choice.members]
            wishes = self.layout.wished(choice.group, suffixes)
            for position, (member, wish) in enumerate(zip(choice.members, wishes, strict=True)):
                member.wish = wish
                member.tags = card_tags(choice.group, position)
                member.dress = self._dress(member)
                found = lying.get((member.entry.track.audio_hash, member.recipe_key))
                if found is None:
                    continue
                # The same audio may lie there twice; who lies where it wishes to lie comes first.
                if len(found) == 1 and found[0].path == wish:
                    member.current = found.pop()
                else:
                    rest.append(member)
        for fits in (_same_place, _same_dress, _any_place):
            for member in rest:
                found = lying[(member.entry.track.audio_hash, member.recipe_key)]
                if member.current is None:
                    match = next((entry for entry in found if fits(entry, member)), None)
                    if match is not None:
                        found.remove(match)
                        member.current = match

    def _dress(self, member: _Member) -> str:
        track = member.entry.track
        art = track.art.hash if track.art is not None and self._art_bytes else ""
        text = "\0".join([f"{name}={value}" for name, value in member.tags])
        return xxhash.xxh3_64_hexdigest(
            f"{self._writing}\0\0{art}\0\0{text}".encode("utf-8", "surrogatepass")
        )

    def _has_sources(self, choice: _Chosen) -> bool:
        """Whether all that must be written can be made; a disk that is away may forbid it."""
        if not self._away:
            return True
        lacking = []
        for member in choice.members:
            if not member.entry.track.path.startswith(self._away):
                continue
            if member.current is not None:
                # It cannot be dressed anew while its disk is away: it stays as it is.
                member.dress = member.current.source.dress
            elif not self._in_store(member):
                lacking.append(member)
        if not lacking:
            return True
        for member in lacking:
            self.left_out.append(
                LeftOut(
                    member.entry.track.path,
                    "Its part of the library is away (unmounted or missing), and no pressing of "
                    "it is in the store. Connect that disk and update again.",
                )
            )
        if choice.group.is_recording:
            return False
        choice.members = [member for member in choice.members if member not in lacking]
        members = tuple(member.entry for member in choice.members)
        choice.group = Group(choice.group.key, False, choice.group.title, members)
        return bool(members)

    def _in_store(self, member: _Member) -> bool:
        return (member.entry.track.audio_hash, member.recipe_key) in self.pressings.sizes

    # -- fitting ----------------------------------------------------------------------------

    def _fitting(self, wanted: list[tuple[int, _Chosen]]) -> list[_Chosen]:
        """The groups that fit, clause by clause; within a clause, what is on the card stays."""
        card = self.card
        budget = card.bytes_free + card.own_bytes - RESERVE_BYTES
        budget += sum(card.allocated(entry.size) for entry in card.entries)
        order = sorted(
            range(len(wanted)),
            key=lambda index: (
                wanted[index][0],
                all(member.current is None for member in wanted[index][1].members),
            ),
        )
        fitting: list[tuple[int, _Chosen]] = []
        each = 2 * CATALOGUE_BYTES_A_TRACK + MANIFEST_BYTES_A_TRACK
        if not self.profile.catalogue.present:
            each = MANIFEST_BYTES_A_TRACK
        for index in order:
            choice = wanted[index][1]
            too_large = None
            needs = 0
            for member in choice.members:
                member.size = self._size(member)
                needs += card.allocated(member.size) + each
                if card.largest_file_bytes is not None and member.size > card.largest_file_bytes:
                    too_large = member
            if all(member.current is None for member in choice.members):
                needs += 2 * card.cluster_bytes  # the folders that it will need
            if too_large is not None:
                self._no_room(
                    choice, needs, "One of its files is larger than the card's file system allows."
                )
            elif needs > budget:
                self._no_room(
                    choice, needs, f"It needs {needs} bytes, and {max(budget, 0)} are left."
                )
            else:
                budget -= needs
                fitting.append((index, choice))
        fitting.sort(key=lambda pair: pair[0])
        return [choice for _, choice in fitting]

    def _no_room(self, choice: _Chosen, needs: int, reason: str) -> None:
        self.not_fitting.append(NotFitting(choice.group.title, len(choice.members), needs, reason))

    def _size(self, member: _Member) -> int:
        """Bytes on the card: exact if the very file is there, else an upper estimate."""
        current = member.current
        if current is not None and current.source.dress == member.dress:
            return current.size
        track = member.entry.track
        waiting = self.card.arrived.get(Source(track.audio_hash, member.recipe_key, member.dress))
        if waiting is not None:
            return waiting
        dressing = TAG_BYTES + (self._art_bytes if track.art is not None else 0)
        if member.recipe.action == "carry":
            return track.size_bytes + dressing
        known = self.pressings.sizes.get((track.audio_hash, member.recipe_key))
        if known is not None:
            return known + dressing
        return member.recipe.estimate_bytes(track.audio.duration_s) + dressing

    # -- placing ----------------------------------------------------------------------------

    def _placed(self, chosen: list[_Chosen]) -> list[tuple[Placement, ManifestEntry | None]]:
        """Every file of the end state with the file on the card that it comes from, if any."""
        self.places = Places(self.card.foreign)
        card = self.profile.card
        exclusive = {
            True: "{recording}" in card.work_layout.rpartition("/")[0],
            False: "{album}" in card.popular_layout.rpartition("/")[0],
        }
        # Who has a place already is served first: a newcomer never moves what was there.
        order = sorted(
            range(len(chosen)),
            key=lambda index: all(member.current is None for member in chosen[index].members),
        )
        folders: dict[int, str] = {}
        for index in order:
            choice = chosen[index]
            wished = choice.members[0].wish.rpartition("/")[0]
            now = current_folder(
                member.current.path if member.current else None for member in choice.members
            )
            owner = choice.group.key if exclusive[choice.group.is_recording] else None
            folders[index] = self.places.folder(wished, owner, now)
        paths: dict[int, list[CardPath]] = {}
        for index in order:
            members = chosen[index].members
            names = [member.wish.rpartition("/")[2] for member in members]
            now_paths = [member.current.path if member.current else None for member in members]
            paths[index] = self.places.files(folders[index], names, now_paths)
        end: list[tuple[Placement, ManifestEntry | None]] = []
        for index, choice in enumerate(chosen):
            end.extend(self._placements(choice, paths[index]))
            if card.playlists:
                end.append(self._playlist(folders[index], paths[index], choice))
        return end

    def _placements(
        self, choice: _Chosen, paths: list[CardPath]
    ) -> Iterable[tuple[Placement, ManifestEntry | None]]:
        for member, path in zip(choice.members, paths, strict=True):
            track = member.entry.track
            source = Source(track.audio_hash, member.recipe_key, member.dress)
            art = track.art if self._art_bytes else None
            placement = Placement(
                path, source, member.size, member.entry, member.recipe, member.tags, art
            )
            yield placement, member.current

    def _playlist(
        self, folder: str, paths: list[CardPath], choice: _Chosen
    ) -> tuple[Placement, ManifestEntry | None]:
        """A playlist beside the files that it names, so that every entry is a bare name."""
        ascii_only = self.profile.card.charset == "ascii"
        suffix = "m3u" if ascii_only else "m3u8"
        lines = ["#EXTM3U"]
        for path, member in zip(paths, choice.members, strict=True):
            title = dict(member.tags).get("TITLE", "").replace("\n", " ").replace("\r", " ")
            seconds = round(member.entry.track.audio.duration_s)
            name = path.rpartition("/")[2]
            shown = anyascii(title) if ascii_only else title
            lines.append(f"#EXTINF:{seconds},{shown}")
            lines.append(f"./{name}" if name.startswith("#") else name)
        text = "\r\n".join(lines) + "\r\n"
        content = text.encode("utf-8", "replace")
        source = Source("", PLAYLIST, xxhash.xxh3_64_hexdigest(content))
        stem = folder.rpartition("/")[2] or "All"
        wish = f"{stem[: self.profile.card.longest_name - 10]}.{suffix}"
        lying = {
            entry.path: entry for entry in self.card.entries if entry.source.recipe == PLAYLIST
        }
        folder_path = f"{folder}/{wish}" if folder else wish
        now = folder_path if folder_path in lying else None
        path = self.places.files(folder, [wish], [now])[0]
        return Placement(path, source, len(content), text=text), lying.get(path)

    # -- steps ------------------------------------------------------------------------------

    def _steps(self, end: list[tuple[Placement, ManifestEntry | None]]) -> Plan:
        card = self.card
        by_path = {entry.path: entry for entry in card.entries}
        staying: set[CardPath] = set()
        writes: list[Step] = []
        renames: list[Step] = []
        replaced: list[ManifestEntry] = []
        kept_files: set[CardPath] = set()
        presses: dict[tuple[str, str], Placement] = {}
        for placement, current in end:
            old = by_path.get(placement.path)
            if current is not None and current.source == placement.source:
                kept_files.add(current.path)
                if current.path == placement.path:
                    staying.add(placement.path)
                else:
                    renames.append(_rename(placement, current))
                continue
            if old is not None:
                replaced.append(old)
            writes.append(_write(placement, current, old, card))
            if self._must_press(placement):
                presses.setdefault((placement.source.audio, placement.source.recipe), placement)
        stale = [
            entry
            for entry in sorted(card.entries, key=lambda entry: entry.path)
            if entry.path not in kept_files
        ]
        replaced_paths = {entry.path for entry in replaced}
        gone = [entry for entry in stale if entry.path not in replaced_paths]
        key = (
            _catalogue_key((placement for placement, _ in end), self.catalogue_form)
            if self.profile.catalogue.present
            else None
        )
        return self._ordered(
            end, writes, renames, replaced, gone, staying, tuple(presses.values()), key
        )

    def _must_press(self, placement: Placement) -> bool:
        recipe = placement.recipe
        if recipe is None or recipe.action == "carry" or placement.source in self.card.arrived:
            return False
        return pressing_id(placement) not in self.pressings.sizes

    def _ordered(
        self,
        end: list[tuple[Placement, ManifestEntry | None]],
        writes: list[Step],
        renames: list[Step],
        replaced: list[ManifestEntry],
        gone: list[ManifestEntry],
        staying: set[CardPath],
        presses: tuple[Placement, ...],
        key: str | None,
    ) -> Plan:
        card = self.card
        own_after = self._own_bytes(len(end), key is not None)
        new = sum(card.allocated(step.bytes) for step in writes)
        room = card.bytes_free - RESERVE_BYTES - max(0, own_after - card.own_bytes)
        tight = new > room
        targets = {fold(step.target) for step in (*writes, *renames)}
        going = {fold(entry.path) for entry in gone}
        withdrawn = bool(renames or replaced or targets & going or (tight and gone))
        removes = [
            Step(Action.REMOVE, entry.path, entry.size, "It is not wanted on this card any more.")
            for entry in gone
        ]
        if tight:
            removes += [
                Step(
                    Action.REMOVE,
                    entry.path,
                    entry.size,
                    "The card is nearly full: the old form makes room for the new one.",
                )
                for entry in replaced
            ]
        pressing = [_press(placement) for placement in presses]
        changed = bool(writes or renames or removes or card.missing)
        publishing: list[Step] = []
        if changed or key != card.catalogue_key or card.unfinished:
            publishing.append(_publish(key, len(end), "What is on the card now."))
        interim: list[Step] = []
        if withdrawn and card.catalogue_key is not None:
            count = sum(placement.path in staying for placement, _ in end)
            why = "Before files that it names are moved or removed, it names only the others."
            interim.append(_publish(key, count, why))
        if not withdrawn:
            steps = [*pressing, *writes, *publishing, *removes]
        elif tight:
            steps = [*pressing, *interim, *removes, *renames, *writes, *publishing]
        else:
            steps = [*pressing, *writes, *interim, *removes, *renames, *publishing]
        freed = sum(card.allocated(entry.size) for entry in (*gone, *replaced))
        after = card.bytes_free + freed - new - (own_after - card.own_bytes if steps else 0)
        return Plan(
            steps=tuple(steps),
            end=tuple(placement for placement, _ in end),
            staying=frozenset(staying),
            catalogue_key=key,
            not_fitting=tuple(self.not_fitting),
            left_out=tuple(self.left_out),
            foreign=tuple(
                path for path in sorted(card.foreign) if fold(path) in self.places.in_the_way
            ),
            bytes_free_before=card.bytes_free,
            bytes_free_after=after,
            presses=presses,
        )

    def _own_bytes(self, files: int, catalogue: bool) -> int:
        """About what syncd's own folder takes: manifest, and two catalogues where there are any."""
        a_file = MANIFEST_BYTES_A_TRACK + (2 * CATALOGUE_BYTES_A_TRACK if catalogue else 0)
        return files * a_file + 64 * 1024


def _same_place(entry: ManifestEntry, member: _Member) -> bool:
    return entry.path == member.wish


def _same_dress(entry: ManifestEntry, member: _Member) -> bool:
    return entry.source.dress == member.dress


def _any_place(entry: ManifestEntry, member: _Member) -> bool:
    return True


def _press(placement: Placement) -> Step:
    recipe = placement.recipe
    why = " ".join(recipe.reasons) if recipe is not None else ""
    return Step(
        Action.PRESS, placement.path, placement.size, why or "The player cannot play it as it is."
    )


def _write(
    placement: Placement, current: ManifestEntry | None, old: ManifestEntry | None, card: CardState
) -> Step:
    if placement.source in card.arrived:
        reason = "It came to the card in an update that was interrupted and only takes its place."
    elif current is not None:
        reason = "Its tags or its picture changed; the audio is as it was."
    elif old is not None:
        reason = "Its audio or its recipe changed."
    elif any(entry.path == placement.path for entry in card.missing):
        reason = "The manifest lists it, but it is not on the card, or not whole."
    elif placement.recipe is None:
        reason = "A playlist."
    else:
        reason = "It is wanted and not on the card."
    return Step(Action.WRITE, placement.path, placement.size, reason)


def _rename(placement: Placement, current: ManifestEntry) -> Step:
    reason = "The same file belongs to another place now."
    return Step(Action.RENAME, placement.path, placement.size, reason, origin=current.path)


def _publish(key: str | None, files: int, reason: str) -> Step:
    size = files * (MANIFEST_BYTES_A_TRACK + (CATALOGUE_BYTES_A_TRACK if key is not None else 0))
    return Step(Action.PUBLISH, "catalogue" if key is not None else "manifest", size, reason)


def _catalogue_key(end: Iterable[Placement], form: str) -> str:
    """A digest of what the catalogue of *end* says: equal content, equal key."""
    lines = []
    for placement in end:
        if placement.track is None:
            continue
        identity = placement.track.identity
        work = identity.work
        source = placement.source
        catalogue = ",".join(work.catalogue) if work is not None else ""
        key = (work.key or "") if work is not None else ""
        lines.append(
            f"{placement.path}\0{source.audio}\0{source.recipe}\0{source.dress}\0"
            f"{identity.kind}\0{identity.recording}\0{catalogue}\0{key}"
        )
    lines.sort()
    lines.append(form)
    return xxhash.xxh3_128_hexdigest("\n".join(lines).encode("utf-8", "surrogatepass"))


def pressing_id(placement: Placement) -> tuple[AudioHash, str]:
    """The store's key for the pressing that *placement* is dressed from."""
    return AudioHash(placement.source.audio), placement.source.recipe
