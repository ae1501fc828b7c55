-- The catalogue that a player reads. Form 2 (user_version 2, application_id 0x53794361, "SyCa").
--
-- Ids are places in display order, and no two things have the same: first come the tracks; entries
-- have a range of their own; what is neither is in links. The ranges of tracks and entries stand in
-- home. So a range of ids is a list, a place in it is an id, and the id of a first row tells in which
-- of the three tables it is.
-- A row that leads on says the id of the first row and how many there are (count 0: first 0). To
-- read a list from any place on:
--     SELECT ... FROM entries WHERE id >= :place ORDER BY id LIMIT :rows
-- where rows is 8, or less if fewer are left. What may be read, and at which cost, is the contract
-- (syncd/catalogue/contract.py). A label is at most 100 bytes of UTF-8; the whole text, of at
-- most 400, stands with the group or the track. Columns have no types and no constraints, and there are no
-- indexes, since a player must parse and hold all of this in little memory.

CREATE TABLE home (          -- the lists and ranges that there are; row 1 is always the composers,
    id INTEGER PRIMARY KEY,  -- and so on in the order of rows.HOME
    list,                    -- its name, the same in every catalogue
    label,
    first,                   -- id of the list's first row
    count,
    jumps                    -- letters to jump by, 0 where the list has none
);

CREATE TABLE letters (       -- jumps within the longer lists; ids are those of home
    id INTEGER PRIMARY KEY,
    letters,                 -- capitals, and # for what begins with no letter
    starts                   -- for each of them the id of its first row: three bytes, low one first
);

CREATE TABLE entries (
    id INTEGER PRIMARY KEY,
    label,
    number,                  -- the year of a recording or an album, else 0
    seconds,                 -- the length of a recording or an album, else 0
    first,                   -- what it leads to
    count,
    item                     -- id of the entry that this row stands for, 0 for itself
);

CREATE TABLE links (         -- as entries, but item is never 0: recordings under who performs in
                             -- them, and what a search finds
    id INTEGER PRIMARY KEY,
    label,
    number,
    seconds,
    first,
    count,
    item
);

CREATE TABLE prefixes (      -- search by turning a wheel; row 1 is the empty prefix
    id INTEGER PRIMARY KEY,
    letters,                 -- that can follow; the one at place n (from 0) leads to row child + n
    child,
    count,                   -- hits, a word of a name each; they are the links from first on
    first,
    best,                    -- the best of them, at most eight, are the links from best on
    best_count
);

CREATE TABLE groups (        -- recordings and albums; ids are those of their entries
    id INTEGER PRIMARY KEY,
    parent,                  -- id of the work or of the artist
    first_track,
    track_count,
    first_credit,
    credit_count,
    year,                    -- or NULL
    added,                   -- day it came to the library, since 1970-01-01, or NULL
    art,                     -- name of a picture file beside the tracks, empty for a picture in the
                             -- tracks' own files, NULL for none
    album,                   -- title of the album, of which a recording may be a part
    performers,              -- a recording's where the label was cut, else NULL; an album's artist
    composer,                -- id of the composer's entry; this and what follows NULL for albums
    composer_name,           -- natural order
    title,                   -- of the work
    key,                     -- or NULL
    catalogue                -- numbers separated by "; ", empty if there is none
);

CREATE TABLE tracks (        -- the movements of all recordings, then the tracks of all albums
    id INTEGER PRIMARY KEY,
    label,
    number,                  -- of the movement in its work, or of the track on its disc; 0 unknown
    milliseconds,
    path,                    -- from the root of the card, parts separated by "/"
    gain,                    -- hundredths of a decibel, or NULL
    size,                    -- bytes: a file of another size is not whole
    parent,                  -- id of the recording or album
    disc,                    -- 0 unknown
    first_credit,            -- what holds for this movement: often the recording's own range
    credit_count,
    artist,                  -- of an album's track, where it is not the album's, else NULL
    whole                    -- text of a label that was cut, else NULL
);

CREATE TABLE credits (
    id INTEGER PRIMARY KEY,
    performer,               -- id of the entry in the list performers; 0 for who performs nothing
    name,
    role,                    -- conductor ensemble choir soloist arranger ...
    instrument               -- or NULL
);
