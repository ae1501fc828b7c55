"""How the rows of a catalogue look as text: one place for all faces. Pure."""

from syncd.catalogue.reader import Catalogue, CreditRow, EntryRow, Playing, TrackRow


def clock(milliseconds: int) -> str:
    """A duration in hours, minutes and seconds: ``4:07``, ``1:02:07``."""
    minutes, seconds = divmod((milliseconds + 500) // 1000, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{seconds:02}" if hours else f"{minutes}:{seconds:02}"


def summary(catalogue: Catalogue) -> str:
    """How much there is, in one sentence."""
    count = {row.list: row.count for row in catalogue.remembered_home()}
    if not count.get("tracks"):
        return "The catalogue is empty."
    parts = [
        counted(count[name], one)
        for name, one in (
            ("composers", "composer"),
            ("works", "work"),
            ("recordings", "recording"),
            ("artists", "popular artist"),
            ("albums", "popular album"),
            ("tracks", "track"),
        )
        if count.get(name)
    ]
    return ", ".join(parts) + "."


def group_line(row: EntryRow) -> str:
    """A recording or an album: label, year and length."""
    return f"{dated(row.label, row.number)}  {clock(row.seconds * 1000)}"


def track_title(row: TrackRow, whole: bool = False) -> str:
    """A track with its number; the *whole* title where a list shows a cut one."""
    title = row.whole if whole and row.whole else row.label
    return f"{row.number}. {title}" if row.number else title


def track_line(row: TrackRow) -> str:
    """A track in a list: number, title, whose it is if not the album's artist's, length."""
    by = f" ({row.artist})" if row.artist else ""
    return f"{shown(track_title(row) + by)}  {clock(row.milliseconds)}"


def credit_line(row: CreditRow) -> str:
    """A credit: the name, and the instrument or the role."""
    return f"{row.name}, {row.instrument or row.role}"


def work_line(playing: Playing) -> str:
    """The work that a movement is of, with key and catalogue numbers; empty for an album's."""
    group = playing.group
    key = f" in {group.key}" if group.key else ""
    numbers = f", {group.catalogue}" if group.catalogue else ""
    return f"{group.title or ''}{key}{numbers}"


def dated(text: str, year: int | None) -> str:
    """*text* with the year in brackets, if there is one."""
    return f"{shown(text)} ({year})" if year else shown(text)


def counted(number: int, one: str) -> str:
    """``1 work``, ``2,000 works``."""
    return f"{number:,} {one if number == 1 else one + 's'}"


def shown(text: str) -> str:
    """*text* as far as a terminal may have it: a card's catalogue is data from outside."""
    return "".join(c if c.isprintable() else "\ufffd" for c in str(text))
