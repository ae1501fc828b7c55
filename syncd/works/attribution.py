"""Who composed a track, from the strongest evidence to the weakest, with the reason.

Errata, the COMPOSER tag, the title, the album's title, then what ``names_around.py`` finds in
artist fields, folders, the catalogue number and the work's name; at last the neighbours. What
speaks against a name is weighed by ``composer_doubts.py``. Which of several of one name is meant is
left to ``namesakes.py``, what a COMPOSER value says to ``composer_tag.py``, whose a work is that is
named without a composer to ``work_owner.py``.
"""

from collections import Counter

from syncd.model import Composer
from syncd.works.attributing import UNSURE, attribute, attribute_name, lower, put_down
from syncd.works.authorship import (
    has_own_number,
    may_be_heard,
    wrote,
)
from syncd.works.composer_doubts import doubt_album, doubt_player, doubt_tag
from syncd.works.composer_names import unknown_composer
from syncd.works.composer_tag import ComposerTag, read_composers
from syncd.works.composers import Entry, table
from syncd.works.known_works import by_title
from syncd.works.names_around import by_names_around, one_has_works, whose
from syncd.works.namesakes import family_member, namesake_of, relative_by_number
from syncd.works.text import fold
from syncd.works.track import Track


def find_composer(track: Track) -> None:
    """Find the composer of *track* from its own evidence, with a confidence and a reason."""
    corrected = track.correction.composer
    if corrected:
        match = table().near(corrected)
        composer = match.entry.composer if match else unknown_composer(corrected)
        put_down(track, composer, match.entry if match else None, 1.0, "from the errata")
        return
    if track.fields.composer:
        track.tag = read_composers(track.fields.composer)
    if track.title.pair is not None:
        track.arrangers.append(track.title.pair)
    if track.tag.composer is not None:
        _by_tag(track, track.tag, track.tag.composer)
        doubt_tag(track)
    elif not (_by_title(track) or _by_album(track)):
        by_names_around(track)


def _by_tag(track: Track, tag: ComposerTag, composer: Composer) -> None:
    """Believe the COMPOSER tag, unless the title's work or prefix is another's."""
    name = track.fields.composer[0]
    entry = tag.entry if tag.entry is not None else family_member(name, track)
    if entry is None and table().several(name):
        # "Strauss": there are several, and nothing tells which; no name is better than a guess.
        track.reasons.append(f"composer: several are called {name}, and nothing tells which")
        return
    namesake = namesake_of(entry, track) if tag.how == "name" else None
    if tag.how == "initials that fit several":
        member = family_member(name, track)  # "J. Strauss"
        namesake = member if member is not entry else None
    elif tag.how == "family name" and entry is not None:
        namesake = relative_by_number(entry, track)
    if namesake is not None:
        how = "COMPOSER tag, of the same name the one who wrote this work"
        attribute(track, namesake, 0.85, how)
    elif entry is not None and tag.entry is None:
        attribute(track, entry, 0.75, "family name in the COMPOSER tag, told by the album")
    else:
        put_down(track, composer, tag.entry, min(0.97, tag.confidence), f"COMPOSER tag ({tag.how})")
    track.arrangers.extend(tag.arrangers)
    for other in tag.others:
        if track.title.arranger and fold(other).split()[-1] in fold(track.title.arranger):
            track.arrangers.append(other)
    prefix = track.title.composer
    if prefix is not None and namesake is None and entry is not prefix.entry:
        _weigh_prefix(track, tag, entry, prefix.entry)


def _weigh_prefix(track: Track, tag: ComposerTag, entry: Entry | None, prefix: Entry) -> None:
    """Decide between the COMPOSER tag (*entry*) and another composer before the title."""
    work = track.title.work
    others = [table().exact(other) for other in tag.others]
    if tag.entry is None or any(match is not None and match.entry is prefix for match in others):
        attribute(track, prefix, 0.85, "from the title's prefix")
    elif (
        entry is not None
        and work is not None
        and by_title(prefix.sort, work.title) is not None
        and by_title(entry.sort, work.title) is None
    ):
        # "Beethoven: Symphony No. 5", COMPOSER Liszt: he arranged what the other wrote.
        track.arrangers.append(track.fields.composer[0])
        how = "from the title's prefix, who wrote this work; the COMPOSER tag names an arranger"
        attribute(track, prefix, 0.7, how)
    else:
        track.composer_confidence = 0.6
        track.reasons.append("the title names another composer than the COMPOSER tag")


def _by_title(track: Track) -> bool:
    found = track.title.composer
    if found is not None:
        how = f"from the title ({found.how})"
        confidence = min(0.95, found.confidence, 0.8 if track.title.pair is not None else 1.0)
        attribute_name(track, found, confidence, how)
        if track.title.behind and may_be_heard(found.entry) and not wrote(found.entry, track):
            lower(track, "a name behind the title may be a performer's")
        return True
    if track.title.family:
        member = family_member(track.title.family, track)
        if member is not None:
            how = "family name in the title, told by catalogue or album"
            alone = len(table().candidates(track.title.family)) == 1
            told = not alone or has_own_number(member, track) or wrote(member, track)
            attribute(track, member, 0.75 if told else 0.6, how)
            return True
    return False


def _by_album(track: Track) -> bool:
    """The composer before the album's title, or that of its composers whose the work is."""
    album = track.album
    if len(album.shares) > 1:
        told = whose(track, album.shares)
        if told is not None:
            how = "of the composers in the album's title the one whose work it is"
            attribute(track, told, 0.8, how)
            return True
        if not one_has_works(album.shares):
            return False
    if album.prefix is not None:
        confidence = min(0.9, album.prefix.confidence)
        if album.about and not wrote(album.prefix.entry, track):
            confidence = UNSURE
        attribute_name(track, album.prefix, confidence, "from the album's title")
        doubt_album(track)
        doubt_player(track, album.prefix)
        return True
    if album.family:
        member = family_member(album.family, track)
        if member is not None:
            attribute(track, member, 0.7, "family name in the album's title")
            return True
    return False


def go_on_with(track: Track, head: Track) -> None:
    """Give *track*, which goes on with the work of *head*, its composer.

    He is who the head's title names; what album and artists told of the track alone is weaker. Its
    own COMPOSER tag and the errata are not.
    """
    told = bool(track.fields.composer or track.correction.composer)
    if head.composer is not None and track.composer != head.composer and not told:
        confidence = min(0.75, head.composer_confidence)
        how = "that of the work with which the track goes on"
        put_down(track, head.composer, head.entry, confidence, how)


def ask_neighbours(tracks: list[Track]) -> None:
    """Give tracks without a composer the one whom all their neighbours have."""
    composers = Counter(track.composer for track in tracks if track.composer is not None)
    missing = [track for track in tracks if track.composer is None]
    if not missing or len(composers) != 1:
        return
    composer = next(iter(composers))
    if composers[composer] <= len(missing):
        return
    if len({track.fields.album for track in tracks}) != 1:
        return
    if len(tracks[0].album.shares) > 1 and not one_has_works(tracks[0].album.shares):
        return  # the others' tracks are those that nothing attributes
    entry = next(track.entry for track in tracks if track.composer == composer)
    for track in missing:
        if not track.fields.composer:
            put_down(track, composer, entry, 0.5, "that of all other tracks of the folder")
