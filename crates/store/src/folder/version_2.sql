-- The journal: what happens around blades. It only grows: what was wrong is replaced or struck out by a later entry.
CREATE TABLE entry (
    number INTEGER NOT NULL PRIMARY KEY,
    kind TEXT NOT NULL,
    blade TEXT REFERENCES blade (id),
    subject TEXT NOT NULL,
    day TEXT NOT NULL,
    body TEXT CHECK (body IS NULL OR json_valid(body)),
    at TEXT NOT NULL,
    by_whom TEXT NOT NULL,
    replaces INTEGER UNIQUE REFERENCES entry (number),
    CHECK (body IS NOT NULL OR replaces IS NOT NULL)
) STRICT;
CREATE INDEX entry_kind ON entry (kind, blade, subject);
CREATE INDEX entry_blade ON entry (blade, kind);

CREATE TRIGGER entry_is_final_update BEFORE UPDATE ON entry
BEGIN SELECT RAISE(ABORT, 'an entry of the journal is never changed'); END;
CREATE TRIGGER entry_is_final_delete BEFORE DELETE ON entry
BEGIN SELECT RAISE(ABORT, 'an entry of the journal is never removed'); END;
CREATE TRIGGER entry_is_final_replace BEFORE INSERT ON entry
WHEN EXISTS (SELECT 1 FROM entry WHERE number = NEW.number)
BEGIN SELECT RAISE(ABORT, 'an entry of the journal is never replaced in its place'); END;

-- Who made a change of a draft; what an older program kept does not say.
ALTER TABLE draft ADD COLUMN by_whom TEXT NOT NULL DEFAULT '';

-- One line for each blade, for lists: derived from the newest draft, the newest record and the journal, and written in
-- the transaction that changes any of them.
CREATE TABLE standing (
    blade TEXT NOT NULL PRIMARY KEY REFERENCES blade (id),
    title TEXT NOT NULL,
    kind TEXT,
    revision INTEGER,
    saved_at TEXT,
    source TEXT,
    note TEXT NOT NULL,
    passes INTEGER NOT NULL,
    sheet_passes INTEGER NOT NULL,
    minutes TEXT,
    mass_first TEXT,
    mass_last TEXT,
    return_by TEXT,
    examined TEXT,
    planned TEXT,
    records INTEGER NOT NULL,
    tip TEXT,
    purpose TEXT,
    tip_revision INTEGER,
    decision TEXT,
    stops INTEGER NOT NULL,
    stage TEXT,
    stage_since TEXT,
    stage_note TEXT,
    ended INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX standing_ended ON standing (ended, blade);
CREATE INDEX standing_stage ON standing (stage, blade);

-- The passes of the sealed records of a blade, each once, so that counting them opens no record.
CREATE TABLE sealed_passes (
    blade TEXT NOT NULL PRIMARY KEY REFERENCES blade (id),
    passes TEXT NOT NULL CHECK (json_valid(passes))
) STRICT, WITHOUT ROWID;

-- What the last judgement of a sheet found, for lists alone: it holds for this revision after this record and for no other.
-- Nothing decides by it, and it may be lost: the next judgement writes it anew.
CREATE TABLE derived (
    blade TEXT NOT NULL PRIMARY KEY REFERENCES blade (id),
    revision INTEGER NOT NULL,
    tip TEXT,
    stops INTEGER NOT NULL,
    at TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Words of the newest draft of each blade and of entries in force. The words themselves stand in `draft` and `entry`.
CREATE TABLE search_row (
    number INTEGER NOT NULL PRIMARY KEY,
    blade TEXT,
    entry INTEGER UNIQUE
) STRICT;
CREATE UNIQUE INDEX search_blade ON search_row (blade) WHERE entry IS NULL;
CREATE VIRTUAL TABLE search USING fts5 (
    words, content = '', contentless_delete = 1, tokenize = "unicode61 remove_diacritics 2"
);
