"""The contract as a C header, for firmware: numbers, statements, columns, and the rule of slots.

Everything in it comes from ``contract``, ``rows`` and ``slots``, so it cannot say anything else
than they do; equal contracts give equal text. It needs C99 and no library but the language's own.
The guide for who uses it is docs/firmware.md.
"""

from collections.abc import Iterator

from syncd.catalogue import contract, slots
from syncd.catalogue.contract import Statement
from syncd.catalogue.rows import HOME

RECORD_FIELDS = (
    ("magic", 0, 8),
    ("format", 8, 4),
    ("generation", 12, 4),
    ("size", 16, 8),
    ("key", 24, 16),
    ("file_crc", 40, 4),
    ("reserved", 44, 16),
    ("crc", 60, 4),
)
"""Name, offset and bytes of each field of a slot's record; ``slots`` says what they mean."""

RULE = (
    "int a = state[0].valid && state[0].record_size == state[0].file_size;",
    "int b = state[1].valid && state[1].record_size == state[1].file_size;",
    "if (!a && !b) return -1;",
    "return b && (!a || state[1].generation > state[0].generation);",
)
"""How a player chooses a slot: 0 for a, 1 for b, -1 if there is no catalogue to open."""

_CODE = """\
/* What is known of a slot. Fill valid, generation and record_size by syncd_read_record, file_size
 * from the file system (0 if there is no file), and begin with all of it zero. */
struct syncd_slot_state {
    int valid;
    uint32_t generation;
    uint32_t file_crc; /* of the catalogue's bytes, for who wants to read all of them */
    uint64_t record_size;
    uint64_t file_size;
};

/* CRC-32 as in zip and PNG (ISO 3309). Begin with crc 0; more bytes may follow. Without a table. */
static inline uint32_t syncd_crc32(uint32_t crc, const unsigned char *bytes, size_t count)
{
    crc = ~crc;
    while (count--) {
        crc ^= *bytes++;
        for (int bit = 0; bit < 8; bit++) crc = (crc >> 1) ^ (0xEDB88320u & (0u - (crc & 1u)));
    }
    return ~crc;
}

/* An unsigned number of four bytes, the low one first. */
static inline uint32_t syncd_u32(const unsigned char *at)
{
    return at[0] | (uint32_t)at[1] << 8 | (uint32_t)at[2] << 16 | (uint32_t)at[3] << 24;
}

/* Take what was read of a .rec file, count bytes, into state; without effect if it is not valid. */
static inline void syncd_read_record(struct syncd_slot_state *state, const unsigned char *record,
                                     size_t count)
{
    if (count != SYNCD_RECORD_BYTES) return;
    if (memcmp(record + SYNCD_RECORD_MAGIC_AT, SYNCD_RECORD_MAGIC, 8) != 0) return;
    if (syncd_u32(record + SYNCD_RECORD_FORMAT_AT) != SYNCD_RECORD_FORMAT) return;
    if (syncd_u32(record + SYNCD_RECORD_CRC_AT) != syncd_crc32(0, record, SYNCD_RECORD_CRC_AT))
        return;
    state->generation = syncd_u32(record + SYNCD_RECORD_GENERATION_AT);
    state->file_crc = syncd_u32(record + SYNCD_RECORD_FILE_CRC_AT);
    state->record_size = syncd_u32(record + SYNCD_RECORD_SIZE_AT)
                         | (uint64_t)syncd_u32(record + SYNCD_RECORD_SIZE_AT + 4) << 32;
    state->valid = 1;
}

/* The slot to open: 0 for a, 1 for b, -1 if there is no catalogue. */
static inline int syncd_choose_slot(const struct syncd_slot_state state[2])
{
@RULE@
}

/* The id under the jump at that place (from 0) of a list: see the column starts of letters. */
static inline int32_t syncd_jump(const unsigned char *starts, int place)
{
    const unsigned char *at = starts + 3 * place;
    return (int32_t)(at[0] | (uint32_t)at[1] << 8 | (uint32_t)at[2] << 16);
}
"""


def header() -> str:
    """The text of the header, ending in a line break."""
    return "\n".join(_lines()) + "\n"


def _lines() -> Iterator[str]:
    yield f"/* syncd's catalogue, form {contract.FORM}: what a player asks, and what it may cost."
    yield " *"
    yield " * Made by `syncd catalogue header`; make it anew instead of changing it. C99."
    yield " * docs/firmware.md in syncd's source explains everything in here. */"
    yield "#ifndef SYNCD_CATALOGUE_H"
    yield "#define SYNCD_CATALOGUE_H"
    yield ""
    yield "#include <stddef.h>"
    yield "#include <stdint.h>"
    yield "#include <string.h>"
    yield ""
    yield from _numbers()
    yield ""
    yield from _home()
    yield ""
    yield from _statements()
    yield ""
    yield from _budgets()
    yield ""
    yield from _record()
    yield ""
    yield from _CODE.rstrip("\n").replace("@RULE@", "\n".join(f"    {x}" for x in RULE)).split("\n")
    yield ""
    yield "#endif"


