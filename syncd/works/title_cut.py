"""Where in a title the work ends and the movement begins.

The pieces are read by the work grammar and the movement grammar. Where only the neighbours can tell
a work from a heading, the reading says so (``firm`` is False) and grouping decides. Names before
and behind the title are gone already (``title_names.py``).
"""

import re
from functools import lru_cache

from syncd.works.composer_pair import read_pair
from syncd.works.composers import Match, table
from syncd.works.movement import (
    MovementReading,
    is_heading,
    is_tempo,
    may_be_numbered,
    read_movement,
)
from syncd.works.title_reading import TitleReading
from syncd.works.title_source import taken_from, without_composer, without_models
from syncd.works.words.forms import SECTION_FORMS
from syncd.works.worktitle.reader import read_work
from syncd.works.worktitle.reading import WorkReading

_BRACKET = re.compile(r"[(\[{]")
_INNER_ACT = re.compile(
    r"^(?P<work>.{3,}?)\s*[,.(]\s*(?P<rest>(?:act|akt|atto|acte|acto|part|teil|parte|partie|scene|szene|scène"
    r"|scena|tableau|bild|aufzug|jednání|prologue|prolog|prologo"
    r"|(?:\d\.|[IVX]+\.|erster|zweiter|dritter|vierter|fünfter|first|second|third|fourth|fifth"
    r"|premier|deuxième|troisième|quatrième)\s+(?:act|acte|akt|aufzug|felvonás))\b.*)$",
    re.IGNORECASE,
)
_INLINE_NUMERAL = re.compile(
    r"^(?P<work>.{6,}?)(?:,\s*|\s+|\.\s*)(?P<rest>(?:[IVX]{1,5}|\d{1,2})\s*[.:)]\s+\S.*)$"
)


