"""The words by which something is found in a search: folded, the telling ones only. Pure."""

from collections.abc import Sequence

from syncd.catalogue.order import fold
from syncd.works.words.tables import word_set

_LINKING = word_set(
    """
    a an and as at by da das de dei del della den der des di die do du e ein eine el en et for from
    il im in la las le les lo los no nr of on op or os sur the to und van von with y zu zum zur
    major minor flat sharp dur moll
    """
)


def name_words(name: str) -> list[str]:
    """The words of a name; what only links them counts if there is nothing else."""
    words = fold(name).split()
    return [word for word in words if word not in _LINKING] or words


def work_words(title: str, numbers: Sequence[str]) -> list[str]:
    """The words of a work's title without numbers, and its catalogue numbers: "op27no2"."""
    words = fold(title).split()
    telling = [word for word in words if word not in _LINKING and word.isalpha() and len(word) > 1]
    signs = ["".join(fold(number).split()) for number in numbers]
    return [*telling, *filter(None, signs)] or words
