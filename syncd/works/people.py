"""Who plays: lists of performers as taggers write them, and the roles that follow from them.

One list (``Anna Sorel (violin), Harbour City Philharmonic, Yukiko Haranami``) is read into names
with what it says of each; all lists of a track together give its credits. A name without a role
gets one by its place: with an orchestra, whoever follows it conducts, whoever precedes it plays a
concerto's solo part. That is custom, no rule, so such credits are told as inferred.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from syncd.model import Credit
from syncd.works import vocabulary as words_of
from syncd.works.cjk import ensemble_kind
from syncd.works.text import fold, is_shouting, unshout
from syncd.works.value import plain_value

_NOBODY = frozenset(
    """various artists|various|various artist|unknown artist|unknown|va|v a|v.a.|v. a.|diverse|
    verschiedene interpreten|verschiedene|verschiedene kunstler|artistes divers|artistes varies|divers|
    artisti vari|vari|aa. vv.|aavv|varios artistas|varios|varios interpretes|ruzni interpreti|ruzni|
    rozni wykonawcy|[unknown]|n/a|none|-|?|soloists|solisten|solistes|solisti|orchestra|orchester|
    original cast|unbekannt|unbekannter interpret|interprete inconnu|no artist|diverse artiesten|
    diverse kunstnere|разные исполнители|неизвестен|неизвестный исполнитель|piano|conductor""".replace(  # noqa: E501
        "\n    ", ""
    ).split("|")
)
_LIST_MARK = re.compile(
    r"\s*[;|•\n\r\x00]+\s*|\s+/{1,2}\s+|\s+[-–—]\s+|\s*\\+\s*|\s—\s?|\s+(?:feat\.?|ft\.?|featuring)\s+",
    re.IGNORECASE,
)
_TIGHT_SLASH = re.compile(r"(?<=[^\W\d_]{2})/(?=[^\W\d_]{2})|(?<=\))/(?=\w)")
_AND = re.compile(
    r"\s+(?:&|and|und|et|e|y|i|a|och|og|en|ja|with|mit|avec|con|com|\+)\s+", re.IGNORECASE
)
_PAREN = re.compile(r"\s*[(\[]([^()\[\]]*(?:\([^()]*\)[^()\[\]]*)?)[)\]]")
_LED_BY = re.compile(
    r"^(?:(?:conducted|directed|dirigiert|dirigé|dirigée|diretta|diretto|dirigida|dirigido|geleitet|led)\s+"
    r"(?:by|von|par|da|por)|dir\.?|cond\.?|conductor|dirigent(?:in)?|direction|direktion|ltg\.?|leitung|"
    r"musikalische leitung|unter der leitung von|unter|u\.\s?d\.\s?l\.|direttore|director|"
    r"chef d'orchestre|"
    r"dyrygent|дирижёр|дирижер|direction musicale|dirigeert|sous la direction de|dirigiert von|"
    r"o\.l\.v\.|olv|onder leiding van|dyr\.|vez\.|vezényel)"
    r"(?:\s*:\s*|\s+)(?P<name>\S.*)$",
    re.IGNORECASE,
)
_LED_INLINE = re.compile(
    r"[\s,]+(?:(?:conducted|directed|dirigiert|dirigé|dirigée|diretta|diretto|dirigida|dirigido|geleitet|led)\s+"
    r"(?:by|von|par|da|por)|dir\.|cond\.|unter der leitung von|unter|u\.\s?d\.\s?l\.|"
    r"sous la direction de|"
    r"o\.\s?l\.\s?v\.|onder leiding van|ltg\.|leitung:|dirigent:|conductor:|dirigent|dyr\.|"
    r"дир\.)\s*(?=\S)",
    re.IGNORECASE,
)
_ENSEMBLE_ENDING = re.compile(
    r"(?:orchester|orchestra|orchestre|orkester|orkest|quartett|quartet|kvartet|kvartett|kwartet|quintett|philharmonie|"
    r"philharmoniker|symphoniker|sinfoniker|kapelle|ensemble|solisten|virtuosen|filharmonie|sextett|oktett|"
    r"consort|kollegium|collegium|harmonie|sinfonietta|streicher|blaser|philharmonic|ensemblet|brass|"
    r"kvartetten|kvintetten|kvartetto|kvartetti|kvarteto|orkesteret|orkestern|orkesteri|ensemblen|kapellet|"
    r"filharmonikerne|filharmonikerna|symfonikerne|symfonikerna|sinfonikerna|zenekar|negyes|zenekara)$"
)
_CHOIR_ENDING = re.compile(
    r"(?:chor|choir|chorus|kantorei|choeur|koor|kor|singers|cantorum|vocale|coro|kammarkor|sbor|koret|choristers|koren|kuoro|korus|enekkar)$"
)
_ABBREVIATION = re.compile(r"^[A-ZÄÖÜ]{2,6}$")
_ORCHESTRAL = frozenset(
    [
        "SO",
        "PO",
        "RSO",
        "CO",
        "SSO",
        "RPO",
        "BSO",
        "LSO",
        "NSO",
        "NDR",
        "WDR",
        "SWR",
        "BBC",
        "RSO",
        "RIAS",
        "RAI",
        "ORTF",
        "DR",
        "OAE",
        "ASMF",
        "OSR",
        "OSM",
    ]
)
_WORDS = re.compile(r"[^\W_]+")
_PLURAL_PLAYERS = frozenset(
    [
        "cellos",
        "violoncelles",
        "violoncelos",
        "violoncelli",
        "celli",
        "cellisten",
        "flutes",
        "floten",
        "flautas",
        "clarinets",
        "klarinetten",
        "guitars",
        "guitarras",
        "guitares",
        "violas",
        "violins",
        "violini",
        "violons",
        "violines",
        "horns",
        "horner",
        "trombones",
        "posaunen",
        "trompetes",
        "harps",
        "saxophones",
        "recorders",
        "pianos",
        "bassoons",
        "oboes",
        "viols",
        "percussions",
        "blockfloten",
        "trumpets",
    ]
)
_CHAMBER_WORDS = frozenset(
    [
        "quartet",
        "quartett",
        "quatuor",
        "quartetto",
        "cuarteto",
        "kvartet",
        "kwartet",
        "kvartett",
        "trio",
        "quintet",
        "quintett",
        "quintette",
        "quintetto",
        "duo",
        "sextet",
        "sextett",
        "octet",
        "oktett",
        "nonet",
        "streichquartett",
        "klaviertrio",
        "streichtrio",
        "klavierquartett",
        "квартет",
        "septet",
        "quarteto",
        "sextuor",
        "kvintet",
        "blaserquintett",
    ]
)


@dataclass(frozen=True, slots=True)
class Person:
    """One name of a list: ``kind`` is person, ensemble, choir or unknown; roles as the list says."""  # noqa: E501

    name: str
    kind: str
    instruments: tuple[str, ...] = ()
    roles: tuple[str, ...] = ()


@lru_cache(maxsize=16384)
def kind_of(name: str) -> str:
    """Whether *name* is an ensemble, a choir or a person, by the words in it."""
    eastern = ensemble_kind(name)
    if eastern is not None:
        return eastern
    words = _WORDS.findall(fold(name))
    if not words:
        return "person"
    ensemble = choir = False
    for number, word in enumerate(words):
        if word in words_of.CHOIR_WORDS or _CHOIR_ENDING.search(word):
            choir = choir or not (number == 0 and word == "vox" and "ensemble" in words)
        if word in words_of.ENSEMBLE_WORDS or (len(word) > 5 and _ENSEMBLE_ENDING.search(word)):
            ensemble = True
    if choir and not ensemble:
        return "choir"
    if choir and ensemble:
        both = any(
            word in words
            for word in ("orchestra", "orchester", "orchestre", "philharmonic", "baroque")
        )
        return "ensemble" if both else "choir"
    if ensemble:
        # "Maria Opera" is no house and "Tom Duo" no person: a lone weak word is not enough.
        return "ensemble"
    if len(words) >= 2 and words[0] in words_of.ENSEMBLE_STARTS and words[0] not in ("i",):
        return "ensemble"
    if len(words) >= 2 and name.startswith("I ") and words[1].endswith("i") and len(words[1]) > 4:
        return "ensemble"  # the Italian article with its plural: "I Musici"
    if len(words) >= 2 and any(word in _PLURAL_PLAYERS for word in words):
        return "ensemble"
    last = name.split()[-1]
    if len(name.split()) > 1 and last in _ORCHESTRAL:
        return "ensemble"
    if _ABBREVIATION.match(name) and len(name) >= 3 and name in _ORCHESTRAL:
        return "ensemble"
    return "person"


@lru_cache(maxsize=8192)
def role_or_instrument(text: str) -> tuple[tuple[str, ...], tuple[str, ...]] | None:
    """(roles, instruments) if *text* says nothing else (``piano & direction``), or None."""
    folded = fold(text).strip(" .:")
    if not folded:
        return None
    roles: list[str] = []
    instruments: list[str] = []
    whole = _single(folded)
    if whole is None:
        parts = [
            p
            for p in re.split(r"\s*(?:&|,|/|;|\+|\band\b|\bund\b|\bet\b|\be\b|\by\b)\s*", folded)
            if p
        ]
        for part in parts:
            one = _single(part.strip(" ."))
            if one is None:
                return None
            (roles if one[0] == "role" else instruments).append(one[1])
    else:
        (roles if whole[0] == "role" else instruments).append(whole[1])
    return tuple(roles), tuple(instruments)


def _single(folded: str) -> tuple[str, str] | None:
    if folded in words_of.ROLE_WORDS:
        return "role", words_of.ROLE_WORDS[folded]
    if folded in words_of.INSTRUMENTS:
        return "instrument", words_of.INSTRUMENTS[folded]
    for prefix in ("solo ", "on ", "am ", "au ", "al ", "1st ", "2nd ", "first ", "second ", "baroque ", "lead ",  # noqa: E501
                   "principal ", "historical ", "modern ", "concert ", "grand ", "classical ", "1. ", "2. ",  # noqa: E501
                   "natural ", "alto ", "bass ", "tenor ", "soprano "):  # fmt: skip
        if folded.startswith(prefix) and folded[len(prefix) :] in words_of.INSTRUMENTS:
            return "instrument", words_of.INSTRUMENTS[folded[len(prefix) :]]
    if folded in words_of.FOR_WORDS or folded in (
        "soloist",
        "solist",
        "soliste",
        "solista",
        "vocal",
        "vocals",
    ):
        return (
            ("role", "soloist")
            if folded.startswith("soli") or folded == "soloist"
            else ("instrument", "voice")
        )
    return None


@lru_cache(maxsize=16384)
def read_people(text: str) -> tuple[Person, ...]:
    """The names in one list, in its order, with what it says of each."""
    if fold(text).strip() in _NOBODY:
        return ()
    text = _LED_INLINE.sub(" ; conductor: ", text)
    shielded, brackets = _shield(text)
    chunks = [
        c for part in _LIST_MARK.split(shielded) for c in _TIGHT_SLASH.split(part) if c.strip()
    ]
    people: list[Person] = []
    for chunk in chunks:
        said = role_or_instrument(chunk.strip(" ,;:")) if people and _HOLD not in chunk else None
        if said is not None and people[-1].kind == "person":
            # "Name - lute": what he plays stands behind a mark of the list.
            last = people[-1]
            people[-1] = replace(
                last, roles=(*last.roles, *said[0]), instruments=(*last.instruments, *said[1])
            )
            continue
        people.extend(_chunk(chunk.strip(" ,;:"), brackets, len(chunks) > 1))
    return tuple(person for person in people if fold(person.name) not in _NOBODY and person.name)


_HOLD = "\ue000"


def _shield(text: str) -> tuple[str, list[str]]:
    """*text* with each bracket replaced by a private-use mark, and the brackets' contents."""
    brackets: list[str] = []

    def keep(match: re.Match[str]) -> str:
        brackets.append(match.group(1).strip())
        return f"{_HOLD}{len(brackets) - 1}{_HOLD}"

    return _PAREN.sub(keep, text.replace(_HOLD, "")), brackets


