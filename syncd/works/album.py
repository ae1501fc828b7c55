"""What an album's title says: composers, one work or several, performers.

Whether the album *is* one work, so that its tracks are movements, is answered in degrees
(:attr:`AlbumReading.level`); the tracks have the last word (grouping).
"""

import re
from dataclasses import dataclass, replace
from functools import lru_cache

from syncd.works.abbreviations import spelled_out
from syncd.works.album_composers import Share, read_shares, tells_of_many, without_dedications
from syncd.works.cjk import to_western
from syncd.works.composer_pair import is_theme_of
from syncd.works.composers import Match, table
from syncd.works.ensembles import kind_of
from syncd.works.known_works import KnownWork, by_title, known_works
from syncd.works.people import read_people
from syncd.works.player_roles import role_or_instrument
from syncd.works.separators import split_title
from syncd.works.text import fold, title_key
from syncd.works.title import read_title
from syncd.works.words.albums import COLLECTIVE
from syncd.works.words.common_titles import COMMON_TITLES
from syncd.works.words.compounds import compound
from syncd.works.words.forms import FORMS, SECTION_FORMS
from syncd.works.words.linking import FOR_WORDS
from syncd.works.words.performers import CHOIR_WORDS, ENSEMBLE_WORDS
from syncd.works.worktitle.reader import read_work
from syncd.works.worktitle.reading import WorkReading

_DISC_REMARK = re.compile(
    r"\s*[-–,:]?\s*[(\[]?\s*\b(?:cd|disc|disk|disque|disco|dvd|lp)\s*\.?\s*#?\d{1,3}(?:\s*(?:of|/|von)\s*\d+)?\s*[)\]]?\s*$",
    re.IGNORECASE,
)
_TRAILING_REMARK = re.compile(
    r"\s*[(\[](?:live|remaster\w*|deluxe[^)\]]*|\d{4}[^)\]]*|hi-?res[^)\]]*|24[ -]?bit[^)\]]*|"
    r"sacd|mono|stereo|"
    r"complete|highlights|auszüge|extraits|excerpts|querschnitt|gesamtaufnahme|flac|mp3)[)\]]\s*$",
    re.IGNORECASE,
)
_SETS = frozenset({"Prelude", "Étude", "Caprice", "Song", "Songs", "Impromptu", "Bagatelle", "Variations",  # noqa: E501
                   "Piece", "Pieces", "Dance", "Invention", "Mazurka", "Nocturne", "Waltz", "Intermezzo",  # noqa: E501
                   "Slavonic Dances", "Hungarian Dances", "Symphonic Dances", "Madrigal", "Motet", "Concert Étude",  # noqa: E501
                   "Romance", "Capriccio", "Humoresque", "Psalm", "Album Leaves", "Piano Pieces", "Rhapsody"})  # fmt: skip  # noqa: E501


@dataclass(frozen=True, slots=True)
class AlbumReading:
    """An album's title taken apart.

    ``level`` of ``work``: 3 it has a number, key or catalogue number; 2 it is a known work; 1 it may
    be a work, for all its title says; 0 no single work. ``works`` are all works named, ``shares`` whose
    they are; ``about`` says that the title is about a composer and does not list what is played,
    ``excerpts`` that only parts of the work are there.
    """  # noqa: E501

    text: str = ""
    composers: tuple[Match, ...] = ()
    prefix: Match | None = None
    family: str | None = None
    work: WorkReading | None = None
    level: int = 0
    works: tuple[WorkReading, ...] = ()
    people: tuple[str, ...] = ()
    instruments: tuple[str, ...] = ()
    only_composer: bool = False
    shares: tuple[Share, ...] = ()
    about: bool = False
    excerpts: bool = False


