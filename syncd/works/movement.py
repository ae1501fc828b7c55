"""Movements: numerals and headings at the head of a title, tempo words, acts and scenes."""

import re
from functools import lru_cache

from syncd.works.numbers.raw import RawNumber
from syncd.works.numbers.reading import numbers_in
from syncd.works.text import fold
from syncd.works.tokens import Sort, tokenize
from syncd.works.value import plain_value
from syncd.works.words.movements import ACT_WORDS, SCENE_WORDS, STRONG_TEMPO, TEMPO_STARTS
from syncd.works.words.numerals import ORDINALS, roman


@plain_value
class MovementReading:
    """What a stretch of text says about a movement.

    ``firm`` says that the number is written as a movement's number ("II.", "2. Satz"), not that it
    merely stands before the title ("07 Ungeduld"). ``heading`` is an act, scene or part above it,
    ``inner`` a number within that heading.
    """

    number: int | None
    title: str | None
    firm: bool = False
    heading: str | None = None
    tempo: bool = False
    raws: tuple[RawNumber, ...] = ()
    kind: str = ""
    inner: int | None = None
    marked: bool = False  # a digit with a mark or a leading zero, as track numbers are written


_ROMAN_HEAD = re.compile(
    r"^(?P<n>X{0,3}(?:IX|IV|V?I{0,3})|x{0,3}(?:ix|iv|v?i{0,3}))(?P<letter>[a-d])?"
    r"(?P<mark>\s*[.:)]\s*|\s*[-–—]\s*|\s*,\s+|\s+|$)(?P<rest>.*)$",
    re.DOTALL,
)
_DIGIT_HEAD = re.compile(
    r"^(?P<n>\d{1,3})(?P<letter>[a-d](?=[.:)\s]))?(?P<mark>\s*[.:)]\s*|\s*[-–—]\s*|\s+|$)(?P<rest>.*)$",
    re.DOTALL,
)
_NUMBER_SIGNS = r"no|nr|n°|nº|n\.|num|núm|numero|numéro|nummer|number|№|č|č\.|#"
_NUMBER_HEAD = re.compile(
    rf"^(?:{_NUMBER_SIGNS})\s*\.?\s*[°º]?\s*(?P<n>\d{{1,3}})"
    r"(?P<letter>[a-d](?=[.:)\s,]))?\s*(?P<mark>[.:,)\-–—]?)\s*(?P<rest>.*)$",
    re.IGNORECASE | re.DOTALL,
)
_SATZ_ORDINALS = (
    "first|second|third|fourth|fifth|erster|zweiter|dritter|vierter|premier|"
    "deuxième|troisième|quatrième|primo|secondo|terzo|quarto"
)
_SATZ_HEAD = re.compile(
    rf"^(?P<n>\d{{1,2}}|[IVX]+|{_SATZ_ORDINALS})\s*\.?\s*(?:st|nd|rd|th|er|ère|e|ème|º|°)?\s*\.?\s*"
    r"(?:satz|movement|mvt|mvmt|mvmnt|mov|mouvement|movimento|movimiento|věta|część|часть|sats)\b\.?"
    r"\s*[:.,\-–—]?\s*(?P<rest>.*)$",
    re.IGNORECASE | re.DOTALL,
)
_MOVEMENT_WORDS = "movement|mvt|mvmt|mvmnt|mov|satz|mouvement|movimento|movimiento|věta"
_MOVEMENT_HEAD = re.compile(
    rf"^(?:{_MOVEMENT_WORDS})\.?\s*(?:no\.?\s*)?"
    r"(?P<n>\d{1,2}|[IVXivx]+)\b\s*[.:,)\-–—]*\s*(?P<rest>.*)$",
    re.IGNORECASE | re.DOTALL,
)
_PART_WORDS = (
    "part|parte|partie|teil|pars|część|часть|book|tableau|bild|scene|szene|scène|scena|"
    "act|akt|acte|atto|acto|aufzug|jednání|dějství|действие|картина|quadro|cuadro|prologue|prolog|"
    "prologo|epilogue|epilog"
)
_PART_HEAD = re.compile(
    rf"^(?P<head>(?:{_PART_WORDS})\s*\.?\s*(?P<n>\d{{1,2}}|[IVX]+|one|two|three|four|five|i|ii|iii|iv|v|"
    r"première|premiere|deuxième|seconda|secondo|prima|primo|erster|zweiter|terzo|quarto|seconde|"
    r"first|second|third)?)(?P<mark>\s*[:.,;\-–—/]+\s*|\s*$)(?P<rest>.*)$",
    re.IGNORECASE | re.DOTALL,
)
_PART_ORDINALS = (
    "première|premiere|premier|deuxième|troisième|quatrième|seconde|"
    "erster|erste|erstes|zweiter|zweite|zweites|dritter|dritte|drittes|vierter|first|second|third|"
    "fourth|fifth|prima|seconda|terza"
)
_PART_HEAD_REVERSED = re.compile(
    rf"^(?P<head>(?P<n>\d{{1,2}}|[IVX]+|{_PART_ORDINALS})\s*\.?\s*(?:part|parte|partie|teil|abteilung|act|akt|acte|atto|aufzug|"
    r"scene|szene|scène|bild|tableau|jednání|dějství|действие|картина|felvonás))"
    r"(?P<mark>\s*[:.,;\-–—/]+\s*|\s*$)(?P<rest>.*)$",
    re.IGNORECASE | re.DOTALL,
)
# "IV. Scène" of a suite: a numeral with a dot numbers a movement that is called so.
_NUMBERED_SCENE = re.compile(
    r"^[IVX]+\s*\.\s*(?:scene|szene|scène|scena|bild|tableau|картина|quadro)\b(?!\s*\d)\s*(?:$|[(\[–—-])",
    re.IGNORECASE,
)
_HEADS = (
    (_SATZ_HEAD, "movement"),
    (_MOVEMENT_HEAD, "movement"),
    (_PART_HEAD, "part"),
    (_PART_HEAD_REVERSED, "part"),
    (_NUMBER_HEAD, "number"),
)
_FIRST_WORDS = (_SATZ_ORDINALS, _MOVEMENT_WORDS, _PART_WORDS, _PART_ORDINALS, _NUMBER_SIGNS)
_HEAD_STARTS = frozenset(word[:2] for words in _FIRST_WORDS for word in words.split("|"))
_NUMERAL_STARTS = frozenset("0123456789ivx#n")  # n: "n." is a sign, too
_WORD_NUMBERS = {
    **ORDINALS,
    "one": 1, "two": 2, "three": 3, "four": 4, "five": 5,
}  # fmt: skip
_TRAILING_CATALOGUE = re.compile(r"\s*[(\[][^()\[\]]*\d[^()\[\]]*[)\]]\s*$")


