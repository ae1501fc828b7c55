"""What kind of performer a name names: an ensemble, a choir or a person, by the words in it.

Leaves to ``people.py`` how a list of performers is cut into names, and to ``cast.py`` what each of
them does on a track.
"""

import re
from functools import lru_cache

from syncd.works.cjk import ensemble_kind
from syncd.works.text import fold, word_set
from syncd.works.words.performers import CHOIR_WORDS, ENSEMBLE_STARTS, ENSEMBLE_WORDS

_ENSEMBLE_ENDINGS = tuple(
    word_set(
        """
        orchester orchestra orchestre orkester orkest quartett quartet kvartet kvartett kwartet
        quintett philharmonie philharmoniker symphoniker sinfoniker kapelle ensemble solisten
        virtuosen filharmonie sextett oktett consort kollegium collegium harmonie sinfonietta
        streicher blaser philharmonic ensemblet brass kvartetten kvintetten kvartetto kvartetti
        kvarteto orkesteret orkestern orkesteri ensemblen kapellet filharmonikerne filharmonikerna
        symfonikerne symfonikerna sinfonikerna zenekar negyes zenekara filharmonikot sinfonikot
        filharmonikusok szimfonikusok filharmonikus gakudan kokyogakudan sojudan jusodan
        """
    )
)
_CHOIR_ENDINGS = tuple(
    word_set(
        """
        chor choir chorus kantorei choeur koor kor singers cantorum vocale coro kammarkor sbor
        koret choristers koren kuoro korus enekkar vegyeskar korusa gasshodan gassyodan gasshoudan
        """
    )
)
_ORCHESTRAL = word_set(
    """
    SO PO RSO CO SSO RPO BSO LSO NSO NDR WDR SWR BBC RIAS RAI ORTF DR OAE ASMF OSR OSM
    """
)
_FORMAL_WORDS = word_set(
    """
    philharmonic philharmonie filharmonie symphony orchestra orchestre orkest choir choeur coro
    kantorei camerata consort academy akademie quartet quatuor sinfonietta chorus orchestr
    schola cantores cantorum capilla kantorij vocale monks monche moines monjes monaci abbey abtei
    abbaye scholars
    collegium cappella capella trio ensemble orquesta orkiestra filharmonica kvartet kwartet
    filarmonica filarmonico philharmonia sinfonica orquestra orkester orkesteri zenekar quartetto
    cuarteto quarteto kvartett kvartetti vonosnegyes orchestra simfonica koor оркестр квартет хор
    капелла филармония
    """
)
_FORMAL_AFTER_THE = frozenset({"philharmonic", "orchestra", "choir", "symphony"})
_FORMAL_ENDINGS = ("orchester", "quartett", "philharmoniker", "kapelle", "chor")
_WORDS = re.compile(r"[^\W_]+")
_PLURAL_PLAYERS = word_set(
    """
    cellos violoncelles violoncelos violoncelli celli cellisten flutes floten flautas clarinets
    klarinetten guitars guitarras guitares violas violins violini violons violines horns horner
    trombones posaunen trompetes harps saxophones recorders pianos bassoons oboes viols
    percussions blockfloten trumpets
    """
)
_GROUPS_BY_NOUN = word_set(
    """
    slagwerk schlagwerk slagverk slagverket percussion percussie perkusja perkusje perkussion bicie
    blazers blasarna blasere strijkers strakar strykere brass winds strings koper cordes vents archi
    cuivres ottoni fiati ударные
    """
)
"""Common nouns that name a group where a name follows them."""

_CHAMBER_WORDS = word_set(
    """
    quartet quartett quatuor quartetto cuarteto kvartet kwartet kvartett trio quintet quintett
    quintette quintetto duo sextet sextett octet oktett nonet streichquartett klaviertrio
    streichtrio klavierquartett квартет septet quarteto sextuor kvintet blaserquintett
    """
)


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
        if word in CHOIR_WORDS or word.endswith(_CHOIR_ENDINGS):
            choir = choir or not (number == 0 and word == "vox" and "ensemble" in words)
        if word in ENSEMBLE_WORDS or (len(word) > 5 and word.endswith(_ENSEMBLE_ENDINGS)):
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
        return "ensemble"
    if len(words) >= 2 and words[0] in ENSEMBLE_STARTS and words[0] != "i":
        return "ensemble"
    if len(words) >= 2 and name.startswith("I ") and words[1].endswith("i") and len(words[1]) > 4:
        return "ensemble"  # the Italian article with its plural: "I Musici"
    if len(words) >= 2 and any(word in _PLURAL_PLAYERS for word in words):
        return "ensemble"
    if len(words) == 2 and words[0] in _GROUPS_BY_NOUN:
        return "ensemble"  # "Slagwerk Oostkade"
    parts = name.split()
    if parts[-1] in _ORCHESTRAL and (len(parts) > 1 or (len(name) > 2 and parts[0] == name)):
        return "ensemble"  # "Northmoor SO", "RSO", but not a lone "SO"
    return "person"


def is_chamber_group(name: str) -> bool:
    """Whether an ensemble's name is that of a duo, a trio, a quartet, which nobody conducts."""
    return not _CHAMBER_WORDS.isdisjoint(_WORDS.findall(fold(name)))


@lru_cache(maxsize=4096)
def is_formal(name: str) -> bool:
    """Whether an ensemble's name is one of concert life, not a band's."""
    words = fold(name).replace("-", " ").split()
    if words[:1] == ["the"] and _FORMAL_AFTER_THE.isdisjoint(words):
        return False
    return any(word in _FORMAL_WORDS or word.endswith(_FORMAL_ENDINGS) for word in words)
