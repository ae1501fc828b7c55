"""How tables of words are written down in this package, and how they are read.

The key is always the folded spelling (lower case, no accents). A phrase stands in a table with
underscores for its spaces. What the words mean is the business of the modules that hold them.
"""

from collections.abc import Iterator

from syncd.works.text import fold


def word_set(text: str) -> frozenset[str]:
    """The words of *text*, folded."""
    return frozenset(_key(word) for word in text.split())


def dictionary(text: str) -> dict[str, str]:
    """``English: word word two_words`` lines to English by word; the later line wins.

    A line that is indented goes on with the one above.
    """
    return {_key(word): english for english, words in _lines(text) for word in words}


def named_dictionary(text: str) -> dict[str, str]:
    """Like :func:`dictionary`; the English name means itself."""
    table: dict[str, str] = {}
    for english, words in _lines(text):
        table[fold(english)] = english
        table.update((_key(word), english) for word in words)
    return table


def numbers(text: str) -> dict[str, int]:
    """``3: third dritte`` lines to the number by word."""
    return {word: int(number) for word, number in dictionary(text).items()}


def _lines(text: str) -> Iterator[tuple[str, list[str]]]:
    for line in text.strip().replace("\n    ", " ").splitlines():
        english, _, words = line.partition(":")
        yield english.strip(), words.split()


def _key(word: str) -> str:
    return fold(word.replace("_", " "))
