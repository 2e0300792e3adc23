//! Writes the demo's scans anew: `cargo run --example make_demo` in the project's folder.

#[path = "../common/wheel.rs"]
mod wheel;

use std::path::Path;

fn main() -> std::io::Result<()> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data");
    std::fs::create_dir_all(folder.join("bent"))?;
    for (name, text) in wheel::demo_scans().into_iter().chain(wheel::bent_scans()) {
        std::fs::write(folder.join(&name), &text)?;
        println!("{name}: {} bytes", text.len());
    }
    Ok(())
}
