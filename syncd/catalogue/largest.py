"""How large a catalogue can be at most, from counts and lengths alone: a derived bound. Pure.

For whom the catalogue of a card's end would take too long to build. Each step of the derivation:

- A table's rows are written in the order of their ids, so SQLite leaves a page only when the next
  row has no room on it: two neighbouring pages hold more than one page's bytes, and a table has at
  most twice the pages that its rows fill, and one. A row of more than 989 bytes lies in overflow
  pages but for that much (SQLite file format, 1.6: U - 35 of a page of U bytes without reserve).
- Where no row of a table is longer than R, less than R is left free on any page but the last.
- Inner pages are at least half full, and have 15 bytes or less for a page below: a thirty-third.
- Labels have at most 100 bytes and other texts 400 (``labels``); NFC and transliteration make ASCII
  no longer. What lengthens other texts is not asked: those count in full.
- Which rows there are for a track, a recording or album, and a credit is ``arrange``'s and
  ``across``'s; what spellings have in common makes them fewer. A recording has a set of credits
  once, however many movements have it, and stands once under a performer. What groups tracks at
  most finely has at least as many of either.
- Search: a name has at most 12 words of at most 24 letters (``search``). Only prefixes of more than
  eight hits are extended, so of those there is at most one for nine letters or word ends; each has
  at most eight best, and nodes that are not extended share no hit.
"""

from collections.abc import Iterable
from math import ceil

from syncd.catalogue.contract import LABEL_BYTES, PAGE_BYTES, WHOLE_BYTES
from syncd.catalogue.rows import HOME, RECENT_MOST
from syncd.catalogue.search import BEST, LONGEST_WORD_CHARS, MOST_WORDS
from syncd.collector import collector_resting
from syncd.model import CataloguedTrack, Kind, Work
from syncd.works.topics import PERIODS

_LOCAL = PAGE_BYTES - 35
_OVERFLOW = PAGE_BYTES - 4
_NUMBER = 9 + 1
"""A number in a row, with its serial type."""
_ID = 4 + 1
"""An id or a count of rows: below 2 to the 31st."""
_TEXT = 3
"""The serial type of a text of up to 8 KB."""
_CELL = 14
"""What a page has for a row besides: its length, its id, where it stands; the row's own head."""
_PAGE_HEAD = 8
"""Of a page of rows (SQLite file format, 1.6)."""
_TABLES = 8
_FIXED = 64 << 10
"""Schema, home, and a few pages for each table."""
_NAMES_WHERE_NONE_ARE = 8
"""Such as "[Composer unknown]", which stand for names that are not there."""
_FORM_LETTERS = 3
"""No form's name has fewer."""
_FORMS_MOST = 400 // (_FORM_LETTERS + 1)


def row_bytes(payload: int) -> int:
    """The most that a row of *payload* bytes adds to a table that is written in order."""
    over = max(0, payload - _LOCAL)
    return 2 * (min(payload, _LOCAL) + _CELL) + (over + PAGE_BYTES if over else 0)


def even_row_bytes(payload: int) -> int:
    """The same for a table none of whose rows has more than *payload* bytes: fewer than a page."""
    row = payload + _CELL
    return ceil(row * PAGE_BYTES / (PAGE_BYTES - _PAGE_HEAD - row))


_Names = tuple[str, ...]
_Group = tuple[Kind, str | None, _Names, _Names, _Names, _Names, _Names, str]
"""What groups tracks at most finely: kind, recording, composer, work, numbers, artists, album, and
folder."""
_Credit = tuple[str, str, str | None]
"""Name, role and instrument."""

_LABELLED = even_row_bytes(LABEL_BYTES + _TEXT + 2 * _NUMBER + 3 * _ID)
"""A row of entries or links."""
_JUMP = 2 * 8
"""A letter and the id that it leads to."""
_GROUP = row_bytes(5 * (WHOLE_BYTES + _TEXT) + 4 * 255 + (WHOLE_BYTES + _TEXT) + 8 * _NUMBER)


