//! Every statement that the ledger runs.

/// The file's mark: "face" in ASCII, so that a database of another program is not taken for a ledger.
pub(super) const APPLICATION_ID: i64 = 0x6661_6365;

/// What leads from each version of the tables to the next; the version is how many have run.
pub(super) const MIGRATIONS: [&str; 3] =
    [include_str!("schema-1.sql"), include_str!("schema-2.sql"), include_str!("schema-3.sql")];

pub(super) const ENTER: &str = "INSERT INTO entries (at, by) VALUES (?1, ?2)";

pub(super) const ADD_WHEEL: &str = "INSERT INTO wheels (id, number, name) VALUES (?1, ?2, ?3)";
pub(super) const WHEEL: &str = "SELECT id, name FROM wheels WHERE number = ?1";
pub(super) const WHEELS: &str = "SELECT number FROM wheels ORDER BY number";

pub(super) const ADD_SURVEY: &str =
    "INSERT INTO surveys (id, wheel, measurement, job, verdict, clean_up_nm, limit_nm, face, unit)
    VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)";
/// The unit in which the shop reads: of the last survey that says one.
pub(super) const UNIT: &str = "SELECT unit FROM surveys WHERE unit IS NOT NULL ORDER BY id DESC LIMIT 1";

pub(super) const ADD_AGAIN: &str = "INSERT INTO again (id, survey, first, entered_nm, begins_nm, most_nm, uncertainty_nm) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)";
pub(super) const AGAIN: &str = "SELECT id, begins_nm FROM again WHERE survey = ?1";
pub(super) const SURVEY: &str = "SELECT id FROM surveys WHERE wheel = ?1 AND measurement = ?2";
pub(super) const SURVEYS_OF_WHEEL: &str =
    "SELECT s.id, e.at, e.by, s.job, s.verdict, s.clean_up_nm, s.limit_nm, coalesce(a.begins_nm, 0)
    FROM surveys s JOIN entries e ON e.id = s.id LEFT JOIN again a ON a.survey = s.id WHERE s.wheel = ?1 ORDER BY s.id";
pub(super) const FACE_OF_SURVEY: &str = "SELECT face FROM surveys WHERE id = ?1 AND wheel = ?2";
pub(super) const FACES_OF_WHEEL: &str =
    "SELECT id, face FROM surveys WHERE wheel = ?1 AND measurement <> ?2 ORDER BY id DESC LIMIT 1";

pub(super) const ADD_PROGRAM: &str =
    "INSERT INTO programs (id, survey, hash, part, of, before_nm, verdict, findings)
    VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)";
pub(super) const PROGRAM: &str = "SELECT id FROM programs WHERE survey = ?1 AND hash = ?2";
/// The programs of a hash, one a wheel: of several measurements of it that led to the same program, the last counts. The other columns
/// are of the row that has the greatest `p.id` (<https://sqlite.org/lang_select.html#bareagg>).
pub(super) const PROGRAMS_BY_HASH: &str =
    "SELECT max(p.id), w.id, coalesce(a.first, s.measurement), coalesce(a.begins_nm, 0), w.number
    FROM programs p JOIN surveys s ON s.id = p.survey LEFT JOIN again a ON a.survey = s.id JOIN wheels w ON w.id = s.wheel
    WHERE p.hash = ?1 AND (?2 IS NULL OR w.number = ?2) GROUP BY w.id ORDER BY w.id";
pub(super) const PROGRAMS_OF_SURVEY: &str = "SELECT p.id, p.hash, p.part, p.of, p.before_nm, p.verdict,
    (SELECT count(*) FROM passes x WHERE x.program = p.id),
    (SELECT coalesce(max(x.total_nm), p.before_nm) FROM passes x WHERE x.program = p.id)
    FROM programs p WHERE p.survey = ?1 ORDER BY p.id";

pub(super) const ADD_PASS: &str =
    "INSERT INTO passes (program, number, kind, tool, depth_nm, total_nm, spiral_mm, chips_mm3)
    VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)";
