"""A key within a work's title: "in D", "c-Moll", "in A major", and the letters that are none.

What a key is called in which language is ``works/keys.py``'s.
"""

from syncd.works.keys import TONICS, is_preposition_of_key, read_key
from syncd.works.numbers.reading import read_number
from syncd.works.tokens import Sort
from syncd.works.words.linking import FOR_WORDS
from syncd.works.words.movements import TEMPO_STARTS
from syncd.works.words.tables import word_set
from syncd.works.worktitle.draft import Draft

_MODES = word_set("major minor dur moll flat sharp maj min")
_NUMBER_SIGNS = word_set("op opus woo no nr")


def take_key(draft: Draft, index: int) -> int:
    """Take the key that begins at *index*."""
    word = draft.folded[index]
    preposition = is_preposition_of_key(word)
    if not preposition and word not in TONICS:
        return index
    after_in = preposition and index + 1 < len(draft.tokens)
    if not after_in and (
        (index > 0 and is_preposition_of_key(draft.folded[index - 1]))
        or (word == "a" and not _mode_follows(draft, index))
    ):
        return index
    start = index + 1 if after_in else index
    reading = read_key(draft.folded, draft.raw, start, draft.german, after_in)
    if reading is None:
        return index
    end = start + reading.words
    if not reading.explicit and not _may_be_bare(draft, end):
        return index
    if draft.key is None:
        draft.key = reading.name
    draft.add_evidence(index, end)
    return end


def _mode_follows(draft: Draft, index: int) -> bool:
    return not _MODES.isdisjoint(draft.folded[index + 1 : index + 4])


def _may_be_bare(draft: Draft, end: int) -> bool:
    """Whether a letter without a mode that ends before *end* is a key ("in A Major Way" apart)."""
    if end < len(draft.tokens):
        follow = draft.tokens[end]
        if (
            follow.sort is Sort.WORD
            and read_number(draft.tokens, end) is None
            and follow.folded not in FOR_WORDS
            and follow.folded not in _NUMBER_SIGNS
            and follow.folded not in TEMPO_STARTS
        ):
            return False
    return bool(draft.forms or draft.section or draft.raws or draft.other)


def take_key_within(draft: Draft, words: list[str], texts: list[str]) -> bool:
    """Take an explicit key anywhere in a bracket of folded *words*, *texts* as they are written."""
    for start in range(len(words)):
        after_in = start > 0 and words[start - 1] == "in"
        key = read_key(words, texts, start, draft.german, after_in)
        if key is not None and key.explicit:
            draft.key = key.name
            return True
    return False
