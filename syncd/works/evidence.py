"""The evidence for each track of a unit: tags, title and album read, composer found, kind judged.

Here a unit's files become tracks in the order of the discs, and titles are read with an eye on
their neighbours. Who composed a track is left to ``attribution.py``, whether it is filed by work to
``kind.py``.
"""

import re
from collections.abc import Sequence
from dataclasses import replace

from syncd.model import TaggedFile
from syncd.works.album import AlbumReading, read_album
from syncd.works.attribution import ask_neighbours, find_composer, go_on_with
from syncd.works.composer_tag import NO_TAG, read_composers, real_names
from syncd.works.composers import table
from syncd.works.continuing import follow_on
from syncd.works.errata import Correction, Errata
from syncd.works.fields import Fields, disc_of_folder, read_fields
from syncd.works.kind import judge
from syncd.works.known_works import by_title
from syncd.works.popular import genre_side
from syncd.works.text import fold
from syncd.works.title import read_title
from syncd.works.track import Track
from syncd.works.worktitle.reader import read_work

_GENERIC_TITLE = re.compile(
    r"^(?:track|titel|title|piste|traccia|pista|audiotrack|audio track|unknown|untitled|"
    r"unbekannt|дорожка|stopa)?"
    r"[\s._#-]*\d{0,3}$",
    re.IGNORECASE,
)


def _spaced(text: str) -> str:
    """*text* with spaces where an old ripper wrote an underscore for every one of them."""
    return text.replace("_", " ").strip() if "_" in text and " " not in text else text


_CUT_AT = (29, 30)
"""Lengths of a title that an ID3v1 tag (30 characters) cut off, with and without a last space."""

_DANGLING = re.compile(
    r"(?:\s*[,;(\[]\s*(?:op\.?|[kdshg]\.)|\s+op\.|\s*[,;(\[]?\s+\(?(?:bwv|rv|hwv|kv|twv|swv|hob|woo)\.?)\s*$",
    re.IGNORECASE,
)
"""The sign of a catalogue whose number is cut off: "Symphony No. 9 in D minor, Op."."""


def _uncut(text: str) -> str:
    """*text* without the beginning of a catalogue number that a short field cut off its end."""
    return _DANGLING.sub("", text) or text


def _whole_by_file(fields: Fields) -> str:
    """The title that a short field cut off, as the file's name has it whole; else the title."""
    stem = fields.stem.replace("_", " ")
    start = _LETTER.search(_FILE_NUMBER.sub("", stem, count=1))
    if start is None:
        return fields.title
    name = start.string[start.start() :]
    cut = fields.title.rstrip()
    if len(name) <= len(cut) or not _same_letters(name[: len(cut)], cut):
        return fields.title
    rest = fold(name[len(cut) :]).strip(" -_()[]")
    others = (*fields.artist, *fields.album_artist, *fields.composer, fields.album)
    return fields.title if rest in map(fold, others) else cut + name[len(cut) :]


_LETTER = re.compile(r"[^\W_]")
_FILE_NUMBER = re.compile(r"^\s*(?:\d{1,2}[-.])?\d{1,3}\s*[-._)]*\s*")


def _same_letters(one: str, other: str) -> bool:
    """Whether two texts of one length are the same but for signs that file names cannot have."""
    return all(
        a == b or not (a.isalnum() or b.isalnum())
        for a, b in zip(fold(one), fold(other), strict=False)
    )


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
        if fields.composer:
            fields = _without_fillers(fields)
        generic = bool(_GENERIC_TITLE.match(fields.title))
        whole = fields.title
        if len(whole) in _CUT_AT and not fields.named_by_file:
            fields = replace(fields, title=_whole_by_file(fields))
        if _uncut(fields.title) != fields.title:
            fields = replace(fields, title=_uncut(fields.title))
        title = read_title(fields.title if not generic else "")
        album = read_album(fields.album) if fields.album else _album_of_folders(fields)
        track = Track(index, fields, title, album, correction, generic)
        track.cut = len(fields.title) in _CUT_AT or len(fields.title) < len(whole)
        track.reasons.extend(f"text repaired: {how}" for how in fields.repairs)
        tracks.append(track)
    tracks.sort(key=lambda track: track.order)
    _trailing_composers(tracks)
    for track in tracks:
        if track.title.composer is None and len(track.title.segments) > 1:
            _without_family(track)
        _work_tag(track)
        find_composer(track)
    for track, head in follow_on(tracks):
        go_on_with(track, head)
    ask_neighbours(tracks)
    judge(tracks)
    return tracks


def _without_fillers(fields: Fields) -> Fields:
    """*fields* without COMPOSER values that name nobody; a genre among them counts as one."""
    named = real_names(fields.composer)
    if named == fields.composer:
        return fields
    genre = fields.genre or tuple(
        fold(value) for value in fields.composer if value not in named and genre_side(fold(value))
    )
    return replace(fields, composer=named, genre=genre)


def _trailing_composers(tracks: list[Track]) -> None:
    """Decide whether names behind titles ("Träumerei - Schumann") are composers or movements.

    They are where the COMPOSER tag says the same, or where most titles of the folder end in one and
    nothing else names a composer; "Carnaval - Chopin" stays a movement.
    """
    trailing = [track for track in tracks if track.title.before and not track.title.behind]
    if not trailing:
        return
    names = {_trailing_name(track) for track in trailing}
    usual = len(trailing) * 2 > len(tracks) and (len(names) > 1 or len(tracks) == len(trailing))
    for track in trailing:
        match = track.title.trailing
        tag = read_composers(track.fields.composer) if track.fields.composer else NO_TAG
        same = (
            tag.entry is match.entry
            if match is not None
            else any(tag.entry is one for one in table().family(track.title.trailing_family or ""))
        )
        nobody_else = (
            tag.composer is None and track.album.prefix is None and track.title.composer is None
        )
        if not same and not nobody_else:
            continue
        reading = read_title(track.title.before)
        known = (
            match is not None
            and reading.work is not None
            and by_title(match.entry.sort, reading.work.proper or reading.work.title) is not None
        )
        if same or usual or known:
            if match is None:
                track.title = replace(reading, family=track.title.trailing_family)
            else:
                named = replace(match, confidence=0.88)
                track.title = replace(reading, composer=named, composer_text=None)


def _trailing_name(track: Track) -> str:
    match = track.title.trailing
    return match.entry.sort if match is not None else fold(track.title.trailing_family or "")


def _without_family(track: Track) -> None:
    """Take the family name of the COMPOSER tag from before the title ("Price: Symphony No. 1").

    Names by which the table knows nobody for sure are no composers to the title's grammar.
    """
    composer = read_composers(track.fields.composer).composer if track.fields.composer else None
    if composer is None or track.title.family is not None:
        return
    head = track.title.segments[0]
    if fold(head) not in (fold(composer.sort.partition(",")[0]), fold(composer.name)):
        return
    text = track.fields.title
    if text.startswith(head):
        rest = read_title(text[len(head) :].lstrip(" :;,/–—-"))
        track.title = replace(rest, composer_text=head)


def _album_of_folders(fields: Fields) -> AlbumReading:
    """The album's title as the name of its folder gives it, without disc and year."""
    for name in reversed(fields.folders):
        disc = disc_of_folder(name)
        if disc is not None:
            name = disc[0]
            if not name:
                continue
        return read_album(re.sub(r"\s*[(\[]\d{4}[)\]]\s*$", "", name))
    return read_album("")


def _work_tag(track: Track) -> None:
    """Read the WORK tag; a grouping counts as one where it is a work's title or heads the title."""
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
