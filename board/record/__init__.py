"""Files, the register, the index and the watcher: everything that touches the disk."""
