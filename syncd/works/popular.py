"""Classical or popular: which tracks are filed by work, which by artist and album.

Signs are weighed for a track and for the album that it is on; a band's "Symphony" is not enough,
and a Bach suite under the genre "Jazz" is still one. Genres are the free words that taggers write.
"""

import re
from functools import lru_cache

from syncd.works.text import fold, word_set

_CLASSICAL = (
    "classical classic klassik classique classica clasica klasik klasyka klassisk klassiek "
    "klassische baroque barock "
    "barocco renaissance medieval opera oper operetta operette symphony symphonie "
    "symphonic_music sinfonie concerto "
    "chamber kammermusik choral chorale chorwerk lied lieder oratorio cantata sonata "
    "early_music alte_musik "
    "musique_ancienne romantic_era romantik orchestral orchester avant-garde_classical "
    "minimalism modern_classical "
    "contemporary_classical sacred kirchenmusik gregorian chant_gregorien vocal_classical "
    "string_quartet piano_classical "
    "musica_classica musica_clasica klasszikus klassinen классика классическая академическая "
    "muzyka_powazna vazna_hudba "
    "gregorianik gregorianisch gregorianischer gregorianische gregorian gregorian_chant gregorien gregoriano "  # noqa: E501
    "gregoriaans plainchant plainsong choralschola chant_gregorien canto_gregoriano григорианский "
    "ars_nova ars_antiqua mediaeval mittelalter moyen_age edad_media medioevo minnesang polyphony "
    "polyphonie polifonia motet motets motette madrigal madrigals madrigali kantate kantaten cantate "  # noqa: E501
    "oratorium oratorien liturgical liturgisch geistliche_musik musica_antica musica_antigua "
    "muzyka_dawna oude_muziek tidig_musik musique_classique klassiska klassik_musik kammarmusik "
    "kamermuziek kamarazene komorni komorni_hudba kameralna muzyka_klasyczna orgelmusik orgel "
    "symfonisk simfonia クラシック 古典 古典音乐 古典音樂 클래식 opérette singspiel masque "
    "quatuor art_music ernste_musik requiem mass ballet zarzuela organ_music "
)  # fmt: skip
_POPULAR = (
    "rock pop metal punk jazz blues hip-hop hip_hop rap r&b rnb soul funk disco house techno "
    "trance electronic electronica "
    "electro dance edm ambient dub drum_and_bass dubstep indie alternative folk country reggae "
    "ska latin salsa flamenco world "
    "soundtrack ost score game games video_game anime j-pop k-pop chanson schlager volksmusik "
    "new_age newage easy_listening "
    "lounge lo-fi chillout downtempo industrial gospel children kinder hörspiel horspiel "
    "audiobook hörbuch horbuch spoken "
    "podcast comedy speech instructional karaoke musical showtunes show_tunes broadway hits "
    "oldies swing bluegrass grunge "
    "singer-songwriter variete variété fado tango_ bossa_nova mpb samba celtic irish hardcore "
    "emo progressive psychedelic "
    "krautrock garage surf americana post-rock shoegaze synthpop new_wave idm noise trap grime "
    "vaporwave crossover fusion "
    "саундтрек рок поп эстрада шансон cantautore cumbia reggaeton afrobeat big_band vocal_jazz "
    "film filmmusik bande_originale "
    "meditation relaxation wellness christmas_pop entspannung exotica turntablism "
)  # fmt: skip
_CLASSICAL_WORDS = frozenset(fold(w.replace("_", " ")) for w in _CLASSICAL.split())
_POPULAR_WORDS = frozenset(
    fold(w.replace("_", " ")) for w in _POPULAR.split() if not w.endswith("_")
)
_WORD = re.compile(r"[^\W_]+(?:[-&][^\W_]+)*")


@lru_cache(maxsize=2048)
def genre_side(genre: str) -> int:
    """+1 where a folded *genre* is a classical one, -1 where popular, 0 where it does not tell."""
    if not genre:
        return 0
    if genre.startswith("(") and ")" in genre:
        number = genre[1 : genre.index(")")]
        if number == "32":
            return 1
        genre = genre[genre.index(")") + 1 :] or genre
    classical, popular = _sides(genre)
    if classical and popular:
        # "Symphonic Metal", "Rock Opera", "Classic Rock" are popular, "Classical Crossover" leans so;  # noqa: E501
        # "Contemporary Classical" has no popular word.
        return -1
    if classical:
        return 1
    return -1 if popular else 0


