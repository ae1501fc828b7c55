"""Reads a text as the title of a work, item by item.

    work     = item*            (linear; an item is consumed by the longest match)
    item     = number | catalogue | key | form | medium | ordinal | count | quote | bracket | word
    number   = "No." NUMBER     key = ["in"] tonic [accidental] [mode]
    medium   = ["for"] instrument {"and" instrument}

A title whose words are all accounted for is *structured* and gets the English form ("Piano
Sonata No. 14"); any other keeps its own words without key, catalogue number and nickname. What
comes after the work's title (a movement) is left as ``tail``.
"""

from functools import lru_cache

from syncd.works.cjk import to_western
from syncd.works.keys import TONICS, is_preposition_of_key
from syncd.works.numbers.systems import PREFIXES
from syncd.works.tokens import Sort
from syncd.works.words.compounds import compound
from syncd.works.words.forms import FORM_STARTS
from syncd.works.words.instruments import INSTRUMENT_STARTS, ORCHESTRA_STARTS, SECTIONS, SOLO_WORDS
from syncd.works.words.linking import AND_WORDS, ARTICLES, FOR_WORDS
from syncd.works.words.numerals import COUNTS, ORDINALS, is_number_word
from syncd.works.words.tables import word_set
from syncd.works.worktitle.brackets import take_bracket
from syncd.works.worktitle.draft import Draft
from syncd.works.worktitle.numbering import (
    BOOKS,
    take_book,
    take_catalogue,
    take_count,
    take_digits,
    take_number,
    take_ordinal,
    take_roman_ordinal,
)
from syncd.works.worktitle.reading import WorkReading
from syncd.works.worktitle.scoring import take_form, take_instrument, take_orchestra, take_section
from syncd.works.worktitle.tail import cut_tail
from syncd.works.worktitle.tonality import take_key
from syncd.works.worktitle.wording import own_words, word_title

_CATALOGUE, _KEY, _FORM, _NUMBER, _OTHER = 1, 2, 4, 8, 16
_OTHER_WORDS = (
    INSTRUMENT_STARTS, SECTIONS, ORDINALS, COUNTS, AND_WORDS, FOR_WORDS, SOLO_WORDS,
    ARTICLES, BOOKS, ORCHESTRA_STARTS,
)  # fmt: skip

_UPON = word_set("on upon over uber ueber sur su sopra sobre pa na на")
"""Words behind which a name in quotes is what a piece is made upon."""


@lru_cache(maxsize=32768)
def read_work(text: str) -> WorkReading:
    """Read *text* as the title of a work. Never fails; see :attr:`WorkReading.strength`."""
    draft = Draft(to_western(text))
    index = 0
    count = len(draft.tokens)
    while index < count:
        index = _take_item(draft, index)
    return _reading_of(draft, cut_tail(draft))


@lru_cache(maxsize=32768)
def _uses(word: str) -> int:
    """Which kinds of item a folded *word* can begin, as bits; 0 for a word without a meaning."""
    bits = 0
    if word in PREFIXES:
        bits |= _CATALOGUE
    if word in TONICS or is_preposition_of_key(word):
        bits |= _KEY
    if word in FORM_STARTS or compound(word) is not None:
        bits |= _FORM
    if is_number_word(word):
        bits |= _NUMBER
    if any(word in known for known in _OTHER_WORDS):
        bits |= _OTHER
    return bits


def _take_item(draft: Draft, index: int) -> int:
    token = draft.tokens[index]
    if token.sort is Sort.WORD:
        return _take_word(draft, index)
    if token.sort is Sort.NUMBER:
        return take_digits(draft, index)
    if token.sort is Sort.QUOTE:
        if index and draft.folded[index - 1] in _UPON:
            draft.other.append(index)  # 'Fantasy on "Carmen"': no nickname
        else:
            draft.quotes.append(token.text)
            draft.cut.add(index)
    elif token.sort is Sort.BRACKET:
        take_bracket(draft, index, read_work)
    else:
        after = take_number(draft, index)
        if after > index:
            return after
        if token.folded == "&":
            draft.pending_count = None
    return index + 1


def _take_word(draft: Draft, index: int) -> int:
    if index == 0 and (after := take_roman_ordinal(draft)) > 0:
        return after
    uses = _uses(draft.folded[index])
    if uses & _CATALOGUE and (after := take_catalogue(draft, index)) > index:
        return after
    if uses & _KEY and (after := take_key(draft, index)) > index:
        return after
    if uses & _FORM and (after := take_form(draft, index)) > index:
        return after
    if uses & _NUMBER and (after := take_number(draft, index)) > index:
        return after
    if uses & _OTHER and (after := _take_other_word(draft, index)) > index:
        return after
    draft.other.append(index)
    return index + 1


def _take_other_word(draft: Draft, index: int) -> int:
    word = draft.folded[index]
    if (after := take_orchestra(draft, index)) > index:
        return after
    if (after := take_instrument(draft, index)) > index:
        return after
    if (after := take_section(draft, index)) > index:
        return after
    if word in ORDINALS:
        return take_ordinal(draft, index, index + 1, ORDINALS[word])
    if (after := take_count(draft, index)) > index:
        return after
    if word in AND_WORDS:
        draft.pending_count = None
        return index + 1
    if word in FOR_WORDS or word in SOLO_WORDS:
        return index + 1 if draft.forms or draft.instruments else index
    if word in ARTICLES and not draft.other and draft.form_at(index + 1):
        draft.skipped.append(index)
        return index + 1
    return take_book(draft, index)


def _reading_of(draft: Draft, tail: str | None) -> WorkReading:
    form, title, structured = word_title(draft)
    nickname = draft.quotes[0] if draft.quotes and title != draft.quotes[0] else None
    return WorkReading(
        text=draft.text,
        title=title,
        form=form,
        instruments=tuple(draft.instruments),
        number=draft.number,
        key=draft.key,
        raws=tuple(draft.raws),
        nickname=nickname,
        structured=structured,
        plural=draft.plural or draft.is_range,
        count=draft.count,
        arranger=draft.arranger,
        from_work=draft.from_work,
        people=draft.people,
        tail=tail,
        tail_at=draft.tail_at,
        german=draft.german,
        range=draft.is_range,
        proper=own_words(draft),
        bracket_names=tuple(draft.names),
        ordinal_foreign=draft.foreign,
    )
