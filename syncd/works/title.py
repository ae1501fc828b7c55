"""A track's title taken apart: composer, work, movement, source, performers.

A title is cut at its separators (outside brackets and quotes); the pieces are read by the work
grammar and the movement grammar. Where only the neighbours can tell a work from a heading, the
reading says so (``firm`` is False) and grouping decides.
"""

import re
from dataclasses import dataclass
from functools import lru_cache

from syncd.works import vocabulary as words_of
from syncd.works.composers import Match, table
from syncd.works.movement import MovementReading, is_tempo, read_movement
from syncd.works.text import fold
from syncd.works.worktitle import WorkReading, read_from, read_work

_HOBOKEN_SPACE = re.compile(
    r"(\bHob(?:oken)?\.?\s*[IVX]+\s?[a-h]?)\s*[:/]\s*(?=[A-Z]{0,2}\d)", re.IGNORECASE
)
_SEPARATOR = re.compile(
    r"\s+[-–—|~·•]+\s+|\s*—\s*|\s*[:;]\s+|\s+[:;]\s*|\s+/{1,2}\s+|\s*\\+\s+|\s+_\s+|\s–\s?|\.\s+-\s+"
)
_PROTECTED = re.compile(
    r"\([^()]{0,200}\)|\[[^\[\]]{0,200}\]|“[^”]{0,200}”|«[^»]{0,200}»|„[^“”]{0,200}[“”]|\"[^\"]{0,200}\""
    r"|(?<!\w)'[^']{1,200}'(?!\w)|‘[^’]{1,80}’(?!\w)"
)
_DATE_HEAD = re.compile(r"^(?:19|20)\d\d[-.]\d\d[-.]\d\d\s+(?:[-–]\s+)?")
_INNER_ACT = re.compile(
    r"^(?P<work>.{3,}?)\s*[,.(]\s*(?P<rest>(?:act|akt|atto|acte|acto|part|teil|parte|partie|scene|szene|scène"
    r"|scena|tableau|bild|aufzug|jednání|prologue|prolog|prologo)\b.*)$",
    re.IGNORECASE,
)
_OVERTURE_AFTER = re.compile(r"^(?P<work>[^,]{3,}),\s+(?P<rest>.+)$")
_FROM_INLINE = re.compile(
    r"^(?P<piece>.{3,}?)(?:,\s+|\s+)(?:from|aus der oper|aus|extrait de|excerpt from)\s+(?P<work>[A-ZÀ-ÖØ-ÞŠŽ\"“'«].{2,})$"
)
_INLINE_NUMERAL = re.compile(
    r"^(?P<work>.{6,}?)(?:,\s*|\s+|\.\s*)(?P<rest>(?:[IVX]{1,5}|\d{1,2})\s*[.:)]\s+\S.*)$"
)


@dataclass(frozen=True, slots=True)
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


def split_title(text: str) -> list[tuple[str, int]]:
    """*text* cut at its separators, each piece with its offset; brackets and quotes stay whole."""
    protected: list[tuple[int, int]] = []
    if any(ch in text for ch in "([“«„\"'‘"):
        protected = [match.span() for match in _PROTECTED.finditer(text)]
    pieces: list[tuple[str, int]] = []
    start = 0
    for match in _SEPARATOR.finditer(text):
        at = match.start()
        if any(low < at < high for low, high in protected):
            continue
        piece = text[start:at]
        if piece.strip():
            pieces.append((piece, start))
        start = match.end()
    rest = text[start:]
    if rest.strip():
        pieces.append((rest, start))
    return pieces


@lru_cache(maxsize=16384)
def _composer_segment(text: str) -> Match | None:
    """The composer that a whole segment names, or None. Titles that are also names are not."""
    if len(text) > 60:
        return None
    return table().exact(text.strip())


def _looks_like_people(text: str) -> bool:
    folded = fold(text)
    words = folded.replace(",", " ").replace("(", " ").replace(")", " ").split()
    return any(
        word in words_of.ENSEMBLE_WORDS or word in words_of.CHOIR_WORDS for word in words
    ) or any(f"({name})" in folded for name in ("violin", "violine", "piano", "klavier", "cello"))


