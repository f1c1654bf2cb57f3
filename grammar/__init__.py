"""The log language: text becomes entries and complaints. Knows nothing of folders or screens."""
