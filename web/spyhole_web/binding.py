"""Binds scripts into few files, as they are read: each file more costs a slow phone some ten milliseconds.

Sources stay one module a file, checked and read as such. A bound file is one module with all that it imports, each in a
function of its own, in the order in which they would have run. It takes only the forms of import and export that our
own scripts use; any other is a ValueError when the page is put together, never a page that stumbles.
"""

import re
from collections.abc import Mapping, Sequence

IMPORT = re.compile(r'^import \{ ([^}]*) \} from "\./(\w+)\.js";$', re.MULTILINE)
HANDED_ON = re.compile(r'^export \{ ([^}]*) \} from "\./(\w+)\.js";$', re.MULTILINE)
EXPORT = re.compile(r"^export ((?:async )?function|const|class) (\w+)", re.MULTILINE)
ANOTHER_FORM = re.compile(r"^(?:import\b(?!\()|export\b).*$|^.*\bimport\.meta\b.*$", re.MULTILINE)


def bind(sources: Mapping[str, str], bound: Mapping[str, Sequence[str]]) -> dict[str, str]:
    """The text of each bound file by its name, without `.js`. sources: likewise, of all modules.

    bound: for each file those that are there whenever it is asked for, which come before it. What stands in one of them
    is taken from it, so that no module is there twice. ValueError for a form of import or export nobody has met yet.
    """
    made: dict[str, str] = {}
    held: dict[str, list[str]] = {}
    for name, earlier in bound.items():
        there = {module: file for file in earlier for module in held[file]}
        held[name] = _in_order(sources, name, there, [])
        taken: dict[str, list[str]] = {}
        for module in sorted({each for here in held[name] for each in _needs(sources[here]) if each in there}):
            taken.setdefault(there[module], []).append(f"${module}")
        lines = [f'import {{ {", ".join(modules)} }} from "./{file}.js";\n' for file, modules in taken.items()]
        lines += [_in_a_function(module, sources[module]) for module in held[name]]
        lines.append(f"export {{ {', '.join(f'${module}' for module in held[name])} }};\n")
        if given := _gives(sources[name]):
            lines.append(f"export const {{ {', '.join(given)} }} = ${name};\n")
        made[name] = "".join(lines)
    return made


def _needs(text: str) -> list[str]:
    return [name for form in (IMPORT, HANDED_ON) for _, name in form.findall(text)]


def _gives(text: str) -> list[str]:
    handed_on = [name.strip() for names, _ in HANDED_ON.findall(text) for name in names.split(",")]
    return [name for _, name in EXPORT.findall(text)] + handed_on


def _in_order(sources: Mapping[str, str], name: str, there: Mapping[str, str], found: list[str]) -> list[str]:
    """This module and all that it needs and is not there yet, what is needed first."""
    if name not in there and name not in found:
        for needed in _needs(sources[name]):
            _in_order(sources, needed, there, found)
        found.append(name)
    return found


def _in_a_function(name: str, text: str) -> str:
    given = ", ".join(_gives(text))

    def needed(found: re.Match[str]) -> str:
        return f"const {{ {found[1].replace(' as ', ': ')} }} = ${found[2]};"

    text = EXPORT.sub(r"\1 \2", HANDED_ON.sub(needed, IMPORT.sub(needed, text)))
    if another := ANOTHER_FORM.search(text):
        raise ValueError(f"{name}.js cannot be bound: {another[0]}")
    return f"const ${name} = (() => {{\n{text}\nreturn {{ {given} }};\n}})();\n"
