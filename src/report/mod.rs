//! Every text, picture and page that a person reads.

pub mod account;
pub mod again;
pub mod drawing;
pub mod explain;
pub mod keys;
pub mod parts;
pub mod passport;
pub mod sheet;
pub mod survey_page;
pub mod survey_picture;
pub mod touch_page;
pub mod try_out;
pub mod written;
