"""Nothing lost, nothing hidden: hostile text, odd files, writers killed, saves in any order."""
