"""Which thematic catalogues there are: their labels, the letters that name them, their composers.

The same letters mean other catalogues for other composers; ``meaning.py`` chooses. Prefixes: the
list of thematic indexes accepted in library name authority files (Music Library Association),
completed from memory.
"""

from dataclasses import dataclass

from syncd.works.tokens import Token


@dataclass(frozen=True, slots=True)
class System:
    """One catalogue: its id in the composer table, the label written, the prefixes read."""

    id: str
    label: str
    prefixes: tuple[str, ...]
    owner: str | None = None  # sort form of the one composer it can belong to, where letters tell


_BACH, _MOZART = "Bach, Johann Sebastian", "Mozart, Wolfgang Amadeus"
_ALL = (
    System(
        "op",
        "Op.",
        ("op", "opus", "oeuvre", "opp", "соч", "оп", "опус", "ор", "тв", "твір", "εργο"),
    ),
    System("woo", "WoO", ("woo",)),
    System("anh", "Anh.", ("anh", "anhang")),
    System("bwv", "BWV", ("bwv",), _BACH),
    System("buxwv", "BuxWV", ("buxwv", "bux"), "Buxtehude, Dietrich"),
    System("hwv", "HWV", ("hwv",), "Handel, George Frideric"),
    System("twv", "TWV", ("twv",), "Telemann, Georg Philipp"),
    System("tvwv", "TVWV", ("tvwv",), "Telemann, Georg Philipp"),
    System("rv", "RV", ("rv",), "Vivaldi, Antonio"),
    System("ryom", "RV", ("ryom",), "Vivaldi, Antonio"),
    System("p-vivaldi", "P.", ("p", "pincherle")),
    System("f-vivaldi", "F.", ("f", "fanna")),
    System("kv", "K.", ("k", "kv", "kochel", "koechel", "kwv"), _MOZART),
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
    System("bwv-anh", "BWV Anh.", (), _BACH),
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

SYSTEMS: dict[str, System] = {system.id: system for system in _ALL}

_BY_PREFIX: dict[str, tuple[System, ...]] = {}
for _system in SYSTEMS.values():
    for _prefix in _system.prefixes:
        _BY_PREFIX[_prefix] = (*_BY_PREFIX.get(_prefix, ()), _system)
PREFIXES = frozenset(_BY_PREFIX)
"""The folded letters with which a catalogue number can begin."""

# Letters that are common words or initials too count in these very cases only.
_CASED_TEXT = """
A B C D d E F G H J K k L M N P R S T W Z AS AV BB Bi BK BR Br BV CB CD CG Ch DD DF DG EG EV FS GO
GT HV HW JC JS Js KO LK LV LW MH Mi MS RO RT SC ST St SV SW TH Th VB WI WK WN WV Ben
"""
_CASED = frozenset(_CASED_TEXT.split())
_NEEDS_CASE = frozenset(letters.lower() for letters in _CASED)


def is_prefix(token: Token) -> bool:
    """Whether a catalogue number can begin with *token*, as it is written."""
    prefix = token.folded
    return prefix in PREFIXES and (prefix not in _NEEDS_CASE or token.text in _CASED)


def systems_of(prefix: str) -> tuple[System, ...]:
    """The catalogues that a folded *prefix* can mean."""
    return _BY_PREFIX.get(prefix, ())