pub(super) const COUNT_PASSES: &str = "SELECT count(*) FROM passes WHERE program = ?1";
/// Depth below the face as measured after a pass; before the first it is that at which the program begins.
pub(super) const DEPTH_AFTER: &str = "SELECT coalesce(
    (SELECT total_nm FROM passes WHERE program = ?1 AND number = ?2),
    (SELECT before_nm FROM programs WHERE id = ?1))";

pub(super) const ADD_CUT: &str = "INSERT INTO cuts
    (id, wheel, root, corrects, program, first_pass, passes, planned_nm, taken_nm, measured, note,
        again, gauge_nm, gauge_within_nm)
    VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14)";
pub(super) const CUT_COLUMNS: &str = "SELECT c.id, c.corrects,
    (SELECT n.id FROM cuts n WHERE n.corrects = c.id), e.at, e.by,
    c.program, p.hash, c.first_pass, c.passes, c.planned_nm, c.taken_nm, c.measured, c.note,
    c.gauge_nm, c.gauge_within_nm, a.survey, a.entered_nm, a.most_nm, a.uncertainty_nm
    FROM cuts c JOIN entries e ON e.id = c.id LEFT JOIN programs p ON p.id = c.program LEFT JOIN again a ON a.id = c.again ";
pub(super) const OF_WHEEL: &str = "WHERE c.wheel = ?1 ORDER BY c.id";
pub(super) const OF_ENTRY: &str = "WHERE c.id = ?1";
pub(super) const CUT_TO_CORRECT: &str =
    "SELECT c.wheel, c.root, c.program, c.first_pass, c.passes, c.planned_nm,
    (SELECT n.id FROM cuts n WHERE n.corrects = c.id), c.again, coalesce(g.first, a.first, s.measurement), w.number,
    coalesce(a.begins_nm, 0)
    FROM cuts c JOIN wheels w ON w.id = c.wheel LEFT JOIN programs p ON p.id = c.program LEFT JOIN surveys s ON s.id = p.survey
    LEFT JOIN again a ON a.survey = s.id LEFT JOIN again g ON g.id = c.again WHERE c.id = ?1";

/// All that counts as taken off a wheel.
pub(super) const TAKEN: &str = "SELECT coalesce(sum(taken_nm), 0) FROM counted WHERE wheel = ?1";
/// The part of it on one face, that of first lines: each cut with what it is reckoned from.
pub(super) const COUNTED_ON_FACE: &str = "SELECT c.id, c.root, c.taken_nm, c.measured,
    c.program, c.first_pass, c.passes, c.planned_nm, p.survey,
    coalesce((SELECT x.total_nm FROM passes x WHERE x.program = c.program AND x.number = c.first_pass + c.passes - 1), p.before_nm),
    coalesce(a.begins_nm, 0), c.again, g.most_nm, g.uncertainty_nm, c.gauge_nm, c.gauge_within_nm
    FROM counted c LEFT JOIN programs p ON p.id = c.program LEFT JOIN surveys s ON s.id = p.survey
    LEFT JOIN again a ON a.survey = s.id LEFT JOIN again g ON g.id = c.again
    WHERE c.wheel = ?1 AND coalesce(g.first, a.first, s.measurement) = ?2 ORDER BY c.root";
/// The last cut on another measurement since a survey was entered. What a job states of the time before is no such cut.
pub(super) const CUT_SINCE: &str = "SELECT max(root) FROM counted
    WHERE wheel = ?1 AND survey IS NOT NULL AND survey <> ?2 AND root > ?2 AND passes > 0";
/// The last pass of a program that counts as run.
pub(super) const LAST_PASS_RUN: &str =
    "SELECT coalesce(max(first_pass + passes - 1), 0) FROM counted WHERE program = ?1 AND passes > 0";

