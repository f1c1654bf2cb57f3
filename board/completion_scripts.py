"""The scripts by which bash, zsh and fish complete a command line.

Each holds every command and option in its own words, and asks the program for the names of the
shed alone. What comes from a register is never evaluated by a shell, only compared and quoted.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import assert_never

from board.completion import Command, Offer, Option, What


def script(shell: str, commands: tuple[Command, ...]) -> str:
    """The script for a shell. Raises KeyError for one that is not known."""
    return {"bash": _bash, "zsh": _zsh, "fish": _fish}[shell](commands)


def _filled(template: str, pieces: Mapping[str, Iterable[str]]) -> str:
    """The template with each line ``@name@`` replaced by lines, as far indented as it."""
    rows = []
    for row in template.strip("\n").split("\n"):
        name = row.strip().strip("@")
        if not row.strip().startswith("@") or name not in pieces:
            rows.append(row)
            continue
        indent = row[: len(row) - len(row.lstrip())]
        rows += [f"{indent}{piece}" for piece in pieces[name]]
    return "\n".join(rows) + "\n"


def _quoted(text: str) -> str:
    """A word in single quotes, for bash and zsh."""
    return "'" + text.replace("'", "'\\''") + "'"


# -- bash ------------------------------------------------------------------------------------

_BASH = r"""
# Completes loomslate in bash. Made by: loomslate --completion bash

_loomslate_words() {
    local word
    for word; do
        [[ $word == "$typed"* ]] && COMPREPLY+=("$word")
    done
}

_loomslate_names() {
    local found program=${COMP_WORDS[0]/#\~\//$HOME/}
    while IFS= read -r found; do
        [[ -n $quote ]] || printf -v found %q "$found"
        COMPREPLY+=("$found")
    done < <("$program" --names "$1" "$typed" "${COMP_WORDS[@]:1:COMP_CWORD-1}" 2>/dev/null)
}

_loomslate_paths() {
    local found
    compopt -o filenames 2>/dev/null
    while IFS= read -r found; do
        COMPREPLY+=("$found")
    done < <(compgen "$1" -- "$typed")
}

_loomslate_takes_a_value() {
    case "$1 $2" in
    @takes@
    esac
    return 1
}

_loomslate() {
    local typed=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD - 1]}
    local command= quote= word i placed=0
    COMPREPLY=()
    if [[ $typed == = ]]; then
        typed=
    elif [[ $before == = ]]; then
        before=${COMP_WORDS[COMP_CWORD - 2]}
    fi
    case $typed in
    [\'\"]*) quote=${typed:0:1} typed=${typed:1} ;;
    *) typed=${typed//\\/} ;;
    esac
    for ((i = 1; i < COMP_CWORD; i++)); do
        word=${COMP_WORDS[i]}
        case $word in
        = | :) i=$((i + 1)) ;;
        -*)
            if _loomslate_takes_a_value "$command" "$word" && [[ ${COMP_WORDS[i + 1]} != = ]]; then
                i=$((i + 1))
            fi
            ;;
        *) if [[ -z $command ]]; then command=$word; else placed=$((placed + 1)); fi ;;
        esac
    done
    case "$command $before" in
    @values@
    esac
    case $command in
    @commands@
    esac
    return 0
}

complete -F _loomslate loomslate
"""


def _bash(commands: tuple[Command, ...]) -> str:
    takes, values, bodies = [], [], []
    for command in commands:
        for option in command.options:
            if option.offer is None:
                continue
            pattern = " | ".join(_quoted(f"{command.name} {s}") for s in option.spellings)
            takes.append(f"{pattern}) return 0 ;;")
            values.append(f"{pattern}) {_bash_offer(option.offer)}; return 0 ;;")
        bodies += _bash_command(command, [one.name for one in commands if one.name])
    return _filled(_BASH, {"takes": takes, "values": values, "commands": bodies})


def _bash_command(command: Command, names: list[str]) -> list[str]:
    spelt = " ".join(s for option in command.options for s in option.spellings)
    if not command.name:
        return [f"'') _loomslate_words {' '.join(names)} {spelt} ;;"]
    rows = [f"{command.name})", f"    [[ $typed == -* ]] && _loomslate_words {spelt}"]
    for number, place in enumerate(command.places):
        if place.offer.what is not What.NOTHING:
            compared = "-ge" if place.repeated else "-eq"
            offered = _bash_offer(place.offer)
            rows.append(f"    [[ $typed != -* && $placed {compared} {number} ]] && {offered}")
    rows.append(f"    [[ -z $typed$quote && -z ${{COMPREPLY[*]}} ]] && _loomslate_words {spelt}")
    return [*rows, "    ;;"]


def _bash_offer(offer: Offer) -> str:
    match offer.what:
        case What.NOTHING:
            return ":"
        case What.WORDS:
            return f"_loomslate_words {' '.join(map(_quoted, offer.words))}"
        case What.FILES:
            return "_loomslate_paths -f"
        case What.FOLDERS:
            return "_loomslate_paths -d"
        case What.NAMES:
            return f"_loomslate_names {offer.kind}"
        case _:
            assert_never(offer.what)


# -- zsh -------------------------------------------------------------------------------------

_ZSH = r"""
#compdef loomslate
# Completes loomslate in zsh. Made by: loomslate --completion zsh

