-- The catalogue that a player reads. Form 1 (user_version 1, application_id 0x53794361, "SyCa").
--
-- Ids are places in display order, from 1 on, without gaps. A list is a range of ids:
--     SELECT ... FROM works WHERE id >= :first AND id < :first + :count ORDER BY id LIMIT 8
-- A row that has children says the id of the first one and how many there are (count 0: first 0).
-- A label is what a list shows, at most 100 bytes of UTF-8. Where it had to be cut, "whole" has the
-- full text, else "whole" is NULL. Times are in milliseconds, sizes in bytes. Paths are relative to
-- the root of the card, their parts separated by "/".

CREATE TABLE home (          -- what there is, in the order of a home screen
    id INTEGER PRIMARY KEY,
    list TEXT NOT NULL,      -- composers works recordings performers conductors ensembles choirs
                             -- soloists instruments artists albums tracks
    label TEXT NOT NULL,
    first INTEGER NOT NULL,  -- id of the list's first row: in the table of that name, or in headings
    count INTEGER NOT NULL,
    first_letter INTEGER NOT NULL,
    letter_count INTEGER NOT NULL
);

CREATE TABLE letters (       -- jumps within the lists of home
    id INTEGER PRIMARY KEY,
    letter TEXT NOT NULL,    -- a capital, or # for what begins with no letter
    first INTEGER NOT NULL,
    count INTEGER NOT NULL
);

CREATE TABLE composers (
    id INTEGER PRIMARY KEY,
    label TEXT NOT NULL,     -- family name first
    whole TEXT,
    name TEXT NOT NULL,      -- natural order
    first_work INTEGER NOT NULL,
    work_count INTEGER NOT NULL
);

CREATE TABLE works (
    id INTEGER PRIMARY KEY,
    composer INTEGER NOT NULL,
    label TEXT NOT NULL,     -- title, key and catalogue numbers
    whole TEXT,
    title TEXT NOT NULL,
    catalogue TEXT NOT NULL, -- numbers separated by "; ", empty if there is none
    key TEXT,
    first_recording INTEGER NOT NULL,
    recording_count INTEGER NOT NULL
);

CREATE TABLE recordings (
    id INTEGER PRIMARY KEY,
    work INTEGER NOT NULL,
    label TEXT NOT NULL,     -- the principal performers
    whole TEXT,
    year INTEGER,
    album TEXT NOT NULL,
    first_track INTEGER NOT NULL,
    track_count INTEGER NOT NULL,
    first_credit INTEGER NOT NULL,
    credit_count INTEGER NOT NULL,
    duration_ms INTEGER NOT NULL
);

CREATE TABLE artists (       -- of popular music
    id INTEGER PRIMARY KEY,
    label TEXT NOT NULL,
    whole TEXT,
    first_album INTEGER NOT NULL,
    album_count INTEGER NOT NULL
);

CREATE TABLE albums (
    id INTEGER PRIMARY KEY,
    artist INTEGER NOT NULL,
    label TEXT NOT NULL,
    whole TEXT,
    year INTEGER,
    first_track INTEGER NOT NULL,
    track_count INTEGER NOT NULL,
    duration_ms INTEGER NOT NULL
);

CREATE TABLE tracks (        -- the movements of all recordings, then the tracks of all albums
    id INTEGER PRIMARY KEY,
    recording INTEGER,       -- either a recording
    album INTEGER,           -- or a popular album
    number INTEGER,          -- of the movement in its work, or of the track on its disc
    disc INTEGER,
    label TEXT NOT NULL,
    whole TEXT,
    artist TEXT,             -- of a popular track, where it is not the album's
    first_credit INTEGER NOT NULL,  -- what holds for this movement: often the recording's own range
    credit_count INTEGER NOT NULL,
    duration_ms INTEGER NOT NULL,
    size INTEGER NOT NULL,
    path TEXT NOT NULL
);

CREATE TABLE credits (
    id INTEGER PRIMARY KEY,
    recording INTEGER NOT NULL,
    heading INTEGER NOT NULL,-- in the list performers; 0 for those who perform in no recording
    name TEXT NOT NULL,
    role TEXT NOT NULL,      -- conductor ensemble choir soloist arranger ...
    instrument TEXT
);

CREATE TABLE headings (      -- performers, conductors, ensembles, choirs, soloists, instruments
    id INTEGER PRIMARY KEY,
    home INTEGER NOT NULL,
    label TEXT NOT NULL,
    whole TEXT,
    first_entry INTEGER NOT NULL,
    entry_count INTEGER NOT NULL
);

CREATE TABLE entries (       -- a heading's recordings, in the order of composers and works
    id INTEGER PRIMARY KEY,
    recording INTEGER NOT NULL,
    label TEXT NOT NULL,     -- composer and work
    whole TEXT
);