@collector_resting()
def largest_catalogue(tracks: Iterable[tuple[str, CataloguedTrack]]) -> int:
    """Bytes that no catalogue of *tracks*, each with its path on the card, has more of."""
    rows = 0
    names: set[tuple[str, ...]] = set()
    groups: dict[_Group, int] = {}
    sets: set[tuple[int, tuple[_Credit, ...]]] = set()
    tracks = list(tracks)
    work_label = _longest_label([one.identity.work for _, one in tracks])
    for path, one in tracks:
        track, identity = one.track, one.identity
        work, movement = identity.work, identity.movement
        title = (movement.title if movement is not None else None) or ""
        shown = max(_most(title), _most(track.title), _most(path), work_label)
        shown = min(shown, LABEL_BYTES) + min(shown, WHOLE_BYTES) + _most(track.artist)
        rows += row_bytes(shown + 4 * len(path) + 4 * _TEXT + 9 * _NUMBER)
        composer = identity.composer
        heading = (composer.sort, composer.name) if composer is not None else ()
        about = (work.title, *work.catalogue[:1]) if work is not None else ()
        by = (track.album_artist, identity.artist or "", track.artist)
        album = (identity.album or "", track.album)
        names |= {heading, about, *((name,) for name in (*by, *album))}
        folder = path.rpartition("/")[0]
        catalogue = work.catalogue if work is not None else ()
        place = groups.setdefault(
            (identity.kind, identity.recording, heading, about, catalogue, by, album, folder),
            len(groups),
        )
        if identity.credits:
            own = tuple([(one.name, one.role, one.instrument) for one in identity.credits])
            sets.add((place, own))
    listed: set[tuple[int, _Credit]] = set()
    for place, own in sets:
        # A movement's own, and the recording's.
        rows += sum(map(_credit_bytes, own))
        listed.update((place, credit) for credit in own)
    rows += sum(_credit_bytes(credit) for _, credit in listed)
    credits = {credit for _, credit in listed}
    names.update((name,) for name, _, _ in credits)
    found = len(names) + _NAMES_WHERE_NONE_ARE
    hits = letters = _NAMES_WHERE_NONE_ARE * 2 * LONGEST_WORD_CHARS
    for texts in names:
        words, of_words = _searched(" ".join(texts))
        hits += words
        letters += of_words
    # Composer, work, recording, and the composer under a period; or artist, album, and the album by
    # its title: each once for a group at most. The heads of forms, and the work under each.
    labelled = 4 * len(groups) + min(len(groups), RECENT_MOST) + len(PERIODS)
    labelled += 2 * sum(_forms(about) for _, _, _, about, *_ in groups)
    # A credit leads into three lists, with a head each and the recording under it.
    labelled += 3 * (len(listed) + len(credits))
    extended = (letters + hits) // (BEST + 1) + 1
    labelled += hits + BEST * extended + found
    nodes = hits + extended + 1
    prefixes = nodes * row_bytes(5 * _NUMBER + 4 + _TEXT) + 2 * 4 * nodes
    # Lists with jumps: composers, artists, albums; the three that a credit leads into.
    rows += labelled * _LABELLED + 3 * (len(groups) + len(credits)) * _JUMP
    rows += len(groups) * _GROUP + prefixes + len(HOME) * row_bytes(2 * LABEL_BYTES)
    return ceil(rows * 1.06) + _FIXED


def _credit_bytes(credit: _Credit) -> int:
    """A row of credits."""
    name, role, instrument = credit
    said = _most(name) + _most(role) + _most(instrument or "")
    return row_bytes(said + 3 * _TEXT + 2 * _NUMBER)


def _longest_label(works: Iterable[Work | None]) -> int:
    """The most bytes of a work's label, which a movement alone has: its parts are the commonest
    of all recordings of the work."""
    title = key = numbers = 0
    for work in works:
        if work is not None:
            title = max(title, _most(work.title))
            key = max(key, _most(work.key or ""))
            numbers = max(numbers, sum(_most(number) + 2 for number in work.catalogue))
    return title + key + numbers + 16  # "[Work unknown]" or " in ", ", "


def _most(text: str) -> int:
    """Bytes of *text* as it is shown."""
    return min(WHOLE_BYTES, len(text)) if text.isascii() else WHOLE_BYTES


def _searched(name: str) -> tuple[int, int]:
    """How many words of *name* a search may find, and how many letters they have."""
    if not name.isascii():
        return MOST_WORDS, MOST_WORDS * LONGEST_WORD_CHARS
    words = min(MOST_WORDS, 1 + sum(not letter.isalnum() for letter in name))
    return words, min(words * LONGEST_WORD_CHARS, len(name))


def _forms(about: tuple[str, ...]) -> int:
    """How many forms a work's title may name."""
    if not about:
        return 0
    title = about[0]
    return (
        min(_FORMS_MOST, len(title) // (_FORM_LETTERS + 1) + 1) if title.isascii() else _FORMS_MOST
    )
