//! Local regression from moments in bins.
