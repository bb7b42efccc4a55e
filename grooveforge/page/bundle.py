"""The page's modules as one script: fewer requests before the song is drawn, and one piece for an exported file.

Each module becomes a function that gives its exports, called in the order in which they need each other. The
modules keep to one-line imports and to exports in front of a declaration; anything else is an error here.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from grooveforge.errors import FormatError

_IMPORT = re.compile(r'^import \{ ([\w, ]+) \} from "\./(\w+)\.js";$', re.MULTILINE)
_EXPORT = re.compile(r"^export (?=(?:const|class|function|async function)\b)", re.MULTILINE)
_EXPORTED = re.compile(r"^export (?:const|class|(?:async )?function) (\w+)", re.MULTILINE)
_OTHER = re.compile(r"^\s*(?:import|export)\b.*$", re.MULTILINE)


def bundle(modules: Mapping[str, str], entry: str = "main") -> str:
    """One script that does what the module `entry` does.

    Parameters
    ----------
    modules : text of each module by its name, without the ending.

    Raises
    ------
    FormatError
        For an import that is missing or goes in a circle, and for a form of import or export that is not known.
    """
    done: dict[str, str] = {}
    _lay(entry, modules, done, ())
    return '"use strict";\n' + "".join(done.values())


def _lay(name: str, modules: Mapping[str, str], done: dict[str, str], trail: tuple[str, ...]) -> None:
    """Puts a module behind those that it imports."""
    if name in done:
        return
    if name in trail:
        raise FormatError(f"modules import each other: {' -> '.join((*trail, name))}", file=f"{name}.js")
    if name not in modules:
        raise FormatError(f"no module {name!r}", file=f"{trail[-1]}.js" if trail else "")
    text = modules[name]
    for needed in _IMPORT.finditer(text):
        _lay(needed[2], modules, done, (*trail, name))
    done[name] = _function(name, text)


def _function(name: str, text: str) -> str:
    exports = _EXPORTED.findall(text)
    body = _IMPORT.sub(lambda found: f"const {{ {found[1]} }} = module_{found[2]};", text)
    body = _EXPORT.sub("", body)
    other = _OTHER.search(body)
    if other is not None:
        raise FormatError("a form of import or export that the page does not use", file=f"{name}.js", found=other[0])
    return f"const module_{name} = (() => {{\n{body}\nreturn {{ {', '.join(exports)} }};\n}})();\n"
