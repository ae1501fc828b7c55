"""What has been found in a title so far: the ground on which its readers work.

Each reader takes one kind of item at an index of the tokens, notes here what it says, and returns
the index past it; the index that it was given means that nothing of its kind stands there.
"""

from collections.abc import Sequence

from syncd.works.numbers.raw import RawNumber
from syncd.works.tokens import tokenize
from syncd.works.words.compounds import compound
from syncd.works.words.forms import FORMS
from syncd.works.words.instruments import INSTRUMENTS
from syncd.works.worktitle.language import is_german


class Draft:
    """The tokens of a title and what they were found to say."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.tokens = tokenize(text)
        self.folded = [token.folded for token in self.tokens]
        self.raw = [token.text for token in self.tokens]
        self.german = is_german(self.folded)
        self.foreign = False  # an ordinal with a dot before a form that is not English
        # what it says
        self.raws: list[RawNumber] = []
        self.forms: list[str] = []
        self.instruments: list[str] = []
        self.instrument_count: dict[str, int] = {}
        self.section: str | None = None
        self.orchestra = False
        self.number: int | None = None
        self.book: str | None = None
        self.key: str | None = None
        self.count: int | None = None
        self.plural = False
        self.is_range = False
        self.quotes: list[str] = []
        self.arranger: str | None = None
        self.from_work: str | None = None
        self.people: str | None = None
        self.names: list[str] = []
        # which tokens said it
        self.form_tokens: list[int] = []
        self.cut: set[int] = set()  # tokens that are no part of a proper title
        self.other: list[int] = []  # tokens that the grammar does not know
        self.skipped: list[int] = []  # articles before a form
        self.evidence_end = -1
        self.tail_at = -1
        # on the way
        self.pending_count: int | None = None  # "two", before what is counted
        self.own: str | None = None  # the text's own words, once they are worked out

    def form_at(self, index: int) -> bool:
        """Whether a form's name begins at *index*."""
        return index < len(self.tokens) and (
            self.folded[index] in FORMS
            or compound(self.folded[index]) is not None
            or " ".join(self.folded[index : index + 2]) in FORMS
        )

    def instrument_at(self, index: int) -> bool:
        """Whether the word at *index* is an instrument or a voice."""
        return index < len(self.tokens) and self.folded[index] in INSTRUMENTS

    def add_evidence(self, start: int, end: int) -> None:
        """The tokens from *start* to before *end* speak of a work and are no words of its title."""
        self.cut.update(range(start, end))
        self.evidence_end = max(self.evidence_end, end)

    def add_numbers(self, raws: Sequence[RawNumber]) -> None:
        """*raws* are numbers of the work, or of the works that the title names together."""
        self.raws.extend(raws)
        self.is_range = self.is_range or any(raw.several for raw in raws)

    def add_form(self, form: str, start: int, end: int, plural: bool) -> None:
        """*form* is named by the tokens from *start* to before *end*."""
        self.forms.append(form)
        self.form_tokens.extend(range(start, end))
        if plural:
            self.plural = True

    def add_instrument(self, name: str) -> None:
        """*name*, an English name of an instrument or what stands for one in a compound."""
        if name == "orchestra":
            self.orchestra = True
        elif name in ("orchestral", "string", "wind", "chamber", "solo", "concert"):
            self.section = name.capitalize()
        elif name == "strings":
            self.instruments.append(name)
        elif name != "basso continuo":
            self._count_instrument(name)

    def _count_instrument(self, name: str) -> None:
        if self.pending_count and self.pending_count > 1:
            self.instrument_count[name] = self.pending_count
        self.pending_count = None
        if name not in self.instruments:
            self.instruments.append(name)
        else:
            self.instrument_count[name] = self.instrument_count.get(name, 1) + 1
