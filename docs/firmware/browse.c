/* Reads a card's catalogue as a player does: a whole program to learn from and to test with.
 *
 *     syncd catalogue header -o syncd_catalogue.h
 *     cc -std=c99 -O2 browse.c -lsqlite3 -o browse
 *     ./browse /media/me/CARD
 *
 * It chooses the slot by the records, opens the catalogue in a fixed arena, takes every step of the
 * contract at every place, and prints the rows: one a line, its columns separated by tabs. What the
 * steps cost comes last, on standard error. docs/firmware.md explains all of it.
 *
 *     --cold      forget all pages before each step, as the budgets have it
 *     --check     first compare all bytes of the catalogue with the record's checksum
 *     --pull N    after N reads, let the card be away for one read
 *
 * For files it needs the C library only; on a player, fopen and the file system below SQLite are
 * your own. Exit status: 0 all read; 1 no catalogue that can be read; 2 wrong usage. */

#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>

#include "syncd_catalogue.h"

#ifndef ARENA_BYTES
#define ARENA_BYTES (24 * 1024) /* all that SQLite gets */
#endif
#ifndef PAGES
#define PAGES 8 /* pages that it keeps */
#endif
#ifndef KEPT
#define KEPT 1 /* statements that stay prepared: to prepare one reads nothing from the card */
#endif

/* ---- The arena: memory for SQLite. First fit, neighbours joined, eight bytes in front of each
 * block. Rounding to powers of two, as SQLITE_ENABLE_MEMSYS5 does, would need half as much again. */

struct block {
    uint32_t size; /* with this head; a multiple of eight */
    uint32_t used;
};

static union {
    double aligned;
    sqlite3_int64 aligned_too;
    unsigned char bytes[ARENA_BYTES];
} arena;
static uint32_t arena_used, arena_most, arena_top;

#define FIRST_BLOCK ((struct block *)(void *)arena.bytes)

static struct block *next_block(struct block *at)
{
    unsigned char *next = (unsigned char *)at + at->size;
    return next < arena.bytes + sizeof arena.bytes ? (struct block *)(void *)next : NULL;
}

/* Give the end of a block that is longer than size back. */
static void split(struct block *at, uint32_t size)
{
    if (at->size - size >= 2 * sizeof(struct block)) {
        struct block *rest = (struct block *)(void *)((unsigned char *)at + size);
        rest->size = at->size - size;
        rest->used = 0;
        at->size = size;
    }
}

static void join_free(struct block *at)
{
    for (struct block *next = next_block(at); next && !next->used; next = next_block(at))
        at->size += next->size;
}

static int arena_roundup(int bytes)
{
    return (bytes + 7) & ~7;
}

static void *arena_malloc(int bytes)
{
    uint32_t size = (uint32_t)arena_roundup(bytes) + (uint32_t)sizeof(struct block);
    for (struct block *at = FIRST_BLOCK; at; at = next_block(at)) {
        if (at->used) continue;
        join_free(at);
        if (at->size < size) continue;
        split(at, size);
        at->used = 1;
        arena_used += at->size;
        if (arena_used > arena_most) arena_most = arena_used;
        uint32_t top = (uint32_t)((unsigned char *)at - arena.bytes) + at->size;
        if (top > arena_top) arena_top = top;
        return at + 1;
    }
    return NULL;
}

static void arena_free(void *memory)
{
    if (!memory) return;
    struct block *at = (struct block *)memory - 1;
    at->used = 0;
    arena_used -= at->size;
}

static int arena_size(void *memory)
{
    return memory ? (int)(((struct block *)memory - 1)->size - sizeof(struct block)) : 0;
}

static void *arena_realloc(void *memory, int bytes)
{
    if (arena_size(memory) >= bytes) return memory;
    void *bigger = arena_malloc(bytes);
    if (!bigger) return NULL;
    memcpy(bigger, memory, (size_t)arena_size(memory));
    arena_free(memory);
    return bigger;
}

static int arena_init(void *unused)
{
    (void)unused;
    FIRST_BLOCK->size = (uint32_t)(sizeof arena.bytes & ~(size_t)7);
    FIRST_BLOCK->used = 0;
    return SQLITE_OK;
}

