-- Version 1: wheels, what was measured on them, the programs written for them, and what was cut.
--
-- Every row of the ledger is an entry: one sequence over all tables, so that "measured before the last cut" can be asked.
-- Depths are whole nanometres: sums of them are exact, and a step of any control is a whole number of them.
CREATE TABLE entries (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    at TEXT NOT NULL CHECK (length(at) = 20),
    by TEXT NOT NULL
) STRICT;

CREATE TABLE wheels (
    id INTEGER PRIMARY KEY REFERENCES entries (id),
    number TEXT NOT NULL UNIQUE CHECK (length(number) > 0),
    name TEXT NOT NULL
) STRICT;

CREATE TABLE surveys (
    id INTEGER PRIMARY KEY REFERENCES entries (id),
    wheel INTEGER NOT NULL REFERENCES wheels (id),
    measurement TEXT NOT NULL CHECK (length(measurement) = 64),
    job TEXT NOT NULL,
    verdict TEXT NOT NULL,
    clean_up_nm INTEGER NOT NULL,
    limit_nm INTEGER NOT NULL CHECK (limit_nm > 0),
    face TEXT NOT NULL CHECK (json_valid(face)),
    UNIQUE (wheel, measurement)
) STRICT;

CREATE TABLE programs (
    id INTEGER PRIMARY KEY REFERENCES entries (id),
    survey INTEGER NOT NULL REFERENCES surveys (id),
    hash TEXT NOT NULL CHECK (length(hash) = 64),
    part INTEGER NOT NULL CHECK (part >= 1),
    of INTEGER NOT NULL CHECK (of >= part),
    before_nm INTEGER NOT NULL CHECK (before_nm >= 0),
    verdict TEXT NOT NULL,
    findings TEXT NOT NULL CHECK (json_valid(findings)),
    UNIQUE (survey, hash)
) STRICT;

-- The plan of a program: the passes that cut, from 1, in the order in which they run.
CREATE TABLE passes (
    program INTEGER NOT NULL REFERENCES programs (id),
    number INTEGER NOT NULL CHECK (number >= 1),
    kind TEXT NOT NULL,
    tool TEXT NOT NULL,
    depth_nm INTEGER NOT NULL CHECK (depth_nm >= 0),
    total_nm INTEGER NOT NULL CHECK (total_nm >= 0),
    spiral_mm REAL NOT NULL CHECK (spiral_mm >= 0),
    chips_mm3 REAL NOT NULL CHECK (chips_mm3 >= 0),
    PRIMARY KEY (program, number)
) STRICT, WITHOUT ROWID;

-- What came off the highest place of a wheel. Without a program it is what a job states of the time before, or of cuts elsewhere.
-- An entry that corrects another takes its place; root is the first entry of such a chain.
CREATE TABLE cuts (
    id INTEGER PRIMARY KEY REFERENCES entries (id),
    wheel INTEGER NOT NULL REFERENCES wheels (id),
    root INTEGER NOT NULL REFERENCES cuts (id),
    corrects INTEGER UNIQUE REFERENCES cuts (id),
    program INTEGER REFERENCES programs (id),
    first_pass INTEGER,
    passes INTEGER CHECK (passes >= 0),
    planned_nm INTEGER CHECK (planned_nm >= 0),
    taken_nm INTEGER NOT NULL CHECK (taken_nm >= 0),
    measured INTEGER NOT NULL CHECK (measured IN (0, 1)),
    note TEXT NOT NULL,
    CHECK ((program IS NULL) = (first_pass IS NULL)),
    CHECK ((program IS NULL) = (passes IS NULL)),
    CHECK ((program IS NULL) = (planned_nm IS NULL)),
    CHECK ((corrects IS NULL) = (root = id))
) STRICT;
CREATE INDEX cuts_of_wheel ON cuts (wheel);
CREATE INDEX cuts_of_program ON cuts (program);

-- The cuts that count: those that no other entry corrects.
CREATE VIEW counted AS
    SELECT c.*, p.survey AS survey FROM cuts c LEFT JOIN programs p ON p.id = c.program
    WHERE NOT EXISTS (SELECT 1 FROM cuts newer WHERE newer.corrects = c.id);

-- Nothing is ever changed or deleted.
CREATE TRIGGER entries_stay BEFORE UPDATE ON entries BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END;
CREATE TRIGGER entries_remain BEFORE DELETE ON entries BEGIN SELECT RAISE(ABORT, 'entries are never deleted'); END;
CREATE TRIGGER wheels_stay BEFORE UPDATE ON wheels BEGIN SELECT RAISE(ABORT, 'wheels are never changed'); END;
CREATE TRIGGER wheels_remain BEFORE DELETE ON wheels BEGIN SELECT RAISE(ABORT, 'wheels are never deleted'); END;
CREATE TRIGGER surveys_stay BEFORE UPDATE ON surveys BEGIN SELECT RAISE(ABORT, 'surveys are never changed'); END;
CREATE TRIGGER surveys_remain BEFORE DELETE ON surveys BEGIN SELECT RAISE(ABORT, 'surveys are never deleted'); END;
CREATE TRIGGER programs_stay BEFORE UPDATE ON programs BEGIN SELECT RAISE(ABORT, 'programs are never changed'); END;
CREATE TRIGGER programs_remain BEFORE DELETE ON programs BEGIN SELECT RAISE(ABORT, 'programs are never deleted'); END;
CREATE TRIGGER passes_stay BEFORE UPDATE ON passes BEGIN SELECT RAISE(ABORT, 'passes are never changed'); END;
CREATE TRIGGER passes_remain BEFORE DELETE ON passes BEGIN SELECT RAISE(ABORT, 'passes are never deleted'); END;
CREATE TRIGGER cuts_stay BEFORE UPDATE ON cuts BEGIN SELECT RAISE(ABORT, 'cuts are never changed'); END;
CREATE TRIGGER cuts_remain BEFORE DELETE ON cuts BEGIN SELECT RAISE(ABORT, 'cuts are never deleted'); END;
