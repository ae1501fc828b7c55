"""The credits of a track from all the lists of performers in its tags.

Names that mean the same performer become one, and a name without a role gets one by its place: with
an orchestra, whoever follows it conducts, whoever precedes it plays a concerto's solo part. That is
custom, no rule, so such credits are told as inferred. Reading a list is left to ``people.py``, what
lists a track has to ``crediting.py``.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

from syncd.model import Credit
from syncd.works.composer_names import name_key, spelled_nearly
from syncd.works.composers import table
from syncd.works.ensembles import is_chamber_group, kind_of
from syncd.works.people import Person, read_people
from syncd.works.text import fold
from syncd.works.value import plain_value

LEADING = ("conductor", "ensemble", "choir")
"""Roles by which one performance is told from another first of all."""

PLAYING = (*LEADING, "soloist")
"""Roles of those who are heard."""

_WORDS = re.compile(r"[^\W_]+")


@plain_value
class Lists:
    """All that a track's tags say about its performers, field by field."""

    conductor: tuple[str, ...] = ()
    ensemble: tuple[str, ...] = ()
    choir: tuple[str, ...] = ()
    soloist: tuple[str, ...] = ()
    performer: tuple[str, ...] = ()
    artist: tuple[str, ...] = ()
    album_artist: tuple[str, ...] = ()
    arranger: tuple[str, ...] = ()
    lyricist: tuple[str, ...] = ()
    elsewhere: tuple[str, ...] = ()  # names from the title or the album
    with_groups: bool = True  # whether the work can have an orchestra or a choir


@dataclass(frozen=True, slots=True)
class Cast:
    """The credits of a track and whether roles had to be inferred from the order of names."""

    credits: tuple[Credit, ...] = ()
    inferred: bool = False


@lru_cache(maxsize=8192)
def cast_of(lists: Lists, composers: frozenset[str], solo_work: bool) -> Cast:
    """The credits that *lists* give. Names of *composers* (sort forms) are no performers.

    *solo_work* says that the work has a solo part (a concerto, an aria), so that one person with an
    orchestra is its soloist, not its conductor.
    """
    performers = _performers(lists, composers)
    inferred = _assign(performers, solo_work)
    credits: list[Credit] = []
    for person in performers:
        credits.extend(_credits(person))
    for values, role in ((lists.arranger, "arranger"), (lists.lyricist, "lyricist")):
        for value in values:
            credits.extend(Credit(p.name, role) for p in read_people(value))
    return Cast(tuple(dict.fromkeys(credits)), inferred)


def _performers(lists: Lists, composers: frozenset[str]) -> list[Person]:
    """All performers of *lists*, each once, with everything that any of the lists says of them."""
    found: list[Person] = []
    for value in lists.conductor:
        for p in read_people(value):
            _add(found, replace(p, kind="person", roles=(*p.roles, "conductor")))
    for value in lists.ensemble:
        for p in read_people(value):
            kind = "choir" if p.kind == "choir" else "ensemble"
            _add(found, p if p.roles else replace(p, kind=kind))
    for value in lists.choir:
        for p in read_people(value):
            _add(found, replace(p, kind="choir"))
    for value in lists.soloist:
        for p in read_people(value):
            _add(found, p.also(("soloist",)))
    own = _all_but(composers, (*lists.performer, *lists.artist, *lists.elsewhere))
    for p in _without_arrangers(own, lists):
        _add(found, p)
    of_album = _all_but(composers, lists.album_artist)
    if all(p.kind == "person" and "conductor" in p.roles for p in found):
        for p in of_album:
            _add(found, p)
        return found
    # The album's artists lend their full names and labels to the names that are there, and the
    # orchestra that plays throughout to tracks that name their soloists only.
    groupless = lists.with_groups and all(p.kind == "person" for p in found)
    for p in of_album:
        plays_throughout = groupless and p.kind in ("ensemble", "choir")
        if plays_throughout or any(_same_name(have.name, p.name) for have in found):
            _add(found, p)
    return found


def _without_arrangers(people: list[Person], lists: Lists) -> list[Person]:
    """*people* without those who only arranged: ARTIST Respighi of a fugue "arr. Respighi".

    Who is no composer of the table may play his own arrangement, unless he is the only artist and
    others are named elsewhere.
    """
    arrangers = [p.name for value in lists.arranger for p in read_people(value)]
    if not arrangers:
        return people
    others = lists.conductor or lists.ensemble or lists.choir or lists.soloist
    elsewhere = others or (lists.album_artist and lists.album_artist != lists.artist)
    alone = len(people) == 1 and bool(elsewhere)
    return [
        p
        for p in people
        if p.instruments
        or p.roles
        or not any(_same_name(p.name, name) for name in arrangers)
        or not (alone or table().exact(p.name) is not None)
    ]


