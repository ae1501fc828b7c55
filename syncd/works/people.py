"""Lists of performers as taggers write them, read into names with what is said of each.

``Anna Sorel (violin), Harbour City Philharmonic, Yukiko Haranami`` are three names, of which the
list says that the first plays the violin. What kind of performer a name is comes from
``ensembles.py``, the words for what they do from ``player_roles.py``; the credits that follow from
all lists of a track are left to ``cast.py``.
"""

import re
from dataclasses import dataclass
from functools import lru_cache

from syncd.works.cjk import half_width_marks, has_cjk
from syncd.works.ensembles import kind_of
from syncd.works.player_roles import role_or_instrument
from syncd.works.text import fold, is_shouting, unshout, word_set

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
_LIST_SIGN = re.compile(r"[;|•\n\r\x00/\\–—-]|[fF][eEtT]")  # one is in each of them
_TIGHT_SLASH = re.compile(r"(?<=[^\W\d_]{2})/(?=[^\W\d_]{2})|(?<=\))/(?=\w)")
_AND = re.compile(
    r"\s+(?:&|and|und|et|e|y|i|a|och|og|en|ja|with|mit|avec|con|com|\+)\s+", re.IGNORECASE
)
_PAREN = re.compile(r"\s*[(\[]([^()\[\]]*(?:\([^()]*\)[^()\[\]]*)?)[)\]]")
_WHO_LEADS = (
    r"dirigent(?:in|inne|ka|ica|a|e)?|dyrygent(?:ka)?|conduct(?:or|ress)|dirett(?:ore|rice)|"
    r"direttore d'orchestra|direttrice d'orchestra|direct(?:or|ora|rice)(?: musicale?)?|"
    r"(?:chef|cheffe) d'orchestre|cheffe|maestr[oa] direttore|дирижёр|дирижер|диригент|"
    r"kapellimestari|karmester|regente|(?:künstlerische |musikalische )?leiter(?:in)?"
)
_LED = (
    r"(?:conducted|directed|dirigiert|dirigé|dirigée|diretta|diretto|dirigida|dirigido|geleitet|led)\s+"
    r"(?:by|von|par|da|por)|musikalische leitung|gesamtleitung|unter der leitung von|unter|"
    r"u\.\s?d\.\s?l\.|sous la direction de|bajo la dirección de|sotto la direzione di|"
    r"o\.\s?l\.\s?v\.|onder leiding van|pod batutą|под управлением|за пультом"
)
_SHORT = r"(?:dir|dirig|cond|ltg|joht|kapellm|karm|vez|dyr|kond|дир)\."
"""Abbreviated words for who conducts, with the dot that tells them from names."""
_LED_BY = re.compile(
    rf"^(?:{_LED}|{_WHO_LEADS}|{_SHORT}|dir|cond|direction musicale|direction|direktion|ltg|"
    r"leitung|dirigeert|olv|vezényel)"
    r"(?:\s*:\s*|\s+)(?P<name>\S.*)$",
    re.IGNORECASE,
)
_LED_INLINE = re.compile(
    rf"[\s,]+(?:{_LED}|{_SHORT}|leitung:|(?:{_WHO_LEADS})\s*:|"
    r"dirigent(?:in|inne|ka|ica|e)?|dyrygent(?:ka)?|дирижёр|дирижер)"
    r"(?:(?<=[.:])|(?!\w))\s*(?=\S)",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Person:
    """One name of a list: ``kind`` is person, ensemble, choir or unknown; roles as the list says."""  # noqa: E501

    name: str
    kind: str
    instruments: tuple[str, ...] = ()
    roles: tuple[str, ...] = ()

    def also(self, roles: tuple[str, ...], instruments: tuple[str, ...] = ()) -> "Person":
        """The same name with more said of it."""
        return Person(
            self.name, self.kind, (*self.instruments, *instruments), (*self.roles, *roles)
        )


@lru_cache(maxsize=16384)
def read_people(text: str) -> tuple[Person, ...]:
    """The names in one list, in its order, with what it says of each."""
    if fold(text).strip() in _NOBODY:
        return ()
    text = _LED_INLINE.sub(" ; conductor: ", half_width_marks(text))
    if has_cjk(text):
        text = _BEHIND_GROUP.sub(", ", text)
    if ")" in text or "]" in text:
        text = _GLUED_BRACKET.sub(_parted, text)
    shielded, brackets = _shield(text)
    chunks = [c for part in _marked_parts(shielded) for c in _TIGHT_SLASH.split(part) if c.strip()]
    people: list[Person] = []
    label: tuple[tuple[str, ...], tuple[str, ...]] | None = None
    for number, chunk in enumerate(chunks):
        said = role_or_instrument(chunk.strip(" ,;:")) if _HOLD not in chunk else None
        if said is None and number and "," in chunk:
            # "Name - lute, Name - oboe" and "Lute - Name, Oboe - Name"
            head, _, rest = chunk.partition(",")
            played = role_or_instrument(head.strip()) if _HOLD not in head else None
            if played is not None and people and people[-1].kind == "person" and label is None:
                people[-1] = people[-1].also(*played)
                people.extend(_chunk(rest.strip(" ,;:"), brackets))
                continue
            names, _, tail = chunk.rpartition(",")
            next_label = role_or_instrument(tail.strip()) if label is not None else None
            if next_label is not None and label is not None:
                people.extend(_labelled(names.strip(" ,;:"), label, brackets))
                label = next_label
                continue
        if said is not None and people and people[-1].kind == "person":
            # "Name - lute": what he plays stands behind a mark of the list.
            people[-1] = people[-1].also(*said)
        elif said is not None and not people and number + 1 < len(chunks):
            label = said  # "Lute - Name"
        elif label is not None:
            people.extend(_labelled(chunk.strip(" ,;:"), label, brackets))
            label = None
        else:
            people.extend(_chunk(chunk.strip(" ,;:"), brackets))
    return tuple(person for person in people if fold(person.name) not in _NOBODY and person.name)


def _marked_parts(text: str) -> list[str]:
    return _LIST_MARK.split(text) if _LIST_SIGN.search(text) is not None else [text]


_BEHIND_GROUP = re.compile(r"(?<=[団团樂楽隊])\s+(?=[^\W\d_])")  # one space parts the names
_GLUED_BRACKET = re.compile(r"[(\[](?P<said>[^()\[\]]+)[)\]]\s*(?P<next>[^\W\d_])")


def _parted(match: re.Match[str]) -> str:
    """A bracket that says what one plays, with a comma before the next name."""
    follows = match.group("next")
    if follows.islower() or role_or_instrument(match.group("said")) is None:
        return match.group()
    return f"({match.group('said')}), {follows}"


_HOLD = "\ue000"
_HELD = re.compile(f"{_HOLD}(\\d+){_HOLD}")


def _shield(text: str) -> tuple[str, list[str]]:
    """*text* with each bracket replaced by a private-use mark, and the brackets' contents."""
    brackets: list[str] = []

    def keep(match: re.Match[str]) -> str:
        brackets.append(match.group(1).strip())
        return f"{_HOLD}{len(brackets) - 1}{_HOLD}"

    text = text.replace(_HOLD, "")
    return _PAREN.sub(keep, text) if ")" in text or "]" in text else text, brackets


def _chunk(chunk: str, brackets: list[str]) -> list[Person]:
    """The names between two marks of a list: what commas, colons and "and" part is told here."""
    if not chunk:
        return []
    if ":" in chunk:
        return _around_colon(chunk, brackets)
    led = _LED_BY.match(chunk)
    if led is not None:
        inner = _chunk(led.group("name"), brackets)
        if inner:
            inner[0] = inner[0].also(("conductor",))
        return inner
    parts = [part.strip() for part in re.split(r"\s*,\s+|,(?=\S)", chunk) if part.strip()]
    if len(parts) == 2 and _is_inverted(*parts):
        parts = [f"{parts[1]} {parts[0]}"]  # "Solvang, Henrik"
    people: list[Person] = []
    for part in parts:
        said = role_or_instrument(part) if _HOLD not in part else None
        if said is not None and people:
            # "Name, piano"; several names before one instrument share nothing.
            people[-1] = people[-1].also(*said)
            continue
        if people and (behind := _role_and_name(part)) is not None:
            people[-1] = people[-1].also(*behind[0])
            part = behind[1]
        led = _LED_BY.match(part)
        if led is not None:
            people.extend(p.also(("conductor",)) for p in _one(led.group("name"), brackets))
            continue
        for name in _split_and(part):
            people.extend(_one(name, brackets))
    return people


def _role_and_name(part: str) -> tuple[tuple[tuple[str, ...], tuple[str, ...]], str] | None:
    """What the name before does, and the next name, in "sopran & Even Skarstad"."""
    mark = _AND.search(part)
    if mark is None or _HOLD in part[: mark.start()]:
        return None
    said = role_or_instrument(part[: mark.start()])
    return None if said is None or not any(said) else (said, part[mark.end() :])


def _around_colon(chunk: str, brackets: list[str]) -> list[Person]:
    """The names of a text with a colon: a label stands before it, or an orchestra or conductor."""
    head, _, rest = (part.strip() for part in chunk.partition(":"))
    before, comma, label = head.rpartition(",")
    if comma and role_or_instrument(label) is not None:
        # "Orquesta Ciudad de Alhamar, director: Rafael Montiel"
        label = f"{label.strip()}: {rest}"
        return _chunk(before.strip(), brackets) + _chunk(label, brackets)
    said = role_or_instrument(head)
    if said is not None and rest:
        named, _, more = rest.partition(":")
        first, comma, label = named.rpartition(",")
        if more and comma and role_or_instrument(label) is not None:
            # "Sopran: Lara Kint, Klavier: Jan Venn"
            following = f"{label.strip()}: {more.strip()}"
            return _labelled(first, said, brackets) + _chunk(following, brackets)
        return _labelled(rest, said, brackets)
    played, _, more = rest.partition(",")
    said = role_or_instrument(played.strip()) if _HOLD not in played else None
    if said is not None:  # "Lara Kint: piano, Jan Venn: violin"
        return _labelled(head, said, brackets) + _chunk(more.strip(), brackets)
    left, right = _chunk(head, brackets), _chunk(rest, brackets)
    if left and right:
        # "Pauline Achterberg: Northmoor Symphony Orchestra"
        if left[-1].kind == "person" and right[0].kind in ("ensemble", "choir"):
            left[-1] = left[-1].also(("conductor",))
        elif right[-1].kind == "person" and left[0].kind in ("ensemble", "choir"):
            right[-1] = right[-1].also(("conductor",))
    return left + right


def _labelled(
    names: str, said: tuple[tuple[str, ...], tuple[str, ...]], brackets: list[str]
) -> list[Person]:
    """The *names* behind a label; who conducts, sings or plays beside an orchestra is a person."""
    people = _chunk(names.strip(), brackets)
    of_persons = any(person.kind == "person" for person in people)
    return [
        person.also(*said) if person.kind == "person" or not of_persons else person
        for person in people
    ]


def _is_inverted(family: str, given: str) -> bool:
    """Whether two texts around a comma are one person's names, the family name first."""
    return (
        len(family.split()) == 1
        and len(given.split()) <= 2
        and role_or_instrument(given) is None
        and role_or_instrument(family) is None
        and kind_of(family) == "person"
        and kind_of(given) == "person"
        and _HOLD not in family
    )


_COLLECTIVE = word_set(
    """
    orchestra orchester orchestre chorus choir chor choeur coro strings soloists solisten brass
    winds friends freunde amis ensemble chœur singers players band boys girls orch opera oper
    chamber
    """
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
            and left[-1].strip(".") not in ("of", "de", "der")
        )
        tagged = _HOLD in names[-1] or _HOLD in piece
        if (whole and not (foreign and kind_of(part) != "person")) or (tagged and len(right) >= 1):
            names.append(piece)
        else:
            names[-1] = f"{names[-1]}{mark}{piece}"
    return names


def _one(text: str, brackets: list[str]) -> list[Person]:
    """One name with its brackets; an ensemble's bracket can hold its conductor."""
    numbers: list[int] = []
    if _HOLD in text:
        numbers = [int(number) for number in _HELD.findall(text)]
        text = _HELD.sub(" ", text)
    name = " ".join(text.split()).strip(" ,;:")
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
            for p in read_people(inner):
                unsaid = p.kind == "person" and not p.roles
                extra.append(p.also(("conductor",)) if unsaid else p)
    if not name:
        return extra
    if is_shouting(name):
        name = unshout(name)
    if "chorus master" in roles:
        kind = "person"
    if not instruments and kind == "person":
        name, said = _label_beside(name)
        roles.extend(said[0])
        instruments.extend(said[1])
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


_SHORT_LABELS = word_set("pf vn vc cl hpd ob fl hn gtr sop ten bar")
"""Short words of programmes for who plays what; in small letters they are no part of a name."""


def _label_beside(name: str) -> tuple[str, tuple[tuple[str, ...], tuple[str, ...]]]:
    """*name* without the role or instrument at its start or end, and that.

    "Violin Anna Sorel", "soprano Elin Starck", "Anna Sorel violin".
    """
    words = name.split()
    if len(words) == 2 and has_cjk(name):
        for label, who in ((words[1], words[0]), (words[0], words[1])):
            told = role_or_instrument(label)
            if told is not None:
                return who, told
    if len(words) >= 3:
        ahead = role_or_instrument(words[0])
        if ahead is not None and any(ahead) and words[1][:1].isupper():
            return " ".join(words[1:]), ahead
        behind = role_or_instrument(words[-1])
        eastern = behind is not None and has_cjk(words[-1])
        short = words[-1] in _SHORT_LABELS
        small = len(words[-1]) > 3 and words[-1][:1].islower()
        if behind is not None and (eastern or short or small):
            return " ".join(words[:-1]), behind
    return name, ((), ())
