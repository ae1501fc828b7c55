"""What a stretch of text says about a work: the value that the grammar gives."""

from syncd.works.numbers.raw import RawNumber
from syncd.works.value import plain_value


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
