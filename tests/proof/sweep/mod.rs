//! The sweep against closed forms, outside values and its laws.

mod beside;
mod finish;
mod foot;
mod forms;
mod keep_outs;
mod laws;
mod reference;
mod whole;
mod window;