def _value(text: str) -> int | None:
    if text.isdigit():
        return int(text)
    number = roman(text)
    if number is not None:
        return number
    return _WORD_NUMBERS.get(fold(text))


_FIRST_WORD = re.compile(r"\s*([^\W\d_]+(?:['’][^\W\d_]+)*)")
_FOR = frozenset(["for", "fur", "pour", "per", "para", "on", "upon", "sur", "uber", "sopra"])


@lru_cache(maxsize=32768)
def is_tempo(text: str) -> bool:
    """Whether *text* reads as a tempo or character heading of a movement."""
    head = _FIRST_WORD.match(text)
    if head is not None:
        first = fold(head[1])
        if first not in STRONG_TEMPO and first not in TEMPO_STARTS:
            return False
    words = [token.folded for token in tokenize(text[:120]) if token.sort is Sort.WORD]
    if not words:
        return False
    if len(words) > 1 and words[1] in _FOR:
        return False  # "Adagio for Strings", "Menuet sur le nom d'Haydn"
    if words[0] in STRONG_TEMPO:
        return True
    if words[0] in TEMPO_STARTS:
        return not STRONG_TEMPO.isdisjoint(words[1:6])
    return False


_AROUND = " \t-–—:;,"


_OPENING = ("(", "[")
_BRACKETED = re.compile(r"^[(\[](?P<n>\d{1,2}|[IVX]{1,5})[)\]]\s*(?=[^\W\d_])")


def may_be_numbered(text: str) -> bool:
    """Whether *text* begins like "2nd movement", "Act 1" or "No. 3"; most titles do not.

    Where it does not, its reading has neither number nor heading.
    """
    start = text.lstrip(_AROUND)[:2].lower()
    if start[:1] in _OPENING:
        return _BRACKETED.match(text.lstrip(_AROUND)) is not None
    return start in _HEAD_STARTS or start[:1] in _NUMERAL_STARTS or not start.isascii()