pub(super) const ADD_EDGE: &str = "INSERT INTO edges (id, tool, note) VALUES (?1, ?2, ?3)";
/// What each edge of a tool has done: the passes confirmed from its entry to that of the next. The first row is the edge that was in the
/// tool before any was entered.
pub(super) const EDGES_OF_TOOL: &str = "WITH bounds (id, at, by, note) AS (
        SELECT 0, '', '', '' UNION ALL
        SELECT g.id, e.at, e.by, g.note FROM edges g JOIN entries e ON e.id = g.id WHERE g.tool = ?1),
    spans AS (SELECT *, lead(id, 1, 9223372036854775807) OVER (ORDER BY id) AS ends FROM bounds)
    SELECT s.id, s.at, s.by, s.note,
        coalesce(sum(x.spiral_mm), 0.0), coalesce(sum(x.chips_mm3), 0.0), count(x.number), count(DISTINCT x.wheel)
    FROM spans s LEFT JOIN (
        SELECT c.root, c.wheel, p.number, p.spiral_mm, p.chips_mm3 FROM counted c
        JOIN passes p ON p.program = c.program AND p.number BETWEEN c.first_pass AND c.first_pass + c.passes - 1
        WHERE p.tool = ?1) x ON x.root > s.id AND x.root < s.ends
    GROUP BY s.id ORDER BY s.id";
pub(super) const TOOL_IS_KNOWN: &str =
    "SELECT EXISTS (SELECT 1 FROM passes WHERE tool = ?1) OR EXISTS (SELECT 1 FROM edges WHERE tool = ?1)";

pub(super) const ADD_TOUCH: &str = "INSERT INTO touches
    (id, survey, tool, error_x_nm, error_z_nm, uncertainty_x_nm, uncertainty_z_nm, note)
    VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)";
pub(super) const TOUCHES_OF_SURVEY: &str =
    "SELECT t.tool, t.error_x_nm, t.uncertainty_x_nm, t.error_z_nm, t.uncertainty_z_nm, t.note, e.at, e.by
    FROM touches t JOIN entries e USING (id) WHERE t.survey = ?1 ORDER BY t.id";

/// Laws of the tables that no constraint of theirs can state; a row is a breach.
pub(super) const LAWS: [(&str, &str); 7] = [
    ("an entry of no table, or of two", "SELECT 'entry ' || e.id FROM entries e LEFT JOIN
        (SELECT id FROM wheels UNION ALL SELECT id FROM surveys UNION ALL SELECT id FROM programs
            UNION ALL SELECT id FROM cuts UNION ALL SELECT id FROM edges UNION ALL SELECT id FROM touches
            UNION ALL SELECT id FROM again) x ON x.id = e.id
        GROUP BY e.id HAVING count(x.id) <> 1"),
    ("a pass that counts twice", "SELECT 'entry ' || id FROM (SELECT id, first_pass, max(first_pass + passes - 1)
            OVER (PARTITION BY program ORDER BY first_pass, id ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING) AS run
        FROM counted WHERE passes > 0) WHERE first_pass <= run"),
    ("a pass that its program does not have", "SELECT 'entry ' || c.id FROM cuts c WHERE c.passes > 0
        AND c.first_pass + c.passes - 1 > (SELECT count(*) FROM passes p WHERE p.program = c.program)"),
    ("a cut on a program of another wheel", "SELECT 'entry ' || c.id FROM cuts c JOIN programs p ON p.id = c.program
        JOIN surveys s ON s.id = p.survey WHERE s.wheel <> c.wheel"),
    ("lines measured again of another wheel", "SELECT 'entry ' || c.id FROM cuts c JOIN again a ON a.id = c.again
        JOIN surveys s ON s.id = a.survey WHERE s.wheel <> c.wheel"),
    ("a correction of another wheel's or a later cut", "SELECT 'entry ' || c.id FROM cuts c JOIN cuts o ON o.id = c.corrects
        WHERE o.wheel <> c.wheel OR o.id >= c.id OR o.root <> c.root"),
    ("passes that do not go down step by step", "SELECT 'program ' || b.program || ' pass ' || b.number FROM passes b
        LEFT JOIN passes a ON a.program = b.program AND a.number = b.number - 1 JOIN programs p ON p.id = b.program
        WHERE b.total_nm <> b.depth_nm + coalesce(a.total_nm, p.before_nm)"),
];