def _add(found: list[Person], person: Person) -> None:
    """Add *person* to *found*, in place; what is said of one who is there already is joined."""
    for number, have in enumerate(found):
        if _same_name(have.name, person.name):
            found[number] = Person(
                have.name if len(have.name) >= len(person.name) else person.name,
                have.kind if have.kind != "person" else person.kind,
                tuple(dict.fromkeys((*have.instruments, *person.instruments))),
                tuple(dict.fromkeys((*have.roles, *person.roles))),
            )
            return
    found.append(person)


def _all_but(composers: frozenset[str], values: Iterable[str]) -> list[Person]:
    """The names in *values* without those of *composers*, of whom no instrument is told."""
    people = [p for value in values for p in read_people(value)]
    if not composers:
        return people
    return [p for p in people if p.instruments or not _is_composer(p.name, composers)]


def _is_composer(name: str, composers: frozenset[str]) -> bool:
    """Whether *name* is that of one of *composers*, be it a family name that others have, too."""
    match = table().exact(name)
    if match is not None and (match.entry.sort in composers or match.how != "family name"):
        return match.entry.sort in composers
    if " " not in name and any(entry.sort in composers for entry in table().family(name)):
        return True
    for sort in composers:
        if sort[0] == name[:1] and spelled_nearly(name_key(name), name_key(sort.partition(",")[0])):
            return True
    return False


def _same_name(one: str, other: str) -> bool:
    """Whether two spellings name one performer: equal, inverted, a surname, or an abbreviation."""
    if one == other:
        return True
    a: list[str] = _WORDS.findall(fold(one))
    b: list[str] = _WORDS.findall(fold(other))
    if not a or not b:
        return False
    if a == b or sorted(a) == sorted(b):
        return True
    short, long = (a, b) if len(a) < len(b) else (b, a)
    if len(short) == 1 and len(long) <= 4 and len(short[0]) > 3:
        return long[-1] == short[0] and kind_of(" ".join(long)) == "person"
    if len(short) == len(long):
        # "J. Whitlock" and "Jonas Whitlock".
        return (
            short[-1] == long[-1]
            and len(short) >= 2
            and all(
                x == y or (len(x) == 1 and y.startswith(x)) or (len(y) == 1 and x.startswith(y))
                for x, y in zip(short[:-1], long[:-1], strict=True)
            )
        )
    if len(short) >= 2 and long[: len(short) - 1] == short[:-1]:
        # "Northmoor SO" and "Northmoor Symphony Orchestra".
        rest = long[len(short) - 1 :]
        initials = "".join(str(word)[0] for word in rest)
        return initials == str(short[-1])
    return False


def _assign(entries: list[Person], solo_work: bool) -> bool:
    """Give a role to persons without one, in place; whether any had to be inferred."""
    groups = [i for i, p in enumerate(entries) if p.kind in ("ensemble", "choir")]
    large = [i for i in groups if not is_chamber_group(entries[i].name)]
    has_conductor = any("conductor" in p.roles for p in entries)
    open_persons = [
        i for i, p in enumerate(entries) if p.kind == "person" and not p.roles and not p.instruments
    ]
    if not open_persons:
        return False
    conductor: int | None = None
    if large and not has_conductor:
        soloists_known = any(p.kind == "person" and p.instruments for p in entries)
        after = [i for i in open_persons if i > large[-1]]
        before = [i for i in open_persons if i < large[0]]
        if after:
            conductor = after[-1]
        elif before:
            if (len(before) == 1 and (not solo_work or soloists_known)) or (len(before) > 1):
                conductor = before[-1]
        else:
            conductor = open_persons[-1]
    for i in open_persons:
        role = "conductor" if i == conductor else "soloist"
        entries[i] = replace(entries[i], roles=(role,))
    return conductor is not None or bool(large)


_BEHIND_THE_SCENES = ("producer", "engineer", "composer")


def _credits(person: Person) -> list[Credit]:
    """The credits of one performer: one for each instrument and each role that is credited."""
    if person.kind in ("ensemble", "choir") and "conductor" not in person.roles:
        return [Credit(person.name, person.kind)]
    found: list[Credit] = []
    for role in dict.fromkeys(person.roles):
        if role in ("conductor", "arranger", "lyricist", "chorus master", "leader"):
            found.append(Credit(person.name, role))
    for instrument in dict.fromkeys(person.instruments):
        if instrument not in ("orchestra", "strings", "basso continuo"):
            found.append(Credit(person.name, "soloist", instrument))
    if (not found and not any(role in _BEHIND_THE_SCENES for role in person.roles)) or (
        "soloist" in person.roles
        and not person.instruments
        and not any(c.role == "soloist" for c in found)
    ):
        found.append(Credit(person.name, "soloist"))
    return found
