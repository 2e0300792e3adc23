//! The sweep against closed forms, outside values and its laws.

mod finish;
mod forms;
mod laws;
mod reference;
mod whole;