_PARTS = (
    r"(?:(?:gro(?:ß|ss)er?|grands?|large|larges|kurzer|the|opera|favourite|famous|celebri|scelti|les)\s+)?"
    r"(?:highlights?|h(?:ö|oe)hepunkte|ausz(?:ü|ue)ge|ausschnitte|(?:opern)?querschnitt|szenen|szene|arien|chöre|"
    r"extraits|scènes|airs|airs célèbres|morceaux choisis|excerpts?|selections?|scenes|arias|choruses|"  # noqa: E501
    r"selezione|brani|pagine scelte|arie|scene|estratti|momenti|fragmentos|selecci(?:ó|o)n|escenas|arias|"  # noqa: E501
    r"romanzas|extractos|destaques|trechos|hoogtepunten|fragmenten|aria's|h(?:ø|o)ydepunkter|"
    r"h(?:ø|o)jdepunkter|h(?:ö|o)jdpunkter|utdrag|uddrag|kohokohtia|otteita|pr(?:ů|u)řez|v(?:ý|y)b(?:ě|e)r|"
    r"uk(?:á|a)zky|arie|sc(?:é|e)ny|przekrój|fragmenty|sceny|keresztmetszet|r(?:é|e)szletek|избранное|"
    r"фрагменты|сцены|отрывки|арии|ハイライト|抜粋|选段|选曲|精选)"
)
# One of them is in whatever the expressions below find; most titles have none.
_SIGNS_OF_EXCERPTS = (
    "highl", "hep", "dep", "jdp", "ausz", "ausschn", "querschn", "szen", "arie", "chör", "extra",
    "scè", "airs", "morceaux", "excerpt", "sele", "scen", "aria", "chorus", "brani", "pagine",
    "estratti", "moment", "fragment", "escena", "romanza", "destaque", "trecho", "hoogtep",
    "utdrag", "uddrag", "kohok", "otteita", "růř", "rurez", "ruřez", "růrez", "výb", "vyb", "uk",
    "scé", "przekr", "keresztm", "szlet", "избран", "фрагм", "сцен", "отрыв", "арии", "ハイライト",
    "抜粋", "选", "精选", "選",
)  # fmt: skip
_PARTS_LIST = rf"{_PARTS}(?:\s*(?:,|&|\+|und|and|et|e|y|en|och|og|i|a|и)\s*{_PARTS}){{0,2}}"
_EXCERPTS_BEHIND = re.compile(
    rf"^(?P<whole>.{{3,}}?)\s*(?:[-–—:,;/|]\s*|\s[(\[]|\s)\s*{_PARTS_LIST}\s*[)\]]?$", re.IGNORECASE
)
_EXCERPTS_BEFORE = re.compile(
    rf"^(?P<head>[^:]{{3,40}}:\s*)?{_PARTS_LIST}\s+(?:(?:from|aus|de|da|dal|dalla|dall|dai|du|des|durch|z|ze|iz|из|"
    r"fra|från|uit|til|till)\s+|(?:d|dall|de l)['’]\s*)(?:the opera\s+|der oper\s+|l['’]op(?:é|e)ra\s+)?"  # noqa: E501
    r"[\"“„«]?(?P<whole>.{3,}?)[\"”“»]?$",
    re.IGNORECASE,
)


@lru_cache(maxsize=4096)
def whole_of_excerpts(text: str) -> str | None:
    """The opera (or other known work) whose highlights an album's title says that it has, or None.

    "Verdi: La traviata - Highlights", "Szenen aus Carmen": the composer stays before the work.
    """
    small = text.lower()
    if not any(sign in small for sign in _SIGNS_OF_EXCERPTS):
        return None
    found = _EXCERPTS_BEFORE.match(text)
    head = ""
    if found is not None:
        head = found.group("head") or ""
    else:
        found = _EXCERPTS_BEHIND.match(text)
    if found is None:
        return None
    whole = found.group("whole").strip(' "“”„«»')
    pieces = split_title(whole)
    last = (pieces[-1][0] if pieces else whole).strip(' "“”„«»')
    leading = table().leading(last)
    names = [last]
    if title_key(last) not in known_works().by_title and leading is not None and len(pieces) < 2:
        whole = f"{leading[0].entry.name}: {_behind_name(last, leading[1])}"
    if leading is not None:
        names.append(_behind_name(last, leading[1]))
    if not any(title_key(name) in known_works().by_title for name in names if name):
        return None
    return f"{head}{whole}"


