"""A derived, disposable index of a log folder: what was read, and the state it adds up to."""
