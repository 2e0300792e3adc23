//! Words, blocks, the writer: G-code text, no decisions.
