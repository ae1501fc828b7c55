"""Brackets in a work's title: sources, arrangers, numbers, keys, the work's name, performers."""

from collections.abc import Callable

from syncd.works.numbers.reading import numbers_in
from syncd.works.tokens import tokenize
from syncd.works.words.performers import CHOIR_WORDS, ENSEMBLE_WORDS
from syncd.works.words.tables import word_set
from syncd.works.worktitle.draft import Draft
from syncd.works.worktitle.reading import WorkReading
from syncd.works.worktitle.remarks import arranger_in, is_remark, read_from
from syncd.works.worktitle.tonality import take_key_within

# Words that name an ensemble only where a list of performers shows that it is one.
_WEAK_ENSEMBLES = word_set(
    """
symphony opera oper concert concerto sinfonia trio duo musica musicale voices harmonia strings
winds brass band baroque barock octet quintet sextet harmonie friends amis freunde capella
cappella players singers quartet quartett quatuor choral chorale symphonic sinfonie symphonie
quintette quintett sextett oktett
"""
)


def take_bracket(draft: Draft, index: int, read: Callable[[str], WorkReading]) -> None:
    """Take the bracket at *index*; *read* reads a text as the title of a work."""
    token = draft.tokens[index]
    draft.cut.add(index)
    inner = token.text
    source = None if inner[:2].isdigit() else read_from(inner)
    if source is not None:
        draft.from_work = source
        return
    arranger = arranger_in(inner)
    if arranger is not None:
        draft.arranger = arranger
        return
    numbers = numbers_in(inner)
    if _take_work(draft, index, bool(numbers), read):
        return
    if numbers:
        draft.add_numbers(numbers)
        draft.evidence_end = max(draft.evidence_end, index + 1)
        return
    inside = tokenize(inner)
    words = [part.folded for part in inside]
    if draft.forms and draft.key is None:
        texts = [part.text for part in inside]
        if take_key_within(draft, words, texts):
            return
    if is_remark(token.folded):
        return
    if len(words) >= 2 and _names_performers(words):
        draft.people = inner
    else:
        draft.names.append(inner)


def _names_performers(words: list[str]) -> bool:
    listed = "," in words or ";" in words
    return any(
        (word in ENSEMBLE_WORDS or word in CHOIR_WORDS) and (listed or word not in _WEAK_ENSEMBLES)
        for word in words
    )


def _take_work(
    draft: Draft, index: int, numbered: bool, read: Callable[[str], WorkReading]
) -> bool:
    """A bracket that names the work itself: "(Serenade No. 13 in G)", "(Serse, HWV 40)"."""
    inner = draft.tokens[index].text
    if not draft.other or draft.forms or len(inner) < 4:
        return False
    reading = read(inner)
    if reading.form and reading.structured and (reading.number is not None or reading.key):
        draft.forms.append(reading.form)
        draft.number = reading.number
        draft.key = reading.key
        draft.instruments = list(reading.instruments)
        draft.raws.extend(reading.raws)
        draft.quotes.append(" ".join(draft.raw[i] for i in draft.other))
        draft.other = []
        draft.cut.update(range(index))
        return True
    if numbered and not draft.raws and reading.proper and not reading.key:
        draft.from_work = inner
        return True
    return False