static void arena_shutdown(void *unused)
{
    (void)unused;
}

/* ---- The file system below SQLite: the system's own, with reads counted. A player has its own
 * file system here; what it must tell is in device_traits. */

struct counted_file {
    sqlite3_file base;
    sqlite3_file *real; /* lies behind this */
};

static sqlite3_vfs *system_vfs, counted_vfs;
static unsigned long reads, bytes_read, reads_in_all, pull_at;

static sqlite3_file *real(sqlite3_file *file)
{
    return ((struct counted_file *)(void *)file)->real;
}

static int file_close(sqlite3_file *file)
{
    return real(file)->pMethods->xClose(real(file));
}

static int file_read(sqlite3_file *file, void *to, int amount, sqlite3_int64 offset)
{
    reads++;
    bytes_read += (unsigned long)amount;
    if (++reads_in_all == pull_at) return SQLITE_IOERR_READ;
    return real(file)->pMethods->xRead(real(file), to, amount, offset);
}

static int file_size(sqlite3_file *file, sqlite3_int64 *size)
{
    return real(file)->pMethods->xFileSize(real(file), size);
}

static int file_write(sqlite3_file *file, const void *from, int amount, sqlite3_int64 offset)
{
    (void)file, (void)from, (void)amount, (void)offset;
    return SQLITE_READONLY;
}

static int file_truncate(sqlite3_file *file, sqlite3_int64 size)
{
    (void)file, (void)size;
    return SQLITE_READONLY;
}

static int file_number(sqlite3_file *file, int number) /* sync, lock, unlock: nothing to do */
{
    (void)file, (void)number;
    return SQLITE_OK;
}

static int file_reserved(sqlite3_file *file, int *held)
{
    (void)file;
    *held = 0;
    return SQLITE_OK;
}

static int file_control(sqlite3_file *file, int what, void *with)
{
    (void)file, (void)what, (void)with;
    return SQLITE_NOTFOUND;
}

static int sector_size(sqlite3_file *file)
{
    (void)file;
    return 512;
}

static int device_traits(sqlite3_file *file)
{
    (void)file;
    return SQLITE_IOCAP_IMMUTABLE; /* nobody writes: no locks, no journal to look for */
}

static const sqlite3_io_methods file_methods = {
    1, file_close, file_read, file_write, file_truncate, file_number, file_size, file_number,
    file_number, file_reserved, file_control, sector_size, device_traits,
    NULL, NULL, NULL, NULL, NULL, NULL};

static int file_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *file, int flags, int *out)
{
    struct counted_file *counted = (struct counted_file *)(void *)file;
    (void)vfs;
    counted->real = (sqlite3_file *)(void *)(counted + 1);
    counted->base.pMethods = NULL;
    int result = system_vfs->xOpen(system_vfs, name, counted->real, flags, out);
    if (result == SQLITE_OK) counted->base.pMethods = &file_methods;
    return result;
}

static int set_up_sqlite(void)
{
    static const sqlite3_mem_methods memory = {
        arena_malloc, arena_free, arena_realloc, arena_size, arena_roundup,
        arena_init, arena_shutdown, NULL};
    sqlite3_config(SQLITE_CONFIG_SINGLETHREAD);
    sqlite3_config(SQLITE_CONFIG_MALLOC, &memory);
    sqlite3_config(SQLITE_CONFIG_LOOKASIDE, 0, 0);
    sqlite3_config(SQLITE_CONFIG_SMALL_MALLOC, 1);
    sqlite3_config(SQLITE_CONFIG_PAGECACHE, NULL, 0, 0); /* pages from the arena, one by one */
    if (sqlite3_initialize() != SQLITE_OK) return 0;
    system_vfs = sqlite3_vfs_find(NULL);
    counted_vfs = *system_vfs;
    counted_vfs.pNext = NULL;
    counted_vfs.zName = "counted";
    counted_vfs.szOsFile = (int)sizeof(struct counted_file) + system_vfs->szOsFile;
    counted_vfs.xOpen = file_open;
    return sqlite3_vfs_register(&counted_vfs, 0) == SQLITE_OK;
}