def _chunk(chunk: str, brackets: list[str], several: bool) -> list[Person]:
    if not chunk:
        return []
    if ":" in chunk:
        head, _, rest = chunk.partition(":")
        before, comma, label = head.rpartition(",")
        if comma and role_or_instrument(label) is not None:
            # "Orquesta Ciudad de Alhamar, director: Rafael Montiel"
            return _chunk(before.strip(), brackets, True) + _chunk(
                f"{label.strip()}: {rest.strip()}", brackets, True
            )
        said = role_or_instrument(head)
        if said is not None and rest.strip():
            inner = _chunk(rest.strip(), brackets, several)
            return [
                replace(p, roles=(*p.roles, *said[0]), instruments=(*p.instruments, *said[1]))
                for p in inner
            ]
        # "Pauline Achterberg: Northmoor Symphony Orchestra"
        left = _chunk(head.strip(), brackets, True)
        right = _chunk(rest.strip(), brackets, True)
        if left and right and left[-1].kind == "person" and right[0].kind in ("ensemble", "choir"):
            left[-1] = replace(left[-1], roles=(*left[-1].roles, "conductor"))
        elif (
            left and right and right[-1].kind == "person" and left[0].kind in ("ensemble", "choir")
        ):
            right[-1] = replace(right[-1], roles=(*right[-1].roles, "conductor"))
        return left + right
    led = _LED_BY.match(chunk)
    if led is not None:
        inner = _chunk(led.group("name"), brackets, several)
        if inner:
            inner[0] = replace(inner[0], roles=(*inner[0].roles, "conductor"))
        return inner
    parts = [part.strip() for part in re.split(r"\s*,\s+|,(?=\S)", chunk) if part.strip()]
    if (
        len(parts) == 2
        and len(parts[0].split()) == 1
        and len(parts[1].split()) <= 2
        and role_or_instrument(parts[1]) is None
        and role_or_instrument(parts[0]) is None
        and kind_of(parts[0]) == "person"
        and kind_of(parts[1]) == "person"
        and _HOLD not in parts[0]
    ):
        parts = [f"{parts[1]} {parts[0]}"]  # "Solvang, Henrik"
    people: list[Person] = []
    for part in parts:
        bare = part
        said = role_or_instrument(bare) if _HOLD not in bare else None
        if said is not None and people:
            roles, instruments = said
            # "Name, piano"; several names before one instrument share nothing.
            last = people[-1]
            people[-1] = replace(
                last, roles=(*last.roles, *roles), instruments=(*last.instruments, *instruments)
            )
            continue
        led = _LED_BY.match(part)
        if led is not None:
            people.extend(
                replace(p, roles=(*p.roles, "conductor")) for p in _one(led.group("name"), brackets)
            )
            continue
        for name in _split_and(part):
            people.extend(_one(name, brackets))
    return people


