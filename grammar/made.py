"""Cheap constructors of what a log holds most of; each does what its class does when called."""

from __future__ import annotations

from grammar import entries as e
from grammar.making import maker

Entry = maker(e.Entry)
Stopped = maker(e.Stopped)
Running = maker(e.Running)
Isolated = maker(e.Isolated)
LockRemoved = maker(e.LockRemoved)
FaultOpened = maker(e.FaultOpened)
FaultCleared = maker(e.FaultCleared)
Measured = maker(e.Measured)
Gauged = maker(e.Gauged)
Worked = maker(e.Worked)
Torqued = maker(e.Torqued)
ThreadLocked = maker(e.ThreadLocked)
Checked = maker(e.Checked)
Batch = maker(e.Batch)
Counter = maker(e.Counter)
Opened = maker(e.Opened)
Done = maker(e.Done)
Note = maker(e.Note)