def _behind_name(text: str, length: int) -> str:
    rest = text[length:].strip(" ,:-–—")
    return rest.removeprefix("'s ").removeprefix("’s ").strip()


def _without_disc(text: str) -> str:
    """*text* without the disc's number that may end it."""
    end = text.rstrip()[-1:]
    return _DISC_REMARK.sub("", text) if end.isdecimal() or end in (")", "]") else text


def _without_remark(text: str) -> str:
    """*text* without a remark on the edition in brackets at its end."""
    return _TRAILING_REMARK.sub("", text) if text.rstrip()[-1:] in (")", "]") else text


@lru_cache(maxsize=4096)
def clean_album(text: str) -> str:
    """*text* without a disc's number and remarks on the edition at its end."""
    for _ in range(3):
        shorter = _without_remark(_without_disc(text)).strip(" -–,;:")
        if not shorter or shorter == text:
            break
        text = shorter
    return text


@lru_cache(maxsize=4096)
def read_album(original: str) -> AlbumReading:
    """Take an album's title apart. Never fails."""
    text = spelled_out(to_western(clean_album(original)))
    if not text:
        return AlbumReading(original)
    edition = spelled_out(to_western(_without_disc(original)))
    opera = whole_of_excerpts(edition)
    if opera is None and edition != text:
        opera = whole_of_excerpts(text)
    if opera is not None:
        return replace(_read(original, opera), excerpts=True)
    return _read(original, text)


def _read(original: str, text: str) -> AlbumReading:
    """The reading of *text*, which is the title *original* without remarks."""
    whole = table().exact(text)
    if whole is not None:
        return AlbumReading(original, (whole,), whole, only_composer=True)
    if table().leading_family(text) == len(text):
        return AlbumReading(original, family=text, only_composer=True)
    several = _composers_only(text)
    if several:
        shares = tuple(Share(match) for match in several)
        return AlbumReading(original, several, None, only_composer=True, shares=shares)
    reading = read_title(text)
    prefix, family = reading.composer, reading.family
    composers: list[Match] = [prefix] if prefix is not None else []
    people = list(reading.people)
    segments = list(reading.segments)
    kept: list[str] = []
    for segment in segments:
        if kept and _is_people(segment):
            people.append(segment)
        else:
            kept.append(segment)
    pieces = split_title(text) if prefix is None else []
    if len(pieces) > 1:
        first = pieces[0][0].strip()
        several = _composers_only(first)
        if several:
            composers.extend(several)
            kept = kept[1:] if kept and kept[0] == first else kept
    for found in table().mentioned(without_dedications(text)):
        if all(found.entry is not have.entry for have in composers):
            composers.append(found)
    if prefix is None and not composers:
        head = table().leading(text)
        if head is not None:
            match, length = head
            rest = text[length:].strip(" ,:;-–'’")
            rest = rest[2:] if rest.startswith("s ") else rest
            if _may_follow_composer(rest):
                composers.append(match)
                prefix = match
                kept = [rest]
        elif family is None and (length := table().leading_family(text)):
            rest = text[length:].strip(" ,:;-–'’")
            if _may_follow_composer(rest):  # "Scarlatti Sonatas"
                family, kept = text[:length], [rest]
    if prefix is not None and kept and not is_theme_of("", f" {kept[0]}"):
        prefix, kept, composers = _played_by_prefix(prefix, kept, composers)
    works = [read_work(part) for segment in kept for part in _parts(segment)]
    work, level = _the_work(kept, works, prefix, composers)
    if level == 1 and _OF_SEVERAL.search(fold(text)) is not None:
        work, level = None, 0
    if not people:
        people.extend(_people_in_bracket(text))
    instruments = tuple(
        dict.fromkeys(name for one in works if one.form for name in one.instruments)
    )
    return AlbumReading(
        text=original,
        composers=tuple(composers),
        prefix=prefix,
        family=family,
        work=work,
        level=level,
        works=tuple(w for w in works if w.strength >= 1 or w.title),
        people=tuple(people),
        instruments=instruments,
        shares=read_shares(text),
        about=bool(composers) and tells_of_many(text),
    )


