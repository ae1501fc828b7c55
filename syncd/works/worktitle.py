"""The grammar of a work's title: form, medium, number, key, catalogue numbers, nickname.

    work     = item*            (linear; an item is consumed by the longest match)
    item     = number | catalogue | key | form | medium | ordinal | count | quote | bracket | word
    number   = "No." NUMBER     key = ["in"] tonic [accidental] [mode]
    medium   = ["for"] instrument {"and" instrument}

A title whose words are all accounted for is *structured* and gets the English form ("Piano
Sonata No. 14"); any other keeps its own words without key, catalogue number and nickname. What
comes after the work's title (a movement) is left as ``tail``.
"""

import re
from collections.abc import Sequence
from functools import lru_cache

from syncd.works.cjk import to_western
from syncd.works.keys import TONICS, is_preposition_of_key, read_key
from syncd.works.numbers.raw import RawNumber
from syncd.works.numbers.reading import numbers_in, read_number
from syncd.works.numbers.systems import PREFIXES
from syncd.works.text import fold
from syncd.works.tokens import Sort, tokenize
from syncd.works.value import plain_value
from syncd.works.words.compounds import compound, is_plural_compound
from syncd.works.words.forms import FORM_STARTS, FORMS, PLURALS, SECTION_FORMS
from syncd.works.words.instruments import INSTRUMENT_STARTS, INSTRUMENTS, PERFORMER_ONLY, SECTIONS
from syncd.works.words.linking import AND_WORDS, FOR_WORDS
from syncd.works.words.movements import (
    ACT_WORDS,
    SCENE_WORDS,
    STRONG_TEMPO,
    TEMPO_STARTS,
    TEMPO_WORDS,
)
from syncd.works.words.numerals import COUNTS, ORDINALS, is_number_word, roman, skip_number_word
from syncd.works.words.performers import CHOIR_WORDS, ENSEMBLE_WORDS

_SOLO_WORDS = frozenset(
    [
        "solo",
        "alone",
        "allein",
        "unaccompanied",
        "seul",
        "sola",
        "soli",
        "senza",
        "basso",
        "continuo",
        "b.c",
    ]
)
_ENGLISH_FORMS = frozenset(
    [
        "symphony",
        "sonata",
        "concerto",
        "quartet",
        "quintet",
        "trio",
        "suite",
        "prelude",
        "fugue",
        "waltz",
        "nocturne",
        "scherzo",
        "allegro",
        "overture",
        "string",
        "piano",
        "violin",
        "cello",
        "etude",
        "study",
        "mazurka",
        "ballade",
        "impromptu",
        "rondo",
        "variations",
        "serenade",
        "dance",
        "march",
    ]
)
_WEAK_ENSEMBLES = frozenset(
    [
        "symphony",
        "opera",
        "oper",
        "concert",
        "concerto",
        "sinfonia",
        "trio",
        "duo",
        "musica",
        "musicale",
        "voices",
        "harmonia",
        "strings",
        "winds",
        "brass",
        "band",
        "baroque",
        "barock",
        "octet",
        "quintet",
        "sextet",
        "harmonie",
        "friends",
        "amis",
        "freunde",
        "capella",
        "cappella",
        "players",
        "singers",
        "quartet",
        "quartett",
        "quatuor",
        "choral",
        "chorale",
        "symphonic",
        "sinfonie",
        "symphonie",
        "quintette",
        "quintett",
        "sextett",
        "oktett",
    ]
)
_RUSSIAN = frozenset(
    ["dlya", "kontsert", "simfoniya", "sonata_", "sonaty", "s", "orkestrom", "skripki", "na", "pro"]
)
_RUSSIAN_SIGNS = ("dlya", "kontsert", "orkestrom")
_ARTICLES = frozenset(
    [
        "the",
        "der",
        "die",
        "das",
        "den",
        "dem",
        "le",
        "la",
        "les",
        "il",
        "lo",
        "i",
        "gli",
        "el",
        "los",
        "las",
        "l'",
        "a",
        "an",
        "un",
        "une",
        "de",
    ]
)
_BOOKS = {
    "book": "Book", "livre": "Book", "buch": "Book", "libro": "Book", "band": "Book",
    "heft": "Book", "teil": "Book", "cahier": "Book", "kniha": "Book", "ksiega": "Book",
    "part": "Book", "volume": "Book", "bk": "Book", "serie": "Series", "series": "Series",
    "том": "Book", "тетрадь": "Book", "sesit": "Book", "quaderno": "Book",
}  # fmt: skip
_ARRANGED = re.compile(
    r"^(?:arr|arrang|orch|transcr|trans|bearb|instr|version|ver\b|compl|ed\b|edit|adapt|realis|realiz"
    r"|harmon|reduc|rev\b|revis|orig|fassung|urfassung|unvollend|unfinish|arrangement|dans|after|nach"
    r"|d'apres|from|aus|extrait|dall|excerpt|ausz|live|remaster|bonus|encore|zugabe|bis\b|mono|stereo"
    r"|\d{4}|first|original|final|recorded|recording|aufn|world)"
)
_ARRANGER = re.compile(
    r"(?:arr(?:anged|angement|angiert)?|orch(?:estrated|estration|estriert)?|transcr(?:ibed|iption|it)?"
    r"|bearb(?:eitet|eitung)?|instr(?:umentiert|umentation)?|trans|realised|realized|completed|compl|ed)"
    r"\.?:?\s+(?:by\s+|von\s+|par\s+|da\s+|di\s+|pour\s+|for\s+|für\s+)?(?P<who>.+)$",
    re.IGNORECASE,
)
_FROM = re.compile(
    r"^(?:from|aus|extrait de|extraits de|tiré de|dall[ao']|dal|dai|dagli|da|de|z|ze|uit|ur|fra|из|"
    r"excerpt from|excerpts from|theme from)\s+(?:the\s+opera\s+|der\s+oper\s+|"
    r"l'opéra\s+)?(?P<work>.+)$",
    re.IGNORECASE,
)


