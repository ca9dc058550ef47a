-- Every row that could harm by being silently wrong carries `sum`: BLAKE3 over its other columns.

CREATE TABLE notes_to_self (      -- small facts of this device or server, by name
    name  TEXT PRIMARY KEY,
    value BLOB NOT NULL,
    sum   BLOB NOT NULL
) STRICT;

CREATE TABLE surveys (
    id      TEXT PRIMARY KEY,
    last    INTEGER NOT NULL,     -- highest chunk number ever given out
    summary TEXT NOT NULL,        -- JSON for lists; remade from the document, never a truth
    sum     BLOB NOT NULL         -- over id and last
) STRICT;

CREATE TABLE chunks (             -- a document is its newest snapshot and the changes after it
    survey TEXT NOT NULL,
    number INTEGER NOT NULL,      -- from 1, never reused
    kind   INTEGER NOT NULL,      -- 0 snapshot, 1 changes
    bytes  BLOB NOT NULL,
    sum    BLOB NOT NULL,
    PRIMARY KEY (survey, number)
) STRICT;

CREATE TABLE quarantine (         -- chunks whose sum was wrong, kept for a person to look at
    survey TEXT NOT NULL,
    number INTEGER NOT NULL,
    kind   INTEGER NOT NULL,
    bytes  BLOB NOT NULL,
    reason TEXT NOT NULL,
    PRIMARY KEY (survey, number)
) STRICT;

CREATE TABLE photos (             -- files under photos/ and thumbnails/, by BLAKE3 of the original
    hash           TEXT PRIMARY KEY,
    media_type     TEXT NOT NULL,
    bytes          INTEGER NOT NULL,
    thumbnail      TEXT,          -- BLAKE3 of the thumbnail, if there is one
    original_here  INTEGER NOT NULL,
    original_sent  INTEGER NOT NULL,
    thumbnail_sent INTEGER NOT NULL,
    sum            BLOB NOT NULL
) STRICT;

CREATE TABLE photo_surveys (      -- which surveys show which photo
    survey TEXT NOT NULL,
    hash   TEXT NOT NULL,
    PRIMARY KEY (survey, hash)
) STRICT;

CREATE TABLE uploads (            -- files under incoming/ that are not whole yet
    hash       TEXT NOT NULL,
    part       TEXT NOT NULL,
    survey     TEXT NOT NULL,
    media_type TEXT NOT NULL,
    length     INTEGER NOT NULL,
    content    TEXT NOT NULL,     -- BLAKE3 that the whole part must have
    PRIMARY KEY (hash, part)
) STRICT;
