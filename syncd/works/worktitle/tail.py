"""The movement that follows a work's title without a separator: "Sonata in C, K. 545 Allegro"."""

from syncd.works.tokens import Sort
from syncd.works.words.movements import (
    ACT_WORDS,
    SCENE_WORDS,
    STRONG_TEMPO,
    TEMPO_STARTS,
    TEMPO_WORDS,
)
from syncd.works.words.numerals import roman
from syncd.works.worktitle.draft import Draft

_HEADINGS = ACT_WORDS | SCENE_WORDS | {"part", "teil", "parte", "partie"}
_MARKS = ",.;:-–—"


def cut_tail(draft: Draft) -> str | None:
    """Cut the text of a movement off the end of *draft* and return it, or None."""
    start = _start_of_tail(draft)
    if start < 0 or not _begins_a_movement(draft, start):
        return None
    draft.tail_at = draft.tokens[start].start
    draft.cut.update(range(start, len(draft.tokens)))
    draft.other = [i for i in draft.other if i < start]
    draft.form_tokens = [i for i in draft.form_tokens if i < start]
    return draft.text[draft.tail_at :].strip()


def _start_of_tail(draft: Draft) -> int:
    """The first word after all that speaks of the work, -1 where there is none."""
    if not draft.other or draft.evidence_end < 0:
        return -1
    first = next((i for i in draft.other if i >= draft.evidence_end), -1)
    if first < 0:
        return -1
    # Between the evidence and the first unknown word there may be marks, or words but no brackets.
    between = range(draft.evidence_end, first)
    words = [i for i in between if draft.tokens[i].sort is Sort.WORD]
    if words and any(draft.tokens[i].sort in (Sort.QUOTE, Sort.BRACKET) for i in between):
        return -1
    known = [*words, *(i for i in between if i in draft.form_tokens)]
    return min(known, default=first)


def _begins_a_movement(draft: Draft, start: int) -> bool:
    word = draft.tokens[start].folded
    if word in STRONG_TEMPO or _is_numeral(draft, start):
        return True
    marked = start > draft.evidence_end and draft.tokens[start - 1].text in _MARKS
    return marked and (word in _HEADINGS or word in TEMPO_STARTS)


def _is_numeral(draft: Draft, start: int) -> bool:
    """Whether a movement's number stands at *start*: "II", "IV Allegro", "2.", "2 Allegro"."""
    token = draft.tokens[start]
    follow = draft.tokens[start + 1] if start + 1 < len(draft.tokens) else None
    if token.sort is Sort.WORD:
        return (
            token.text.isupper()
            and roman(token.text) is not None
            and (
                follow is None
                or follow.text in (".", ":", ")", "-", "–")
                or follow.folded in TEMPO_WORDS
            )
        )
    if token.sort is not Sort.NUMBER or len(token.text) > 2:
        return False
    if follow is None:  # "Op. 9 2"
        last = draft.raws[-1] if draft.raws else None
        return last is not None and last.end == start and last.sub is None and last.prefix == "op"
    return follow.text in (".", ")", ":") or _counts_movement(draft, start)


def _counts_movement(draft: Draft, start: int) -> bool:
    """Whether the digits at *start* stand right between number or key and a heading."""
    follow = draft.tokens[start + 1]
    return (
        start == draft.evidence_end
        and bool(draft.raws or draft.key)
        and follow.sort is Sort.WORD
        and not follow.glued
        and int(draft.tokens[start].text) > 0
        and (follow.folded in TEMPO_WORDS or follow.text[:1].isupper() or draft.text.islower())
        and not draft.is_range
    )