def _sides(genre: str) -> tuple[bool, bool]:
    """Whether a folded *genre* has a classical word, and a popular one."""
    words = _WORD.findall(genre)
    joined = " ".join(words)
    popular = (
        joined in _POPULAR_WORDS
        or any(word in _POPULAR_WORDS for word in words)
        or any(" ".join(words[i : i + 2]) in _POPULAR_WORDS for i in range(len(words)))
    )
    classical = (
        joined in _CLASSICAL_WORDS
        or any(word in _CLASSICAL_WORDS for word in words)
        or any(" ".join(words[i : i + 2]) in _CLASSICAL_WORDS for i in range(len(words)))
    )
    return classical, popular


_BETWEEN = word_set("crossover pop")
_OPERATIC = word_set("popera operatic")
_CLASSICAL_NAMES = word_set("classical classique klassik classica clasica opera")


@lru_cache(maxsize=1024)
def genre_crosses(genre: str) -> bool:
    """Whether *genre*, folded, is one between both: "Classical Crossover", "Operatic Pop"."""
    words = frozenset(_WORD.findall(genre))
    return not words.isdisjoint(_OPERATIC) or (
        not words.isdisjoint(_BETWEEN) and not words.isdisjoint(_CLASSICAL_NAMES)
    )


_POPULAR_TITLE = re.compile(
    r"\b(?:feat\.?|ft\.|remix|(?:original|radio|extended|club|dub)\s+(?:mix|edit|version)|"
    r"bonus track|acoustic|unplugged|"
    r"interlude|skit|remaster(?:ed)?|demo|instrumental version|karaoke|uptempo|title screen|"
    r"main theme|"
    r"end credits|reprise)\b",
    re.IGNORECASE,
)
_POPULAR_STARTS = word_set(
    """
    feat ft remix original radio extended club dub bonus acoustic unplugged interlude skit
    remaster remastered demo instrumental karaoke uptempo title main end reprise
    """
)
"""The first words of what the expression above finds."""

_ASCII_WORD = re.compile(r"[a-z0-9_]+")
_POPULAR_LOWER = re.compile(_POPULAR_TITLE.pattern)  # a third of the time that ignoring case takes
_SOUNDTRACK = re.compile(
    r"\b(?:o\.?s\.?t\.?|soundtrack|motion picture|film score|bande originale|colonna sonora|"
    r"filmmusik|"
    r"original score|banda sonora|game music|original cast|саундтрек)\b",
    re.IGNORECASE,
)
_TRIBUTE = re.compile(
    r"\b(?:tribute to|plays? the (?:hits|music)|hits of|the songs of|lullaby renditions|"
    r"covers?|after midnight|"
    r"goes (?:jazz|pop|rock)|swing(?:s|ing)?|meets jazz|for (?:babies|baby)|\d0s\b)",
    re.IGNORECASE,
)


@lru_cache(maxsize=8192)
def popular_title(title: str) -> bool:
    """Whether a track's title carries a remark that only popular music uses."""
    if title.isascii():
        small = title.lower()
        if _POPULAR_STARTS.isdisjoint(_ASCII_WORD.findall(small)):
            return False
        return _POPULAR_LOWER.search(small) is not None
    return _POPULAR_TITLE.search(title) is not None


@lru_cache(maxsize=4096)
def popular_album(album: str) -> bool:
    """Whether an album's title is a soundtrack's, a tribute's or a hit collection's."""
    return _SOUNDTRACK.search(album) is not None or _TRIBUTE.search(album) is not None


_CHANT = re.compile(
    r"\b(?:gregorian|gregorianisch\w*|gr[ée]gorien\w*|gregoriano|gregoriana|gregoriaans\w*|gregoriansk\w*|"
    r"gregorián\w*|plainchants?|plainsong|choralschola|canto llano|canto piano|григориан\w*|"
    r"ambrosian|ambrosiano|mozarabic|old roman chant)\b",
    re.IGNORECASE,
)


@lru_cache(maxsize=4096)
def is_chant(text: str) -> bool:
    """Whether *text*, an album's title or a genre, is about chant of the church."""
    return _CHANT.search(text) is not None


@lru_cache(maxsize=4096)
def is_soundtrack(album: str) -> bool:
    """Whether an album calls itself a soundtrack."""
    return _SOUNDTRACK.search(album) is not None
