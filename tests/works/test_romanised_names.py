"""Every Cyrillic name of the composer table, romanised by a reference library, means its owner.

iuliia (MIT) has the schemas of the standards as data: ``ALA_LC`` and ``GOST_779``, which is ISO
9:1995. It leaves ``ё`` as it is, where both tables have ``ë`` (U+00EB); that letter is put right
before. Its tables are for Russian, so names with letters that Russian lacks stay out.
"""

import re

import iuliia
import pytest

from syncd.model import TaggedFile
from syncd.works.composer_names import name_key
from syncd.works.composers import Entry, table
from syncd.works.identify import identify
from syncd.works.romanise import has_patronymic, romanised

SCHEMAS = {"ALA-LC": iuliia.ALA_LC, "ISO 9": iuliia.GOST_779}
CYRILLIC = re.compile(r"[\u0400-\u04ff]")
RUSSIAN = re.compile(r"[А-Яа-яЁё .'()\-]+")
INITIAL = re.compile(r"\b\w\.")

NAMES = [
    (entry, form)
    for entry in table().entries
    for form in entry.forms
    if CYRILLIC.search(form) and RUSSIAN.fullmatch(form)
]
FULL = [(entry, form) for entry, form in NAMES if " " in form and not INITIAL.search(form)]
RUSSIANS = {entry.sort for entry, form in NAMES if has_patronymic(form)}


def romanise(name: str, schema: str) -> str:
    return str(SCHEMAS[schema].translate(name.replace("ё", "ë").replace("Ё", "Ë")))


def meant(text: str) -> str | None:
    match = table().exact(text)
    return None if match is None else match.entry.sort


def inverted(name: str, entry: Entry) -> str:
    """``Family, Given``, with as many words of family name as the sort form has."""
    words = name.split()
    count = min(len(entry.sort.split(",")[0].split()), len(words) - 1)
    return f"{' '.join(words[-count:])}, {' '.join(words[:-count])}"


def test_there_are_names_enough() -> None:
    assert len({entry.sort for entry, _ in NAMES}) >= 250
    assert len(FULL) >= 390
    assert len(RUSSIANS) >= 75


@pytest.mark.parametrize("schema", list(SCHEMAS))
def test_a_full_name_romanised_means_the_same_composer(schema: str) -> None:
    wrong = []
    for entry, form in FULL:
        spellings = {romanise(form, schema)}
        if "," in entry.sort and "(" not in form:
            spellings.add(romanise(inverted(form, entry), schema))
        spellings |= {re.sub("[ʹʺ]", "", text) for text in spellings}
        spellings |= {text.replace("ʹ", "'") for text in spellings}
        wrong += [(text, meant(text)) for text in spellings if meant(text) != entry.sort]
    assert not wrong


@pytest.mark.parametrize("schema", list(SCHEMAS))
def test_a_composer_tag_with_a_romanised_name_is_filed(schema: str) -> None:
    files = [
        TaggedFile(f"{number}/1.flac", {"COMPOSER": [romanise(form, schema)], "TITLE": ["Adagio"]})
        for number, (_, form) in enumerate(FULL)
    ]
    found = [identity.composer for identity in identify(files)]
    wrong = [
        (form, composer)
        for (entry, form), composer in zip(FULL, found, strict=True)
        if composer is None or composer.sort != entry.sort
    ]
    assert not wrong


@pytest.mark.parametrize("schema", list(SCHEMAS))
def test_a_russians_family_name_romanised_means_him_alone_or_with_initials(schema: str) -> None:
    wrong = []
    for entry, form in NAMES:
        text = romanise(form, schema)
        # Four letters and fewer are believed of nobody; "A. Cherepnin" fits Ivan Alexandrovich too.
        short = " " not in form and len(name_key(text).replace(" ", "")) < 5
        if entry.sort in RUSSIANS and not short and not form.endswith("Черепнин"):
            wrong += [(text, meant(text))] if meant(text) != entry.sort else []
    assert not wrong


@pytest.mark.parametrize("schema", list(SCHEMAS))
def test_no_romanised_name_means_another(schema: str) -> None:
    # Latin names of their own: Domenico Puccini, Domenico Gabrielli.
    other = {"Д. Пуччини", "Д. Габриели"}
    wrong = [
        (form, meant(romanise(form, schema)))
        for entry, form in NAMES
        if form not in other and meant(romanise(form, schema)) not in (None, entry.sort)
    ]
    assert not wrong


def test_our_tables_spell_as_the_reference_library_does() -> None:
    for entry, form in FULL:
        ours = {name_key(text) for text in romanised(form)}
        theirs = {name_key(romanise(form, schema)) for schema in SCHEMAS}
        assert theirs <= ours, (entry.sort, form)


@pytest.mark.parametrize("word", ["List", "Frank", "Ober", "Fore", "Viktoria", "Sati", "Grig"])
def test_a_family_name_that_is_also_a_common_word_or_name_means_nobody(word: str) -> None:
    """What the tables make of the Cyrillic for Liszt, Franck, Auber, Fauré, Victoria, Satie."""
    assert meant(word) is None
