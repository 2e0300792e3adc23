//! The judgement of a wheel: verdicts, limits, and the wheel that is hard to measure.

mod hard_wheel;
mod limits;
mod truth;
mod verdicts;
