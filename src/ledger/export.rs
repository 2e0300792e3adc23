//! All rows of the ledger's tables, for other programs.

use super::{Ledger, LedgerError};
use rusqlite::types::ValueRef;
use serde::{Serialize, Serializer};
use std::collections::BTreeMap;

/// A table of the ledger; the command line names it as JSON does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, clap::ValueEnum)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs, reason = "the tables' own names; docs/ledger.md says what each holds")]
pub enum TableName {
    Entries,
    Wheels,
    Surveys,
    Again,
    Programs,
    Passes,
    Cuts,
    Edges,
    Touches,
}

impl TableName {
    /// All of them, each after those that it names.
    pub const ALL: [Self; 9] = [
        Self::Entries,
        Self::Wheels,
        Self::Surveys,
        Self::Again,
        Self::Programs,
        Self::Passes,
        Self::Cuts,
        Self::Edges,
        Self::Touches,
    ];

    /// All rows in the order of their entry, with when and by whom.
    const fn rows(self) -> &'static str {
        match self {
            Self::Entries => "SELECT * FROM entries ORDER BY id",
            Self::Wheels => "SELECT e.at, e.by, w.* FROM wheels w JOIN entries e USING (id) ORDER BY w.id",
            Self::Surveys => "SELECT e.at, e.by, s.* FROM surveys s JOIN entries e USING (id) ORDER BY s.id",
            Self::Again => "SELECT e.at, e.by, a.* FROM again a JOIN entries e USING (id) ORDER BY a.id",
            Self::Programs => {
                "SELECT e.at, e.by, p.* FROM programs p JOIN entries e USING (id) ORDER BY p.id"
            }
            Self::Passes => "SELECT * FROM passes ORDER BY program, number",
            Self::Cuts => "SELECT e.at, e.by, c.* FROM cuts c JOIN entries e USING (id) ORDER BY c.id",
            Self::Edges => "SELECT e.at, e.by, g.* FROM edges g JOIN entries e USING (id) ORDER BY g.id",
            Self::Touches => "SELECT e.at, e.by, t.* FROM touches t JOIN entries e USING (id) ORDER BY t.id",
        }
    }
}

/// What stands in a cell.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Value {
    /// Nothing.
    None,
    /// A whole number.
    Whole(i64),
    /// A number.
    Number(f64),
    /// Text.
    Text(String),
}

/// A table with its rows.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Names of the columns.
    pub columns: Vec<String>,
    /// Rows, each as long as the columns.
    pub rows: Vec<Vec<Value>>,
}

/// In JSON a table is a list of objects.
impl Serialize for Table {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_seq(self.rows.iter().map(|row| self.columns.iter().zip(row).collect::<BTreeMap<_, _>>()))
    }
}

/// All tables.
pub type Export = BTreeMap<TableName, Table>;

impl Ledger {
    /// All rows of all tables, as they stand at one moment.
    ///
    /// # Errors
    /// Where the ledger cannot be read.
    pub fn export(&self) -> Result<Export, LedgerError> {
        self.read(|t| {
            TableName::ALL
                .into_iter()
                .map(|name| {
                    let mut statement = t.prepare(name.rows())?;
                    let columns: Vec<String> =
                        statement.column_names().into_iter().map(str::to_owned).collect();
                    let width = columns.len();
                    let rows = statement
                        .query_map([], |row| (0..width).map(|i| Ok(value(row.get_ref(i)?))).collect())?
                        .collect::<Result<_, _>>()?;
                    Ok((name, Table { columns, rows }))
                })
                .collect()
        })
    }
}

fn value(cell: ValueRef<'_>) -> Value {
    match cell {
        ValueRef::Null => Value::None,
        ValueRef::Integer(n) => Value::Whole(n),
        ValueRef::Real(n) => Value::Number(n),
        ValueRef::Text(bytes) | ValueRef::Blob(bytes) => {
            Value::Text(String::from_utf8_lossy(bytes).into_owned())
        }
    }
}

impl Table {
    /// The table as comma-separated values with a head line (RFC 4180).
    ///
    /// Text that a spreadsheet would take for a formula gets an apostrophe before it.
    #[must_use]
    pub fn csv(&self) -> String {
        let mut out = String::new();
        line(&mut out, self.columns.iter().map(|c| quoted(c)));
        for row in &self.rows {
            line(&mut out, row.iter().map(cell));
        }
        out
    }
}

fn line(out: &mut String, cells: impl Iterator<Item = String>) {
    out.push_str(&cells.collect::<Vec<_>>().join(","));
    out.push_str("\r\n");
}

fn cell(value: &Value) -> String {
    match value {
        Value::None => String::new(),
        Value::Whole(n) => n.to_string(),
        Value::Number(n) => n.to_string(),
        Value::Text(text) if text.starts_with(['=', '+', '-', '@', '\t', '\r']) => {
            quoted(&format!("'{text}"))
        }
        Value::Text(text) => quoted(text),
    }
}

fn quoted(text: &str) -> String {
    if text.contains(['"', ',', '\n', '\r']) || text != text.trim() {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}
