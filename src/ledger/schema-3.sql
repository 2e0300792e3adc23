-- Version 3: wheels measured again between cuts, what a gauge showed, and the unit in which the shop reads.
--
-- Lines measured again belong to the face of the first ones: all that was cut on either is depth below that face. `first` names the first
-- lines as `measurement` of a survey does; depths of the programs written on lines measured again count from `begins_nm`.
CREATE TABLE again (
    id INTEGER PRIMARY KEY REFERENCES entries (id),
    survey INTEGER NOT NULL UNIQUE REFERENCES surveys (id),
    first TEXT NOT NULL CHECK (length(first) = 64),
    entered_nm INTEGER NOT NULL CHECK (entered_nm >= 0),
    begins_nm INTEGER NOT NULL,
    most_nm INTEGER NOT NULL,
    uncertainty_nm INTEGER NOT NULL CHECK (uncertainty_nm >= 0)
) STRICT;

-- A cut may be what lines measured again show beyond what was entered until then; and how deep the face stands, a gauge may have shown.
ALTER TABLE cuts ADD COLUMN again INTEGER REFERENCES again (id) CHECK (again IS NULL OR program IS NULL);
ALTER TABLE cuts ADD COLUMN gauge_nm INTEGER CHECK (gauge_nm IS NULL OR (gauge_nm >= 0 AND program IS NOT NULL AND measured = 1));
ALTER TABLE cuts ADD COLUMN gauge_within_nm INTEGER CHECK (gauge_within_nm IS NULL OR (gauge_within_nm >= 0 AND gauge_nm IS NOT NULL));

-- In what unit the shop of the job reads: none for what was entered before this was kept.
ALTER TABLE surveys ADD COLUMN unit TEXT CHECK (unit IN ('mm', 'in'));

CREATE TRIGGER again_stay BEFORE UPDATE ON again BEGIN SELECT RAISE(ABORT, 'measurements are never changed'); END;
CREATE TRIGGER again_remain BEFORE DELETE ON again BEGIN SELECT RAISE(ABORT, 'measurements are never deleted'); END;