@plain_value
class WorkReading:
    """What a stretch of text says about a work."""

    text: str
    title: str
    form: str | None = None
    instruments: tuple[str, ...] = ()
    number: int | None = None
    key: str | None = None
    raws: tuple[RawNumber, ...] = ()
    nickname: str | None = None
    structured: bool = False
    plural: bool = False
    count: int | None = None
    arranger: str | None = None
    from_work: str | None = None
    people: str | None = None
    tail: str | None = None
    tail_at: int = -1
    german: bool = False
    range: bool = False
    proper: str = ""
    bracket_names: tuple[str, ...] = ()
    ordinal_foreign: bool = False  # "3. Symphonie": languages that write ordinals with a dot

    @property
    def strength(self) -> int:
        """How much the text looks like a work's title: 0 not at all, 3 beyond doubt."""
        score = 1 if self.raws else 0
        for raw in self.raws:
            if raw.sure:
                score = 2
                break
        if self.form and (self.key or self.number is not None or self.instruments):
            score += 2
        elif self.key or (self.form and self.structured):
            score += 1
        return min(score, 3)


_GERMAN_SIGNS = frozenset(
    [
        "sinfonie",
        "symphonie",
        "konzert",
        "sonate",
        "fur",
        "fuer",
        "und",
        "klavier",
        "nr",
        "dur",
        "moll",
        "der",
        "die",
        "das",
        "streichquartett",
        "violine",
        "messe",
        "kantate",
        "lieder",
        "ouverture",
        "quartett",
        "quintett",
        "trio",
        "satz",
        "orchester",
    ]
)
_NOT_GERMAN = frozenset(
    [
        "pour",
        "per",
        "for",
        "and",
        "et",
        "en",
        "majeur",
        "mineur",
        "major",
        "minor",
        "maggiore",
        "minore",
    ]
)


def _is_german(words: Sequence[str]) -> bool:
    if not _NOT_GERMAN.isdisjoint(words):
        return False
    if not _GERMAN_SIGNS.isdisjoint(words):
        return True
    return any(len(word) >= 7 and compound(word) is not None for word in words)


_CATALOGUE, _KEY, _FORM, _NUMBER, _OTHER = 1, 2, 4, 8, 16


@lru_cache(maxsize=32768)
def _uses(word: str) -> int:
    """Which kinds of item a folded *word* can begin, as bits; 0 for a word without a meaning."""
    bits = 0
    if word in PREFIXES:
        bits |= _CATALOGUE
    if word in TONICS or is_preposition_of_key(word):
        bits |= _KEY
    if word in FORM_STARTS or compound(word) is not None:
        bits |= _FORM
    if is_number_word(word):
        bits |= _NUMBER
    if any(word in known for known in _KNOWN):
        bits |= _OTHER
    return bits


_KNOWN = (
    INSTRUMENT_STARTS, SECTIONS, ORDINALS, COUNTS,
    AND_WORDS, FOR_WORDS, _SOLO_WORDS, _ARTICLES, _BOOKS, ("a", "a'"),
)  # fmt: skip


@lru_cache(maxsize=32768)
def read_work(text: str) -> WorkReading:
    """Read *text* as the title of a work. Never fails; see :attr:`WorkReading.strength`."""
    return _Reader(to_western(text)).read()