/* ---- Slots, and opening */

struct player {
    const char *card;
    struct syncd_slot_state slots[2];
    int slot;
    sqlite3 *db;
    sqlite3_stmt *statements[SYNCD_STATEMENTS]; /* those that are kept, else NULL */
    unsigned long used[SYNCD_STATEMENTS];       /* when: a count that goes up */
    struct { sqlite3_int64 first, count; } homes[SYNCD_HOME_ROWS + 1]; /* by id of home */
};

static char path[1024];
static const char *path_on(const char *card, const char *name)
{
    int length = snprintf(path, sizeof path, "%s/%s", card, name);
    return length > 0 && (size_t)length < sizeof path ? path : "";
}

static void look_at_slots(struct player *p)
{
    static const char *const db[2] = SYNCD_SLOT_DB, *const rec[2] = SYNCD_SLOT_REC;
    unsigned char record[SYNCD_RECORD_BYTES + 1];
    memset(p->slots, 0, sizeof p->slots);
    for (int i = 0; i < 2; i++) {
        FILE *file = fopen(path_on(p->card, rec[i]), "rb");
        if (file) {
            syncd_read_record(&p->slots[i], record, fread(record, 1, sizeof record, file));
            fclose(file);
        }
        file = fopen(path_on(p->card, db[i]), "rb");
        if (file) {
            long size = fseek(file, 0, SEEK_END) == 0 ? ftell(file) : -1;
            if (size > 0) p->slots[i].file_size = (uint64_t)size;
            fclose(file);
        }
    }
}

static uint32_t big_endian(const unsigned char *at)
{
    return (uint32_t)at[0] << 24 | (uint32_t)at[1] << 16 | (uint32_t)at[2] << 8 | at[3];
}

/* Whether the file is a catalogue that this program can read, by SQLite's header (its "Database
 * File Format", section 1.3): page size at 16, pages at 28, user_version at 60, application_id
 * at 68. */
static int is_ours(const char *file_name, uint64_t size)
{
    unsigned char header[100];
    FILE *file = fopen(file_name, "rb");
    size_t got = file ? fread(header, 1, sizeof header, file) : 0;
    if (file) fclose(file);
    if (got != sizeof header || memcmp(header, "SQLite format 3", 16) != 0) {
        fprintf(stderr, "%s is damaged: it is not a SQLite database.\n", file_name);
        return 0;
    }
    if (big_endian(header + 68) != SYNCD_APPLICATION_ID) {
        fprintf(stderr, "%s is a database of another program, not a catalogue.\n", file_name);
        return 0;
    }
    if (big_endian(header + 60) != SYNCD_FORM) {
        fprintf(stderr, "%s has form %lu, and this player reads form %d. %s\n", file_name,
                (unsigned long)big_endian(header + 60), SYNCD_FORM,
                big_endian(header + 60) > SYNCD_FORM ? "It needs newer firmware."
                                                     : "Update the card.");
        return 0;
    }
    uint64_t page = (uint64_t)header[16] << 8 | header[17];
    if (page * big_endian(header + 28) != size) {
        fprintf(stderr, "%s is damaged: it has %lu bytes, its header says %lu.\n", file_name,
                (unsigned long)size, (unsigned long)(page * big_endian(header + 28)));
        return 0;
    }
    return 1;
}

static int has_its_checksum(const char *file_name, uint32_t said)
{
    static unsigned char some[512];
    uint32_t crc = 0;
    size_t got;
    FILE *file = fopen(file_name, "rb");
    if (!file) return 0;
    while ((got = fread(some, 1, sizeof some, file)) > 0) crc = syncd_crc32(crc, some, got);
    fclose(file);
    if (crc != said) fprintf(stderr, "%s is damaged: its checksum differs.\n", file_name);
    return crc == said;
}

static unsigned long vm_steps;

