"""A track's title taken apart: composer, work, movement, source, performers.

A title is cut at its separators (outside brackets and quotes); the pieces are read by the work
grammar and the movement grammar. Where only the neighbours can tell a work from a heading, the
reading says so (``firm`` is False) and grouping decides.
"""

import re
from dataclasses import replace
from functools import lru_cache

from syncd.works.composer_pair import is_theme_of, read_pair
from syncd.works.composers import Match, table
from syncd.works.movement import MovementReading, is_tempo, may_be_numbered, read_movement
from syncd.works.separators import split_title
from syncd.works.text import fold
from syncd.works.title_marks import prepared
from syncd.works.value import plain_value
from syncd.works.words.forms import SECTION_FORMS
from syncd.works.words.performers import CHOIR_WORDS, ENSEMBLE_WORDS
from syncd.works.worktitle.reader import read_work
from syncd.works.worktitle.reading import WorkReading
from syncd.works.worktitle.remarks import read_from

_BRACKET = re.compile(r"[(\[{]")
_INNER_ACT = re.compile(
    r"^(?P<work>.{3,}?)\s*[,.(]\s*(?P<rest>(?:act|akt|atto|acte|acto|part|teil|parte|partie|scene|szene|scène"
    r"|scena|tableau|bild|aufzug|jednání|prologue|prolog|prologo"
    r"|(?:\d\.|[IVX]+\.|erster|zweiter|dritter|vierter|fünfter|first|second|third|fourth|fifth"
    r"|premier|deuxième|troisième|quatrième)\s+(?:act|acte|akt|aufzug|felvonás))\b.*)$",
    re.IGNORECASE,
)
_OVERTURE_AFTER = re.compile(r"^(?P<work>[^,]{3,}),\s+(?P<rest>.+)$")
_FROM_INLINE = re.compile(
    r"^(?P<piece>.{3,}?)(?:,\s+|\s+)(?:from|aus der oper|aus|extrait de|"
    r"excerpt from)\s+(?P<work>[A-ZÀ-ÖØ-ÞŠŽ\"“'«].{2,})$"
)
# "Fantasy on Themes from Faust": what follows "from" is part of the title.
_ON_THEMES = re.compile(
    r"\b(?:on|upon|over|sur|über|ueber|su|sopra|sobre|på|na)\b.*"
    r"(?:themes?|thèmes?|themen|thema|temi|temas?|melod\w+|motifs?|motiv\w*|airs?|arias?|arien|tunes)$",
    re.IGNORECASE,
)
_MODEL_WORD = re.compile(r"\b(?:nach|after|naar|efter|dopo|apr[eè]s)\s", re.IGNORECASE)
_MODEL = re.compile(
    r"^(?P<work>.{6,}?),?\s+(?:nach|after|naar|efter|dopo|d['’]apr[eè]s)\s+(?P<who>\S.{2,40})$",
    re.IGNORECASE,
)
_INLINE_NUMERAL = re.compile(
    r"^(?P<work>.{6,}?)(?:,\s*|\s+|\.\s*)(?P<rest>(?:[IVX]{1,5}|\d{1,2})\s*[.:)]\s+\S.*)$"
)


_PLAYER = re.compile(r"\((?:violine?|piano|klavier|cello)\)")
_REMARKS = frozenset(
    [
        "encore",
        "encores",
        "bonus",
        "bonus track",
        "zugabe",
        "bis",
        "live",
        "radio broadcast",
        "applause",
    ]
)


def _from_inline(text: str) -> re.Match[str] | None:
    if "from" in text or "aus" in text or "extrait" in text:
        return _FROM_INLINE.match(text)
    return None


@plain_value
class TitleReading:
    """A title taken apart. ``firm`` says that the cut between work and movement is certain."""

    text: str
    composer: Match | None
    work: WorkReading | None
    movement: MovementReading | None
    firm: bool
    source: WorkReading | None = None
    people: tuple[str, ...] = ()
    arranger: str | None = None
    segments: tuple[str, ...] = ()
    composer_text: str | None = None
    family: str | None = None  # a family name that fits several composers stood before the work
    trailing: Match | None = None  # a family name behind the title may be the composer's ...
    before: str = ""  # ... and then this is the title
    trailing_family: str | None = None  # the same of a name that fits several composers
    behind: bool = False  # the composer's name stood behind the title
    pair: str | None = None  # the arranger beside the composer: "Schumann/Liszt"


@lru_cache(maxsize=16384)
def _composer_segment(text: str) -> Match | None:
    """The composer that a whole segment names, or None. Titles that are also names are not."""
    if len(text) > 60:
        return None
    return table().exact(text.strip())


