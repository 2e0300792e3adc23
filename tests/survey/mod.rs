//! The judgement of a wheel: verdicts, limits, and the wheel that is hard to measure.

mod again;
mod along;
mod decisions;
mod hard_wheel;
mod limits;
mod lines;
mod settled;
mod smooth;
mod truth;
mod verdicts;
mod whereabouts;
