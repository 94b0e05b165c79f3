-- Version 1 of the index. Times are UTC texts, digests 64 lower-case hexadecimal digits.

CREATE TABLE object (
    digest TEXT NOT NULL PRIMARY KEY CHECK (length(digest) = 64),
    kind TEXT NOT NULL,
    length INTEGER NOT NULL CHECK (length >= 0)
) STRICT, WITHOUT ROWID;

CREATE TABLE blade (
    id TEXT NOT NULL PRIMARY KEY,
    title TEXT NOT NULL,
    created_at TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- Every saved state of a draft; `restores` names the first revision with that body after an undo.
CREATE TABLE draft (
    blade TEXT NOT NULL REFERENCES blade (id),
    revision INTEGER NOT NULL CHECK (revision >= 1),
    body TEXT NOT NULL,
    saved_at TEXT NOT NULL,
    source TEXT NOT NULL,
    note TEXT NOT NULL,
    restores INTEGER CHECK (restores < revision),
    PRIMARY KEY (blade, revision)
) STRICT;

-- Every sealed record; `name` leaves the proof out, `object` holds it.
CREATE TABLE record (
    name TEXT NOT NULL PRIMARY KEY CHECK (length(name) = 64),
    object TEXT NOT NULL UNIQUE REFERENCES object (digest),
    blade TEXT NOT NULL REFERENCES blade (id),
    sequence INTEGER NOT NULL CHECK (sequence >= 1),
    previous TEXT CHECK (length(previous) = 64),
    record_id TEXT NOT NULL,
    purpose TEXT NOT NULL,
    issuer TEXT NOT NULL,
    issued_at TEXT NOT NULL,
    sealed_at TEXT NOT NULL,
    draft_revision INTEGER,
    UNIQUE (blade, sequence),
    CHECK ((previous IS NULL) = (sequence = 1)),
    FOREIGN KEY (blade, draft_revision) REFERENCES draft (blade, revision)
) STRICT;

-- What goes with a record; `link` is the object that says the same, for a rebuild.
CREATE TABLE attachment (
    record TEXT NOT NULL REFERENCES record (name),
    object TEXT NOT NULL REFERENCES object (digest),
    role TEXT NOT NULL,
    link TEXT NOT NULL REFERENCES object (digest),
    PRIMARY KEY (record, role, object)
) STRICT, WITHOUT ROWID;

CREATE UNIQUE INDEX one_disclosures ON attachment (record) WHERE role = 'disclosures';

CREATE TABLE photo (
    blade TEXT NOT NULL REFERENCES blade (id),
    digest TEXT NOT NULL REFERENCES object (digest),
    place INTEGER NOT NULL,
    media_type TEXT NOT NULL,
    length INTEGER NOT NULL,
    width INTEGER NOT NULL,
    height INTEGER NOT NULL,
    shows TEXT NOT NULL,
    taken_at TEXT,
    file_name TEXT NOT NULL,
    PRIMARY KEY (blade, digest)
) STRICT, WITHOUT ROWID;

CREATE TABLE plugin_approval (
    name TEXT NOT NULL,
    digest TEXT NOT NULL CHECK (length(digest) = 64),
    approved_at TEXT NOT NULL,
    PRIMARY KEY (name, digest)
) STRICT, WITHOUT ROWID;

CREATE TABLE setting (
    key TEXT NOT NULL PRIMARY KEY,
    value TEXT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE key (
    did TEXT NOT NULL PRIMARY KEY,
    file_name TEXT NOT NULL UNIQUE,
    created_at TEXT NOT NULL,
    recovery_digest TEXT CHECK (length(recovery_digest) = 64)
) STRICT, WITHOUT ROWID;

-- Sealed records and draft history only grow.
CREATE TRIGGER record_is_final_update BEFORE UPDATE ON record
BEGIN SELECT RAISE(ABORT, 'a sealed record is never changed'); END;
CREATE TRIGGER record_is_final_delete BEFORE DELETE ON record
BEGIN SELECT RAISE(ABORT, 'a sealed record is never removed'); END;
-- REPLACE removes rows without asking the delete trigger unless a setting says so; this asks first.
CREATE TRIGGER record_is_final_replace BEFORE INSERT ON record
WHEN EXISTS (SELECT 1 FROM record WHERE name = NEW.name OR object = NEW.object
             OR (blade = NEW.blade AND sequence = NEW.sequence))
BEGIN SELECT RAISE(ABORT, 'a sealed record is never replaced'); END;

CREATE TRIGGER attachment_is_final_update BEFORE UPDATE ON attachment
BEGIN SELECT RAISE(ABORT, 'an attachment is never changed'); END;
CREATE TRIGGER attachment_is_final_delete BEFORE DELETE ON attachment
BEGIN SELECT RAISE(ABORT, 'an attachment is never removed'); END;

CREATE TRIGGER draft_is_final_update BEFORE UPDATE ON draft
BEGIN SELECT RAISE(ABORT, 'a saved draft is never changed'); END;
CREATE TRIGGER draft_is_final_delete BEFORE DELETE ON draft
BEGIN SELECT RAISE(ABORT, 'a saved draft is never removed'); END;
CREATE TRIGGER draft_is_final_replace BEFORE INSERT ON draft
WHEN EXISTS (SELECT 1 FROM draft WHERE blade = NEW.blade AND revision = NEW.revision)
BEGIN SELECT RAISE(ABORT, 'a saved draft is never replaced'); END;