static void let_go(struct player *p, int what)
{
    if (p->statements[what])
        vm_steps += (unsigned long)sqlite3_stmt_status(p->statements[what],
                                                       SQLITE_STMTSTATUS_VM_STEP, 1);
    sqlite3_finalize(p->statements[what]);
    p->statements[what] = NULL;
}

static void close_catalogue(struct player *p)
{
    for (int i = 0; i < SYNCD_STATEMENTS; i++) let_go(p, i);
    sqlite3_close(p->db);
    p->db = NULL;
}

static int say_why(struct player *p, int result)
{
    int kind = result & 0xFF;
    const char *said = p->db ? sqlite3_errmsg(p->db) : sqlite3_errstr(result);
    if (kind == SQLITE_NOMEM)
        fprintf(stderr, "The arena of %d bytes is too small.\n", (int)ARENA_BYTES);
    else if (kind == SQLITE_IOERR || kind == SQLITE_CANTOPEN)
        fprintf(stderr, "The card cannot be read (%s). Is it plugged in?\n", said);
    else
        fprintf(stderr, "The catalogue is damaged: %s. Update the card.\n", said);
    return 0;
}

/* Have a statement ready; if too many are kept, the one not used for longest is let go. */
static int prepare(struct player *p, int what)
{
    static const char *const sql[] = SYNCD_SQL_ALL;
    static unsigned long now;
    int kept = 0, oldest = -1;
    p->used[what] = ++now;
    if (p->statements[what]) return SQLITE_OK;
    for (int i = 0; i < SYNCD_STATEMENTS; i++) {
        if (!p->statements[i]) continue;
        kept++;
        if (oldest < 0 || p->used[i] < p->used[oldest]) oldest = i;
    }
    if (kept >= KEPT) let_go(p, oldest);
    return sqlite3_prepare_v3(p->db, sql[what], -1, SQLITE_PREPARE_PERSISTENT,
                              &p->statements[what], NULL);
}

/* Step 1, boot: open, read the schema, prepare as many statements as are kept. */
static int open_file(struct player *p, const char *file_name)
{
    char pragma[40];
    int result = sqlite3_open_v2(file_name, &p->db, SQLITE_OPEN_READONLY, "counted");
    /* Newer versions of SQLite prepare a statement again when another LIMIT is bound, which takes
     * the memory of two, unless they may not look at what is bound. */
    if (result == SQLITE_OK)
        result = sqlite3_db_config(p->db, SQLITE_DBCONFIG_ENABLE_QPSG, 1, NULL);
    snprintf(pragma, sizeof pragma, "PRAGMA cache_size=%d", PAGES);
    if (result == SQLITE_OK) result = sqlite3_exec(p->db, pragma, NULL, NULL, NULL);
    for (int i = 0; i < SYNCD_STATEMENTS && i < KEPT && result == SQLITE_OK; i++)
        result = prepare(p, i);
    if (result == SQLITE_OK) return 1;
    say_why(p, result);
    close_catalogue(p);
    return 0;
}

/* Open the slot that the records say; if that one cannot be read, the other. */
static int open_catalogue(struct player *p, int check)
{
    static const char *const db[2] = SYNCD_SLOT_DB;
    look_at_slots(p);
    for (;;) {
        p->slot = syncd_choose_slot(p->slots);
        if (p->slot < 0) {
            fprintf(stderr, "There is no catalogue on the card at %s that can be read. "
                            "Update the card.\n", p->card);
            return 0;
        }
        const struct syncd_slot_state *slot = &p->slots[p->slot];
        const char *file_name = path_on(p->card, db[p->slot]);
        if (is_ours(file_name, slot->file_size)
            && (!check || has_its_checksum(file_name, slot->file_crc)) && open_file(p, file_name))
            return 1;
        p->slots[p->slot].valid = 0;
    }
}

/* ---- Asking */

struct entry { /* what a player keeps of a list's row besides its text */
    sqlite3_int64 id, first, count, item;
};

typedef void took(sqlite3_stmt *row, void *to);

