//! The sweep against closed forms, outside values and its laws.

#[path = "../made/mod.rs"]
mod made;

mod forms;
mod laws;
mod reference;
mod whole;
