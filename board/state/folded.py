"""How far a fold has come, so that another can go on from there."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from board.state.fleet import Action, Handover, LoomState
from grammar.frozen import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Folded:
    """The states after some entries; neither those nor the facts they left are needed to go on."""

    looms: Mapping[str, LoomState]
    actions: tuple[Action, ...]
    handovers: Mapping[str, Handover]
    numbers: Mapping[int, int]  # how often each number of an open action is in use
    spoken: Mapping[str, datetime]
    last_entry: datetime | None
