"""``find``: the history, searched by words and filters."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import NoReturn

from board.answering import answer_to
from board.commands import options as shared
from board.commands.archive import add_archive, asks_archive
from board.loading import mill_or_stop, moment_asked, moment_of
from board.mill import Mill
from board.search import Kind, Question
from board.shell import FINE, FOUND_WANTING, CannotRun, Shell
from board.show.find_screen import find_document, found_lines, nothing_found, piped_lines
from board.show.text import clean
from grammar.entries import KINDS, Verb
from grammar.folding import fold_word
from grammar.nearest import did_you_mean
from grammar.vocabulary import Vocabulary

SUMMARY = "search the history by words, loom, part, kind, writer, style and time"
EXAMPLE = "loomslate find drops weft --loom B03 --folder logs_example --at 2026-11-25T06:00"

_MOST_IN_TERMINAL = 200


def add(parser: ArgumentParser) -> None:
    """The command's options."""
    parser.add_argument(
        "words", nargs="*", metavar="WORDS", help="all of them must stand in the line, in any case"
    )
    shared.add_folder(parser)
    shared.add_form(parser)
    parser.add_argument("--loom", metavar="LOOM", help="lines about this loom")
    parser.add_argument("--part", metavar="PART", help="lines that name it, by any of its names")
    parser.add_argument("--side", metavar="SIDE", help="of that side")
    parser.add_argument(
        "--kind",
        action="append",
        metavar="KIND",
        help="such as fault, reading, work, note; given again: of either kind",
    )
    parser.add_argument("--by", metavar="WHO", help="written by this person")
    parser.add_argument("--style", metavar="WORD", help="while the loom wove this style")
    parser.add_argument("--from", dest="since", metavar="TIME", help="from this time or date on")
    parser.add_argument("--to", dest="until", metavar="TIME", help="before it; a date is included")
    parser.add_argument("--most", type=int, metavar="N", help="the newest N only; 0 is all")
    parser.add_argument(
        "--around",
        type=int,
        default=0,
        metavar="N",
        help="N lines of the same loom around each; of its file, where it tells of no one loom",
    )
    add_archive(parser)


def run(options: Namespace, shell: Shell) -> int:
    """Print what was found."""
    if options.around < 0 or (options.most is not None and options.most < 0):
        raise CannotRun("--most and --around take a count, 0 or more")
    if asks_archive(options):
        from board.commands import archived

        return archived.find(options, shell, _in_words(options))
    folder = shared.folder(options, shell)
    mill = mill_or_stop(folder)
    at = moment_asked(options.at, mill)
    question = question_of(options, mill)
    answer = answer_to(question, folder, mill, at, shell, options.index, around=options.around)
    zone = mill.zone
    if options.json:
        shell.document(find_document(answer, zone, options.most or 0))
    elif not answer.hits:
        shell.warn(nothing_found(answer, _in_words(options)))
    elif shell.piped and options.width is None:
        shell.show(piped_lines(answer, zone, options.most or 0), ascii_only=options.ascii)
    else:
        most = _MOST_IN_TERMINAL if options.most is None else options.most
        lines = found_lines(answer, shared.cells(options, shell), zone, at or shell.clock(), most)
        shell.show(lines, ascii_only=options.ascii)
    return FINE if answer.hits else FOUND_WANTING


def question_of(options: Namespace, mill: Mill) -> Question:
    """What the options ask for. Raises CannotRun for what nothing can be."""
    vocabulary = mill.vocabulary
    since, until = between(options.since, options.until, mill)
    return Question(
        words=tuple(word for written in options.words for word in written.split()),
        loom=loom_named(options.loom, mill),
        part=part_named(options.part, mill),
        side=_side(options.side, vocabulary),
        kinds=tuple(dict.fromkeys(_kind(word, vocabulary) for word in options.kind or ())),
        by=options.by,
        style=options.style,
        since=since,
        until=until,
    )


def loom_named(word: str | None, mill: Mill) -> str | None:
    """The register's name of a loom. Raises CannotRun for an unknown one."""
    if word is None:
        return None
    loom = mill.vocabulary.loom(word)
    return loom if loom is not None else _unknown("loom", word, mill.looms)


def part_named(word: str | None, mill: Mill) -> str | None:
    """The register's name of a part, by any of its names. Raises CannotRun for an unknown one."""
    if word is None:
        return None
    part = mill.vocabulary.part_by_word.get(fold_word(word))
    if part is not None:
        return part.name
    known = [p.name for p in mill.parts]
    return _unknown("part", word, mill.vocabulary.part_by_word, known)


def between(
    since: str | None, until: str | None, mill: Mill
) -> tuple[datetime | None, datetime | None]:
    """From when to when: the end is left out. Raises CannotRun where nothing lies between."""
    start = moment_of(since, mill, "--from") if since else None
    end = end_named(until, mill)
    if start is not None and end is not None and end <= start:
        told = f"--from {clean(since or '')} is not before --to {clean(until or '')}"
        raise CannotRun(f"{told}: nothing lies between them")
    return start, end


def end_named(word: str | None, mill: Mill) -> datetime | None:
    """The end of a time: a bare date is included whole. Raises CannotRun."""
    if word is None:
        return None
    moment = moment_of(word, mill, "--to")
    if len(word.strip()) == len("2026-11-25"):
        local = moment.astimezone(mill.zone).replace(tzinfo=None) + timedelta(days=1)
        return moment_of(local.isoformat(timespec="minutes"), mill, "--to")
    return moment


def _side(word: str | None, vocabulary: Vocabulary) -> str | None:
    if word is None:
        return None
    side = vocabulary.side_by_word.get(fold_word(word))
    known = dict.fromkeys(vocabulary.side_by_word.values())
    return side if side is not None else _unknown("side", word, vocabulary.side_by_word, known)


def _kind(word: str, vocabulary: Vocabulary) -> Kind:
    """The kind of clause that is meant, by its name, its key word or the mill's own word."""
    kinds: dict[str, Kind] = {kind: (kind, None) for kind in KINDS.values()}
    kinds |= {verb.value: ("work", verb) for verb in Verb}
    meant = dict(kinds)
    for name, value in kinds.items():
        phrase = name.replace("-", " ")
        meant[phrase] = value
        for alias in (*vocabulary.words_for(phrase), *vocabulary.words_for(name)):
            meant[fold_word(alias)] = value
    found = meant.get(" ".join(fold_word(word).split()))
    return found if found is not None else _unknown("kind", word, meant, kinds)


def _unknown(what: str, word: str, words: Iterable[str], known: Iterable[str] = ()) -> NoReturn:
    listed = ", ".join(known)
    hint = did_you_mean(word, words) or (f"there are {listed}" if listed else "")
    raise CannotRun("; ".join(told for told in (f"there is no {what} {word}", hint) if told))


def _in_words(options: Namespace) -> str:
    asked = [*options.words]
    names = ("loom", "part", "side", "kind", "by", "style", "since", "until")
    shown = {"since": "from", "until": "to"}
    for name in names:
        given = getattr(options, name)
        each = given if isinstance(given, list) else [given] if given else []
        asked += [f"--{shown.get(name, name)} {word}" for word in each]
    return " ".join(asked) or "anything at all"