class Cut:
    """The pieces of a title, and the ways to find where the work ends and the movement begins.

    Each way returns a reading or None; the first that answers wins.
    """

    def __init__(
        self,
        original: str,
        text: str,
        pieces: list[tuple[str, int]],
        composer: Match | None,
        composer_text: str | None,
        family: str | None,
        people: list[str],
    ) -> None:
        self.original, self.text, self.pieces = original, text, pieces
        self.composer, self.composer_text, self.family = composer, composer_text, family
        self.segments = without_models(tuple(piece.strip() for piece, _ in pieces), text)
        # Only brackets name performers, arrangers, sources: other pieces are read when asked for.
        self.remarks = [read_work(piece) for piece in self.segments if _BRACKET.search(piece)]
        self.people = [*people, *(work.people for work in self.remarks if work.people)]
        self.pair: str | None = None
        self.source: WorkReading | None = None
        named = next((work.from_work for work in self.remarks if work.from_work), None)
        if named:
            self.source = read_work(without_composer(named))
        if composer is None:
            self._composer_in_brackets()

    def _composer_in_brackets(self) -> None:
        for work in self.remarks:
            for name in work.bracket_names:
                found = table().exact(name)
                if found is not None and found.confidence >= 0.9:
                    self.composer, self.composer_text = found, name
                    self._drop_last_bracket(name)
                elif found is None and (both := read_pair(name)) is not None:
                    (self.composer, self.pair), self.composer_text = both, name

    def _drop_last_bracket(self, name: str) -> None:
        """Take the composer's bracket from behind the movement that ends the title."""
        stem = self.text.rstrip()
        if len(self.pieces) > 1 and stem[:-1].endswith(name) and stem[-len(name) - 2] in "([":
            self.text = stem[: -len(name) - 2].rstrip()
            at = self.pieces[-1][1]
            if len(self.text) > at:
                self.pieces[-1] = (self.text[at:], at)
                self.segments = (*self.segments[:-1], self.text[at:].strip())

    def _work(self, index: int) -> WorkReading:
        return read_work(self.segments[index])

    def read(self) -> TitleReading:
        """The reading by the first way that answers; the last always does."""
        for way in (
            self._by_leading_numeral,
            self._by_movement_number,
            self._by_section_of_work,
            self._by_strong_work,
            self._by_inner_heading,
            self._by_source,
        ):
            found = way()
            if found is not None:
                return found
        return self._plain()

    def _made(
        self, work: WorkReading | None, movement: MovementReading | None, firm: bool
    ) -> TitleReading:
        return TitleReading(
            text=self.original,
            composer=self.composer,
            work=work,
            movement=movement,
            firm=firm,
            source=self.source,
            people=tuple(self.people),
            arranger=next((work.arranger for work in self.remarks if work.arranger), None),
            segments=self.segments,
            composer_text=self.composer_text,
            family=self.family,
        )

    def _rest(self, index: int) -> str:
        return self.text[self.pieces[index][1] :].strip()

    def _by_leading_numeral(self) -> TitleReading | None:
        """A numeral or a heading at the beginning: all is a movement, the work stands elsewhere."""
        if not may_be_numbered(self.segments[0]):
            return None
        head = read_movement(self.segments[0])
        if head.number is None and head.heading is None:
            return None
        below = read_work(head.title) if head.title else None
        strong = below is not None and below.strength >= 2 and bool(below.raws or below.key)
        if head.kind == "digit" and below is not None:
            if not head.marked and (below.plural or self._work(0).count):
                return None  # "24 Caprices, Op. 1"
            own = self._work(0)
            if own.number == head.number and below.number is None and own.ordinal_foreign:
                return None  # "3. Symphonie Es-Dur op. 97"
            if strong:
                # The track's own number before a whole title.
                assert head.title is not None
                piece, at = self.pieces[0]
                offset = piece.find(head.title[:20])
                if offset > 0:
                    pieces = [(piece[offset:], at + offset), *self.pieces[1:]]
                    return Cut(
                        self.original,
                        self.text,
                        pieces,
                        self.composer,
                        self.composer_text,
                        self.family,
                        self.people,
                    ).read()
        if strong and head.kind != "number":
            return None
        if strong and below is not None and below.raws:
            return None
        return self._made(None, read_movement(self._rest(0)), True)

    def _by_movement_number(self) -> TitleReading | None:
        """The first piece that begins with a movement's number or a heading."""
        for index in range(1, len(self.segments)):
            if not may_be_numbered(self.segments[index]):
                continue
            movement = read_movement(self.segments[index])
            if movement.number is not None and (movement.firm or movement.tempo):
                strong = any(read_work(piece).strength for piece in self.segments[:index])
                firm = strong or movement.kind in ("roman", "number", "movement")
                return self._made(
                    _joined(self.segments[:index]), read_movement(self._rest(index)), firm
                )
            if movement.heading is not None:
                return self._made(
                    _joined(self.segments[:index]), read_movement(self._rest(index)), True
                )
            if movement.number is not None and not movement.title:
                whole = read_movement(self._rest(index))  # "Op. 16 - 1 - Adagio"
                if whole.number == movement.number and whole.title:
                    movement = whole
                return self._made(_joined(self.segments[:index]), movement, True)
        return None

    def _by_strong_work(self) -> TitleReading | None:
        """The last piece that is a work beyond doubt; what follows it is the movement."""
        last = -1
        for index, piece in enumerate(self.segments):
            work = read_work(piece)
            if work.strength < 2:
                continue
            if (
                last >= 0
                and not work.raws
                and (self._work(last).raws or is_tempo(self.segments[index]))
            ):
                continue
            last = index
        if last < 0:
            return None
        work = _joined(self.segments[: last + 1])
        follows = last + 1 < len(self.segments)
        if work.tail:
            text = work.tail
            if follows:
                piece, at = self.pieces[last]
                text = self.text[
                    at + len(piece) - len(piece.lstrip()) + max(0, self._work(last).tail_at) :
                ]
                if self._work(last).tail_at < 0:
                    text = f"{work.tail} - {self._rest(last + 1)}"
            return self._made(work, read_movement(text), True)
        if follows:
            return self._made(work, read_movement(self._rest(last + 1)), True)
        inner = _INLINE_NUMERAL.match(self.segments[-1])
        if inner is not None:
            before = read_work(inner.group("work"))
            if before.strength >= 2:
                return self._made(before, read_movement(inner.group("rest")), True)
        return self._made(work, None, True)

    def _by_inner_heading(self) -> TitleReading | None:
        """An act or part inside the piece that names the work ("La traviata, Act 1")."""
        act = _INNER_ACT.match(self.segments[0])
        if act is None:
            return None
        text = act.group("rest")
        if len(self.segments) > 1:
            text = f"{text}: {self._rest(1)}"
        return self._made(read_work(act.group("work")), read_movement(text), True)

    def _by_source(self) -> TitleReading | None:
        """ "Méditation from Thaïs"."""
        if len(self.segments) != 1 or self.source is not None:
            return None
        taken = taken_from(self.segments[0])
        if taken is None:
            return None
        piece, work = taken
        self.source = read_work(without_composer(work))
        return self._made(None, read_movement(piece), False)

    def _by_section_of_work(self) -> TitleReading | None:
        """ "Adagietto from Symphony No. 5": a tempo or a dance, and a work beyond doubt."""
        taken = taken_from(self.segments[0]) if len(self.segments) == 1 else None
        if taken is None or self.source is not None:
            return None
        piece, source = map(read_work, taken)
        plain = piece.form is None or piece.form in SECTION_FORMS or is_tempo(piece.text)
        if not plain or piece.strength >= 2 or source.strength < 2:
            return None
        self.source = source
        return self._made(None, read_movement(taken[0]), False)

    def _plain(self) -> TitleReading:
        first = self._work(0)
        if len(self.segments) == 1:
            if first.tail:
                return self._made(first, read_movement(first.tail), True)
            if is_tempo(self.segments[0]) and not first.key:
                return self._made(None, read_movement(self.segments[0]), True)
            return self._made(first, None, False)
        if is_tempo(self.segments[0]) or is_heading(self.segments[0]):
            return self._made(None, read_movement(self._rest(0)), True)
        # A work and its movement, or a heading and a piece: the neighbours decide.
        cut = 2 if len(self.segments) > 2 and _is_suite(self.segments[1]) else 1
        return self._made(
            _joined(self.segments[:cut]),
            read_movement(self._rest(cut)),
            is_tempo(self.segments[cut]),
        )


def _is_suite(segment: str) -> bool:
    """Whether a middle piece still belongs to the work ("The Firebird - Suite (1919 version)")."""
    reading = read_work(segment)
    return reading.form in ("Suite", "Overture") and reading.structured


@lru_cache(maxsize=16384)
def _joined(segments: tuple[str, ...]) -> WorkReading:
    """Several pieces read as one work's title: "Sonata No. 14 - Op. 27 No. 2"."""
    if len(segments) == 1:
        return read_work(segments[0])
    # A collective heading before the work itself: "Piano Concertos: No. 20 in D minor, K. 466".
    readings = [read_work(segment) for segment in segments]
    best = max(range(len(segments)), key=lambda index: (readings[index].strength, -index))
    if readings[best].strength >= 3 and best > 0 and readings[best].form:
        return readings[best]
    return read_work(" - ".join(segments))
