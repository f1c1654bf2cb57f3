"""What the entries say about each loom: frozen states and the pure step from one to the next."""
