"""The reference of the JSON documents: what each key of each command is, as one page of Markdown.

The page stands in ``board/JSON.md``; ``python -m board.show.json_reference`` writes it anew.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from board.show import json_keys_archive as archive
from board.show import json_keys_board as board
from board.show import json_keys_reckoned as reckoned
from board.show import json_keys_repeats as repeats
from board.show import json_keys_sheets as sheets
from board.show.json_keys import Key, Kind, Record
from grammar.frozen import dataclass

BEGIN, END = "<!-- json -->", "<!-- /json -->"


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """What one way to ask for JSON prints."""

    command: str
    asked: str  # how it is asked for
    keys: tuple[Key, ...]


DOCUMENTS: tuple[Document, ...] = (
    Document(command="board", asked="board --json", keys=board.BOARD),
    Document(command="write", asked="write 'ENTRY' --json", keys=sheets.WRITE),
    Document(command="write", asked="write --json, from a pipe", keys=sheets.WRITE_PIPED),
    Document(command="check", asked="check --json", keys=sheets.CHECK),
    Document(command="loom", asked="loom A07 --json", keys=board.LOOM),
    Document(command="find", asked="find --json", keys=sheets.FIND),
    Document(command="repeats", asked="repeats --json", keys=repeats.REPEATS),
    Document(command="wear", asked="wear --json", keys=board.WEAR),
    Document(command="wear", asked="wear --audit --json", keys=board.AUDIT),
    Document(command="lives", asked="lives --json", keys=reckoned.LIVES),
    Document(command="spares", asked="spares --json", keys=reckoned.SPARES),
    Document(command="figures", asked="figures --json", keys=reckoned.FIGURES),
    Document(command="round", asked="round --json", keys=sheets.ROUND),
    Document(command="handover", asked="handover --json", keys=sheets.HANDOVER),
    Document(command="tables", asked="tables OUT --json", keys=sheets.TABLES),
    Document(command="archive", asked="archive OUT --json", keys=archive.ARCHIVE),
    Document(command="find", asked="find --archive OUT --json", keys=archive.FIND),
    Document(command="repeats", asked="repeats --archive OUT --json", keys=archive.REPEATS),
    Document(command="wear", asked="wear --audit --archive OUT --json", keys=archive.AUDIT),
    Document(command="lives", asked="lives --archive OUT --json", keys=archive.LIVES),
)

RECORDS: dict[str, Record] = {
    record.name: record
    for record in (
        *board.RECORDS,
        *sheets.RECORDS,
        *repeats.RECORDS,
        *reckoned.RECORDS,
        *archive.RECORDS,
    )
}

_HEAD = (
    "# The JSON documents\n\n"
    "`--json` prints one document and nothing else. Times are ISO 8601 with the shed's offset,"
    " dates ISO 8601. Numbers stand in the unit that is named with them. What is not known is"
    " `null`, and a key beside it tells why. Names are the register's. Keys may be added, none is"
    " renamed. It is a record, not an isolation permit: that no lock is recorded proves"
    " nothing.\n\n"
    'Each table lists the keys of one object; "list of X" names the table of its objects.\n'
)


def page() -> str:
    """The whole page."""
    return "\n".join([_HEAD, BEGIN, *_sections(), END, ""])


def _sections() -> Iterator[str]:
    told: set[str] = set()
    for document in DOCUMENTS:
        yield f"## {document.asked}\n"
        yield from _table(document.keys)
        for name in _reached(document.keys):
            if name not in told:
                told.add(name)
                yield f"### {name}\n"
                yield from _table(RECORDS[name].keys)


def _reached(keys: tuple[Key, ...]) -> Iterator[str]:
    """The records that keys lead to, nearest first, each once."""
    found: dict[str, None] = dict.fromkeys(key.record for key in keys if key.record)
    waiting = list(found)
    while waiting:
        name = waiting.pop(0)
        yield name
        for key in RECORDS[name].keys:
            if key.record and key.record not in found:
                found[key.record] = None
                waiting.append(key.record)


def _table(keys: tuple[Key, ...]) -> Iterator[str]:
    yield "| key | is | what it tells |"
    yield "|---|---|---|"
    for key in keys:
        when = f" (only where {key.when})" if key.when else ""
        yield f"| `{key.name}` | {_kind(key)} | {key.told}{when} |"
    yield ""


def _kind(key: Key) -> str:
    found = key.kind.value
    if key.kind is Kind.RECORD:
        found = f"[{key.record}](#{key.record.replace(' ', '-')})"
    if key.listed:
        found = f"list of {found}"
    return f"{found} or null" if key.null else found


def main() -> None:
    """Write the page to its file."""
    path = Path(__file__).parent.parent / "JSON.md"
    path.write_text(page(), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