_COLLECTIVE = frozenset(
    [
        "orchestra",
        "orchester",
        "orchestre",
        "chorus",
        "choir",
        "chor",
        "choeur",
        "coro",
        "strings",
        "soloists",
        "solisten",
        "brass",
        "winds",
        "friends",
        "freunde",
        "amis",
        "ensemble",
        "chœur",
        "singers",
        "players",
        "band",
        "boys",
        "girls",
        "orch",
        "opera",
        "oper",
        "chamber",
    ]
)


def _split_and(part: str) -> list[str]:
    """*part* cut at "and" where both sides are whole names ("Chorus & Orchestra of X" is one)."""
    pieces = _AND.split(part)
    if len(pieces) == 1:
        return pieces
    names = [pieces[0]]
    marks = [match.group() for match in _AND.finditer(part)]
    for mark, piece in zip(marks, pieces[1:], strict=True):
        left, right = fold(names[-1]).split(), fold(piece).split()
        foreign = fold(mark.strip()) in ("e", "y", "i", "a", "en", "con", "com", "ja")
        whole = (
            len(right) >= 2
            and len(left) >= 2
            and right[0].strip(".") not in _COLLECTIVE
            and left[-1].strip(".")
            not in (
                {"of", "de", "der"}
                | (
                    _COLLECTIVE
                    if kind_of(names[-1]) != "person"
                    and kind_of(piece) != "person"
                    and right[-1] in _COLLECTIVE
                    and len(right) < 2
                    else frozenset()
                )
            )
        )
        tagged = _HOLD in names[-1] or _HOLD in piece
        if (whole and not (foreign and kind_of(part) != "person")) or (tagged and len(right) >= 1):
            names.append(piece)
        else:
            names[-1] = f"{names[-1]}{mark}{piece}"
    return names


