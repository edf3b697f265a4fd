"""Modules put into one script."""

from __future__ import annotations

import re
from typing import Final

import pytest
from helpers.program import ROOT

from sigsim.show.page.link import LinkError, linked, modules

FOLDER: Final = ROOT / "sigsim" / "show" / "page" / "js"
MODULES: Final = sorted(path.name for path in FOLDER.glob("*.js"))


def of(**sources: str) -> str:
    """Return modules in one script, beginning with `main`."""
    return linked("main.js", {f"{name}.js": text for name, text in sources.items()}.__getitem__)


def test_modules_stand_behind_what_they_import() -> None:
    script = of(
        main='import { one } from "./a.js";\nimport { two, six } from "./b.js";\none(two, six);\n',
        a='import { two } from "./b.js";\nexport const one = () => two;\n',
        b="export const two = 2;\nexport const six = 6;\nexport {};\n",
    )
    assert script == (
        '(() => {\n"use strict";\nconst two = 2;\nconst six = 6;\n\n'
        "const one = () => two;\n\none(two, six);\n})();\n"
    )


def test_only_whole_lines_of_comment_and_indents_are_left_out() -> None:
    """What stands beside code stays, and so does code between two comments."""
    kept = "const a = 1; /* b */\n/** @type {X} */ (a).c();\nconst d = `/* e */`;\n"
    text = "/* one\n   two */\n" + kept + "  /** @type {Y} */\n  f();\n"
    assert of(main=text) == f'(() => {{\n"use strict";\n{kept}f();\n}})();\n'


@pytest.mark.parametrize(
    ("main", "other", "why"),
    [
        ('import { b } from "./other.js";\n', "const b = 1;\n", "other.js does not export b"),
        ('import { b } from "./other.js";\nconst c = 1;\n', "export const b = 1;\nconst c = 2;\n",
         "c: at the top of other.js and of main.js"),
        ('import { b } from "./other.js";\nconst { x, c } = b;\n',
         "export const b = 1;\nfunction c() {}\n", "c: at the top of other.js and of main.js"),
        ('import b from "./other.js";\n', "export const b = 1;\n", "import b from"),
        ('import * as b from "./other.js";\n', "export const b = 1;\n", "cannot be put"),
        ('import { b as c } from "./other.js";\n', "export const b = 1;\n", "cannot be put"),
        ('import { b } from "./other.js"; b();\nexport default b;\n', "export const b = 1;\n",
         "export default b"),
        ("const a = `one\n  two`;\n", "", "lose spaces: const a = `one"),
        ('import {\n  b,\n} from "./other.js";\n', "export const b = 1;\n", "cannot be put"),
        ('import { b } from "./other.js";\nexport const c = 1;\n',
         'import { c } from "./main.js";\nexport const b = 1;\n', "main.js: imports itself"),
    ],
)  # fmt: skip
def test_what_does_not_go_together_is_refused(main: str, other: str, why: str) -> None:
    with pytest.raises(LinkError, match=re.escape(why)):
        of(main=main, other=other)


def test_every_module_of_the_page_goes_together_with_all_others() -> None:
    """As if there were one that imports them all."""
    # One more name a module, so that each can be imported whether it exports anything or not.
    sources = {"every.js": ""}
    for number, name in enumerate(MODULES):
        text = (FOLDER / name).read_text(encoding="utf-8")
        sources[name] = f"{text}\nexport const asked{number} = 0;\n"
        sources["every.js"] += f'import {{ asked{number} }} from "./{name}";\n'
    made = modules("every.js", sources.__getitem__)
    assert {name for name, _ in made} == {*MODULES, "every.js"}
