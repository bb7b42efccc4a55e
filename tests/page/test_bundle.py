"""The page's modules as one script: order, exports, and what is refused. No browser is needed."""

from __future__ import annotations

from pathlib import Path

import pytest

from grooveforge.errors import FormatError
from grooveforge.page.bundle import bundle

STATIC = Path(__file__).parent.parent.parent / "grooveforge" / "page" / "static"


def test_needed_modules_come_first_and_once() -> None:
    """What is imported stands before what imports it, once, also when two modules need it."""
    script = bundle(
        {
            "main": 'import { a } from "./a.js";\nimport { b } from "./b.js";\na(b);\n',
            "a": 'import { b } from "./b.js";\nexport const a = (x) => x + b;\n',
            "b": "export const b = 1;\n",
            "unused": "export const c = 2;\n",
        }
    )
    assert script.count("module_b = (") == 1
    assert script.index("module_b = (") < script.index("module_a = (") < script.index("module_main = (")
    assert "return { a };" in script
    assert "module_unused" not in script


@pytest.mark.parametrize(
    ("modules", "words"),
    [
        ({"main": 'import { a } from "./a.js";\n', "a": 'import { m } from "./main.js";\n'}, "main -> a -> main"),
        ({"main": 'import { a } from "./a.js";\n'}, "no module 'a'"),
        ({"main": 'import * as a from "./a.js";\n', "a": ""}, "does not use"),
        ({"main": "export default 1;\n"}, "does not use"),
        ({"main": "const a = 1;\nexport { a };\n"}, "does not use"),
    ],
)
def test_what_it_does_not_know_is_refused(modules: dict[str, str], words: str) -> None:
    """A circle, a missing module or another form of import or export is an error, never a broken script."""
    with pytest.raises(FormatError, match=words):
        bundle(modules)


def test_the_page_is_one_script() -> None:
    """Every module of the page is in the bundle: none lies about unused."""
    modules = {path.stem: path.read_text(encoding="utf-8") for path in STATIC.glob("*.js")}
    script = bundle(modules)
    assert "score" in modules
    assert {name for name in modules if f"module_{name} = (" not in script} == set()
    assert "http:" not in script.replace("http://www.w3.org", "")
    assert "https:" not in script