_OF_SEVERAL = re.compile(r"\b(?:hommages|homages|omaggi|homenajes|tombeaux|tributes|hommagen)\b")


def _played_by_prefix(
    prefix: Match, kept: list[str], composers: list[Match]
) -> tuple[Match, list[str], list[Match]]:
    """Prefix, pieces and composers of "Bernstein: Mahler Symphony No. 1": the second composed."""
    inner = table().leading(kept[0])
    if inner is None or inner[0].entry is prefix.entry:
        return prefix, kept, composers
    rest = kept[0][inner[1] :]
    if is_theme_of(inner[0].entry.name, rest) or read_work(rest.strip(" ,:")).strength < 2:
        return prefix, kept, composers
    match = replace(inner[0], confidence=0.7)
    others = [one for one in composers if one.entry is not prefix.entry]
    return match, [_behind_name(kept[0], inner[1]), *kept[1:]], [match, *others]


def _may_follow_composer(rest: str) -> bool:
    """Whether *rest* can stand behind a composer's name: "Sonatas", "The Complete Works", "2"."""
    words = fold(rest).split()
    return rest.isdigit() or any(
        word.strip(".,:&") in COLLECTIVE or word in FORMS or compound(word) for word in words
    )


_NAMES_MARK = re.compile(r"\s*(?:[/,;&+|•]|\s[-–—]\s|\band\b|\bund\b|\bet\b|\be\b|\by\b)\s*")
_BETWEEN_NAMES = re.compile(r"[/,;&+|•–—-]|\W(?:and|und|et|e|y)\b")  # found quickly


def _composers_only(text: str) -> tuple[Match, ...]:
    """The composers if *text* is nothing but their names ("Berg / Stravinsky", "Reger & Wolf")."""
    if _BETWEEN_NAMES.search(text) is None:
        return ()
    parts = [p for p in _NAMES_MARK.split(text) if p]
    if not 2 <= len(parts) <= 8:
        return ()
    found = [table().exact(part) for part in parts]
    return tuple(match for match in found if match is not None) if all(found) else ()


_LAST_BRACKET = re.compile(r"[(\[]([^()\[\]]{4,})[)\]]\s*$")


def _people_in_bracket(text: str) -> list[str]:
    """Performers in brackets at the end of an album's title: "[Linden Quartet]"."""
    found = _LAST_BRACKET.search(text)
    if found is None or read_work(found.group(1)).strength >= 2:
        return []
    if fold(found.group(1)).partition(" ")[0] in FOR_WORDS:
        return []  # "(for violin & piano)"
    people = read_people(found.group(1))
    told = any(p.kind in ("ensemble", "choir") or p.instruments or p.roles for p in people)
    return [found.group(1)] if told else []


def _is_people(segment: str) -> bool:
    folded = fold(segment)
    if read_work(segment).strength >= 2:
        return False
    words = re.findall(r"[^\W_]+", folded)
    if kind_of(segment.partition(",")[0].strip()) == "ensemble" and not FORMS.keys() & set(words):
        return True
    if any(word in ENSEMBLE_WORDS or word in CHOIR_WORDS for word in words):
        return not any(word in FORMS for word in words) or len(words) > 3
    bracket = re.search(r"\(([^()]*)\)", segment)
    if bracket is not None and role_or_instrument(bracket.group(1)) is not None:
        return True
    tail = segment.rpartition(",")[2]
    return bool(tail) and tail != segment and role_or_instrument(tail) is not None


