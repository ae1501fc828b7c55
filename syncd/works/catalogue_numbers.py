"""Numbers of thematic catalogues: which there are, how they are written, whose they are.

Reading and judging are two steps. :func:`read_number` takes what looks like a number out of a
token list, whoever the composer is; :func:`resolve` says, once the composer is known, which
catalogue the letters mean and how the number is written by the conventions. A number whose
catalogue is not the composer's becomes a warning.

Prefixes: the list of thematic indexes accepted in library name authority files (Music Library
Association), completed from memory.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from syncd.works.tokens import Sort, Token, tokenize


@dataclass(frozen=True, slots=True)
class System:
    """One catalogue: its id in the composer table, the label written, the prefixes read."""

    id: str
    label: str
    prefixes: tuple[str, ...]
    owner: str | None = None  # sort form of the one composer it can belong to, where letters tell


def _systems() -> tuple[System, ...]:
    bach, mozart = "Bach, Johann Sebastian", "Mozart, Wolfgang Amadeus"
    return (
        System("op", "Op.", ("op", "opus", "oeuvre", "opp", "соч", "opera")),
        System("woo", "WoO", ("woo",)),
        System("anh", "Anh.", ("anh", "anhang")),
        System("bwv", "BWV", ("bwv",), bach),
        System("buxwv", "BuxWV", ("buxwv", "bux"), "Buxtehude, Dietrich"),
        System("hwv", "HWV", ("hwv",), "Handel, George Frideric"),
        System("twv", "TWV", ("twv",), "Telemann, Georg Philipp"),
        System("tvwv", "TVWV", ("tvwv",), "Telemann, Georg Philipp"),
        System("rv", "RV", ("rv",), "Vivaldi, Antonio"),
        System("ryom", "RV", ("ryom",), "Vivaldi, Antonio"),
        System("p-vivaldi", "P.", ("p", "pincherle")),
        System("f-vivaldi", "F.", ("f", "fanna")),
        System("kv", "K.", ("k", "kv", "kochel", "koechel", "kwv"), mozart),
        System("hob", "Hob.", ("hob", "hoboken"), "Haydn, Joseph"),
        System("d", "D.", ("d", "dv", "deutsch")),
        System("s-liszt", "S.", ("s", "searle", "sw")),
        System("r-liszt", "R.", ("r", "raabe")),
        System("lw", "LW", ("lw",), "Liszt, Franz"),
        System("wq-cpe", "Wq.", ("wq", "wotquenne")),
        System("h-cpe", "H.", ("h", "helm")),
        System("wq-gluck", "Wq.", ("wq", "wotquenne")),
        System("h-charpentier", "H.", ("h", "hitchcock")),
        System("h-berlioz", "H.", ("h", "holoman")),
        System("h-holst", "H.", ("h",)),
        System("h-martinu", "H.", ("h", "halbreich")),
        System("h-honegger", "H.", ("h", "halbreich")),
        System("h-bridge", "H.", ("h",)),
        System("h-haydn", "H.", ("h",)),
        System("kk", "Kk.", ("k", "kk", "kirkpatrick", "kp")),
        System("l-scarlatti", "L.", ("l", "longo")),
        System("p-scarlatti", "P.", ("p", "pestelli")),
        System("l-debussy", "L.", ("l", "cd", "lesure")),
        System("sz", "Sz.", ("sz", "szollosy"), "Bartók, Béla"),
        System("bb", "BB", ("bb",), "Bartók, Béla"),
        System("dd-bartok", "DD", ("dd",)),
        System("b-dvorak", "B.", ("b", "burghauser")),
        System("b-chopin", "B.", ("b", "brown")),
        System("kk-chopin", "KK", ("kk",)),
        System("jb", "JB", ("jb",)),
        System("jb-smetana", "JB", ("jb",)),
        System("t-smetana", "T.", ("t",)),
        System("t-wagenseil", "WV", ("wv",)),
        System("wwv", "WWV", ("wwv",), "Wagner, Richard"),
        System("wab", "WAB", ("wab",), "Bruckner, Anton"),
        System("trv", "TrV", ("trv",), "Strauss, Richard"),
        System("av", "AV", ("av",)),
        System("fs", "FS", ("fs",), "Nielsen, Carl"),
        System("cnw", "CNW", ("cnw",), "Nielsen, Carl"),
        System("z", "Z.", ("z", "zimmerman")),
        System("g", "G.", ("g", "gerard")),
        System("g-torelli", "G.", ("g", "giegling")),
        System("m-ravel", "M.", ("m", "marnat")),
        System("m-franck", "M.", ("m", "mohr")),
        System("fwv", "FWV", ("fwv",), "Franck, César"),
        System("cff", "CFF", ("cff",)),
        System("sv", "SV", ("sv",), "Monteverdi, Claudio"),
        System("swv", "SWV", ("swv",), "Schütz, Heinrich"),
        System("ssww", "SSWV", ("sswv",)),
        System("zwv", "ZWV", ("zwv",), "Zelenka, Jan Dismas"),
        System("fk", "Fk.", ("fk", "f", "falck")),
        System("br-wfb", "BR", ("br",)),
        System("br", "BR", ("br",)),
        System("df", "DF", ("df",)),
        System("hess", "Hess", ("hess",), "Beethoven, Ludwig van"),
        System("th", "TH", ("th",), "Tchaikovsky, Pyotr Ilyich"),
        System("cw", "ČW", ("cw",)),
        System("mwv", "MWV", ("mwv",)),
        System("js", "JS", ("js",)),
        System("jw", "JW", ("jw",), "Janáček, Leoš"),
        System("j", "J.", ("j", "jahns")),
        System("wev", "WeV", ("wev",)),
        System("rct", "RCT", ("rct",), "Rameau, Jean-Philippe"),
        System("lwv", "LWV", ("lwv",), "Lully, Jean-Baptiste"),
        System("lv", "LV", ("lv",)),
        System("tfv", "TFV", ("tfv",)),
        System("p-mhaydn", "P.", ("p", "perger")),
        System("mh", "MH", ("mh",)),
        System("ben", "Ben.", ("ben", "b", "benton")),
        System("w-jcbach", "W.", ("w",)),
        System("warb", "Warb.", ("warb", "warburton")),
        System("d-tartini", "D.", ("d", "dounias")),
        System("b-tartini", "B.", ("b", "brainard")),
        System("gt", "GT", ("gt",)),
        System("k-busoni", "BV", ("bv", "kiv", "k")),
        System("kiv", "BV", ("bv", "kiv")),
        System("st", "St.", ("st",)),
        System("as", "AS", ("as",)),
        System("ev", "EV", ("ev",)),
        System("hwc", "HWC", ("hwc",)),
        System("wv", "WV", ("wv",)),
        System("a-cimarosa", "A.", ("a",)),
        System("c-clementi", "C.", ("c",)),
        System("cr-dussek", "C.", ("c", "craw")),
        System("s-rosetti", "Murray", ("murray", "s")),
        System("murray", "Murray", ("murray", "m")),
        System("cb", "CB", ("cb",)),
        System("lk", "LK", ("lk",)),
        System("n", "N.", ("n",)),
        System("fp", "FP", ("fp",), "Poulenc, Francis"),
        System("w-villalobos", "W.", ("w", "appleby")),
        System("k-stravinsky", "K.", ("k",)),
        System("ko", "KO", ("ko",)),
        System("t-albinoni", "T.", ("t", "talbot")),
        System("mi", "Mi", ("mi",)),
        System("bi", "B.", ("b", "bi", "bianchi")),
        System("erb", "W.", ("w",)),
        System("c-biber", "C.", ("c", "chafe")),
        System("pwc", "PWC", ("pwc",)),
        System("wvs", "WVS", ("wvs",)),
        System("qv", "QV", ("qv",), "Quantz, Johann Joachim"),
        System("hwv-hasse", "HasWV", ("haswv",)),
        System("fwv-fasch", "FaWV", ("fwv", "fawv")),
        System("gwv", "GWV", ("gwv",), "Graupner, Christoph"),
        System("graunwv", "GraunWV", ("graunwv",)),
        System("vb", "VB", ("vb",)),
        System("grv", "GrV", ("grv",)),
        System("eg", "EG", ("eg",), "Grieg, Edvard"),
        System("bwv-anh", "BWV Anh.", (), bach),
        System("rv-anh", "RV Anh.", (), "Vivaldi, Antonio"),
        System("hw", "HW", ("hw",)),
        System("rwv", "RWV", ("rwv",)),
        System("wn", "WN", ("wn",)),
        System("h-fielding", "H.", ("h",)),
        System("h-field", "H.", ("h", "hopkinson")),
        System("a-cpe", "BR-CPEB", ()),
        System("stwv", "StWV", ("stwv",)),
        System("krebswv", "KrebsWV", ("krebswv",)),
        System("b-willan", "B.", ("b",)),
        System("bk", "BK", ("bk",)),
        System("bryan", "Bryan", ("bryan",)),
        System("bvn", "BVN", ("bvn",)),
        System("c-clerambault", "C.", ("c",)),
        System("cg", "CG", ("cg",)),
        System("ch", "Ch.", ("ch",)),
        System("d-chabrier", "D.", ("d",)),
        System("d-gottschalk", "D.", ("d",)),
        System("dg", "DG", ("dg",)),
        System("e-fux", "E.", ("e",)),
        System("etw", "ETW", ("etw",)),
        System("f-frescobaldi", "F.", ("f",)),
        System("fbwv", "FbWV", ("fbwv",)),
        System("g-stradella", "G.", ("g",)),
        System("g-viotti", "G.", ("g",)),
        System("go-couperin", "GO", ("go",)),
        System("h-hensel", "H-U", ("h",)),
        System("howv", "HoWV", ("howv",)),
        System("hv", "HV", ("hv",)),
        System("j-maxwelldavies", "J.", ("j",)),
        System("jc", "J-C", ("jc",)),
        System("jwv", "JWV", ("jwv",)),
        System("k-abel", "K.", ("k",)),
        System("k-fux", "K.", ("k",)),
        System("k-stamitz", "K.", ("k",)),
        System("kuwv", "KuWV", ("kuwv",)),
        System("m-holmboe", "M.", ("m",)),
        System("ms", "M.S.", ("ms",)),
        System("p-dowland", "P.", ("p",)),
        System("p-pachelbel", "P.", ("p",)),
        System("p-pergolesi", "P.", ("p",)),
        System("r-ascarlatti", "R.", ("r",)),
        System("r-soler", "R.", ("r",)),
        System("ro", "RO", ("ro",)),
        System("rt-delius", "RT", ("rt",)),
        System("s-hummel", "S.", ("s",)),
        System("s-ives", "S.", ("s",)),
        System("s-lalande", "S.", ("s",)),
        System("s-marcello", "S.", ("s",)),
        System("sc", "SC", ("sc",)),
        System("sw-weiss", "SW", ("sw",)),
        System("swwv", "SwWV", ("swwv",)),
        System("t-clarke", "T.", ("t",)),
        System("t-jcbach", "T.", ("t",)),
        System("w-gesualdo", "W.", ("w",)),
        System("w-stravinsky", "W.", ("w",)),
        System("wi", "WI", ("wi",)),
        System("wk", "WK", ("wk",)),
    )


SYSTEMS: dict[str, System] = {system.id: system for system in _systems()}

_BY_PREFIX: dict[str, tuple[System, ...]] = {}
for _system in SYSTEMS.values():
    for _prefix in _system.prefixes:
        _BY_PREFIX[_prefix] = (*_BY_PREFIX.get(_prefix, ()), _system)
PREFIXES = frozenset(_BY_PREFIX)
"""The folded letters with which a catalogue number can begin."""

# Words that are a prefix only with a dot, or only in this very case, since they are common words.
_NEEDS_CASE = frozenset(
    [
        "k",
        "d",
        "s",
        "h",
        "l",
        "b",
        "p",
        "f",
        "m",
        "g",
        "t",
        "r",
        "z",
        "j",
        "w",
        "a",
        "c",
        "n",
        "as",
        "st",
        "ev",
        "mi",
        "sv",
        "sw",
        "lv",
        "hw",
        "th",
        "js",
        "cb",
        "ko",
        "bi",
        "vb",
        "br",
        "fs",
        "ben",
        "cd",
        "df",
        "bb",
        "lk",
        "av",
        "gt",
        "bv",
        "mh",
        "dd",
        "lw",
        "wv",
        "wn",
        "eg",
        "opera",
    ]
)
_CASE_FORMS = frozenset(
    [
        "K",
        "D",
        "S",
        "H",
        "L",
        "B",
        "P",
        "F",
        "M",
        "G",
        "T",
        "R",
        "Z",
        "J",
        "W",
        "A",
        "C",
        "N",
        "AS",
        "St",
        "ST",
        "EV",
        "Mi",
        "SV",
        "SW",
        "LV",
        "HW",
        "TH",
        "JS",
        "CB",
        "KO",
        "Bi",
        "VB",
        "BR",
        "Br",
        "FS",
        "Ben",
        "CD",
        "DF",
        "BB",
        "LK",
        "AV",
        "GT",
        "BV",
        "MH",
        "DD",
        "LW",
        "WV",
        "WN",
        "EG",
        "Th",
        "Js",
        "k",
        "d",
    ]
)
_LATE_CASES = "BK CG Ch DG GO HV JC MS RO RT SC WI WK E"
_NEEDS_CASE |= frozenset(_LATE_CASES.lower().split())
_CASE_FORMS |= frozenset(_LATE_CASES.split())
_NUMBER_WORDS = frozenset(
    [
        "no",
        "nr",
        "n",
        "num",
        "numero",
        "nummer",
        "number",
        "nro",
        "№",
        "c",
        "č",
        "#",
        "nº",
        "n°",
        "č",
        "c.",
        "nos",
    ]
)
_POSTHUMOUS = frozenset({"posth", "post", "posthumous", "posthume", "posthum", "post.", "postumo"})
_ROMAN = {
    "i": 1, "ii": 2, "iii": 3, "iv": 4, "v": 5, "vi": 6, "vii": 7, "viii": 8, "ix": 9, "x": 10,
    "xi": 11, "xii": 12, "xiii": 13, "xiv": 14, "xv": 15, "xvi": 16, "xvii": 17, "xviii": 18,
    "xix": 19, "xx": 20, "xxi": 21, "xxii": 22, "xxiii": 23, "xxiv": 24, "xxv": 25, "xxvi": 26,
    "xxvii": 27, "xxviii": 28, "xxix": 29, "xxx": 30, "xxxi": 31, "xxxii": 32,
}  # fmt: skip


def roman(text: str) -> int | None:
    """The value of a Roman numeral up to XXXII in either case, or None."""
    return _ROMAN.get(text.lower())


@dataclass(frozen=True, slots=True)
class RawNumber:
    """A number as it was read: folded prefix, main number, number within it, where it stood."""

    prefix: str
    main: str
    sub: str | None = None
    posthumous: bool = False
    annex: bool = False
    start: int = 0
    end: int = 0
    text: str = ""
    sure: bool = True  # False where the letters are so short that they may mean something else
    alternates: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Resolved:
    """What numbers mean for one composer."""

    numbers: tuple[str, ...] = ()
    used: tuple[RawNumber, ...] = ()
    warnings: tuple[str, ...] = ()
    subs: tuple[str | None, ...] = field(default=())


def is_number_word(word: str) -> bool:
    """Whether a folded *word* stands for "number" (``no``, ``nr``, ``č``)."""
    return word in _NUMBER_WORDS


def _is_number_word(token: Token) -> bool:
    return token.folded in _NUMBER_WORDS or token.text in ("№", "N°", "n°", "nº", "Nº")


def skip_number_word(tokens: Sequence[Token], index: int) -> int:
    """The index past a word for "number" (``No.``, ``Nr.``, ``n°``, ``č.``) at *index*, or *index*."""  # noqa: E501
    count = len(tokens)
    if index < count and _is_number_word(tokens[index]):
        index += 1
        while index < count and tokens[index].text in (".", "°", "º", "ᵒ", "o"):
            index += 1
    return index


def read_number(tokens: Sequence[Token], index: int) -> RawNumber | None:
    """The catalogue number that begins at token *index*, or None."""
    token = tokens[index]
    if token.sort is not Sort.WORD or token.folded not in _BY_PREFIX:
        return None
    prefix = token.folded
    if prefix in _NEEDS_CASE and token.text not in _CASE_FORMS:
        return None
    count = len(tokens)
    position = index + 1
    dotted = position < count and tokens[position].text == "."
    while position < count and tokens[position].text in (".", "#"):
        position += 1
    short = len(prefix) == 1
    if prefix == "br" and position + 1 < count and tokens[position].text == "-":
        position += 2
    if position < count and tokens[position].folded == "v" and prefix == "k":
        position += 1  # "K.V. 550"
        while position < count and tokens[position].text == ".":
            position += 1
    posthumous = False
    annex = False
    while position < count:
        folded = tokens[position].folded
        if folded in _POSTHUMOUS and prefix in ("op", "opus"):
            posthumous = True
        elif folded in ("anh", "anhang", "app") and prefix not in ("anh", "anhang"):
            annex = True
        elif not (folded in (".", "-") and (posthumous or annex)):
            break
        position += 1
    if prefix in ("op", "opus", "hob", "woo", "kochel", "koechel", "deutsch", "anh") or annex:
        position = skip_number_word(tokens, position)
    if position >= count:
        if posthumous:
            return _made(tokens, index, position, prefix, "", None, True, annex, True)
        return None
    if prefix in ("hob", "hoboken") or (prefix == "h" and _roman_group(tokens, position)):
        return _read_hoboken(tokens, index, position)
    if prefix in ("twv", "tvwv", "jw", "mwv", "br", "gwv", "fwv", "wev", "qv", "haswv", "graunwv"):
        grouped = _read_grouped(tokens, index, position, prefix)
        if grouped is not None:
            return grouped
    head = tokens[position]
    if head.sort is Sort.WORD:
        value = roman(head.text) if prefix in ("op", "opus", "oeuvre", "opera") else None
        if value is None or not (head.text.isupper() or dotted):
            if prefix in ("op", "opus") and posthumous:
                return _made(tokens, index, position, prefix, "", None, True, annex, True)
            return None
        main = str(value)
        position += 1
    elif head.sort is Sort.NUMBER:
        if prefix in ("opera",) or len(head.text) > 5:
            return None
        main = str(int(head.text))
        position += 1
    else:
        if posthumous:
            return _made(tokens, index, position, prefix, "", None, True, annex, True)
        return None
    # Letters glued to the number: 86A, 300i, 173dB, 1061a.
    if (
        position < count
        and tokens[position].glued
        and tokens[position].sort is Sort.WORD
        and len(tokens[position].text) <= 2
        and not (
            position + 1 < count
            and tokens[position + 1].sort is Sort.NUMBER
            and tokens[position + 1].glued
        )
    ):
        main += tokens[position].text
        position += 1
    sub: str | None = None
    # 27/2, 18 No. 4, 27, 2 and 27 n° 2; in "S. 244/2" too.
    if (
        position + 1 < count
        and tokens[position].text == "/"
        and tokens[position + 1].sort is Sort.NUMBER
        and tokens[position].glued
    ):
        follow = tokens[position + 1].text
        # K. 331/300i gives two numberings of one catalogue, 27/2 a piece of a set.
        if prefix in ("k", "kv") and int(follow[:6]) > 60:
            position += 2
            if position < count and tokens[position].glued and tokens[position].sort is Sort.WORD:
                position += 1
        else:
            sub = str(int(follow[:6]))
            position += 2
            if (
                position < count
                and tokens[position].glued
                and tokens[position].sort is Sort.WORD
                and len(tokens[position].text) == 1
            ):
                sub += tokens[position].text
                position += 1
    elif (
        prefix in ("op", "opus")
        and position + 1 < count
        and tokens[position].text == ":"
        and tokens[position].glued
        and tokens[position + 1].glued
        and tokens[position + 1].sort is Sort.NUMBER
    ):
        sub = str(int(tokens[position + 1].text[:6]))
        position += 2
    else:
        probe = position
        if probe < count and tokens[probe].text == ",":
            probe += 1
        after = skip_number_word(tokens, probe)
        if after > probe and after < count and tokens[after].sort is Sort.NUMBER:
            sub = str(int(tokens[after].text[:6]))
            position = after + 1
        elif (
            prefix in ("op", "opus")
            and probe > position
            and probe < count
            and tokens[probe].sort is Sort.NUMBER
            and int(tokens[probe].text[:6]) <= 30
            and (probe + 1 == count or tokens[probe + 1].text not in (".", ")"))
        ):
            sub = str(int(tokens[probe].text[:6]))
            position = probe + 1
        elif (
            prefix in ("op", "opus")
            and probe + 1 < count
            and tokens[probe].text == "-"
            and tokens[probe].glued
            and tokens[probe + 1].glued
            and tokens[probe + 1].sort is Sort.NUMBER
            and int(tokens[probe + 1].text[:6]) <= 24
        ):
            sub = str(int(tokens[probe + 1].text[:6]))
            position = probe + 2
    # "Op. 66 posth."
    if prefix in ("op", "opus") and position < count and tokens[position].folded in _POSTHUMOUS:
        posthumous = True
        position += 1
        if position < count and tokens[position].text == ".":
            position += 1
    # A range: BWV 846-869, Op. 1-3.
    if (
        position + 1 < count
        and tokens[position].folded in ("-", "&")
        and tokens[position + 1].sort is Sort.NUMBER
        and len(tokens[position + 1].text) >= len(head.text)
        and sub is None
        and (tokens[position].glued or prefix not in ("op", "opus"))
    ):
        main += "–" + tokens[position + 1].text
        position += 2
    # K. 183 (173dB) and K. 331 [300i]: the second numbering of one catalogue.
    if (
        prefix in ("k", "kv", "kochel", "koechel")
        and position < count
        and tokens[position].sort is Sort.BRACKET
        and _is_second_numbering(tokens[position].text)
    ):
        position += 1
    sure = not short or dotted or tokens[index + 1].glued or token.text.isupper()
    if token.text in ("k", "d") and not (dotted or tokens[index + 1].glued):
        return None
    return _made(tokens, index, position, prefix, main, sub, posthumous, annex, sure)


def _is_second_numbering(text: str) -> bool:
    """Whether a bracket behind a Köchel number holds its other numbering ("300i", "K. 173dB")."""
    letters = sum(ch.isalpha() for ch in text.replace("KV", "").replace("K", ""))
    return (
        0 < len(text) <= 8
        and (text[0].isdigit() or text[0] == "K")
        and any(ch.isdigit() for ch in text)
        and letters <= 2
    )


def _roman_group(tokens: Sequence[Token], position: int) -> bool:
    """Whether ``XVI:52`` stands at *position* (Hoboken's form under the letter H)."""
    return (
        position + 2 < len(tokens)
        and tokens[position].text.isupper()
        and roman(tokens[position].text) is not None
        and tokens[position + 1].text in (":", "/")
        and tokens[position + 2].sort is Sort.NUMBER
    )


def _read_hoboken(tokens: Sequence[Token], index: int, position: int) -> RawNumber | None:
    count = len(tokens)
    head = tokens[position]
    if head.sort is Sort.NUMBER:
        # "Hob. 16:52": the group in Arabic digits.
        value = int(head.text[:4])
        names = {number: name.upper() for name, number in _ROMAN.items()}
        if value not in names:
            return None
        group = names[value]
    else:
        letters = head.text
        stem = letters.rstrip("abcdefghABCDEFGH")
        if roman(letters) is not None:
            group = letters.upper()
        elif stem and roman(stem) is not None:
            group = stem.upper() + letters[len(stem) :].lower()
        else:
            return None
    position += 1
    # A letter written apart: "VIIb" tokenises whole, "VII b" and "XX/1 A" do not.
    if (
        position + 1 < count
        and tokens[position].sort is Sort.WORD
        and len(tokens[position].text) == 1
        and tokens[position + 1].text in (":", "/")
    ):
        group += tokens[position].text.lower()
        position += 1
    sub: str | None = None
    while position < count and tokens[position].text in (":", "/", ".", "*", "-"):
        position += 1
        break
    parts = ""
    if position < count and tokens[position].sort is Sort.NUMBER:
        parts = str(int(tokens[position].text[:6]))
        position += 1
    elif (
        position + 1 < count
        and tokens[position].sort is Sort.WORD
        and len(tokens[position].text) <= 2
        and tokens[position + 1].sort is Sort.NUMBER
        and tokens[position + 1].glued
    ):
        parts = tokens[position].text + tokens[position + 1].text
        position += 2
    if not parts:
        return None
    if (
        position < count
        and tokens[position].sort is Sort.WORD
        and len(tokens[position].text) <= 3
        and tokens[position].glued
    ):
        parts += tokens[position].text
        position += 1
    return _made(tokens, index, position, "hob", f"{group}:{parts}", sub, False, False, True)


def _read_grouped(
    tokens: Sequence[Token], index: int, position: int, prefix: str
) -> RawNumber | None:
    """TWV 51:G9, JW VII/8, MWV N 16, BR C 2, FaWV L:D3."""
    count = len(tokens)
    text = ""
    head = tokens[position]
    if head.sort is Sort.NUMBER or (head.sort is Sort.WORD and (len(head.text) <= 5)):
        text = head.text
    else:
        return None
    position += 1
    if position < count and tokens[position].text in (":", "/", "."):
        mark = ":" if tokens[position].text == ":" else "/"
        follow = position + 1
        if follow < count and tokens[follow].sort is Sort.NUMBER:
            text += mark + tokens[follow].text
            position = follow + 1
        elif (
            follow + 1 < count
            and tokens[follow].sort is Sort.WORD
            and len(tokens[follow].text) <= 3
            and tokens[follow + 1].sort is Sort.NUMBER
            and tokens[follow + 1].glued
        ):
            text += mark + tokens[follow].text + tokens[follow + 1].text
            position = follow + 2
        elif (
            follow < count
            and tokens[follow].sort is Sort.WORD
            and len(tokens[follow].text) <= 2
            and tokens[follow].glued
        ):
            text += mark + tokens[follow].text
            position = follow + 1
        elif prefix in ("twv", "tvwv"):
            return None
    elif head.sort is Sort.WORD and position < count and tokens[position].sort is Sort.NUMBER:
        glue = "" if tokens[position].glued and prefix not in ("mwv", "br") else " "
        text += glue + tokens[position].text
        position += 1
    elif head.sort is Sort.WORD:
        return None
    elif prefix not in ("fwv", "gwv", "qv", "wev"):
        # A plain number in a grouped catalogue (TWV 55 alone) is no number of a work.
        if prefix not in ("twv", "tvwv", "mwv"):
            return None
    else:
        return None
    return _made(tokens, index, position, prefix, text, None, False, False, True)


def _made(
    tokens: Sequence[Token],
    index: int,
    position: int,
    prefix: str,
    main: str,
    sub: str | None,
    posthumous: bool,
    annex: bool,
    sure: bool,
) -> RawNumber:
    return RawNumber(
        prefix=prefix,
        main=main,
        sub=sub,
        posthumous=posthumous,
        annex=annex,
        start=index,
        end=position,
        text=f"{tokens[index].text} {main}".strip() + (f"/{sub}" if sub else ""),
        sure=sure,
    )


_FALLBACK = ("op", "woo", "anh")
_ALWAYS = frozenset({"op", "woo"})


def write_number(system: System, raw: RawNumber, with_sub: bool = True) -> str:
    """How the conventions write *raw* as a number of *system* (``Op. 27 No. 2``, ``WoO 59``)."""
    label = system.label
    if raw.posthumous:
        label += " posth."
    if raw.annex:
        label += " Anh."
    text = f"{label} {raw.main}".strip()
    if raw.sub and with_sub:
        text += f" No. {raw.sub}"
    return text


def resolve(
    raws: Iterable[RawNumber], systems: Sequence[str] | None, composer: str | None = None
) -> Resolved:
    """What *raws* mean for a composer with these *systems* (None: the composer is not in the table).

    The order is that of *raws*; a repeated number is given once. Op. before other systems only if
    written so.
    """  # noqa: E501
    return _resolve(tuple(raws), None if systems is None else tuple(systems), composer)


@lru_cache(maxsize=16384)
def _resolve(
    raws: tuple[RawNumber, ...], systems: tuple[str, ...] | None, composer: str | None
) -> Resolved:
    numbers: list[str] = []
    used: list[RawNumber] = []
    warnings: list[str] = []
    subs: list[str | None] = []
    for raw in raws:
        system = _system_for(raw, systems, composer)
        if system is None:
            if raw.sure:
                whose = f" of {composer}" if composer else ""
                warnings.append(f"{raw.text} is in no catalogue{whose}")
            continue
        text = write_number(system, raw)
        if text not in numbers:
            numbers.append(text)
            used.append(raw)
            subs.append(raw.sub)
    return Resolved(tuple(numbers), tuple(used), tuple(warnings), tuple(subs))


def _system_for(
    raw: RawNumber, systems: tuple[str, ...] | None, composer: str | None
) -> System | None:
    candidates = _BY_PREFIX.get(raw.prefix, ())
    if systems is not None:
        for system in candidates:
            if system.id in systems:
                return system
        for system in candidates:
            if system.id in _ALWAYS or (composer is not None and system.owner == composer):
                return system
        if raw.prefix == "kk" and "kk" in systems:
            return SYSTEMS["kk"]
        return None
    for system in candidates:
        if system.id in _FALLBACK:
            return system
    if composer is None:
        for system in candidates:
            if system.owner is not None and len(raw.prefix) > 1:
                return system
        return None
    # A composer outside the table: letters of more than one are believed, single ones are not.
    for system in candidates:
        if system.owner is None and len(raw.prefix) > 1:
            return system
    return None


def owner_of(raw: RawNumber) -> str | None:
    """The sort form of the only composer whose catalogue *raw* can come from, or None."""
    if len(raw.prefix) == 1:
        return None
    owners = {system.owner for system in _BY_PREFIX.get(raw.prefix, ())}
    if len(owners) == 1:
        return owners.pop()
    if raw.prefix in ("kv", "kochel", "koechel"):
        return "Mozart, Wolfgang Amadeus"
    return None


def numbers_in(text: str) -> list[RawNumber]:
    """All that looks like a catalogue number in *text*, in its order."""
    tokens = tokenize(text)
    found: list[RawNumber] = []
    position = 0
    while position < len(tokens):
        raw = read_number(tokens, position)
        if raw is None:
            position += 1
        else:
            found.append(raw)
            position = raw.end
    return found


def parse_number(text: str, systems: Sequence[str] | None, composer: str | None) -> str | None:
    """The first catalogue number in *text* as the conventions write it, or None."""
    for raw in numbers_in(text):
        numbers = resolve([raw], systems, composer).numbers
        if numbers:
            return numbers[0]
    return None
