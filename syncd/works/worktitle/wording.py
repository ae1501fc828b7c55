"""How a work's title is worded: by the conventions where all is understood, else in own words."""

import re

from syncd.works.text import fold
from syncd.works.tokens import Sort
from syncd.works.words.forms import SECTION_FORMS
from syncd.works.words.linking import AND_WORDS, ARTICLES
from syncd.works.worktitle.draft import Draft
from syncd.works.worktitle.medium import joined, medium_title

_NEVER_JOINED = frozenset({"Concerto", "Sonata", "Symphony", "Quartet", "Quintet"})
_BEFORE_OVERTURE = ("zu", "zur", "zum", "to", "from", "aus")
_LONGEST_OVERTURE = 6
_SPACES = re.compile(r"\s{2,}|[^\S ]")
_BEFORE_NUMBER = re.compile(r"\b(?:No|Nr|n°|nº|N°)\s*\.?\s*(?=\d)")


def word_title(draft: Draft) -> tuple[str | None, str, bool]:
    """The chief form, the title, and whether all words of the title were understood."""
    form = _chief_form(draft)
    if form is None:
        return None, _own_or_quoted(draft), False
    others = [
        i
        for i in draft.other
        if i not in draft.cut and not (draft.folded[i] in ARTICLES and draft.forms)
    ]
    if form == "Cantata" and draft.quotes and not others:
        return form, draft.quotes[0], False
    if form == "Overture" and others and draft.forms == ["Overture"] and draft.number is None:
        name = _overture_of(draft, others)
        if name:
            return form, f"{name} Overture", False
    together = draft.is_range and draft.plural
    if others or together or ((draft.plural or draft.count) and draft.number is None):
        return form, _own_or_quoted(draft) or form, False
    return form, _general_title(draft, form), True


def own_words(draft: Draft) -> str:
    """The text's own words without key, catalogue numbers, nickname and remarks."""
    if draft.own is None:
        draft.own = _tidy(draft, _kept_text(draft))
    return draft.own


def _own_or_quoted(draft: Draft) -> str:
    own = own_words(draft)
    return draft.quotes[0] if not own and draft.quotes else own


def _chief_form(draft: Draft) -> str | None:
    if not draft.forms:
        return None
    for form in draft.forms:
        if form not in SECTION_FORMS:
            return form
    return draft.forms[0]


def _overture_of(draft: Draft, others: list[int]) -> str | None:
    """The name in "Egmont, Ouvertüre", "Ouvertüre zu Coriolan", "Overture: Coriolan"."""
    if not draft.form_tokens:
        return None  # the form is a bracket's
    at = draft.form_tokens[0]
    after = [i for i in others if i > at]
    if after and len(after) != len(others):
        return None
    kept = [i for i in others if draft.folded[i] not in _BEFORE_OVERTURE]
    if not kept or any(i - kept[0] >= _LONGEST_OVERTURE for i in kept):
        return None
    text = draft.text[draft.tokens[kept[0]].start : draft.tokens[kept[-1]].end]
    return text.strip(" ,;:-–—")


def _general_title(draft: Draft, form: str) -> str:
    distinct = list(dict.fromkeys(draft.forms))
    if len(distinct) > 1 and draft.form_tokens:  # else a bracket's form, and the movement's
        if not _are_joined(draft):
            return own_words(draft)  # "Fantaisie-Impromptu": a title of its own
        if _NEVER_JOINED.isdisjoint(distinct):
            return _numbered(draft, joined(distinct))  # "Toccata, Adagio and Fugue"
    elif _is_plain_form(draft, form):
        return own_words(draft) or draft.text
    title = medium_title(
        form,
        draft.instruments,
        draft.instrument_count,
        draft.section,
        draft.orchestra,
        draft.number is not None,
    )
    return _numbered(draft, title)


def _is_plain_form(draft: Draft, form: str) -> bool:
    """Whether the title is a form's name and nothing else ("Boléro", "La valse")."""
    return (
        not (draft.instruments or draft.section or draft.orchestra or draft.key or draft.book)
        and draft.number is None
        and (
            any(draft.folded[i] in ARTICLES for i in draft.skipped)
            or all(draft.folded[i] == fold(form) for i in draft.form_tokens)
        )
    )


def _are_joined(draft: Draft) -> bool:
    first, last = min(draft.form_tokens), max(draft.form_tokens)
    return any(draft.folded[i] in AND_WORDS for i in range(first, last))


def _numbered(draft: Draft, title: str) -> str:
    if draft.number is not None and not draft.is_range:
        title = f"{title} No. {draft.number}"
    return f"{title}, {draft.book}" if draft.book else title


def _kept_text(draft: Draft) -> str:
    """The text from token to token, without those that are cut and the marks beside them."""
    tokens, cut = draft.tokens, draft.cut
    if not cut:
        return draft.text[tokens[0].start : tokens[-1].end] if tokens else ""
    pieces: list[str] = []
    last_end = 0
    previous = -2
    for i, token in enumerate(tokens):
        if i in cut:
            continue
        if token.sort is Sort.MARK and token.text in ",;:.-–—/" and (i + 1 in cut or i - 1 in cut):
            if token.text == "." and token.glued and i - 1 == previous:
                pieces.append(token.text)
                last_end = token.end
                previous = i
            continue
        if previous == i - 1 and previous >= 0:
            pieces.append(draft.text[last_end : token.start])
        elif pieces:
            pieces.append(" ")
        pieces.append(draft.text[token.start : token.end])
        last_end = token.end
        previous = i
    return "".join(pieces)


def _tidy(draft: Draft, text: str) -> str:
    text = _SPACES.sub(" ", text).strip(" ,;:-–—/|")
    if draft.forms:
        text = _BEFORE_NUMBER.sub("No. ", text)
    return f"{text}, {draft.book}" if draft.book and text else text
