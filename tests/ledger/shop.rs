//! A copy of the demo's shop that keeps a ledger, and the commands run in it.

use std::fs;
use std::path::PathBuf;
use std::process::{Command, Output};

/// A copy of the demo's shop that keeps a ledger, with a number on the wheel.
pub struct Shop {
    pub folder: tempfile::TempDir,
}

impl Shop {
    pub fn new() -> Self {
        Self::with_ledger("wheels.db")
    }

    pub fn with_ledger(ledger: &str) -> Self {
        let folder = tempfile::tempdir().expect("a folder for the test");
        for name in ["job.yaml", "again.yaml", "shop.yaml"] {
            fs::copy(format!("demo-data/{name}"), folder.path().join(name)).expect("copied");
        }
        for scan in ["scan-000", "scan-120", "scan-240", "again-000", "again-120"] {
            let name = format!("{scan}.csv");
            fs::copy(format!("demo-data/{name}"), folder.path().join(name)).expect("copied");
        }
        let shop = Self { folder };
        shop.change("shop.yaml", "machine:", &format!("ledger: {ledger}\nmachine:"));
        for job in ["job.yaml", "again.yaml"] {
            shop.change(job, "wheel:\n", "wheel:\n  number: R-7\n");
        }
        shop
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn change(&self, name: &str, old: &str, new: &str) {
        let text = fs::read_to_string(self.path(name)).expect("the file is there");
        assert!(text.contains(old), "{name} holds no `{old}`");
        fs::write(self.path(name), text.replacen(old, new, 1)).expect("written");
    }

    pub fn run(&self, line: &str) -> Output {
        Command::new(env!("CARGO_BIN_EXE_facewright"))
            .args(line.split(' '))
            .current_dir(self.folder.path())
            .output()
            .expect("the command runs")
    }

    /// Runs a command that ends with this exit code, and gives what it says.
    pub fn says(&self, code: i32, line: &str) -> String {
        let output = self.run(line);
        let text = String::from_utf8_lossy(&output.stdout) + String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(code), "{line}\n{text}");
        text.into_owned()
    }

    /// What the survey counts as taken, millimetres.
    pub fn taken(&self) -> f64 {
        let json: serde_json::Value =
            serde_json::from_slice(&self.run("survey job.yaml --format json").stdout).expect("JSON");
        json["allowance"]["taken_mm"].as_f64().expect("a number")
    }
}

/// Who enters something, when, and where.
pub const BY: &str = "--ledger wheels.db --by Turner --at 2026-03-02";
