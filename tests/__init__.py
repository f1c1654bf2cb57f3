"""Tests: they mirror the source, and check it against published values, goldens and benchmarks."""