static void print_row(sqlite3_stmt *row)
{
    for (int i = 0; i < sqlite3_column_count(row); i++) {
        putchar('\t');
        if (sqlite3_column_type(row, i) == SQLITE_NULL) {
            fputs("NULL", stdout);
        } else if (sqlite3_column_type(row, i) == SQLITE_BLOB) {
            const unsigned char *bytes = sqlite3_column_blob(row, i);
            for (int n = 0; n < sqlite3_column_bytes(row, i); n++) printf("%02x", bytes[n]);
        } else {
            const unsigned char *text = sqlite3_column_text(row, i);
            fputs(text ? (const char *)text : "", stdout);
        }
    }
    putchar('\n');
}

/* Ask for count rows from id first on; print them, and let take keep what it wants of them.
 *
 * If the card was away for a moment, the catalogue is opened anew and the rest is asked for: ids are
 * places, so nothing else has to be remembered. False, with a message, if that does not help. */
static int ask(struct player *p, int what, sqlite3_int64 first, sqlite3_int64 count, took *take,
               void *to)
{
    int done = 0, again = 0;
    while (done < count) {
        int result = prepare(p, what);
        sqlite3_stmt *statement = p->statements[what];
        if (result != SQLITE_OK) return say_why(p, result);
        sqlite3_bind_int64(statement, SYNCD_PARAMETER_FIRST, first + done);
        sqlite3_bind_int64(statement, SYNCD_PARAMETER_ROWS, count - done);
        while ((result = sqlite3_step(statement)) == SQLITE_ROW) {
            if (sqlite3_column_int64(statement, 0) != first + done) break; /* id comes first */
            print_row(statement);
            if (take) take(statement, to);
            done++;
        }
        sqlite3_reset(statement);
        if (result == SQLITE_DONE && done == count) return 1;
        if (result == SQLITE_DONE || result == SQLITE_ROW) {
            fprintf(stderr, "The catalogue is damaged: there is no row %lld where one should be. "
                            "Update the card.\n", (long long)(first + done));
            return 0;
        }
        say_why(p, result);
        if ((result & 0xFF) != SQLITE_IOERR || again++) return 0;
        uint32_t generation = p->slots[p->slot].generation;
        close_catalogue(p);
        if (!open_catalogue(p, 0)) return 0;
        if (p->slots[p->slot].generation != generation) {
            fprintf(stderr, "Another catalogue is on the card now: begin at home again.\n");
            return 0;
        }
        fprintf(stderr, "The card is back.\n");
    }
    return 1;
}

static int inside(const struct player *p, int home, sqlite3_int64 id)
{
    return id >= p->homes[home].first && id - p->homes[home].first < p->homes[home].count;
}

/* In which table the row with that id is: the ranges of two of them stand in home. */
static int table_of(const struct player *p, sqlite3_int64 id)
{
    if (inside(p, SYNCD_LIST_TRACKS, id)) return SYNCD_TRACKS;
    return inside(p, SYNCD_LIST_ENTRIES, id) ? SYNCD_ENTRIES : SYNCD_LINKS;
}

/* ---- What the steps cost */

enum { BOOT = 1, HOME, LIST, LETTER, OPEN, FOLLOW, SEARCH, QUEUE, PLAYING, RANDOM, STEPS };
static struct { unsigned long runs, reads, bytes, vm; } worst[STEPS];
static int cold;

static void count_vm_steps(struct player *p)
{
    for (int i = 0; i < SYNCD_STATEMENTS; i++)
        if (p->statements[i])
            vm_steps += (unsigned long)sqlite3_stmt_status(p->statements[i],
                                                           SQLITE_STMTSTATUS_VM_STEP, 1);
}

static void begin(struct player *p)
{
    if (cold) sqlite3_db_release_memory(p->db);
    count_vm_steps(p);
    vm_steps = reads = bytes_read = 0;
}

static int end(struct player *p, int step, int went_well)
{
    count_vm_steps(p);
    worst[step].runs++;
    if (reads > worst[step].reads) worst[step].reads = reads;
    if (bytes_read > worst[step].bytes) worst[step].bytes = bytes_read;
    if (vm_steps > worst[step].vm) worst[step].vm = vm_steps;
    return went_well;
}