def _one(text: str, brackets: list[str]) -> list[Person]:
    """One name with its brackets; an ensemble's bracket can hold its conductor."""
    numbers = [int(n) for n in re.findall(f"{_HOLD}(\\d+){_HOLD}", text)]
    name = re.sub(f"{_HOLD}\\d+{_HOLD}", " ", text)
    name = " ".join(name.split()).strip(" ,;:")
    roles: list[str] = []
    instruments: list[str] = []
    extra: list[Person] = []
    kind = kind_of(name)
    for number in numbers:
        inner = brackets[number]
        said = role_or_instrument(inner)
        if said is not None:
            roles.extend(said[0])
            instruments.extend(said[1])
        elif kind in ("ensemble", "choir") and len(inner.split()) >= 2:
            below = list(read_people(inner))
            for p in below:
                if p.kind == "person" and not p.roles:
                    p = replace(p, roles=("conductor",))
                extra.append(p)
    if not name:
        return extra
    if is_shouting(name):
        name = unshout(name)
    if "chorus master" in roles:
        kind = "person"
    # "Violin Anna Sorel" and "soprano Elin Starck": the instrument before the name.
    words = name.split()
    if len(words) >= 3 and not instruments and kind == "person":
        ahead = role_or_instrument(words[0])
        if ahead is not None and (ahead[0] or ahead[1]) and words[1][:1].isupper():
            roles.extend(ahead[0])
            instruments.extend(ahead[1])
            name = " ".join(words[1:])
        else:
            behind = role_or_instrument(words[-1])
            if behind is not None and len(words[-1]) > 3 and words[-1][:1].islower():
                roles.extend(behind[0])
                instruments.extend(behind[1])
                name = " ".join(words[:-1])
    if "ensemble" in roles:
        kind = "ensemble"
    if "choir" in roles:
        kind = "choir"
    return [
        Person(
            name,
            kind,
            tuple(instruments),
            tuple(r for r in roles if r not in ("ensemble", "choir")),
        ),
        *extra,
    ]


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
    hints: tuple[str, ...] = ()  # where a name without role is only matched, never added