class _Reader:
    def __init__(self, text: str) -> None:
        self.text = text
        self.tokens = tokenize(text)
        self.folded = [token.folded for token in self.tokens]
        self.raw = [token.text for token in self.tokens]
        self.german = _is_german(self.folded)
        self.raws: list[RawNumber] = []
        self.forms: list[str] = []
        self.form_tokens: list[int] = []
        self.instruments: list[str] = []
        self.instrument_count: dict[str, int] = {}
        self.section: str | None = None
        self.number: int | None = None
        self.number_at = -1
        self.key: str | None = None
        self.quotes: list[str] = []
        self.plural = False
        self.count: int | None = None
        self.pending_count: int | None = None
        self.arranger: str | None = None
        self.from_work: str | None = None
        self.people: str | None = None
        self.cut: set[int] = set()  # tokens that are no part of a proper title
        self.other: list[int] = []  # tokens that the grammar does not know
        self.evidence_end = -1
        self.numbers = 0
        self.book: str | None = None
        self.is_range = False
        self.orchestra = False
        self.names: list[str] = []
        self.tail_at = -1
        self.foreign = False
        self.own: str | None = None
        self.skipped: list[int] = []  # articles before a form

    def read(self) -> WorkReading:
        index = 0
        count = len(self.tokens)
        while index < count:
            index = self._item(index)
        tail = self._tail()
        return self._made(tail)

    # Each method looks for one kind of item at *index* and returns the index past it.

    def _item(self, index: int) -> int:
        token = self.tokens[index]
        if token.sort is Sort.WORD:
            if index == 0 and (after := self._roman_ordinal()) > 0:
                return after
            uses = _uses(token.folded)
            if uses & _CATALOGUE and (after := self._catalogue(index)) > index:
                return after
            if uses & _KEY and (after := self._key(index)) > index:
                return after
            if uses & _FORM and (after := self._form(index)) > index:
                return after
            if uses & _NUMBER and (after := self._number(index)) > index:
                return after
            if uses & _OTHER:
                return self._word(index)
            self.other.append(index)
            return index + 1
        if token.sort is Sort.QUOTE:
            self.quotes.append(token.text)
            self.cut.add(index)
            return index + 1
        if token.sort is Sort.BRACKET:
            self._bracket(index)
            return index + 1
        if token.sort is Sort.NUMBER:
            return self._digits(index)
        after = self._number(index)
        if after > index:
            return after
        if token.folded == "&":
            self._conjunction(index)
        return index + 1

    def _catalogue(self, index: int) -> int:
        raw = read_number(self.tokens, index)
        if raw is None:
            return index
        # "D. 1", "S. 2" and the like inside running words are seldom numbers of catalogues.
        self.raws.append(raw)
        self.cut.update(range(raw.start, raw.end))
        self.evidence_end = max(self.evidence_end, raw.end)
        if "–" in raw.main:
            self.is_range = True
        return raw.end

    def _key(self, index: int) -> int:
        start = index
        after_in = False
        word = self.folded[index]
        if word not in TONICS and not is_preposition_of_key(word):
            return index
        if is_preposition_of_key(word) and index + 1 < len(self.tokens):
            start = index + 1
            after_in = True
        elif (index > 0 and is_preposition_of_key(self.folded[index - 1])) or (
            self.folded[index] == "a" and not self._mode_follows(index)
        ):
            return index
        reading = read_key(self.folded, self.raw, start, self.german, after_in)
        if reading is None:
            return index
        end = start + reading.words
        if not reading.explicit and end < len(self.tokens):
            follow = self.tokens[end]
            # "in A Major Way" apart, a bare letter is no key before another word.
            known = (
                follow.sort is not Sort.WORD
                or read_number(self.tokens, end) is not None
                or follow.folded in FOR_WORDS
                or follow.folded in ("op", "opus", "woo", "no", "nr")
                or follow.folded in TEMPO_STARTS
            )
            if not known:
                return index
        if not reading.explicit and not (self.forms or self.section or self.raws or self.other):
            return index
        if self.key is None:
            self.key = reading.name
        self.cut.update(range(index, end))
        self.evidence_end = max(self.evidence_end, end)
        return end

    def _mode_follows(self, index: int) -> bool:
        return any(
            word in ("major", "minor", "dur", "moll", "flat", "sharp", "maj", "min")
            for word in self.folded[index + 1 : index + 4]
        )

    def _form(self, index: int) -> int:
        for length in (3, 2, 1) if self.folded[index] in FORM_STARTS else ():
            if index + length > len(self.tokens):
                continue
            span = self.tokens[index : index + length]
            if length > 1 and any(
                part.sort is not Sort.WORD and part.folded != "-" for part in span
            ):
                continue
            if length == 3 and span[1].folded == "-":
                phrase = f"{span[0].folded} {span[2].folded}"
            else:
                phrase = " ".join(part.folded for part in span)
            form = FORMS.get(phrase)
            if form is None:
                continue
            if (
                length == 1
                and index + 2 < len(self.tokens)
                and self.folded[index + 1] == "-"
                and self.tokens[index + 1].glued
                and self.tokens[index + 2].glued
                and self.folded[index + 2] not in FORMS
            ):
                continue  # half of a hyphenated word
            self._add_form(form, index, index + length, phrase in PLURALS)
            return index + length
        parts = compound(self.folded[index])
        if parts is not None:
            instrument, form = parts
            plural = is_plural_compound(self.folded[index])
            self._add_instrument(instrument)
            self._add_form(form, index, index + 1, plural)
            return index + 1
        return index

    def _add_form(self, form: str, start: int, end: int, plural: bool) -> None:
        self.forms.append(form)
        self.form_tokens.extend(range(start, end))
        if plural:
            self.plural = True

    def _number(self, index: int) -> int:
        after = skip_number_word(self.tokens, index)
        if after == index or after >= len(self.tokens):
            return index
        token = self.tokens[after]
        value: int | None = None
        if token.sort is Sort.NUMBER and len(token.text) <= 4:
            value = int(token.text)
        elif token.sort is Sort.WORD:
            value = roman(token.text)
        if value is None:
            return index
        end = after + 1
        self.numbers += 1
        if self.number is None:
            self.number = value
            self.number_at = index
        # "Nos. 5 & 7", "No. 1-3", "Nr. 5 und 7": several works.
        while (
            end + 1 < len(self.tokens)
            and (self.folded[end] in ("&", "-", ",", "/") or self.folded[end] in AND_WORDS)
            and self.tokens[end + 1].sort is Sort.NUMBER
            and self.folded[end] != "."
        ):
            self.is_range = True
            end += 2
        if not self.forms and not self.other and not self.section:
            # "No. 3 Adagio": a number before any form may be a movement's.
            pass
        self.evidence_end = max(self.evidence_end, end)
        return end

    def _digits(self, index: int) -> int:
        token = self.tokens[index]
        following = self.folded[index + 1] if index + 1 < len(self.tokens) else ""
        # 2nd, 3rd, 2e, 1er, "5. Sinfonie"
        if following and self.tokens[index + 1].glued and f"{token.text}{following}" in ORDINALS:
            return self._ordinal(index, index + 2, ORDINALS[f"{token.text}{following}"])
        value = int(token.text[:9])
        if (
            following == "."
            and index + 2 < len(self.tokens)
            and self._form_at(index + 2)
            and self.number is None
            and value <= 150
        ):
            self.foreign = self.folded[index + 2] not in _ENGLISH_FORMS
            return self._ordinal(index, index + 2, value)
        if (
            self.form_tokens
            and self.form_tokens[-1] == index - 1
            and self.number is None
            and (value <= 150 and len(token.text) <= 3)
        ):
            # "Symphony 5"
            self.number = value
            self.numbers += 1
            self.evidence_end = max(self.evidence_end, index + 1)
            end = index + 1
            while (
                end + 1 < len(self.tokens)
                and (self.folded[end] in ("&", "-", ",", "/") or self.folded[end] in AND_WORDS)
                and self.tokens[end + 1].sort is Sort.NUMBER
            ):
                self.is_range = True
                end += 2
            return end
        if self._form_at(index + 1) or self._instrument_at(index + 1):
            self.pending_count = value if value < 1000 else None
            if self.pending_count and self.count is None and self._form_at(index + 1):
                self.count = value
            return index + 1
        self.other.append(index)
        return index + 1

    def _form_at(self, index: int) -> bool:
        return index < len(self.tokens) and (
            self.folded[index] in FORMS
            or compound(self.folded[index]) is not None
            or " ".join(self.folded[index : index + 2]) in FORMS
        )

    def _instrument_at(self, index: int) -> bool:
        return index < len(self.tokens) and self.folded[index] in INSTRUMENTS

    def _ordinal(self, start: int, end: int, value: int) -> int:
        if self._form_at(end) or (end < len(self.tokens) and self.folded[end] in SECTIONS):
            if self.number is None:
                self.number = value
                self.numbers += 1
                self.number_at = start
            return end
        self.other.extend(range(start, end))
        return end

    def _roman_ordinal(self) -> int:
        """Where "IX." before "Symphonie" ends, else 0: symphonies alone are numbered so."""
        if len(self.folded) < 3 or self.folded[1] != "." or not self.raw[0].isupper():
            return 0
        value = roman(self.raw[0]) if FORMS.get(self.folded[2]) == "Symphony" else None
        return 0 if value is None else self._ordinal(0, 2, value)

    def _word(self, index: int) -> int:
        word = self.folded[index]
        # A voice or instrument of up to three words ("viola da gamba", "double bass").
        for length in (3, 2, 1) if word in INSTRUMENT_STARTS else ():
            phrase = " ".join(self.folded[index : index + length])
            if phrase in INSTRUMENTS and index + length <= len(self.tokens):
                if length == 1 and (
                    word in PERFORMER_ONLY
                    or (word == "alto" and not self.forms)
                    or (len(word) <= 2)
                ):
                    continue
                following = " ".join(self.folded[index + length : index + length + 1])
                if length == 1 and word in SECTIONS and following in FORMS:
                    self.section = SECTIONS[word]
                    self.form_tokens.append(index)
                    return index + 1
                name = INSTRUMENTS[phrase]
                if name == "fortepiano" and any(w in _RUSSIAN for w in self.folded):
                    name = "piano"
                if not self._belongs(index):
                    break
                self._add_instrument(name)
                return index + length
        if word in SECTIONS and (
            self._form_at(index + 1)
            or (index > 0 and self._form_at(index - 1))
            or (index > 1 and self.folded[index - 1] in FOR_WORDS | {"a"})
        ):
            self.section = SECTIONS[word]
            self.form_tokens.append(index)
            return index + 1
        if word in ORDINALS:
            return self._ordinal(index, index + 1, ORDINALS[word])
        if word in COUNTS and (self._form_at(index + 1) or self._instrument_at(index + 1)):
            self.pending_count = COUNTS[word]
            if self._form_at(index + 1) and self.count is None:
                self.count = self.pending_count
            return index + 1
        if word in AND_WORDS:
            self._conjunction(index)
            return index + 1
        if word in FOR_WORDS or word in _SOLO_WORDS:
            if self.forms or self.instruments:
                return index + 1
        elif word in _ARTICLES and (self._form_at(index + 1) and not self.other):
            self.skipped.append(index)
            return index + 1
        elif word in ("a", "a'") and self.forms and index + 1 < len(self.tokens):
            # "Quatuor à cordes"
            if self.folded[index + 1] in SECTIONS:
                return index + 1
        elif word in _BOOKS and index + 1 < len(self.tokens):
            after = index + 1
            while after < len(self.tokens) and self.folded[after] in (".", ","):
                after += 1
            value = None
            if after < len(self.tokens):
                follow = self.tokens[after]
                if follow.sort is Sort.NUMBER:
                    value = int(follow.text[:4])
                else:
                    value = roman(follow.text) or ORDINALS.get(follow.folded)
            if value is not None and value <= 20 and (self.forms or self.other):
                self.book = f"{_BOOKS[word]} {value}"
                self.cut.update(range(index, after + 1))
                return after + 1
        self.other.append(index)
        return index + 1

    def _belongs(self, index: int) -> bool:
        """Whether an instrument's name is part of a medium here: by a form, "for" or a list."""
        if self.forms or self.instruments:
            return True
        ahead = " ".join(self.folded[index + 1 : index + 5])
        return any(word in FORMS for word in ahead.split()) or (
            index > 0 and self.folded[index - 1] in FOR_WORDS
        )

    def _conjunction(self, index: int) -> None:
        self.pending_count = None

    def _add_instrument(self, name: str) -> None:
        if name == "orchestra":
            self.orchestra = True
            return
        if name in ("basso continuo", "orchestral"):
            if name == "orchestral":
                self.section = "Orchestral"
            return
        if name in ("string", "wind", "chamber", "solo", "concert"):
            self.section = name.capitalize()
            return
        if name == "strings":
            self.instruments.append("strings")
            return
        if self.pending_count and self.pending_count > 1:
            self.instrument_count[name] = self.pending_count
        self.pending_count = None
        if name not in self.instruments:
            self.instruments.append(name)
        else:
            self.instrument_count[name] = self.instrument_count.get(name, 1) + 1

    def _bracket(self, index: int) -> None:
        token = self.tokens[index]
        self.cut.add(index)
        inner = token.text
        source = _FROM.match(inner)
        if source is not None and not inner[:2].isdigit():
            self.from_work = source.group("work").strip()
            return
        arranged = _ARRANGER.match(inner)
        if arranged is not None:
            self.arranger = arranged.group("who").strip()
            return
        inside = tokenize(inner)
        found = numbers_in(inner)
        if self._other_title(index, inner, bool(found)):
            return
        if found:
            self.raws.extend(found)
            self.evidence_end = max(self.evidence_end, index + 1)
            return
        folded = [part.folded for part in inside]
        raw_words = [part.text for part in inside]
        if self.forms and self.key is None:
            for start in range(len(folded)):
                key = read_key(
                    folded, raw_words, start, self.german, start > 0 and folded[start - 1] == "in"
                )
                if key is not None and key.explicit:
                    self.key = key.name
                    return
        if (
            any(
                (word in ENSEMBLE_WORDS or word in CHOIR_WORDS)
                and (word not in _WEAK_ENSEMBLES or "," in folded or ";" in folded)
                for word in folded
            )
            and len(inside) >= 2
            and not _ARRANGED.match(token.folded)
        ):
            self.people = inner
            return
        if not _ARRANGED.match(token.folded):
            self.names.append(inner)

    def _other_title(self, index: int, inner: str, numbered: bool) -> bool:
        """A bracket that names the work itself: "(Serenade No. 13 in G)", "(Serse, HWV 40)"."""
        if not self.other or self.forms or len(inner) < 4:
            return False
        reading = read_work(inner)
        if reading.form and reading.structured and (reading.number is not None or reading.key):
            self.forms.append(reading.form)
            self.number = reading.number
            self.key = reading.key
            self.instruments = list(reading.instruments)
            self.raws.extend(reading.raws)
            self.quotes.append(" ".join(self.raw[i] for i in self.other))
            self.other = []
            self.cut.update(range(index))
            return True
        if numbered and not self.raws and reading.proper and not reading.key:
            self.from_work = inner
            return True
        return False

    def _tail(self) -> str | None:
        """Text of a movement that follows the work's title without a separator, cut off it."""
        if not self.other or self.evidence_end < 0:
            return None
        after = [i for i in self.other if i >= self.evidence_end]
        if not after:
            return None
        first = after[0]
        # Everything between the evidence and the first unknown word has to be a mark.
        between = range(self.evidence_end, first)
        if any(self.tokens[i].sort in (Sort.QUOTE, Sort.BRACKET) for i in between):
            marks_only = all(self.tokens[i].sort is not Sort.WORD for i in between)
            if not marks_only:
                return None
        start = first
        for i in between:
            if self.tokens[i].sort is Sort.WORD or i in self.form_tokens:
                start = i
                break
        token = self.tokens[start]
        marked = start > self.evidence_end and self.tokens[start - 1].text in ",.;:-–—"
        numeral = (
            token.sort is Sort.WORD
            and token.text.isupper()
            and roman(token.text) is not None
            and (
                start + 1 == len(self.tokens)
                or self.tokens[start + 1].text in (".", ":", ")", "-", "–")
                or self.tokens[start + 1].folded in TEMPO_WORDS
            )
        ) or (
            token.sort is Sort.NUMBER
            and len(token.text) <= 2
            and start + 1 < len(self.tokens)
            and self.tokens[start + 1].text in (".", ")", ":")
        )
        heading = marked and token.folded in ACT_WORDS | SCENE_WORDS | {
            "part",
            "teil",
            "parte",
            "partie",
        }
        tempo = heading or token.folded in STRONG_TEMPO or (marked and token.folded in TEMPO_STARTS)
        if not (numeral or tempo):
            return None
        text = self.text[token.start :].strip()
        self.tail_at = token.start
        for i in range(start, len(self.tokens)):
            self.cut.add(i)
        self.other = [i for i in self.other if i < start]
        self.form_tokens = [i for i in self.form_tokens if i < start]
        return text

    def _made(self, tail: str | None) -> WorkReading:
        form, title, structured = self._title()
        nickname = None
        if self.quotes and title != self.quotes[0]:
            nickname = self.quotes[0]
        return WorkReading(
            text=self.text,
            title=title,
            form=form,
            instruments=tuple(self.instruments),
            number=self.number,
            key=self.key,
            raws=tuple(self.raws),
            nickname=nickname,
            structured=structured,
            plural=self.plural or self.is_range,
            count=self.count,
            arranger=self.arranger,
            from_work=self.from_work,
            people=self.people,
            tail=tail,
            tail_at=self.tail_at,
            ordinal_foreign=self.foreign,
            german=self.german,
            range=self.is_range,
            proper=self._proper(),
            bracket_names=tuple(self.names),
        )

    def _title(self) -> tuple[str | None, str, bool]:
        others = [
            i
            for i in self.other
            if i not in self.cut and not (self.folded[i] in _ARTICLES and self.forms)
        ]
        form = self._chief_form()
        if form is None:
            proper = self._proper()
            if not proper and self.quotes:
                return None, self.quotes[0], False
            return None, proper, False
        if form == "Cantata" and self.quotes and not others:
            return form, self.quotes[0], False
        if form == "Overture" and others and self.forms == ["Overture"] and self.number is None:
            name = self._overture_of(others)
            if name:
                return form, f"{name} Overture", False
        if others or ((self.plural or self.count) and self.number is None):
            proper = self._proper()
            if not proper and self.quotes:
                return form, self.quotes[0], False
            return form, proper or form, False
        return form, self._general_title(form), True

    def _overture_of(self, others: list[int]) -> str | None:
        """The name in "Egmont, Ouvertüre", "Ouvertüre zu Coriolan", "Overture: Coriolan"."""
        if not self.form_tokens:
            return None  # the form is a bracket's
        at = self.form_tokens[0]
        after = [i for i in others if i > at]
        if after and len(after) != len(others):
            return None
        kept = [
            i for i in others if self.folded[i] not in ("zu", "zur", "zum", "to", "from", "aus")
        ]
        if not kept or any(i - kept[0] >= 6 for i in kept):
            return None
        text = self.text[self.tokens[kept[0]].start : self.tokens[kept[-1]].end]
        return text.strip(" ,;:-–—")

    def _chief_form(self) -> str | None:
        if not self.forms:
            return None
        for form in self.forms:
            if form not in SECTION_FORMS:
                return form
        return self.forms[0]

    def _general_title(self, form: str) -> str:
        distinct = list(dict.fromkeys(self.forms))
        if len(distinct) > 1 and self.form_tokens:  # else a bracket's form, and the movement's
            if not self._are_joined():
                return self._proper()  # "Fantaisie-Impromptu": a title of its own
            combined = self._combined(distinct)
            if combined is not None:
                return self._numbered(combined)
        elif self._plain_form(form):
            return self._own_words()
        title = medium_title(
            form,
            self.instruments,
            self.instrument_count,
            self.section,
            self.orchestra,
            self.number is not None,
        )
        return self._numbered(title)

    def _plain_form(self, form: str) -> bool:
        """Whether the title is a form's name and nothing else ("Boléro", "La valse")."""
        return (
            not (self.instruments or self.section or self.orchestra or self.key or self.book)
            and self.number is None
            and (
                any(self.folded[i] in _ARTICLES for i in self.skipped)
                or all(self.folded[i] == fold(form) for i in self.form_tokens)
            )
        )

    def _own_words(self) -> str:
        return self._proper() or self.text

    def _are_joined(self) -> bool:
        first, last = min(self.form_tokens), max(self.form_tokens)
        return any(self.folded[i] in AND_WORDS for i in range(first, last))

    def _combined(self, distinct: list[str]) -> str | None:
        """ "Prelude and Fugue", "Toccata, Adagio and Fugue": forms joined by "and"."""
        if set(distinct) & {"Concerto", "Sonata", "Symphony", "Quartet", "Quintet"}:
            return None
        if len(distinct) == 2:
            return f"{distinct[0]} and {distinct[1]}"
        return ", ".join(distinct[:-1]) + f" and {distinct[-1]}"

    def _numbered(self, title: str) -> str:
        if self.number is not None and not self.is_range:
            title = f"{title} No. {self.number}"
        if self.book:
            title = f"{title}, {self.book}"
        return title

    def _proper(self) -> str:
        """The text's own words (:meth:`_own`), worked out once."""
        if self.own is None:
            self.own = self._own()
        return self.own

    def _own(self) -> str:
        """The text's own words without key, catalogue numbers, nickname and remarks."""
        if not self.cut:
            whole = self.text[self.tokens[0].start : self.tokens[-1].end] if self.tokens else ""
            return self._tidy(whole)
        pieces: list[str] = []
        last_end = 0
        kept = [i for i in range(len(self.tokens)) if i not in self.cut]
        previous = -2
        for i in kept:
            token = self.tokens[i]
            if (
                token.sort is Sort.MARK
                and token.text in ",;:.-–—/"
                and (i + 1 in self.cut or i - 1 in self.cut)
            ):
                if token.text in ".-" and token.glued and i - 1 == previous and token.text == ".":
                    pieces.append(token.text)
                    last_end = token.end
                    previous = i
                continue
            if previous == i - 1 and previous >= 0:
                pieces.append(self.text[last_end : token.start])
            elif pieces:
                pieces.append(" ")
            pieces.append(self.text[token.start : token.end])
            last_end = token.end
            previous = i
        return self._tidy("".join(pieces))

    def _tidy(self, text: str) -> str:
        text = _SPACES.sub(" ", text).strip(" ,;:-–—/|")
        if self.forms:
            text = _BEFORE_NUMBER.sub("No. ", text)
        if self.book and text:
            text = f"{text}, {self.book}"
        return text


