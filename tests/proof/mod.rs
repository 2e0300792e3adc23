//! What proof says of whole programs, of each of their motions, and of faults put into them.

mod attack;
mod attack_comments;
mod attack_heads;
mod attack_parts;
mod begin_again;
mod controls;
mod hands;
mod shop;
mod sweep;
mod trial;
mod words;
