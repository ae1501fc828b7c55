"""Numbers within a work's title: catalogue, "No. 5", "5.", "Fifth", "IX.", "Book 2", "Six".

How numbers of catalogues are written is ``numbers/``'s.
"""

from syncd.works.numbers.reading import read_numbers
from syncd.works.tokens import Sort
from syncd.works.words.forms import FORMS
from syncd.works.words.instruments import SECTIONS
from syncd.works.words.linking import AND_WORDS
from syncd.works.words.numerals import COUNTS, ORDINALS, roman, skip_number_word
from syncd.works.words.tables import dictionary
from syncd.works.worktitle.draft import Draft
from syncd.works.worktitle.language import is_english_form

BOOKS = dictionary(
    """
Book: book livre buch libro band heft teil cahier kniha ksiega part volume bk том тетрадь sesit
    quaderno
Series: serie series
"""
)
"""English name by word of the parts in which collections were published."""

_JOINING = AND_WORDS - {"s", "with", "mit", "con", "avec", "с"}  # "Nr. 1 S 514": Searle's number
_HIGHEST = 150  # of works that are numbered within a form
_HIGHEST_BOOK = 20


def take_catalogue(draft: Draft, index: int) -> int:
    """Take the catalogue number that begins at *index*, or the list of several."""
    raws = read_numbers(draft.tokens, index)
    if not raws:
        return index
    same_catalogue = draft.raws and draft.raws[-1].prefix == raws[0].prefix
    if same_catalogue and draft.folded[index - 1] in AND_WORDS:  # "D. 899 & D. 935"
        draft.is_range = True
        draft.cut.add(index - 1)
    draft.add_numbers(raws)
    draft.add_evidence(raws[0].start, raws[-1].end)
    return raws[-1].end


def take_number(draft: Draft, index: int) -> int:
    """Take "No. 5" at *index*."""
    after = skip_number_word(draft.tokens, index)
    if after == index or after >= len(draft.tokens):
        return index
    token = draft.tokens[after]
    value: int | None = None
    if token.sort is Sort.NUMBER and len(token.text) <= 4:
        value = int(token.text)
    elif token.sort is Sort.WORD:
        value = roman(token.text)
    if value is None:
        return index
    if draft.number is None:
        draft.number = value
    end = _past_range(draft, after + 1)
    draft.evidence_end = max(draft.evidence_end, end)
    return end


def _past_range(draft: Draft, end: int) -> int:
    """Past further numbers: "Nos. 5 & 7", "No. 1-3", "Nr. 5 und 7" are several works."""
    while (
        end + 1 < len(draft.tokens)
        and (draft.folded[end] in ("&", "-", ",", "/") or draft.folded[end] in _JOINING)
        and draft.tokens[end + 1].sort is Sort.NUMBER
    ):
        draft.is_range = True
        end += 2
    return end


def take_digits(draft: Draft, index: int) -> int:
    """Take the number in digits at *index*: an ordinal, a form's number, a count."""
    token = draft.tokens[index]
    following = draft.folded[index + 1] if index + 1 < len(draft.tokens) else ""
    if following and draft.tokens[index + 1].glued:  # 2nd, 3rd, 2e, 1er
        ordinal = ORDINALS.get(token.text + following)
        if ordinal is not None:
            return take_ordinal(draft, index, index + 2, ordinal)
    value = int(token.text[:9])
    numbers = draft.number is None and value <= _HIGHEST
    if following == "." and numbers and draft.form_at(index + 2):  # "5. Sinfonie"
        draft.foreign = not is_english_form(draft.folded[index + 2])
        return take_ordinal(draft, index, index + 2, value)
    if (
        numbers
        and draft.form_tokens
        and draft.form_tokens[-1] == index - 1
        and len(token.text) <= 3
    ):
        draft.number = value  # "Symphony 5"
        draft.evidence_end = max(draft.evidence_end, index + 1)
        return _past_range(draft, index + 1)
    form_follows = draft.form_at(index + 1)
    counts_movement = draft.evidence_end == index and bool(draft.raws or draft.key)
    if not counts_movement and (form_follows or draft.instrument_at(index + 1)):
        draft.pending_count = value if value < 1000 else None
        if draft.pending_count and draft.count is None and form_follows:
            draft.count = value
        return index + 1
    draft.other.append(index)
    return index + 1


def take_ordinal(draft: Draft, start: int, end: int, value: int) -> int:
    """Take the tokens from *start* to before *end* as the ordinal *value*."""
    if draft.form_at(end) or (end < len(draft.tokens) and draft.folded[end] in SECTIONS):
        if draft.number is None:
            draft.number = value
    else:
        draft.other.extend(range(start, end))
    return end


def take_roman_ordinal(draft: Draft) -> int:
    """Take "IX." before "Symphonie" at the head: symphonies alone are numbered so."""
    if len(draft.folded) < 3 or draft.folded[1] != "." or not draft.raw[0].isupper():
        return 0
    value = roman(draft.raw[0]) if FORMS.get(draft.folded[2]) == "Symphony" else None
    return 0 if value is None else take_ordinal(draft, 0, 2, value)


def take_count(draft: Draft, index: int) -> int:
    """Take "Six" before a form or an instrument at *index*."""
    count = COUNTS.get(draft.folded[index])
    if count is None:
        return index
    form_follows = draft.form_at(index + 1)
    if not form_follows and not draft.instrument_at(index + 1):
        return index
    draft.pending_count = count
    if form_follows and draft.count is None:
        draft.count = count
    return index + 1


def take_book(draft: Draft, index: int) -> int:
    """Take "Book 2" at *index*."""
    name = BOOKS.get(draft.folded[index])
    if name is None or not (draft.forms or draft.other):
        return index
    after = index + 1
    while after < len(draft.tokens) and draft.folded[after] in (".", ","):
        after += 1
    if after == len(draft.tokens):
        return index
    follow = draft.tokens[after]
    if follow.sort is Sort.NUMBER:
        value: int | None = int(follow.text[:4])
    else:
        value = roman(follow.text) or ORDINALS.get(follow.folded)
    if value is None or value > _HIGHEST_BOOK:
        return index
    draft.book = f"{name} {value}"
    draft.cut.update(range(index, after + 1))
    return after + 1
