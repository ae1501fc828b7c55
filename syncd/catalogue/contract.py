"""The contract with firmware: all that a player may ask a catalogue, and what it costs at most.

Ten kinds of step; everything that a player can show is one of them. A step is one or more of the
eight statements, each run with the id of a first row and a number of rows. There is nothing else:
``reader`` and ``browse`` run these statements and no other, the C header for firmware is made from
them, and the tests and ``tests/bench/catalogue_bench.py`` hold them to their budgets.

Reads are pages of 1 KiB from a cold page cache, with schema and statements kept. A form stays as it
is for ever: a change that old firmware could not read raises ``FORM``.
"""

from dataclasses import dataclass

APPLICATION_ID = 0x53794361
"""``application_id`` of every catalogue: the letters ``SyCa``."""

FORM = 2
"""``user_version``: raised by a change that a reader of the form before could not read."""

PAGE_BYTES = 1024
ROWS = 8
"""Rows of a screen: what the budgets are for. A player with more to show asks several times."""

QUEUE_ROWS = 6
"""Tracks that a player asks for at a time to play them: their rows are twice as long as others."""

LABEL_BYTES = 100
"""Longest label of a list row, in bytes of UTF-8."""

WHOLE_BYTES = 400
"""Longest text of all: more than any screen shows, and half a page, so that no row is endless."""

FIRST_PREFIX = 1
"""Id of the empty prefix, where a search begins."""

MOST_BYTES_A_STEP = 14 * 1024
MOST_VM_STEPS = 230
WARM_PAGES = 16
WARM_MEAN_READS = 2.2
"""Of a session in which what is chosen is heard: a queue, and some movements one after the other.

Of a listener who leaves each track the moment it begins, it is 2.3 at 100,000 tracks and 2.45 at
300,000: one step in nine is then a jump to credits and a group far from all that is in the cache.
"""

WARM_P99_READS = 7


@dataclass(frozen=True, slots=True)
class Statement:
    """One statement: the table that it reads and the columns that it gives, in this order.

    Its two parameters are ``first``, the id of the first row, and ``rows``, how many at most.
    """

    name: str
    table: str
    columns: tuple[str, ...]
    about: str

    @property
    def sql(self) -> str:
        """The text, the same for ever within one form."""
        return (
            f"SELECT {','.join(self.columns)} FROM {self.table} WHERE id>=?1 ORDER BY id LIMIT ?2"
        )


PARAMETERS = ("first", "rows")

HOME = Statement(
    "home",
    "home",
    ("id", "list", "label", "first", "count", "jumps"),
    "the lists and ranges that there are, with counts",
)
LETTERS = Statement(
    "letters", "letters", ("id", "letters", "starts"), "the jumps of a list of home, by its id"
)
ENTRIES = Statement(
    "entries",
    "entries",
    ("id", "label", "number", "seconds", "first", "count", "item"),
    "rows of any list but tracks, from any place on",
)
LINKS = Statement(
    "links", "links", ENTRIES.columns, "recordings by performer, and what a search finds, likewise"
)
PREFIX = Statement(
    "prefix",
    "prefixes",
    ("id", "letters", "child", "count", "first", "best", "best_count"),
    "what is found by the letters turned so far, and which can follow",
)
GROUP = Statement(
    "group",
    "groups",
    (
        "id",
        "parent",
        "first_track",
        "track_count",
        "first_credit",
        "credit_count",
        "year",
        "added",
        "art",
        "album",
        "performers",
        "composer",
        "composer_name",
        "title",
        "key",
        "catalogue",
    ),
    "a recording with its work, or an album",
)
TRACKS = Statement(
    "tracks",
    "tracks",
    (
        "id",
        "label",
        "number",
        "milliseconds",
        "path",
        "gain",
        "size",
        "parent",
        "disc",
        "first_credit",
        "credit_count",
        "artist",
        "whole",
    ),
    "movements or album tracks, to show and to play",
)
CREDITS = Statement(
    "credits",
    "credits",
    ("id", "performer", "name", "role", "instrument"),
    "who performs, and as what",
)

STATEMENTS = (HOME, LETTERS, ENTRIES, LINKS, PREFIX, GROUP, TRACKS, CREDITS)


@dataclass(frozen=True, slots=True)
class Step:
    """One kind of step: the statements that it runs in turn, and the reads that it may cost.

    ``reads`` is the budget, the worst case up to 300,000 tracks; ``aim`` what is wished for.
    """

    number: int
    name: str
    statements: tuple[Statement, ...]
    reads: int
    aim: int
    about: str


BOOT = Step(1, "boot", (), 3, 3, "open the file, read the schema, prepare the statements")
SHOW_HOME = Step(2, "home", (HOME,), 2, 2, "the lists that there are, with counts")
SHOW_LIST = Step(3, "list", (ENTRIES,), 6, 5, "any list of home, at any place")
JUMP = Step(4, "letter", (LETTERS, ENTRIES), 7, 6, "jump to a letter, with the screen")
OPEN = Step(
    5, "open", (ENTRIES,), 7, 6, "what a row leads to, at any place (by its id LINKS or TRACKS)"
)
FOLLOW = Step(
    6, "follow", (ENTRIES, ENTRIES), 10, 8, "open by id: a row's item, or a link while playing"
)
SEARCH = Step(
    7, "search", (PREFIX, LINKS), 10, 8, "one more letter: hits, letters that follow, best eight"
)
QUEUE = Step(8, "queue", (TRACKS,), 7, 6, "the next six tracks of a recording or album, to play")
PLAYING = Step(9, "playing", (TRACKS, GROUP, CREDITS), 14, 12, "now playing, all details")
RANDOM = Step(10, "random", (TRACKS,), 5, 4, "a random track (a random recording: ENTRIES)")

STEPS = (BOOT, SHOW_HOME, SHOW_LIST, JUMP, OPEN, FOLLOW, SEARCH, QUEUE, PLAYING, RANDOM)
