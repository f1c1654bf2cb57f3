"""Pure numbers: every answer carries its counts, its interval level and its basis."""
