"""Signs of the language that a title is written in, where its key or its words depend on it."""

from collections.abc import Iterable, Sequence
from functools import lru_cache

from syncd.works.tokens import tokenize
from syncd.works.words.compounds import compound
from syncd.works.words.tables import word_set

_GERMAN_SIGNS = word_set(
    """
sinfonie symphonie konzert sonate fur fuer und klavier nr dur moll der die das streichquartett
violine messe kantate lieder ouverture quartett quintett trio satz orchester
"""
)
_NOT_GERMAN = word_set("pour per for and et en majeur mineur major minor maggiore minore")
_RUSSIAN = word_set("dlya kontsert simfoniya sonaty s orkestrom skripki na pro")
_RUSSIAN_SIGNS = ("dlya", "kontsert", "orkestrom")
_ENGLISH_FORMS = word_set(
    """
symphony sonata concerto quartet quintet trio suite prelude fugue waltz nocturne scherzo allegro
overture string piano violin cello etude study mazurka ballade impromptu rondo variations serenade
dance march
"""
)


def is_german(words: Sequence[str]) -> bool:
    """Whether folded *words* of a title are German, so that B is B flat and H is B."""
    if not _NOT_GERMAN.isdisjoint(words):
        return False
    if not _GERMAN_SIGNS.isdisjoint(words):
        return True
    return any(len(word) >= 7 and compound(word) is not None for word in words)


@lru_cache(maxsize=4096)
def is_russian(text: str) -> bool:
    """Whether a title is transliterated Russian ("Kontsert dlya fortepiano s orkestrom")."""
    if text.isascii() and not any(word in text.lower() for word in _RUSSIAN_SIGNS):
        return False
    return any(token.folded in _RUSSIAN_SIGNS for token in tokenize(text))


def has_russian_words(words: Iterable[str]) -> bool:
    """Whether small words of transliterated Russian stand among folded *words*."""
    return not _RUSSIAN.isdisjoint(words)


def is_english_form(word: str) -> bool:
    """Whether a folded *word* is a form's name in English, which puts no dot behind ordinals."""
    return word in _ENGLISH_FORMS
