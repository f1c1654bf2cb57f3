"""Cheap constructors of what a fold makes most of; each does what its class does when called."""

from __future__ import annotations

from board.state import happening, history, logged
from grammar.making import maker

Stepped = maker(happening.Stepped)
Logged = maker(logged.Logged)
ReadingAt = maker(history.ReadingAt)
Stay = maker(history.Stay)
