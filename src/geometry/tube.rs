//! The tube: an exact path becomes few lines and arcs, never below it and never far above.