@lru_cache(maxsize=4096)
def _is_heading(text: str) -> bool:
    """Whether *text* is a heading above movements (act, scene, part), not a work."""
    reading = read_movement(text)
    return reading.heading is not None and (
        reading.title is None or reading.title == reading.heading
    )


@lru_cache(maxsize=16384)
def read_title(text: str) -> TitleReading:
    """Take *text* apart. Never fails; what is not found is None."""
    original = text
    text = _DATE_HEAD.sub("", text)
    if "ob" in text:
        text = _HOBOKEN_SPACE.sub(r"\1:", text)
    pieces = split_title(text)
    if not pieces:
        return TitleReading(original, None, None, None, False)
    composer: Match | None = None
    composer_text: str | None = None
    family: str | None = None
    people: list[str] = []

    # Performers before the work.
    if (
        len(pieces) > 1
        and _looks_like_people(pieces[0][0])
        and read_work(pieces[0][0]).strength == 0
    ):
        if any(read_work(piece).strength >= 2 for piece, _ in pieces[1:]):
            people.append(pieces[0][0])
            pieces = pieces[1:]
    # A composer before it.
    if len(pieces) > 1:
        found = _composer_segment(pieces[0][0])
        if found is not None and not _is_heading(pieces[0][0]):
            composer, composer_text = found, pieces[0][0]
            pieces = pieces[1:]
        elif len(table().family(pieces[0][0])) > 1:
            family = pieces[0][0]
            pieces = pieces[1:]
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
            if rest and len(pieces[0][0]) > length:
                reading = read_work(rest)
                if reading.strength >= 1 or after.startswith((",", ":")) and reading.title:
                    composer, composer_text = match, pieces[0][0][:length]
                    offset = pieces[0][1] + pieces[0][0].index(rest, length)
                    pieces = [(rest, offset), *pieces[1:]]
    # A composer behind it: "Symphony No. 5 - Beethoven", "Ave Maria (Schubert)".
    if composer is None and family is None and len(pieces) > 1:
        found = _composer_segment(pieces[-1][0])
        if (
            found is not None
            and found.how != "initials that fit several"
            and (
                found.how != "family name"
                or read_work(pieces[0][0]).strength >= 2
                and len(pieces) == 2
                and not read_work(pieces[0][0]).raws
            )
        ):
            composer, composer_text = found, pieces[-1][0]
            text = text[: pieces[-2][1] + len(pieces[-2][0])]
            pieces = pieces[:-1]
    return _work_and_movement(original, text, pieces, composer, composer_text, family, people)


