"""The evidence for each track of a unit: title and album read, composer found, kind judged.

Evidence counts from strong to weak: errata, dedicated tags, the title, the album's title, artist
fields, folders, the catalogue number's owner, the neighbours. Each finding leaves its reason.
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

from syncd.model import Composer, Kind, TaggedFile
from syncd.works.album import AlbumReading, read_album
from syncd.works.catalogue_numbers import RawNumber, owner_of, resolve
from syncd.works.composers import Entry, Match, name_key, table, unknown_composer
from syncd.works.ensembles import kind_of
from syncd.works.errata import Correction, Errata
from syncd.works.fields import Fields, disc_of_folder, read_fields
from syncd.works.known_works import by_number, by_title
from syncd.works.people import read_people
from syncd.works.popular import genre_side, is_soundtrack, popular_album, popular_title
from syncd.works.text import fold, is_shouting, unshout
from syncd.works.title import TitleReading, read_title
from syncd.works.worktitle import WorkReading

_GENERIC_TITLE = re.compile(
    r"^(?:track|titel|title|piste|traccia|pista|audiotrack|audio track|unknown|untitled|"
    r"unbekannt|дорожка|stopa)?"
    r"[\s._#-]*\d{0,3}$",
    re.IGNORECASE,
)
_NO_COMPOSER = frozenset(
    [
        "unknown",
        "various",
        "various composers",
        "diverse",
        "n/a",
        "none",
        "-",
        "?",
        "verschiedene",
        "unknown composer",
        "unbekannt",
        "[unknown]",
        "various artists",
        "va",
        "divers",
        "compositeurs divers",
        "diverse komponisten",
        "komponist",
        "composer",
    ]
)
_ANONYMOUS = frozenset(
    [
        "anonymous",
        "anon",
        "anonym",
        "anonyme",
        "anonimo",
        "anonimus",
        "anonymus",
        "traditional",
        "trad",
        "traditionnel",
        "volksweise",
    ]
)


@dataclass(frozen=True, slots=True)
class ComposerTag:
    """What the COMPOSER values of a track say."""

    composer: Composer | None = None
    entry: Entry | None = None
    confidence: float = 0.0
    how: str = ""
    others: tuple[str, ...] = ()
    arrangers: tuple[str, ...] = ()
    parts: int = 0


_NO_TAG = ComposerTag()


@dataclass(slots=True)
class Track:
    """One track while its identity is worked out."""

    index: int
    fields: Fields
    title: TitleReading
    album: AlbumReading
    correction: Correction
    generic_title: bool = False
    tag: ComposerTag = _NO_TAG
    composer: Composer | None = None
    entry: Entry | None = None
    composer_confidence: float = 0.0
    arrangers: list[str] = field(default_factory=list)
    reasons: list[str] = field(default_factory=list)
    kind: Kind = Kind.UNKNOWN
    kind_firm: bool = False
    work_tag: WorkReading | None = None
    artist_composer: bool = False

    @property
    def order(self) -> tuple[int, int, str]:
        """Where the track stands in its unit: disc, number, path."""
        track = self.fields.track
        return (self.fields.disc or 0, track if track is not None else 10**6, self.fields.path)

    @property
    def raws(self) -> tuple[RawNumber, ...]:
        """Catalogue numbers in the title."""
        found: list[RawNumber] = []
        if self.work_tag is not None:
            found.extend(self.work_tag.raws)
        if self.title.work is not None:
            found.extend(self.title.work.raws)
        if self.title.source is not None:
            found.extend(self.title.source.raws)
        if self.title.movement is not None:
            found.extend(self.title.movement.raws)
        return tuple(found)

    @property
    def strength(self) -> int:
        """How much the track's own title looks like a work's."""
        best = 0
        for reading in (self.work_tag, self.title.work, self.title.source):
            if reading is not None:
                best = max(best, reading.strength)
        return best


_ARRANGED_BY = re.compile(
    r"^(?:arr(?:anged|angement|\.)?|orch(?:estrated|estration|\.)?|transcr(?:ibed|iption|\.)?|bearb(?:eitet|eitung|\.)?|"
    r"trans\.|instr\.|ed\.|compl\.|completed|orchestriert|instrumentation)\s*(?:by|von|par|:)?\s+(?P<who>.+)$",
    re.IGNORECASE,
)
_INNER_ARRANGED = re.compile(
    r"\s*[,;(\[/–-]?\s*\b(?:arr|orch|transcr|bearb|trans|instr|compl)\w*\.?\s*(?:by|von|par|:)?\s+(?P<who>[^()\[\]]+)[)\]]?\s*$",
    re.IGNORECASE,
)
_COMPOSER_SPLIT = re.compile(
    r"\s*[;|\n\x00]+\s*|\s+/\s+|/|\s+[&+]\s+|\s+(?:and|und|et|e|y|with)\s+|\s+[-–—]\s+"
)
_HYPHEN = re.compile(r"(?<=\w)[-–](?=[A-ZÀ-Þ])")


@lru_cache(maxsize=8192)
def read_composers(values: tuple[str, ...]) -> ComposerTag:
    """What COMPOSER *values* say: the composer, and arrangers and others beside him."""
    parts: list[str] = []
    arrangers: list[str] = []
    for value in values:
        if table().near(value) is not None:
            parts.append(value)
            continue
        inner = _INNER_ARRANGED.search(value)
        if inner is not None and inner.start() > 2:
            arrangers.append(inner.group("who").strip())
            value = value[: inner.start()].strip(" ,;/([-")
        if table().near(value) is not None:
            parts.append(value)
            continue
        for piece in _COMPOSER_SPLIT.split(value):
            piece = piece.strip(" ,")
            if not piece:
                continue
            if table().near(piece) is not None or (piece.count(",") != 1 and "," not in piece):
                parts.append(piece)
                continue
            commas = [p.strip() for p in piece.split(",") if p.strip()]
            known = [
                p for p in commas if table().exact(p) is not None and (" " in p or len(commas) > 2)
            ]
            if len(commas) == 2 and " " not in commas[0] and not known:
                parts.append(piece)  # "Venn, Lara"
            elif len(commas) > 1 and (known or all(" " in p or "." in p for p in commas)):
                parts.extend(commas)
            else:
                parts.append(piece)
    named: list[str] = []
    for part in parts:
        arranged = _ARRANGED_BY.match(part)
        if arranged is not None:
            arrangers.append(arranged.group("who").strip())
        else:
            named.append(part)
    if len(values) == 1 and len(named) == 2 and re.search(r"\w(?:/|\s*[-–]\s*)[A-ZÀ-Þ]", values[0]):
        # "Bach/Busoni", "Schumann - Liszt": the second arranged the first.
        one, two = table().exact(named[0]), table().exact(named[1])
        if one is not None and two is not None and not {"&", "+", ","} & set(values[0]):
            arrangers.append(named.pop())
    named = [part for part in named if fold(part).strip(" .") not in _NO_COMPOSER]
    if not named:
        return ComposerTag(arrangers=tuple(arrangers), parts=0)
    found: Match | None = None
    chosen = ""
    for part in named:
        match = table().near(part)
        if match is None and "-" in part:
            for half in _HYPHEN.split(part):
                match = table().exact(half)
                if match is not None:
                    arrangers.extend(h for h in _HYPHEN.split(part) if h != half)
                    break
        if match is not None:
            found, chosen = match, part
            break
    others = tuple(part for part in named if part != chosen)
    if found is not None:
        confidence = {"family name": 0.93}.get(found.how, found.confidence)
        return ComposerTag(
            found.entry.composer,
            found.entry,
            confidence,
            found.how,
            others,
            tuple(arrangers),
            len(named),
        )
    first = named[0]
    if fold(first).strip(" .").split(" ")[0].strip(".") in _ANONYMOUS:
        name = "Anonymous" if fold(first).startswith("an") else "Traditional"
        return ComposerTag(
            Composer(name, name), None, 0.8, "as the tag says", others, tuple(arrangers), len(named)
        )
    if kind_of(first) != "person":
        # An orchestra in the composer's field ("Johann Strauss Orchestra") is no composer.
        how = "a name that the table does not have"
        return ComposerTag(None, None, 0.0, how, others, tuple(arrangers), len(named))
    name = unshout(first) if is_shouting(first) else first
    return ComposerTag(
        unknown_composer(name),
        None,
        0.85,
        "a name that the table does not have",
        others,
        tuple(arrangers),
        len(named),
    )


def _spaced(text: str) -> str:
    """*text* with spaces where an old ripper wrote an underscore for every one of them."""
    return text.replace("_", " ").strip() if "_" in text and " " not in text else text


_NO_CORRECTION = Correction()


def read_unit(files: Sequence[TaggedFile], errata: Errata | None) -> list[Track]:
    """The tracks of one unit with their evidence, in the order disc, number, path."""
    tracks: list[Track] = []
    for index, file in enumerate(files):
        fields = read_fields(file)
        if "_" in fields.title or "_" in fields.album:
            fields = replace(fields, title=_spaced(fields.title), album=_spaced(fields.album))
        correction = (
            errata.correction(
                file.path, fields.album, fields.artist, fields.composer, fields.album_artist
            )
            if errata is not None
            else _NO_CORRECTION
        )
        generic = bool(_GENERIC_TITLE.match(fields.title))
        title = read_title(fields.title if not generic else "")
        album = read_album(fields.album) if fields.album else _album_of_folders(fields)
        track = Track(index, fields, title, album, correction, generic)
        track.reasons.extend(f"text repaired: {how}" for how in fields.repairs)
        tracks.append(track)
    tracks.sort(key=lambda track: track.order)
    _trailing_composers(tracks)
    for track in tracks:
        _work_tag(track)
        find_composer(track)
    _neighbours(tracks)
    judge(tracks)
    return tracks


def _trailing_composers(tracks: list[Track]) -> None:
    """Decide whether names behind titles ("Träumerei - Schumann") are composers or movements.

    They are where the COMPOSER tag says the same, or where most titles of the folder end in one and
    nothing else names a composer; "Carnaval - Chopin" stays a movement.
    """
    trailing = [track for track in tracks if track.title.trailing is not None]
    if not trailing:
        return
    names = {t.title.trailing.entry.sort for t in trailing if t.title.trailing is not None}
    usual = len(trailing) * 2 > len(tracks) and (len(names) > 1 or len(tracks) == len(trailing))
    for track in trailing:
        match = track.title.trailing
        assert match is not None
        tag = read_composers(track.fields.composer) if track.fields.composer else ComposerTag()
        if tag.entry is match.entry or (
            usual
            and tag.composer is None
            and track.album.prefix is None
            and track.title.composer is None
        ):
            reading = read_title(track.title.before)
            track.title = replace(
                reading, composer=replace(match, confidence=0.88), composer_text=None
            )


def _album_of_folders(fields: Fields) -> AlbumReading:
    for name in reversed(fields.folders):
        disc = disc_of_folder(name)
        if disc is not None:
            name = disc[0]
            if not name:
                continue
        return read_album(re.sub(r"\s*[(\[]\d{4}[)\]]\s*$", "", name))
    return read_album("")


def _work_tag(track: Track) -> None:
    from syncd.works.worktitle import read_work

    fields = track.fields
    text = fields.work
    if not text and fields.grouping:
        reading = read_work(fields.grouping)
        own = track.title.work is None or (track.title.work.strength < 2 and not track.title.firm)
        if reading.strength >= 2 or (
            own and fold(fields.title).startswith(fold(fields.grouping)) and reading.title
        ):
            text = fields.grouping
    if text:
        whole = read_title(text)
        track.work_tag = whole.work if whole.work is not None else read_work(text)
        if whole.composer is not None and track.title.composer is None:
            track.title = replace(
                track.title, composer=whole.composer, composer_text=whole.composer_text, family=None
            )


def find_composer(track: Track) -> None:
    """Find the composer of *track* from its own evidence, with a confidence and a reason."""
    fields = track.fields
    if track.correction.composer:
        match = table().near(track.correction.composer)
        composer = match.entry.composer if match else unknown_composer(track.correction.composer)
        _set(track, composer, match.entry if match else None, 1.0, "composer: from the errata")
        return
    tag = read_composers(fields.composer) if fields.composer else _NO_TAG
    track.tag = tag
    if tag.composer is not None:
        entry = tag.entry
        if entry is None:
            entry = _family_member(fields.composer[0], track)
        if entry is None and table().several(fields.composer[0]):
            # "Strauss": there are several, and nothing tells which; no name is better than a guess.
            track.reasons.append(
                f"composer: several are called {fields.composer[0]}, and nothing tells which"
            )
            return
        namesake = _namesake(entry, track) if tag.how == "name" else None
        if namesake is not None:
            _set(
                track,
                namesake.composer,
                namesake,
                0.85,
                "composer: COMPOSER tag, of the same name the one who wrote this work",
            )
        elif entry is not None and tag.entry is None:
            _set(
                track,
                entry.composer,
                entry,
                0.75,
                "composer: family name in the COMPOSER tag, told by the album",
            )
        else:
            _set(
                track,
                tag.composer,
                tag.entry,
                min(0.97, tag.confidence),
                f"composer: COMPOSER tag ({tag.how})",
            )
        track.arrangers.extend(tag.arrangers)
        for other in tag.others:
            if track.title.arranger and fold(other).split()[-1] in fold(track.title.arranger):
                track.arrangers.append(other)
        prefix = track.title.composer
        if (
            prefix is not None
            and namesake is None
            and entry is not prefix.entry
            and tag.entry is not prefix.entry
        ):
            if tag.entry is None or any(
                (found := table().exact(other)) is not None and found.entry is prefix.entry
                for other in tag.others
            ):
                _set(
                    track,
                    prefix.entry.composer,
                    prefix.entry,
                    0.85,
                    "composer: from the title's prefix",
                )
            elif (
                entry is not None
                and track.title.work is not None
                and by_title(prefix.entry.sort, track.title.work.title) is not None
                and by_title(entry.sort, track.title.work.title) is None
            ):
                # "Beethoven: Symphony No. 5", COMPOSER Liszt: he arranged what the other wrote.
                track.arrangers.append(fields.composer[0])
                _set(
                    track,
                    prefix.entry.composer,
                    prefix.entry,
                    0.7,
                    "composer: from the title's prefix, who wrote this work; the COMPOSER tag "
                    "names an arranger",
                )
            else:
                track.composer_confidence = 0.6
                track.reasons.append("the title names another composer than the COMPOSER tag")
        return
    found = track.title.composer
    if found is not None:
        confidence = min(0.95, found.confidence)
        _set(
            track,
            found.entry.composer,
            found.entry,
            confidence,
            f"composer: from the title ({found.how})",
        )
        return
    if track.title.family:
        member = _family_member(track.title.family, track)
        if member is not None:
            _set(
                track,
                member.composer,
                member,
                0.75,
                "composer: family name in the title, told by catalogue or album",
            )
            return
    album = track.album
    if album.prefix is not None:
        _set(track, album.prefix.entry.composer, album.prefix.entry, min(0.9, album.prefix.confidence),  # noqa: E501
             "composer: from the album's title")  # fmt: skip
        return
    if album.family:
        member = _family_member(album.family, track)
        if member is not None:
            _set(track, member.composer, member, 0.7, "composer: family name in the album's title")
            return
    artist = _artist_composer(track)
    if artist is not None:
        track.artist_composer = True
        _set(
            track,
            artist.entry.composer,
            artist.entry,
            min(0.85, artist.confidence),
            "composer: in the artist fields",
        )
        return
    if len(album.composers) == 1:
        _set(
            track,
            album.composers[0].entry.composer,
            album.composers[0].entry,
            0.8,
            "composer: named in the album's title",
        )
        return
    for name in reversed(fields.folders[-3:]):
        match = table().exact(name)
        if match is None:
            below = read_album(name)
            match = below.prefix if below.prefix is not None and below.level >= 0 else None
            if match is not None and match.how not in (
                "name",
                "family name",
                "name in another order",
            ):
                match = None
        if match is not None:
            _set(track, match.entry.composer, match.entry, 0.78, "composer: from the folder's name")
            return
    for raw in track.raws:
        owner = owner_of(raw)
        if owner is not None and owner in table().by_sort:
            entry = table().by_sort[owner]
            _set(
                track,
                entry.composer,
                entry,
                0.85,
                f"composer: {raw.text} is in the catalogue of this composer only",
            )
            return


def _set(
    track: Track, composer: Composer, entry: Entry | None, confidence: float, reason: str
) -> None:
    track.composer, track.entry, track.composer_confidence = composer, entry, confidence
    track.reasons.append(reason)


def _namesake(entry: Entry | None, track: Track) -> Entry | None:
    """Another of the same name as *entry* who wrote the work of the title, if *entry* did not."""
    if entry is None:
        return None
    reading = track.work_tag or track.title.source or track.title.work
    others = table().namesakes(entry)
    if not others or reading is None:
        return None
    family, _, given = entry.sort.partition(",")
    bare = name_key(f"{family} {given}").split()
    if not set(name_key(track.fields.composer[0]).split()) < set(bare):
        return None  # the tag says which of them ("Johann Strauss II")
    names = dict.fromkeys(name for name in (reading.proper, reading.title) if name)
    if not names or any(by_title(entry.sort, name) is not None for name in names):
        return None
    told = [
        other for other in others if any(by_title(other.sort, name) is not None for name in names)
    ]
    return told[0] if len(told) == 1 else None


def _family_member(name: str, track: Track) -> Entry | None:
    """Who of a family is meant by its name, told by the album, the folder or the catalogue."""
    members = table().family(name)
    if not members:
        return None
    if len(members) == 1:
        return members[0]
    texts = [
        track.fields.album,
        *track.fields.artist,
        *track.fields.album_artist,
        *track.fields.folders[-2:],
    ]
    mentioned = [match.entry for text in texts for match in table().mentioned(text)]
    fitting = [entry for entry in dict.fromkeys(mentioned) if entry in members]
    if len(fitting) == 1:
        return fitting[0]
    raws = [raw for raw in track.raws if raw.prefix not in ("op", "opus")]
    if raws:
        able = [entry for entry in members if resolve(raws, entry.systems, entry.sort).numbers]
        if len(able) == 1:
            return able[0]
    work = track.title.work
    title = work.title if work is not None else ""
    if title and track.raws:
        # The opus number alone is anybody's; with the form of the work that has it, it tells.
        named = [
            entry
            for entry in members
            if (
                known_work := by_number(
                    entry.sort, resolve(track.raws, entry.systems, entry.sort).numbers
                )
            )
            is not None
            and known_work.title == title
        ]
        if len(named) == 1:
            return named[0]
    if work is not None and work.structured and work.nickname is None:
        title = ""  # every Stamitz wrote a symphony: a general form tells nobody
    if title:
        known = [entry for entry in members if by_title(entry.sort, title) is not None]
        if len(known) == 1:
            return known[0]
    return None


def _artist_composer(track: Track) -> Match | None:
    fields = track.fields
    for values in (fields.album_artist, fields.artist):
        for value in values:
            found = table().exact(value)
            if found is None:
                for person in read_people(value):
                    if person.instruments or person.roles:
                        continue
                    match = table().exact(person.name)
                    if match is not None and match.how in (
                        "name",
                        "name in another order",
                        "family name",
                    ):
                        found = match
                        break
            if found is not None and found.how != "possessive":
                if found.how == "family name" and not _has_work_signs(track):
                    continue
                return found
    return None


def _has_work_signs(track: Track) -> bool:
    movement = track.title.movement
    return (
        track.strength >= 1
        or track.album.level >= 2
        or (movement is not None and (movement.firm or movement.tempo))
        or any(genre_side(genre) > 0 for genre in track.fields.genre)
    )


def _neighbours(tracks: list[Track]) -> None:
    """Give tracks without a composer the one whom all their neighbours have."""
    composers = Counter(track.composer for track in tracks if track.composer is not None)
    missing = [track for track in tracks if track.composer is None]
    if not missing or len(composers) != 1:
        return
    composer = next(iter(composers))
    if composers[composer] < len(missing):
        return
    if len({track.fields.album for track in tracks}) != 1:
        return
    entry = next(track.entry for track in tracks if track.composer == composer)
    for track in missing:
        if not track.fields.composer:
            _set(track, composer, entry, 0.6, "composer: that of all other tracks of the folder")


def judge(tracks: list[Track]) -> None:
    """Say of each track whether it is filed by work or by artist and album."""
    for track in tracks:
        track.kind, track.kind_firm = _kind(track)
    works = [t for t in tracks if t.kind is Kind.WORK]
    others = [t for t in tracks if t.kind is not Kind.WORK and not t.kind_firm]
    if works and others and len(works) >= len(others):
        firm = sum(1 for t in works if t.kind_firm)
        if firm * 2 >= len(works):
            for track in others:
                if any(w.fields.album == track.fields.album for w in works):
                    track.kind = Kind.WORK
    elif works and others:
        for track in works:
            if not track.kind_firm:
                track.kind = Kind.POPULAR
    for track in tracks:
        if track.kind is Kind.POPULAR:
            track.reasons.append("popular: better kept by artist and album")


def _kind(track: Track) -> tuple[Kind, bool]:
    if track.correction.kind is not None:
        return track.correction.kind, True
    if track.correction.composer or track.correction.work:
        return Kind.WORK, True
    fields = track.fields
    sides = [genre_side(genre) for genre in fields.genre]
    side = min(sides) if sides and min(sides) < 0 else (max(sides) if sides else 0)
    if side > 0:
        return Kind.WORK, True
    movement = track.title.movement
    strength = track.strength
    tagged = track.tag.entry is not None and track.tag.confidence >= 0.75
    songwriters = track.tag.parts > 1 and track.tag.how in (
        "family name",
        "a name that the table does not have",
    )
    numbered = movement is not None and movement.firm and movement.kind != "digit"
    known_title = track.entry is not None and any(
        reading is not None and by_title(track.entry.sort, reading.title) is not None
        for reading in (track.work_tag, track.title.work, track.title.source)
    )
    loud = popular_title(fields.title)
    if side < 0:
        if track.work_tag is not None and track.composer is not None and tagged:
            return Kind.WORK, True
        if (
            tagged
            and not songwriters
            and not loud
            and (strength >= 2 or known_title or track.album.level >= 2)
        ):
            return Kind.WORK, True
        if (
            track.album.prefix is not None
            and track.album.level >= 2
            and not loud
            and not popular_album(fields.album)
        ):
            return Kind.WORK, False
        if track.title.composer is not None and strength >= 2 and not loud:
            return Kind.WORK, False
        return Kind.POPULAR, True
    if popular_album(fields.album) or loud:
        if (
            track.entry is not None
            and (strength >= 2 or known_title)
            and not is_soundtrack(fields.album)
        ):
            return Kind.WORK, True
        if is_soundtrack(fields.album) and tagged and strength >= 3:
            return Kind.WORK, True
        return Kind.POPULAR, True
    performers = [p for value in (*fields.artist, *fields.performer) for p in read_people(value)]
    classical_players = (
        any(p.instruments for p in performers)
        or any(p.kind in ("ensemble", "choir") and _is_formal(p.name) for p in performers)
        or bool(fields.conductor or fields.ensemble or fields.choir)
    )
    if track.entry is not None and track.composer_confidence >= 0.55:
        if songwriters and strength < 2 and not classical_players:
            return Kind.POPULAR, False
        if track.tag.how == "family name" and not (
            strength
            or classical_players
            or numbered
            or known_title
            or track.album.level
            or track.title.source
        ):
            return Kind.WORK, False
        return Kind.WORK, True
    if fields.work or fields.movement or fields.movement_name or fields.conductor:
        return Kind.WORK, True
    if track.title.work is not None and any(owner_of(raw) for raw in track.raws):
        return Kind.WORK, True
    tempo = movement is not None and (movement.tempo or numbered)
    if (strength >= 2 or (tempo and track.album.level >= 2)) and classical_players:
        return Kind.WORK, True
    if (
        track.tag.composer is not None
        and not songwriters
        and (strength >= 1 or classical_players or numbered)
    ):
        same = any(fold(track.tag.composer.name) == fold(value) for value in fields.artist)
        if not same or classical_players:
            return Kind.WORK, strength >= 2 or numbered
    if strength >= 3 and track.title.work is not None and track.title.work.key:
        return Kind.WORK, False
    nobody = not performers and not fields.album_artist
    if nobody and (
        track.generic_title
        or (movement is not None and movement.tempo and track.title.work is None)
    ):
        return Kind.UNKNOWN, False
    if nobody and fields.named_by_file and not _has_artist_folder(fields):
        return Kind.UNKNOWN, False
    if track.generic_title and nobody:
        return Kind.UNKNOWN, False
    return Kind.POPULAR, False


@lru_cache(maxsize=4096)
def _is_formal(name: str) -> bool:
    """Whether an ensemble's name is one of concert life, not a band's."""
    words = fold(name).replace("-", " ").split()
    if (
        words
        and words[0] == "the"
        and not any(w in ("philharmonic", "orchestra", "choir", "symphony") for w in words)
    ):
        return False
    formal = [
        "philharmonic",
        "philharmonie",
        "philharmoniker",
        "filharmonie",
        "symphony",
        "orchestra",
        "orchester",
        "orchestre",
        "orkest",
        "choir",
        "chor",
        "choeur",
        "coro",
        "kantorei",
        "camerata",
        "consort",
        "academy",
        "akademie",
        "quartet",
        "quartett",
        "quatuor",
        "sinfonietta",
        "chorus",
        "orchestr",
        "kammerorchester",
        "staatskapelle",
        "barockorchester",
        "collegium",
        "cappella",
        "capella",
        "trio",
        "ensemble",
        "orquesta",
        "orkiestra",
        "staatsorchester",
        "filharmonica",
        "radio-sinfonieorchester",
        "sinfonieorchester",
        "kvartet",
        "kwartet",
    ]
    return any(word in formal for word in words) or any(
        word.endswith(("orchester", "quartett", "philharmoniker", "kapelle", "chor"))
        for word in words
    )


def _has_artist_folder(fields: Fields) -> bool:
    return (
        len(
            [
                f
                for f in fields.folders
                if fold(f) not in ("unknown artist", "unknown album", "music")
            ]
        )
        >= 2
    )


__all__ = [
    "ComposerTag",
    "Track",
    "find_composer",
    "judge",
    "read_composers",
    "read_unit",
]
