//! Reads any program back and says what it would do to the wheel. Shares no algorithm with the planner or the writer.