def _work_and_movement(
    original: str,
    text: str,
    pieces: list[tuple[str, int]],
    composer: Match | None,
    composer_text: str | None,
    family: str | None,
    people: list[str],
) -> TitleReading:
    segments = tuple(piece.strip() for piece, _ in pieces)
    works = [read_work(segment) for segment in segments]
    people.extend(work.people for work in works if work.people)
    arranger = next((work.arranger for work in works if work.arranger), None)
    source: WorkReading | None = None
    named = next((work.from_work for work in works if work.from_work), None)
    if named:
        source = read_work(_without_composer(named))
    if composer is None:
        for work in works:
            for name in work.bracket_names:
                found = table().exact(name)
                if found is not None and found.confidence >= 0.9:
                    composer, composer_text = found, name

    def reading(
        work: WorkReading | None, movement: MovementReading | None, firm: bool
    ) -> TitleReading:
        return TitleReading(
            text=original,
            composer=composer,
            work=work,
            movement=movement,
            firm=firm,
            source=source,
            people=tuple(people),
            arranger=arranger,
            segments=segments,
            composer_text=composer_text,
            family=family,
        )

    def rest_from(index: int) -> str:
        return text[pieces[index][1] :].strip()

    first = works[0]
    # A numeral at the very beginning: all of it is a movement, the work is named elsewhere...
    head = read_movement(segments[0])
    if head.number is not None or head.heading is not None:
        below = read_work(head.title) if head.title else None
        strong = below is not None and below.strength >= 2 and (below.raws or below.key)
        if strong and head.kind in ("digit",) and len(segments) > 0:
            # ... unless the numeral is the track's own number before a whole title.
            assert head.title is not None
            offset = pieces[0][0].find(head.title[:20])
            if offset > 0:
                cut = [(pieces[0][0][offset:], pieces[0][1] + offset), *pieces[1:]]
                return _work_and_movement(
                    original, text, cut, composer, composer_text, family, people
                )
        if not strong:
            return reading(None, read_movement(rest_from(0)), True)
    if head.kind in ("number",) and first.strength == 0:
        return reading(None, read_movement(rest_from(0)), True)

    # The first piece that begins with a movement's number.
    for index in range(1, len(segments)):
        movement = read_movement(segments[index])
        if movement.number is not None and (movement.firm or movement.tempo):
            work = _joined(segments[:index])
            full = read_movement(rest_from(index))
            strong = max(w.strength for w in works[:index]) >= 1
            return reading(work, full, strong or movement.kind in ("roman", "number", "movement"))
        if movement.heading is not None:
            work = _joined(segments[:index])
            return reading(work, read_movement(rest_from(index)), True)
        if movement.number is not None and not movement.title:
            return reading(_joined(segments[:index]), movement, True)

    # The last piece that is a work beyond doubt; what follows is the movement.
    last_strong = -1
    for index, work in enumerate(works):
        if work.strength >= 2 and (last_strong < 0 or work.raws or not works[last_strong].raws):
            if last_strong >= 0 and not work.raws and is_tempo(segments[index]):
                continue
            if last_strong >= 0 and works[last_strong].raws and not work.raws:
                continue
            last_strong = index
    if last_strong >= 0:
        work = _joined(segments[: last_strong + 1])
        if work.tail and last_strong + 1 == len(segments):
            return reading(work, read_movement(work.tail), True)
        if work.tail:
            return (
                reading(work, read_movement(text[text.rfind(work.tail.split()[0]) :]), True)
                if text.count(work.tail) == 1 and False
                else reading(
                    work, read_movement(work.tail + " - " + rest_from(last_strong + 1)), True
                )
            )
        if last_strong + 1 < len(segments):
            movement_text = rest_from(last_strong + 1)
            return reading(work, read_movement(movement_text), True)
        inner = _INLINE_NUMERAL.match(segments[-1])
        if inner is not None and read_work(inner.group("work")).strength >= 2:
            return reading(read_work(inner.group("work")), read_movement(inner.group("rest")), True)
        return reading(work, None, True)

    # Acts and parts inside the piece that names the work.
    act = _INNER_ACT.match(segments[0])
    if act is not None:
        movement_text = act.group("rest")
        if len(segments) > 1:
            movement_text = f"{movement_text}: {rest_from(1)}"
        return reading(read_work(act.group("work")), read_movement(movement_text), True)
    inline = _FROM_INLINE.match(segments[0]) if len(segments) == 1 else None
    if inline is not None and source is None:
        source = read_work(_without_composer(inline.group("work")))
        return reading(None, read_movement(inline.group("piece")), False)
    if len(segments) == 1:
        if first.tail:
            return reading(first, read_movement(first.tail), True)
        if is_tempo(segments[0]):
            return reading(None, read_movement(segments[0]), True)
        return reading(first, None, False)
    if is_tempo(segments[0]):
        return reading(None, read_movement(rest_from(0)), True)
    if _is_heading(segments[0]):
        return reading(None, read_movement(rest_from(0)), True)
    # Two plain pieces: a work and its movement, or a heading and a piece. The neighbours decide.
    cut = 1
    if len(segments) > 2 and _composer_like_suite(segments[1]):
        cut = 2
    work = _joined(segments[:cut])
    return reading(work, read_movement(rest_from(cut)), is_tempo(segments[cut]))


def _composer_like_suite(segment: str) -> bool:
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
    joined = read_work(", ".join(segments))
    return joined


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


__all__ = ["TitleReading", "read_from", "read_title", "split_title"]