def _looks_like_people(text: str) -> bool:
    folded = fold(text)
    words = folded.replace(",", " ").replace("(", " ").replace(")", " ").split()
    return (
        not ENSEMBLE_WORDS.isdisjoint(words)
        or not CHOIR_WORDS.isdisjoint(words)
        or ("(" in folded and _PLAYER.search(folded) is not None)
    )


@lru_cache(maxsize=4096)
def _is_heading(text: str) -> bool:
    """Whether *text* is a heading above movements (act, scene, part), not a work."""
    if not may_be_numbered(text):
        return False
    reading = read_movement(text)
    return reading.heading is not None and (
        reading.title is None or reading.title == reading.heading
    )


@lru_cache(maxsize=16384)
def read_title(text: str) -> TitleReading:
    """Take *text* apart. Never fails; what is not found is None."""
    original = text
    text = prepared(text)
    pieces = split_title(text)
    if not pieces:
        return TitleReading(original, None, None, None, False)
    if len(pieces) > 1 and fold(pieces[0][0]).strip(" .") in _REMARKS:
        pieces = pieces[1:]
    if (
        len(pieces) > 1
        and pieces[0][0].strip(" .").isdigit()
        and len(pieces[0][0].strip()) <= 4
        and any(read_work(piece).strength >= 2 for piece, _ in pieces[1:])
    ):
        pieces = pieces[1:]  # the track's own number
    composer: Match | None = None
    composer_text: str | None = None
    family: str | None = None
    pair: str | None = None
    people: list[str] = []

    # Performers before the work.
    if (
        len(pieces) > 1
        and _looks_like_people(pieces[0][0])
        and read_work(pieces[0][0]).strength == 0
    ) and any(read_work(piece).strength >= 2 for piece, _ in pieces[1:]):
        people.append(pieces[0][0])
        pieces = pieces[1:]
    # A composer before it.
    if len(pieces) > 1:
        found = _composer_segment(pieces[0][0])
        if found is not None and not _is_heading(pieces[0][0]):
            composer, composer_text = found, pieces[0][0]
            if len(pieces) > 2 and "/" in text[pieces[0][1] + len(pieces[0][0]) : pieces[1][1]]:
                second = _composer_segment(pieces[1][0])
                if second is not None and second.entry is not found.entry:
                    pair = pieces[1][0].strip()  # "Schumann / Liszt - Widmung"
                    pieces = pieces[1:]
            pieces = pieces[1:]
        elif len(table().family(pieces[0][0])) > 1:
            family = pieces[0][0]
            pieces = pieces[1:]
        elif (both_named := _pair_before(pieces)) is not None:
            composer, pair, composer_text, pieces = both_named
        elif len(pieces) > 2:
            both = _composer_segment(pieces[0][0].strip() + " " + pieces[1][0].strip())
            if both is not None:
                composer, composer_text = both, pieces[0][0]
                pieces = pieces[2:]
    if composer is None and family is None:
        head = table().leading(pieces[0][0])
        if head is not None:
            match, length = head
            after = pieces[0][0][length:]
            rest = after.lstrip(" ,.-'’")
            rest = rest.removeprefix("s ") if after[:2] in ("'s", "’s") else rest
            if is_theme_of(pieces[0][0][:length], after):
                rest = ""  # "Diabelli Variations"
            if rest and len(pieces[0][0]) > length:
                reading = read_work(rest)
                if reading.strength >= 1 or (after.startswith((",", ":")) and reading.title):
                    composer, composer_text = match, pieces[0][0][:length]
                    offset = pieces[0][1] + pieces[0][0].index(rest, length)
                    pieces = [(rest, offset), *pieces[1:]]
        else:
            length = table().leading_family(pieces[0][0])
            rest = pieces[0][0][length:].lstrip(" ,.-'’") if length else ""
            if rest and read_work(rest).strength >= 2:  # "Scarlatti Sonata in E, K. 380"
                family = pieces[0][0][:length]
                pieces = [(rest, pieces[0][1] + pieces[0][0].index(rest, length)), *pieces[1:]]
    # A composer behind it: "Ave Maria - Franz Schubert". A family name alone is left to the folder.
    trailing: Match | None = None
    trailing_family: str | None = None
    behind = False
    before = ""
    if composer is None and family is None and len(pieces) > 1:
        found = _composer_segment(pieces[-1][0])
        if found is None:
            both_behind = read_pair(pieces[-1][0])
            if both_behind is not None:
                found, pair = replace(both_behind[0], how="name"), both_behind[1]
            elif len(pieces[-1][0]) < 40 and len(table().family(pieces[-1][0])) > 1:
                trailing_family = pieces[-1][0]
                before = text[: pieces[-2][1] + len(pieces[-2][0])]
        if found is not None and found.how != "initials that fit several":
            before = text[: pieces[-2][1] + len(pieces[-2][0])]
            if found.how != "family name":
                behind = True
                composer, composer_text = found, pieces[-1][0]
                text = before
                pieces = pieces[:-1]
            else:
                trailing = found
    whole = _Cut(original, text, pieces, composer, composer_text, family, people)
    cut = _numbered_by_catalogue(whole.read())
    pair = pair or whole.pair
    if not before and pair is None:
        return cut
    return replace(
        cut,
        trailing=trailing,
        before=before,
        trailing_family=trailing_family,
        behind=behind,
        pair=pair,
    )