static void tell_costs(void)
{
    static const char *const names[STEPS] = {"", "boot", "home", "list", "letter", "open", "follow",
                                             "search", "queue", "playing", "random"};
    fprintf(stderr, "step      runs  reads  bytes  vm steps (the most of any run)\n");
    for (int i = BOOT; i < STEPS; i++)
        fprintf(stderr, "%-8s %5lu  %5lu  %5lu  %8lu\n", names[i], worst[i].runs, worst[i].reads,
                worst[i].bytes, worst[i].vm);
    fprintf(stderr, "SQLite %s, %d bits, arena %d bytes, %d pages, %d statements: most in use %lu, "
                    "highest byte %lu\n", sqlite3_libversion(), (int)(8 * sizeof(void *)),
            (int)ARENA_BYTES, PAGES, KEPT, (unsigned long)arena_most, (unsigned long)arena_top);
}

/* ---- The steps */

static void keep_home(sqlite3_stmt *row, void *to)
{
    struct player *p = to;
    int id = sqlite3_column_int(row, SYNCD_HOME_ID);
    if (id < 1 || id > SYNCD_HOME_ROWS) return;
    p->homes[id].first = sqlite3_column_int64(row, SYNCD_HOME_FIRST);
    p->homes[id].count = sqlite3_column_int64(row, SYNCD_HOME_COUNT);
}

static int show_home(struct player *p)
{
    puts("home");
    begin(p);
    return end(p, HOME, ask(p, SYNCD_HOME, 1, SYNCD_HOME_ROWS, keep_home, p));
}

struct screen {
    struct entry rows[SYNCD_ROWS];
    int count;
};

static void keep_entry(sqlite3_stmt *row, void *to)
{
    struct screen *screen = to;
    struct entry *entry = &screen->rows[screen->count++];
    entry->id = sqlite3_column_int64(row, SYNCD_ENTRIES_ID);
    entry->first = sqlite3_column_int64(row, SYNCD_ENTRIES_FIRST);
    entry->count = sqlite3_column_int64(row, SYNCD_ENTRIES_COUNT);
    entry->item = sqlite3_column_int64(row, SYNCD_ENTRIES_ITEM);
}

/* A screen of the list that begins with id first and has count rows, from place on. */
static int show(struct player *p, sqlite3_int64 first, sqlite3_int64 count, sqlite3_int64 place,
                struct screen *screen)
{
    sqlite3_int64 rows = count - place < SYNCD_ROWS ? count - place : SYNCD_ROWS;
    int table = table_of(p, first);
    screen->count = 0;
    return ask(p, table, first + place, rows, table == SYNCD_TRACKS ? NULL : keep_entry, screen);
}

static int open_row(struct player *p, const struct entry *entry)
{
    struct screen screen;
    for (sqlite3_int64 place = 0; place < entry->count; place += SYNCD_ROWS) {
        printf("open %lld, place %lld\n", (long long)entry->id, (long long)place);
        begin(p);
        if (!end(p, OPEN, show(p, entry->first, entry->count, place, &screen))) return 0;
    }
    return 1;
}

/* From a row to what it stands for, and what that leads to. */
static int follow(struct player *p, sqlite3_int64 item)
{
    struct screen screen;
    screen.count = 0;
    printf("follow %lld\n", (long long)item);
    begin(p);
    int well = ask(p, SYNCD_ENTRIES, item, 1, keep_entry, &screen);
    if (well) {
        struct entry entry = screen.rows[0];
        well = show(p, entry.first, entry.count, 0, &screen);
    }
    return end(p, FOLLOW, well);
}

static int show_list(struct player *p, int home)
{
    struct screen screen;
    for (sqlite3_int64 place = 0; place < p->homes[home].count; place += SYNCD_ROWS) {
        printf("list %d, place %lld\n", home, (long long)place);
        begin(p);
        if (!end(p, LIST, show(p, p->homes[home].first, p->homes[home].count, place, &screen)))
            return 0;
        for (int i = 0; i < screen.count; i++) {
            if (!open_row(p, &screen.rows[i])) return 0;
            if (screen.rows[i].item && !follow(p, screen.rows[i].item)) return 0;
        }
    }
    return 1;
}