_SPACES = re.compile(r"\s{2,}|[^\S ]")
_BEFORE_NUMBER = re.compile(r"\b(?:No|Nr|n°|nº|N°)\s*\.?\s*(?=\d)")
_PIANO_TRIO = frozenset({"piano", "violin", "cello"})
_KEYBOARD = ("piano", "harpsichord", "fortepiano", "organ")
_CHAMBER = frozenset({"Trio", "Quartet", "Quintet", "Sextet", "Septet", "Octet", "Nonet"})
_STRING_PLAYERS = frozenset({"violin", "viola", "cello", "double bass"})


def _cap(name: str) -> str:
    return " ".join(word.capitalize() for word in name.split(" "))


_COUNT_NAMES = {2: "Two", 3: "Three", 4: "Four", 5: "Five", 6: "Six"}


def medium_title(
    form: str,
    instruments: Sequence[str],
    counts: dict[str, int],
    section: str | None,
    orchestra: bool,
    numbered: bool,
) -> str:
    """The conventional English title of a form with its medium (``Piano Trio``)."""
    names = [name for name in instruments if name != "strings"]
    if form == "Sinfonia" and numbered:
        form = "Symphony"
    if form in _CHAMBER:
        if section and section != "Chamber":
            return f"{section} {form}"
        if not names:
            if "strings" in instruments or (form in ("Quartet", "Quintet") and numbered):
                return f"String {form}"
            return form
        if set(names) <= _STRING_PLAYERS:
            return f"String {form}"
        if "piano" in names and set(names) - {"piano"} <= _STRING_PLAYERS:
            return f"Piano {form}"
        for name in names:
            if name not in _STRING_PLAYERS and name != "piano":
                return f"{_cap(name)} {form}"
        return f"{_cap(names[0])} {form}"
    if form in ("Sonata", "Sonatina", "Suite", "Partita", "Duo"):
        if section and section not in ("Solo", "Orchestral", "Chamber"):
            return f"{section} {form}"
        if section == "Orchestral":
            return f"Orchestral {form}"
        if len(names) == 1:
            name = names[0]
            if counts.get(name, 1) > 1:
                return (
                    f"{form} for {_COUNT_NAMES.get(counts[name], str(counts[name]))} {_cap(name)}s"
                )
            return f"{_cap(name)} {form}"
        melodic = [name for name in names if name not in _KEYBOARD]
        if len(names) == 2 and len(melodic) == 1 and counts.get(melodic[0], 1) == 1:
            return f"{_cap(melodic[0])} {form}"
        if names:
            return f"{form} for {_listed(names, counts)}"
        return form
    if form in ("Concerto", "Concertino", "Symphony", "Fantasia", "Concert Piece"):
        if section == "Chamber" and form == "Symphony":
            return "Chamber Symphony"
        if section in ("Piano", "Violin", "Cello", "Clarinet") and not names:
            return f"{section} {form}"
        if section and section != "Solo" and form in ("Symphony",):
            return f"{section} {form}"
        if len(names) == 1:
            name = names[0]
            if counts.get(name, 1) > 1:
                return (
                    f"{form} for {_COUNT_NAMES.get(counts[name], str(counts[name]))} {_cap(name)}s"
                )
            if form in ("Fantasia",):
                return form
            return f"{_cap(name)} {form}"
        if len(names) > 1 and form != "Symphony" and form != "Fantasia":
            return f"{form} for {_listed(names, counts)}"
        if orchestra and not names and form == "Concerto":
            return "Concerto for Orchestra"
        if "strings" in instruments and form == "Concerto":
            return "Concerto for Strings"
        return form
    return form


def _listed(names: Sequence[str], counts: dict[str, int]) -> str:
    words = [
        f"{_COUNT_NAMES.get(counts[name], str(counts[name]))} {_cap(name)}s"
        if counts.get(name, 1) > 1
        else _cap(name)
        for name in names
    ]
    if len(words) == 1:
        return words[0]
    return ", ".join(words[:-1]) + f" and {words[-1]}"


@lru_cache(maxsize=4096)
def read_from(text: str) -> str | None:
    """The work named by ``from Messiah`` and its like in other languages, or None."""
    match = _FROM.match(text)
    return match.group("work").strip() if match else None


@lru_cache(maxsize=4096)
def is_russian(text: str) -> bool:
    """Whether a title is transliterated Russian ("Kontsert dlya fortepiano s orkestrom")."""
    if text.isascii() and not any(word in text.lower() for word in _RUSSIAN_SIGNS):
        return False
    return any(token.folded in _RUSSIAN_SIGNS for token in tokenize(text))