def _numbers() -> Iterator[str]:
    for name, value, about in (
        ("FORM", f"{contract.FORM}", "user_version: open no catalogue with a higher one"),
        ("APPLICATION_ID", f"0x{contract.APPLICATION_ID:08X}", "application_id of every catalogue"),
        ("PAGE_BYTES", f"{contract.PAGE_BYTES}", "page size of the database"),
        ("ROWS", f"{contract.ROWS}", "rows of a screen that the budgets are for"),
        ("QUEUE_ROWS", f"{contract.QUEUE_ROWS}", "tracks to ask for at a time to play them"),
        ("LABEL_BYTES", f"{contract.LABEL_BYTES}", "longest label, UTF-8, without a final zero"),
        (
            "WHOLE_BYTES",
            f"{contract.WHOLE_BYTES}",
            "longest whole text, likewise; paths: see guide",
        ),
        ("FIRST_PREFIX", f"{contract.FIRST_PREFIX}", "id of the empty prefix: search begins here"),
    ):
        yield f"#define {f'SYNCD_{name}':<23} {value:<10} /* {about} */"


def _home() -> Iterator[str]:
    yield "/* Rows of home, by their ids: the lists, then ranges that are no lists to show. */"
    yield "enum syncd_home_row {"
    for number, (name, _) in enumerate(HOME, start=1):
        yield f"    SYNCD_LIST_{name.upper()} = {number},"
    yield f"    SYNCD_HOME_ROWS = {len(HOME)}"
    yield "};"


def _statements() -> Iterator[str]:
    yield "/* The statements. Prepare each once and keep it; reset it when its rows are read. */"
    for statement in contract.STATEMENTS:
        yield ""
        yield f"/* {statement.about} */"
        yield f"#define {_sql_name(statement)} \\"
        yield from (f"    {part}" for part in _literal(statement.sql))
        yield f"enum syncd_{statement.name}_column {{"
        for number, column in enumerate(statement.columns):
            yield f"    SYNCD_{statement.name}_{column}".upper() + f" = {number},"
        yield f"    SYNCD_{statement.name}_COLUMNS".upper() + f" = {len(statement.columns)}"
        yield "};"
    yield ""
    yield "enum syncd_statement {"
    for statement in contract.STATEMENTS:
        yield f"    SYNCD_{statement.name.upper()},"
    yield "    SYNCD_STATEMENTS"
    yield "};"
    yield "/* All of them, in that order: const char *const sql[] = SYNCD_SQL_ALL; */"
    yield "#define SYNCD_SQL_ALL { \\"
    names = [_sql_name(statement) for statement in contract.STATEMENTS]
    yield from (f"    {name}, \\" for name in names[:-1])
    yield f"    {names[-1]} }}"
    yield ""
    yield "/* Parameters of every statement: sqlite3_bind_int's second argument. */"
    yield "enum syncd_parameter {"
    places = [
        f"    SYNCD_PARAMETER_{name.upper()} = {number}"
        for number, name in enumerate(contract.PARAMETERS, start=1)
    ]
    yield from ",\n".join(places).split("\n")
    yield "};"


def _sql_name(statement: Statement) -> str:
    return f"SYNCD_SQL_{statement.name.upper()}"


def _literal(sql: str) -> list[str]:
    """*sql* as adjacent string literals, a line each, with marks that the macro goes on."""
    at = sql.index(" FROM ")
    pieces = [sql[:at], sql[at:]]
    while len(pieces[-2]) > 80:
        cut = pieces[-2].rindex(",", 0, 80) + 1
        pieces[-2:-1] = [pieces[-2][:cut], pieces[-2][cut:]]
    return [f'"{piece}" \\' for piece in pieces[:-1]] + [f'"{pieces[-1]}"']


def _budgets() -> Iterator[str]:
    yield "/* The ten kinds of step, and how many pages each reads at most from an empty page"
    yield " * cache, in libraries up to 300,000 tracks. No step moves more than"
    yield f" * {contract.MOST_BYTES_A_STEP} bytes or takes more than {contract.MOST_VM_STEPS} steps"
    yield " * of SQLite's machine."
    yield " *"
    for step in contract.STEPS:
        names = ", ".join(statement.name for statement in step.statements) or "-"
        yield f" * {step.number:>2} {step.name:<8} {step.reads:>3} reads  {names}"
    yield " */"


def _record() -> Iterator[str]:
    yield "/* The files of slot 0 (a) and 1 (b), from the card's root. */"
    for name, path in (("DB", slots.catalogue_path), ("REC", slots.record_path)):
        yield f'#define SYNCD_SLOT_{name} {{ "{path("a")}", "{path("b")}" }}'
    yield ""
    yield "/* A slot's record: numbers with the low byte first, no padding. */"
    yield f"#define SYNCD_RECORD_BYTES {slots.RECORD_BYTES}"
    yield f'#define SYNCD_RECORD_MAGIC "{slots.MAGIC.decode("ascii")}"'
    yield f"#define SYNCD_RECORD_FORMAT {slots.RECORD_FORMAT}u"
    yield "enum syncd_record_offset {"
    places = [f"    SYNCD_RECORD_{name.upper()}_AT = {offset}" for name, offset, _ in RECORD_FIELDS]
    yield from ",\n".join(places).split("\n")
    yield "};"
