"""Compounds of Germanic, Finnish and Hungarian: "Violinkonzert", "jousikvartetti", in two parts."""

from functools import lru_cache

from syncd.works.words.tables import dictionary, word_set

_HEADS = dictionary(
    """
piano: klavier piano klaver pianoforte zongora
violin: violin violinen fiol fiolin viool viulu hegedu
cello: cello violoncello sello gordonka
flute: floten floeten flute fluit
horn: horn
trumpet: trompeten
clarinet: klarinetten klarinett clarinet klarinet
oboe: oboen obo hobo
bassoon: fagott
harp: harfen
organ: orgel orgel-
viola: bratschen viola
guitar: gitarren
harpsichord: cembalo
string: streich stryk strijk strak stryge jousi vonos
wind: blaser blaeser blas
trombone: posaunen
double bass: kontrabass
saxophone: saxophon
mandolin: mandolinen
lute: lauten
recorder: blockfloten
viola da gamba: gamben
chamber: kammer
orchestral: orchester
percussion: schlagzeug
basset horn: bassetthorn
marimba: marimba
accordion: akkordeon
fortepiano: hammerklavier
english horn: englischhorn
solo: solo
concert: konzert
baryton: baryton
"""
)
_STEMS = dictionary(
    """
Concerto: konzert konzerte konzerten konsert koncert concert konserter konsertto verseny versenymu
Sonata: sonate sonaten sonat sonaatti szonata
Sonatina: sonatine sonatinen
Quartet: quartett quartette quartetten kwartet kvartett kvartet kvartetto negyes
Quintet: quintett quintette kvintett kvintet quintetten kwintet kvintetto
Trio: trio trios
Sextet: sextett sextet
Septet: septett
Octet: oktett octet oktet
Suite: suite suiten
Duo: duo duos
Symphony: symphonie sinfonie
Fantasia: fantasie
Serenade: serenade
"""
)
_PLURAL_STEMS = tuple(
    word_set(
        """
duos konserter konzerte konzerten quartette quartetten quintette quintetten sonaten sonatinen
suiten trios
"""
    )
)


@lru_cache(maxsize=8192)
def compound(word: str) -> tuple[str, str] | None:
    """A compound (folded): instrument and form, as ``violinkonzert`` gives, or None."""
    if len(word) < 7:
        return None
    for cut in range(3, len(word) - 2):
        head = word[:cut]
        if head in _HEADS and word[cut:] in _STEMS:
            return _HEADS[head], _STEMS[word[cut:]]
    return None


def is_plural_compound(word: str) -> bool:
    """Whether a compound names several works (``klaviersonaten``)."""
    return word.endswith(_PLURAL_STEMS)
