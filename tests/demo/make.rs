//! Writes the demo's scans anew: `cargo run --example make_demo` in the project's folder.

#[path = "../common/wheel.rs"]
mod wheel;

use std::path::Path;

fn main() -> std::io::Result<()> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data");
    for (name, text) in wheel::demo_scans() {
        std::fs::write(folder.join(&name), &text)?;
        println!("{name}: {} bytes", text.len());
    }
    Ok(())
}
