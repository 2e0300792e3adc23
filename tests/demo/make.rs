//! Writes the demo's scans anew: `cargo run --example make_demo` in the project's folder.

#[allow(dead_code)]
#[path = "../fixtures/mod.rs"]
mod fixtures;

use fixtures::{hard, wheel};
use std::path::Path;

fn main() -> std::io::Result<()> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data");
    for part in ["bent", "hard"] {
        std::fs::create_dir_all(folder.join(part))?;
    }
    let all = [wheel::demo_scans(), wheel::demo_scans_again(), wheel::bent_scans(), hard::hard_scans()];
    for (name, text) in all.into_iter().flatten() {
        std::fs::write(folder.join(&name), &text)?;
        println!("{name}: {} bytes", text.len());
    }
    Ok(())
}
