"""Forms and those who play them within a work's title: "Klavierkonzert", "for string quartet".

How a title is worded with them is ``medium.py``'s.
"""

from syncd.works.tokens import Sort
from syncd.works.words.compounds import compound, is_plural_compound
from syncd.works.words.forms import FORM_STARTS, FORMS, PLURALS
from syncd.works.words.instruments import (
    INSTRUMENT_STARTS,
    INSTRUMENTS,
    ORCHESTRA_STARTS,
    ORCHESTRAS,
    PERFORMER_ONLY,
    SECTIONS,
)
from syncd.works.words.linking import FOR_WORDS
from syncd.works.worktitle.draft import Draft
from syncd.works.worktitle.language import has_russian_words


def take_form(draft: Draft, index: int) -> int:
    """Take the form at *index*, a phrase of up to three words or a compound."""
    word = draft.folded[index]
    for length in (3, 2, 1) if word in FORM_STARTS else ():
        phrase = _phrase(draft, index, length)
        form = FORMS.get(phrase)
        if form is None or (length == 1 and _is_half_a_word(draft, index)):
            continue
        draft.add_form(form, index, index + length, phrase in PLURALS)
        return index + length
    parts = compound(word)
    if parts is None:
        return index
    instrument, form = parts
    draft.add_instrument(instrument)
    draft.add_form(form, index, index + 1, is_plural_compound(word))
    return index + 1


def _phrase(draft: Draft, index: int, length: int) -> str:
    """*length* words from *index* on, the middle one of three may be a hyphen; "" for others."""
    if length == 1:
        return draft.folded[index]
    span = draft.tokens[index : index + length]
    if len(span) < length or any(
        part.sort is not Sort.WORD and part.folded != "-" for part in span
    ):
        return ""
    words = draft.folded[index : index + length]
    if length == 3 and words[1] == "-":
        del words[1]
    return " ".join(words)


def _is_half_a_word(draft: Draft, index: int) -> bool:
    """Whether a hyphen and something that is no form are glued to the form at *index*."""
    return (
        index + 2 < len(draft.tokens)
        and draft.folded[index + 1] == "-"
        and draft.tokens[index + 1].glued
        and draft.tokens[index + 2].glued
        and draft.folded[index + 2] not in FORMS
    )


def take_instrument(draft: Draft, index: int) -> int:
    """Take the voice or instrument at *index*, up to three words ("viola da gamba")."""
    word = draft.folded[index]
    for length in (3, 2, 1) if word in INSTRUMENT_STARTS else ():
        words = draft.folded[index : index + length]
        name = INSTRUMENTS.get(" ".join(words))
        if name is None or len(words) < length:
            continue
        if length == 1:
            if word in PERFORMER_ONLY or len(word) <= 2 or (word == "alto" and not draft.forms):
                return index
            if word in SECTIONS and "".join(draft.folded[index + 1 : index + 2]) in FORMS:
                return _add_section(draft, index)
        if not _belongs(draft, index):
            return index
        if name == "fortepiano" and has_russian_words(draft.folded):
            name = "piano"
        draft.add_instrument(name)
        return index + length
    return index


def _belongs(draft: Draft, index: int) -> bool:
    """Whether an instrument's name is part of a medium here: by a form, "for" or a list."""
    if draft.forms or draft.instruments:
        return True
    ahead = " ".join(draft.folded[index + 1 : index + 5])
    return any(word in FORMS for word in ahead.split()) or (
        index > 0 and draft.folded[index - 1] in FOR_WORDS
    )


def take_orchestra(draft: Draft, index: int) -> int:
    """Take the kind of orchestra at *index* that a work is for: "string orchestra"."""
    word = draft.folded[index]
    if word not in ORCHESTRA_STARTS or not draft.forms:
        return index
    for length in (3, 2, 1):
        kind = ORCHESTRAS.get(" ".join(draft.folded[index : index + length]))
        if kind is not None and index + length <= len(draft.tokens):
            draft.section = kind
            draft.orchestra = True
            draft.form_tokens.extend(range(index, index + length))
            return index + length
    return index


def take_section(draft: Draft, index: int) -> int:
    """Take a word like "string" or "piano" at *index*, beside a form or after "for"."""
    if draft.folded[index] in SECTIONS and (
        draft.form_at(index + 1)
        or (index > 0 and draft.form_at(index - 1))
        or (index > 1 and draft.folded[index - 1] in FOR_WORDS)
    ):
        return _add_section(draft, index)
    return index


def _add_section(draft: Draft, index: int) -> int:
    draft.section = SECTIONS[draft.folded[index]]
    draft.form_tokens.append(index)
    return index + 1