@lru_cache(maxsize=32768)
def read_movement(text: str) -> MovementReading:
    """Read *text* as the heading of a movement."""
    text = text.strip(_AROUND)
    if text[:1] in _OPENING:
        text = _BRACKETED.sub(r"\g<n>. ", text)
    number: int | None = None
    firm = False
    heading: str | None = None
    kind = ""
    rest = text
    inner: int | None = None
    marked_digit = False
    for expression, name in _HEADS if may_be_numbered(rest) else ():
        match = expression.match(rest)
        if match is None:
            continue
        value = _value(match.group("n")) if match.group("n") else None
        if expression is _PART_HEAD_REVERSED and _NUMBERED_SCENE.match(rest) is not None:
            continue
        if name == "part":
            heading = match.group("head").strip()
            word = fold(heading).split()
            kind = "act" if any(w in ACT_WORDS or w in SCENE_WORDS for w in word) else "part"
            number = value
            follow = match.group("rest").strip()
            below = read_movement(follow) if follow else None
            if below is not None and below.number is not None:
                inner = below.number if below.firm or below.kind == "number" else None
            if below is not None and below.heading is not None:
                heading = f"{heading}, {below.heading}"
            below_title: str | None = follow
            if below is not None and (below.title or below.heading):
                below_title = below.title
            return MovementReading(
                number=number if kind == "part" else None,
                title=below_title or heading,
                firm=False,
                heading=heading,
                tempo=is_tempo(below_title or ""),
                kind=kind,
                inner=inner,
            )
        if value is None:
            continue
        number, firm, kind = value, True, name
        rest = match.group("rest")
        break
    else:
        head = _ROMAN_HEAD.match(rest)
        if head is not None and head.group("n"):
            value = roman(head.group("n"))
            mark = head.group("mark")
            after = head.group("rest")
            # "I, too", "Va, pensiero": a comma before a small letter is no mark of a number.
            marked = bool(mark.strip()) and not (mark.strip() == "," and after[:1].islower())
            lower = head.group("n").islower()
            if value is not None and (
                (marked and (not lower or "." in mark or ")" in mark))
                or (not after and not lower)
                or (not lower and after and _may_follow_numeral(head.group("n"), after))
            ):
                number, firm, kind = value, True, "roman"
                rest = after
        else:
            digits = _DIGIT_HEAD.match(rest)
            if digits is not None and digits.group("rest"):
                mark = digits.group("mark")
                number = int(digits.group("n"))
                rest = digits.group("rest")
                marked_digit = bool(mark.strip()) or digits.group("n").startswith("0")
                firm = bool(mark.strip()) or is_tempo(rest)
                kind = "digit"
            elif digits is not None and not digits.group("rest"):
                number, rest, kind = int(digits.group("n")), "", "digit"
                firm = bool(digits.group("mark").strip())
    title = rest.strip(" \t-–—:;,/|")
    raws: list[RawNumber] = []
    bracket = _TRAILING_CATALOGUE.search(title) if "(" in title or "[" in title else None
    if bracket is not None:
        raws = numbers_in(bracket.group().strip().strip("()[]"))
        if raws:
            title = title[: bracket.start()].rstrip(" ,;-")
    title = _unwrapped(title)
    return MovementReading(
        number=number,
        title=title or None,
        firm=firm,
        heading=heading,
        tempo=is_tempo(title),
        raws=tuple(raws),
        kind=kind,
        marked=marked_digit,
    )


@lru_cache(maxsize=4096)
def is_heading(text: str) -> bool:
    """Whether *text* is a heading above movements (act, scene, part), not a work."""
    if not may_be_numbered(text):
        return False
    reading = read_movement(text)
    return reading.heading is not None and (
        reading.title is None or reading.title == reading.heading
    )


@lru_cache(maxsize=8192)
def act_of(heading: str) -> int | None:
    """The number of the act that *heading* begins with: 3 of "Act III, Scene 2", else None."""
    for expression in (_PART_HEAD, _PART_HEAD_REVERSED):
        match = expression.match(heading)
        if match is not None and match.group("n") and _is_act(match.group("head")):
            return _value(match.group("n"))
    return None


def _is_act(heading: str) -> bool:
    return not ACT_WORDS.isdisjoint(fold(heading).split())


def _may_follow_numeral(numeral: str, rest: str) -> bool:
    """Whether a bare Roman numeral before *rest* numbers it ("I Adagio", not "I know that")."""
    if is_tempo(rest):
        return True
    if len(numeral) == 1:
        return False
    return rest[:1].isupper() or rest[:1] in "«“\"'("


def _unwrapped(title: str) -> str:
    """*title* without quotes or square brackets that enclose it as a whole."""
    pairs = {"[": "]", "«": "»", "“": "”", '"': '"', "„": "“", "‘": "’", "(": ")", "'": "'"}
    closing = pairs.get(title[:1])
    if closing and title.endswith(closing) and len(title) > 2 and closing not in title[1:-1]:
        return title[1:-1].strip()
    return title


_TRAILING_NUMERAL = re.compile(r"^(?P<stem>.*?\D)\s*(?P<n>\d{1,3}|[IVX]+)\.?$")


@lru_cache(maxsize=8192)
def trailing_number(title: str) -> tuple[str, int] | None:
    """``Papillon II`` as (stem, 2), ``Variation 12`` as (stem, 12); None where there is none."""
    match = _TRAILING_NUMERAL.match(title)
    if match is None:
        return None
    value = _value(match.group("n"))
    if value is None:
        return None
    return fold(match.group("stem")).strip(" .:-"), value


_LEADING_NUMERAL = re.compile(r"^(?P<stem>[^\W\d_]+)\.?\s+(?P<n>\d{1,3}|[IVX]+)\b")


@lru_cache(maxsize=8192)
def leading_number(title: str) -> tuple[str, int] | None:
    """``Variation IX (Nimrod): Adagio`` as ("variation", 9); None where no number is so placed."""
    match = _LEADING_NUMERAL.match(title)
    value = _value(match.group("n")) if match is not None else None
    return None if match is None or value is None else (fold(match.group("stem")), value)