@dataclass(frozen=True, slots=True)
class Cast:
    """The credits of a track and whether roles had to be inferred from the order of names."""

    credits: tuple[Credit, ...] = ()
    inferred: bool = False


def _is_composer(name: str, composers: frozenset[str]) -> bool:
    if not composers:
        return False
    from syncd.works.composers import table

    found = table().exact(name)
    return found is not None and found.entry.sort in composers


@lru_cache(maxsize=8192)
def cast_of(lists: Lists, composers: frozenset[str], solo_work: bool) -> Cast:
    """The credits that *lists* give. Names of *composers* (sort forms) are no performers.

    *solo_work* says that the work has a solo part (a concerto, an aria), so that one person with an
    orchestra is its soloist, not its conductor.
    """
    entries: list[Person] = []

    def add(person: Person) -> None:
        for number, have in enumerate(entries):
            if _same_name(have.name, person.name):
                name = have.name if len(have.name) >= len(person.name) else person.name
                entries[number] = Person(
                    name,
                    have.kind if have.kind != "person" or person.kind == "person" else person.kind,
                    tuple(dict.fromkeys((*have.instruments, *person.instruments))),
                    tuple(dict.fromkeys((*have.roles, *person.roles))),
                )
                return
        entries.append(person)

    def all_of(values: Iterable[str]) -> list[Person]:
        found = [p for value in values for p in _values_people(value)]
        return [p for p in found if not _is_composer(p.name, composers)]

    for value in lists.conductor:
        for p in read_people(value):
            add(replace(p, kind="person", roles=(*p.roles, "conductor")))
    for value in lists.ensemble:
        for p in read_people(value):
            add(replace(p, kind="choir" if p.kind == "choir" else "ensemble") if not p.roles else p)
    for value in lists.choir:
        for p in read_people(value):
            add(replace(p, kind="choir"))
    for value in lists.soloist:
        for p in read_people(value):
            add(replace(p, roles=(*p.roles, "soloist")))
    for p in all_of(lists.performer):
        add(p)
    artists = all_of(lists.artist) or []
    for p in artists:
        add(p)
    for p in all_of(lists.elsewhere):
        add(p)
    if not any(p.kind != "person" or "conductor" not in p.roles for p in entries):
        for p in all_of(lists.album_artist):
            add(p)
    else:
        # The album's artists only lend their full names and labels to the names that are there.
        for value in (*lists.album_artist, *lists.hints):
            for p in read_people(value):
                if any(_same_name(have.name, p.name) for have in entries):
                    add(p)
    inferred = _assign(entries, solo_work)
    credits: list[Credit] = []
    for person in entries:
        credits.extend(_credits(person))
    for value in lists.arranger:
        for p in read_people(value):
            credits.append(Credit(p.name, "arranger"))
    for value in lists.lyricist:
        for p in read_people(value):
            credits.append(Credit(p.name, "lyricist"))
    return Cast(tuple(dict.fromkeys(credits)), inferred)