struct jumps {
    unsigned char starts[3 * 256];
    int count;
};

static void keep_jumps(sqlite3_stmt *row, void *to)
{
    struct jumps *jumps = to;
    const void *starts = sqlite3_column_blob(row, SYNCD_LETTERS_STARTS);
    int bytes = sqlite3_column_bytes(row, SYNCD_LETTERS_STARTS);
    if (bytes > (int)sizeof jumps->starts) bytes = (int)sizeof jumps->starts;
    if (starts) memcpy(jumps->starts, starts, (size_t)bytes);
    jumps->count = starts ? bytes / 3 : 0;
}

static void keep_jump_count(sqlite3_stmt *row, void *to)
{
    *(int *)to = sqlite3_column_int(row, SYNCD_HOME_JUMPS);
}

static int jump(struct player *p, int home)
{
    static struct jumps jumps;
    struct screen screen;
    int count = 0;
    printf("jumps of %d\n", home);
    if (!ask(p, SYNCD_HOME, home, 1, keep_jump_count, &count)) return 0;
    for (int place = 0; place < count; place++) {
        printf("letter %d of %d\n", place, home);
        begin(p);
        jumps.count = 0;
        int well = ask(p, SYNCD_LETTERS, home, 1, keep_jumps, &jumps);
        if (well && place < jumps.count)
            well = show(p, p->homes[home].first, p->homes[home].count,
                        syncd_jump(jumps.starts, place) - p->homes[home].first, &screen);
        if (!end(p, LETTER, well)) return 0;
    }
    return 1;
}

struct prefix {
    int letters;
    sqlite3_int64 child, best, best_count;
};

static void keep_prefix(sqlite3_stmt *row, void *to)
{
    struct prefix *prefix = to;
    const unsigned char *text = sqlite3_column_text(row, SYNCD_PREFIX_LETTERS);
    prefix->letters = 0; /* characters: all bytes of UTF-8 but those that go on with one */
    for (; text && *text; text++) prefix->letters += (*text & 0xC0) != 0x80;
    prefix->child = sqlite3_column_int64(row, SYNCD_PREFIX_CHILD);
    prefix->best = sqlite3_column_int64(row, SYNCD_PREFIX_BEST);
    prefix->best_count = sqlite3_column_int64(row, SYNCD_PREFIX_BEST_COUNT);
}

/* Every prefix: their ids go from the empty one on without gaps, shorter ones first. */
static int search(struct player *p)
{
    struct prefix prefix;
    struct screen screen;
    sqlite3_int64 last = SYNCD_FIRST_PREFIX;
    for (sqlite3_int64 id = SYNCD_FIRST_PREFIX; id <= last; id++) {
        printf("search %lld\n", (long long)id);
        begin(p);
        int well = ask(p, SYNCD_PREFIX, id, 1, keep_prefix, &prefix);
        if (well) well = show(p, prefix.best, prefix.best_count, 0, &screen);
        if (!end(p, SEARCH, well)) return 0;
        if (prefix.letters && prefix.child + prefix.letters - 1 > last)
            last = prefix.child + prefix.letters - 1;
        for (int i = 0; i < screen.count; i++)
            if (!follow(p, screen.rows[i].item)) return 0;
    }
    return 1;
}

/* All tracks of the recordings or albums in a range of home, as they are asked for to play them. */
static int queue(struct player *p, int home)
{
    for (sqlite3_int64 place = 0; place < p->homes[home].count; place++) {
        struct screen screen;
        screen.count = 0;
        printf("to play %lld\n", (long long)(p->homes[home].first + place));
        if (!ask(p, SYNCD_ENTRIES, p->homes[home].first + place, 1, keep_entry, &screen)) return 0;
        struct entry group = screen.rows[0];
        for (sqlite3_int64 done = 0; done < group.count; done += SYNCD_QUEUE_ROWS) {
            sqlite3_int64 left = group.count - done;
            printf("queue %lld\n", (long long)(group.first + done));
            begin(p);
            if (!end(p, QUEUE, ask(p, SYNCD_TRACKS, group.first + done,
                                   left < SYNCD_QUEUE_ROWS ? left : SYNCD_QUEUE_ROWS, NULL, NULL)))
                return 0;
        }
    }
    return 1;
}

