"""Russian names in Latin letters, as library tables write them, from their Cyrillic spelling.

Two tables: ALA-LC (2012), which English-language libraries use, and ISO 9:1995 (GOST 7.79 system
A, from memory), both without their accents and ties, which no comparison minds. The customary
spellings (Tchaikovsky) follow neither; they stand in the table of composers. Ukrainian, Bulgarian
and Serbian have tables of their own that are not here.
"""

import re

_COMMON = {
    **dict(zip("абвгдеёзиклмнопрстуфыэ", "abvgdeeziklmnoprstufye", strict=True)),
    "ь": "'",
    "ъ": "'",
}
_ALA_LC = str.maketrans(
    {
        **_COMMON,
        "ж": "zh", "й": "i", "х": "kh", "ц": "ts", "ч": "ch", "ш": "sh", "щ": "shch", "ю": "iu",
        "я": "ia",
    }
)  # fmt: skip
_ISO_9 = str.maketrans({**_COMMON, **dict(zip("жйхцчшщюя", "zjhccssua", strict=True))})
_RUSSIAN = re.compile(r"[а-яё \-'()]+")
_PATRONYMIC = re.compile(r"\w+(?:ич|вна|чна)")


def romanised(name: str) -> tuple[str, ...]:
    """*name* in small ASCII by each table, with and without soft signs; () if it is not Russian.

    Initials are nothing to go by (``Д.`` is Giacomo Puccini, but ``D.`` is not): () for them too.
    """
    small = name.lower()
    if not _RUSSIAN.fullmatch(small) or any(len(word) < 2 for word in small.split()):
        return ()
    tables = (_ALA_LC, _ISO_9)
    spelled = [text.translate(table) for text in (small, _unsigned(small)) for table in tables]
    return tuple(dict.fromkeys(spelled))


def _unsigned(small: str) -> str:
    return small.replace("ь", "").replace("ъ", "")


def has_patronymic(name: str) -> bool:
    """Whether *name* has a father's name between given name and family name, as Russians have."""
    return any(_PATRONYMIC.fullmatch(word) for word in name.lower().split()[1:-1])
