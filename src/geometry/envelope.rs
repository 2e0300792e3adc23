//! The envelope: where a tool may go (dilation), and what it leaves (erosion).
