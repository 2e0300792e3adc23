-- Version 2: the edges of the tools, and the touch checks.
CREATE TABLE edges (
    id INTEGER PRIMARY KEY REFERENCES entries (id),
    tool TEXT NOT NULL CHECK (length(tool) > 0),
    note TEXT NOT NULL
) STRICT;

CREATE TABLE touches (
    id INTEGER PRIMARY KEY REFERENCES entries (id),
    survey INTEGER NOT NULL REFERENCES surveys (id),
    tool TEXT NOT NULL CHECK (length(tool) > 0),
    error_x_nm INTEGER,
    error_z_nm INTEGER NOT NULL,
    uncertainty_x_nm INTEGER CHECK (uncertainty_x_nm >= 0),
    uncertainty_z_nm INTEGER NOT NULL CHECK (uncertainty_z_nm >= 0),
    note TEXT NOT NULL,
    CHECK ((error_x_nm IS NULL) = (uncertainty_x_nm IS NULL))
) STRICT;

CREATE TRIGGER edges_stay BEFORE UPDATE ON edges BEGIN SELECT RAISE(ABORT, 'edges are never changed'); END;
CREATE TRIGGER edges_remain BEFORE DELETE ON edges BEGIN SELECT RAISE(ABORT, 'edges are never deleted'); END;
CREATE TRIGGER touches_stay BEFORE UPDATE ON touches BEGIN SELECT RAISE(ABORT, 'touches are never changed'); END;
CREATE TRIGGER touches_remain BEFORE DELETE ON touches BEGIN SELECT RAISE(ABORT, 'touches are never deleted'); END;