def _numbered_by_catalogue(reading: TitleReading) -> TitleReading:
    """*reading* with the movement's number that stands behind the work's: "BWV 1048/3"."""
    work, movement = reading.work, reading.movement
    if work is None or not work.raws or (movement is not None and movement.number is not None):
        return reading
    number = next((raw.movement for raw in work.raws if raw.movement is not None), None)
    if number is None or work.range:
        return reading
    if movement is None:
        return replace(reading, movement=MovementReading(number, None, True, kind="number"))
    return replace(reading, movement=replace(movement, number=number, firm=True, kind="number"))


def _pair_before(
    pieces: list[tuple[str, int]],
) -> tuple[Match, str, str, list[tuple[str, int]]] | None:
    """Composer and arranger before a title, the text that names them, and the pieces behind it."""
    first = read_pair(pieces[0][0])
    if first is not None:
        return *first, pieces[0][0], pieces[1:]
    if len(pieces) > 2:
        both = read_pair(f"{pieces[0][0].strip()} - {pieces[1][0].strip()}")
        if both is not None:
            return *both, pieces[0][0], pieces[2:]
    return None


class _Cut:
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
        self.segments = tuple(piece.strip() for piece, _ in pieces)
        if _MODEL_WORD.search(text) is not None:
            self.segments = tuple(map(_without_model, self.segments))
        # Only brackets name performers, arrangers, sources: other pieces are read when asked for.
        self.remarks = [read_work(piece) for piece in self.segments if _BRACKET.search(piece)]
        self.people = [*people, *(work.people for work in self.remarks if work.people)]
        self.pair: str | None = None
        self.source: WorkReading | None = None
        named = next((work.from_work for work in self.remarks if work.from_work), None)
        if named:
            self.source = read_work(_without_composer(named))
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
                    return _Cut(
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
        inline = _from_inline(self.segments[0])
        if inline is None or _ON_THEMES.search(inline.group("piece")) is not None:
            return None
        self.source = read_work(_without_composer(inline.group("work")))
        return self._made(None, read_movement(inline.group("piece")), False)

    def _by_section_of_work(self) -> TitleReading | None:
        """ "Adagietto from Symphony No. 5": a tempo or a dance, and a work beyond doubt."""
        inline = _from_inline(self.segments[0]) if len(self.segments) == 1 else None
        if inline is None or self.source is not None:
            return None
        if _ON_THEMES.search(inline.group("piece")) is not None:
            return None
        piece, source = read_work(inline.group("piece")), read_work(inline.group("work"))
        plain = piece.form is None or piece.form in SECTION_FORMS or is_tempo(piece.text)
        if not plain or piece.strength >= 2 or source.strength < 2:
            return None
        self.source = source
        return self._made(None, read_movement(inline.group("piece")), False)

    def _plain(self) -> TitleReading:
        first = self._work(0)
        if len(self.segments) == 1:
            if first.tail:
                return self._made(first, read_movement(first.tail), True)
            if is_tempo(self.segments[0]) and not first.key:
                return self._made(None, read_movement(self.segments[0]), True)
            return self._made(first, None, False)
        if is_tempo(self.segments[0]) or _is_heading(self.segments[0]):
            return self._made(None, read_movement(self._rest(0)), True)
        # A work and its movement, or a heading and a piece: the neighbours decide.
        cut = 2 if len(self.segments) > 2 and _is_suite(self.segments[1]) else 1
        return self._made(
            _joined(self.segments[:cut]),
            read_movement(self._rest(cut)),
            is_tempo(self.segments[cut]),
        )


def _without_model(segment: str) -> str:
    """*segment* without the composer after whose work it was made: "Concerto ... after Vivaldi"."""
    found = _MODEL.match(segment)
    if found is None or table().exact(found.group("who")) is None:
        return segment
    work = found.group("work")
    reading = read_work(work)
    return work if reading.strength >= 2 and reading.structured else segment


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


def _without_composer(text: str) -> str:
    """*text* without a composer's name before it ("Handel's Messiah", "Puccini: Tosca")."""
    head = table().leading(text)
    if head is not None:
        rest = text[head[1] :].lstrip(" ,:;-'’")
        if rest.startswith("s ") and text[head[1] : head[1] + 1] in "'’":
            rest = rest[2:]
        if len(rest) > 2:
            return rest
    return text


__all__ = ["TitleReading", "read_from", "read_title"]