def _parts(segment: str) -> list[str]:
    """Works listed in one piece of an album's title: "Clarinet Concerto; Eclogue", "A & B"."""
    parts = [
        part.strip()
        for part in re.split(r"\s*[;/|+]\s*|\s+&\s+(?=[A-ZÀ-Þ])", segment)
        if part.strip()
    ]
    out: list[str] = []
    for part in parts:
        pieces = [p.strip() for p in re.split(r",\s+(?=[A-ZÀ-Þ])", part) if p.strip()]
        readings = [read_work(piece) for piece in pieces]
        plain = sum(1 for r in readings if r.title and not (r.raws and not r.form and not r.proper))
        only_facts = any((r.raws or r.key) and not r.proper and not r.form for r in readings)
        if (
            len(pieces) > 1
            and plain == len(pieces)
            and not only_facts
            and not any(words_of_book(piece) for piece in pieces[1:])
        ):
            out.extend(pieces)
        else:
            out.append(part)
    return out


def words_of_book(text: str) -> bool:
    """Whether *text* is a volume of a work ("Book I", "Livre 2", "Act 1")."""
    words = fold(text).split()
    return bool(words) and words[0] in (
        "book", "livre", "buch", "libro", "band", "heft", "teil", "part", "act", "akt", "vol", "op", "bwv", "k",  # noqa: E501
    )  # fmt: skip


_AND_OTHERS = re.compile(
    r"(?:&|\+|\b(?:and|und|et|e|ed|y|en|och|og|a|i|and some|mit|with))\s+"
    r"(?:other|andere|weitere|autres|altr[ei]|otr[ao]s|andere|andra|andre|dalsi|inne)\b"
)


def _known(composer: str | None, title: str) -> KnownWork | None:
    """The known work of an album's title; "Evening" without a composer means none."""
    if composer is None and title_key(title) in COMMON_TITLES:
        return None
    return by_title(composer, title)


def _the_work(
    kept: list[str], works: list[WorkReading], prefix: Match | None, composers: list[Match]
) -> tuple[WorkReading | None, int]:
    named = [work for work in works if work.title or work.raws]
    composer = prefix.entry.sort if prefix is not None else None
    whole = read_work(", ".join(kept)) if kept else None
    if whole is not None and len(kept) >= 1:
        known = _known(composer, whole.proper or whole.title)
        if known is not None and not (whole.plural and whole.form not in _SETS and whole.range):
            return whole, 2
    if (
        (len(kept) > 1 or len(named) > 1)
        and whole is not None
        and len({(raw.prefix, raw.main) for raw in whole.raws}) >= 1
        and not any(mark in kept[0] + kept[-1] for mark in ";&/+")
        and (len(kept) > 1 or any(words_of_book(work.text) for work in named[1:]))
        and not whole.range
        and sum(1 for work in named if work.raws) == 1
        and named[-1].raws
        and not any(work.form and work.number is not None for work in named[:-1])
    ):
        return whole, 3  # "Années de pèlerinage, Deuxième année: Italie, S. 161"
    if len(named) != 1:
        if (
            len(kept) == 1
            and whole is not None
            and len(whole.raws) >= 1
            and not whole.range
            and whole.form
        ):
            return whole, 3
        if (
            len(named) > 1
            and named[0].raws
            and all(not w.raws and w.strength == 0 for w in named[1:])
        ):
            # "Symphony No. 5, Op. 67, Live in Altenried"
            return named[0], 1
        return None, 0
    work = named[0]
    if work.range:
        return None, 0
    if work.plural:
        if (work.raws or "Book" in work.title) and (work.form in _SETS or work.form is None):
            return work, 3
        if work.count and work.form in _SETS:
            return work, 1
        return None, 0
    if _AND_OTHERS.search(fold(work.text)) is not None:
        return None, 0
    if work.strength >= 2:
        return work, 3
    words = re.findall(r"[^\W_]+", fold(work.title))
    if any(word in COLLECTIVE for word in words):
        return None, 0
    if _known(composer, work.title) is not None:
        return work, 2
    if work.structured and work.form is not None and (work.key or work.form not in SECTION_FORMS):
        return work, 2
    return work, 1