struct playing {
    sqlite3_int64 parent, first_credit, credit_count;
};

static void keep_playing(sqlite3_stmt *row, void *to)
{
    struct playing *playing = to;
    playing->parent = sqlite3_column_int64(row, SYNCD_TRACKS_PARENT);
    playing->first_credit = sqlite3_column_int64(row, SYNCD_TRACKS_FIRST_CREDIT);
    playing->credit_count = sqlite3_column_int64(row, SYNCD_TRACKS_CREDIT_COUNT);
}

static int now_playing(struct player *p, sqlite3_int64 track)
{
    struct playing now;
    printf("playing %lld\n", (long long)track);
    begin(p);
    int well = ask(p, SYNCD_TRACKS, track, 1, keep_playing, &now)
               && ask(p, SYNCD_GROUP, now.parent, 1, NULL, NULL)
               && ask(p, SYNCD_CREDITS, now.first_credit,
                      now.credit_count < SYNCD_ROWS ? now.credit_count : SYNCD_ROWS, NULL, NULL);
    return end(p, PLAYING, well);
}

/* A random row of a range of home: its ids have no gaps. */
static int random_row(struct player *p, int home, uint32_t *state)
{
    sqlite3_int64 count = p->homes[home].count;
    if (count <= 0) return 1;
    *state = *state * 1664525u + 1013904223u; /* on a player, its random numbers */
    sqlite3_int64 id = p->homes[home].first + (sqlite3_int64)(*state >> 8) % count;
    printf("random %lld\n", (long long)id);
    begin(p);
    return end(p, RANDOM, ask(p, table_of(p, id), id, 1, NULL, NULL));
}

static int walk(struct player *p)
{
    uint32_t state = 1;
    if (!show_home(p)) return 0;
    for (int home = 1; home < SYNCD_LIST_ENTRIES; home++)
        if (!show_list(p, home)) return 0;
    for (int home = 1; home < SYNCD_LIST_ENTRIES; home++)
        if (!jump(p, home)) return 0;
    if (!search(p) || !queue(p, SYNCD_LIST_RECORDINGS) || !queue(p, SYNCD_LIST_ARTIST_ALBUMS))
        return 0;
    for (sqlite3_int64 place = 0; place < p->homes[SYNCD_LIST_TRACKS].count; place++)
        if (!now_playing(p, p->homes[SYNCD_LIST_TRACKS].first + place)) return 0;
    for (int times = 0; times < 50; times++)
        if (!random_row(p, SYNCD_LIST_TRACKS, &state)
            || !random_row(p, SYNCD_LIST_RECORDINGS, &state))
            return 0;
    return 1;
}

int main(int count, char **words)
{
    static struct player player;
    int check = 0;
    for (int i = 1; i < count; i++) {
        if (strcmp(words[i], "--cold") == 0) cold = 1;
        else if (strcmp(words[i], "--check") == 0) check = 1;
        else if (strcmp(words[i], "--pull") == 0 && i + 1 < count)
            pull_at = strtoul(words[++i], NULL, 10);
        else player.card = words[i];
    }
    if (!player.card) {
        fprintf(stderr, "Usage: browse [--cold] [--check] [--pull N] CARD\n");
        return 2;
    }
    if (!set_up_sqlite()) {
        fprintf(stderr, "SQLite cannot be set up in %d bytes.\n", (int)ARENA_BYTES);
        return 1;
    }
    reads = bytes_read = 0;
    if (!open_catalogue(&player, check)) return 1;
    end(&player, BOOT, 1);
    printf("slot %c, generation %lu\n", "ab"[player.slot],
           (unsigned long)player.slots[player.slot].generation);
    int well = walk(&player);
    close_catalogue(&player);
    sqlite3_shutdown();
    tell_costs();
    return well ? 0 : 1;
}