_loomslate_names() {
    local -a found
    local program="${(Q)loomslate_line[1]/#\~\//$HOME/}"
    local -a asked=($1 "${(Q)PREFIX}" "${(@Q)loomslate_line[2,-1]}")
    found=("${(@f)$("$program" --names "${asked[@]}" 2>/dev/null)}")
    found=("${(@)found:#}")
    compadd -U -a found
}

_loomslate() {
    local curcontext="$curcontext" state line
    local -a loomslate_line=("${(@)words[1,CURRENT-1]}")
    typeset -A opt_args
    _arguments -C \
        @options@
        '1:COMMAND:->command' \
        '*:: :->rest'
    case $state in
    command)
        local -a commands=(
            @names@
        )
        _describe -t commands command commands
        ;;
    rest)
        case $line[1] in
        @commands@
        esac
        ;;
    esac
}

if [[ $funcstack[1] == _loomslate ]]; then
    _loomslate "$@"
else
    compdef _loomslate loomslate
fi
"""


def _zsh(commands: tuple[Command, ...]) -> str:
    top, *rest = commands
    bodies: list[str] = []
    for command in rest:
        specs = [_zsh_option(option) for option in command.options]
        for place in command.places:
            begin = "*" if place.repeated else ""
            specs.append(
                _quoted(f"{begin}:{_zsh_message(place.metavar)}:{_zsh_offer(place.offer)}")
            )
        bodies += [f"{command.name})", "    _arguments \\"]
        bodies += [f"        {spec} \\" for spec in specs[:-1]]
        bodies += [f"        {specs[-1]}", "    ;;"]
    names = [_quoted(f"{c.name}:{c.summary}") for c in rest]
    options = [f"{_zsh_option(option)} \\" for option in top.options]
    return _filled(_ZSH, {"options": options, "names": names, "commands": bodies})


def _zsh_option(option: Option) -> str:
    told = option.help.replace("\\", "\\\\").replace("[", "\\[").replace("]", "\\]")
    rest = f"[{told}]"
    if option.offer is not None:
        rest += f":{_zsh_message(option.metavar)}:{_zsh_offer(option.offer)}"
    if len(option.spellings) > 1:
        spelt = " ".join(option.spellings)
        return f"{_quoted(f'({spelt})')}{{{','.join(option.spellings)}}}{_quoted(rest)}"
    sign = "=" if option.offer is not None else ""
    return _quoted(f"{'*' if option.repeated else ''}{option.spellings[0]}{sign}{rest}")


def _zsh_message(metavar: str) -> str:
    return metavar.replace("'", "").replace(":", "\\:")


def _zsh_offer(offer: Offer) -> str:
    match offer.what:
        case What.NOTHING:
            return " "
        case What.WORDS:
            return f"({' '.join(offer.words)})"
        case What.FILES:
            return "_files"
        case What.FOLDERS:
            return "_files -/"
        case What.NAMES:
            return f" _loomslate_names {offer.kind}"
        case _:
            assert_never(offer.what)


# -- fish ------------------------------------------------------------------------------------

_FISH = r"""
# Completes loomslate in fish. Made by: loomslate --completion fish

function __loomslate_is
    set -l found ''
    for word in (commandline -opc)[2..-1]
        if not string match -q -- '-*' $word
            set found $word
            break
        end
    end
    test "$found" = "$argv[1]"
end

function __loomslate_names
    set -l words (commandline -opc)
    command $words[1] --names $argv[1] (commandline -ct | string collect) $words[2..-1] 2>/dev/null
end

complete -c loomslate -e
complete -c loomslate -f
@all@
"""


def _fish(commands: tuple[Command, ...]) -> str:
    rows = []
    for command in commands:
        head = f"complete -c loomslate -n {_fish_quoted(f'__loomslate_is {command.name or _NONE}')}"
        if not command.name:
            rows += [
                f"{head} -a {one.name} -d {_fish_quoted(one.summary)}"
                for one in commands
                if one.name
            ]
        for option in command.options:
            spelt = " ".join(_fish_spelling(spelling) for spelling in option.spellings)
            value = "" if option.offer is None else f" {_fish_offer(option.offer)}"
            rows.append(f"{head} {spelt}{value} -d {_fish_quoted(option.help)}")
        rows += [
            f"{head} {_fish_offer(place.offer).removeprefix('-r ')}"
            f" -d {_fish_quoted(place.metavar)}"
            for place in command.places
            if place.offer.what is not What.NOTHING
        ]
    return _filled(_FISH, {"all": rows})


_NONE = "''"  # no command has been named yet


def _fish_spelling(spelling: str) -> str:
    name = spelling.lstrip("-")
    return f"-l {name}" if spelling.startswith("--") else f"-s {name}"


def _fish_quoted(text: str) -> str:
    return "'" + text.replace("\\", "\\\\").replace("'", "\\'") + "'"


def _fish_offer(offer: Offer) -> str:
    match offer.what:
        case What.NOTHING:
            return "-r -f"
        case What.WORDS:
            return f"-r -f -a {_fish_quoted(' '.join(offer.words))}"
        case What.FILES:
            return "-r -F"
        case What.FOLDERS:
            return "-r -f -a '(__fish_complete_directories (commandline -ct))'"
        case What.NAMES:
            return f"-r -f -a '(__loomslate_names {offer.kind})'"
        case _:
            assert_never(offer.what)
