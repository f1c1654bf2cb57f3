"""What a part of the register allows to be said of it, in the words of a complaint."""

from __future__ import annotations

from grammar.vocabulary import PartWords


def wrong_side(part: PartWords, side: str | None) -> tuple[str, str] | None:
    """Message and help where a part may not be named with that side, else None."""
    if part.sides and side is None:
        sides = " or ".join(part.sides)
        return (
            f"the {part.name} has sides and none is given",
            f"write {sides} before it",
        )
    if side is not None and not part.sides:
        return f"the {part.name} has no sides in the register", f"leave {side} out"
    if side is not None and side not in part.sides:
        return f"the {part.name} has no side {side}", f"write {' or '.join(part.sides)}"
    return None


def no_such_quantity(part: PartWords, written: str | None) -> tuple[str, str]:
    """Message and help where a reading of a part names no quantity of it."""
    names = " or ".join(quantity.name for quantity in part.quantities)
    if not part.quantities:
        return f"the register gives the {part.name} nothing to measure", "put it after: note"
    if written is None:
        return f"the {part.name} has several quantities and none is named", f"write {names}"
    return f"the {part.name} has no {written} in the register", f"write {names}"