def _values_people(value: str) -> tuple[Person, ...]:
    return read_people(value)


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
    large = [i for i in groups if not set(_WORDS.findall(fold(entries[i].name))) & _CHAMBER_WORDS]
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


_MINOR_ROLES = ("producer", "engineer", "composer")


def _credits(person: Person) -> list[Credit]:
    if person.kind in ("ensemble", "choir") and "conductor" not in person.roles:
        return [Credit(person.name, person.kind)]
    found: list[Credit] = []
    for role in dict.fromkeys(person.roles):
        if role in ("conductor", "arranger", "lyricist", "chorus master", "leader"):
            found.append(Credit(person.name, role))
    for instrument in dict.fromkeys(person.instruments):
        if instrument not in ("orchestra", "strings", "basso continuo"):
            found.append(Credit(person.name, "soloist", instrument))
    if (not found and not any(role in _MINOR_ROLES for role in person.roles)) or (
        "soloist" in person.roles
        and not person.instruments
        and not any(c.role == "soloist" for c in found)
    ):
        found.append(Credit(person.name, "soloist"))
    return found


def names_of(credits: Sequence[Credit], *roles: str) -> tuple[str, ...]:
    """Names in *credits* with one of *roles*, in order."""
    return tuple(dict.fromkeys(credit.name for credit in credits if credit.role in roles))
