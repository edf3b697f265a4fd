"""The documents say what the program does: every command line, every table, every snippet."""

from __future__ import annotations

import doctest
import re
from importlib.util import module_from_spec, spec_from_file_location
from inspect import cleandoc
from pathlib import Path

import pytest
from helpers.documents import (
    COMMAND_PAGE,
    CUT,
    DEVELOPERS,
    DOCUMENTS,
    MANUAL,
    README,
    REFERENCE,
    Command,
    Result,
    agrees,
    commands,
    copy_examples,
    headings,
    links,
    python_examples,
    results,
)
from helpers.made import BLOCKS, loaded, options, with_blocks
from helpers.program import EXAMPLES, ROOT
from helpers.simulator import NEEDS_NGSPICE

from sigsim.board.reader import parse_board
from sigsim.cli.main import COMMANDS

RENEW = "run: python tests/regenerate_docs.py"
TEXT = {document: document.read_text(encoding="utf-8") for document in DOCUMENTS}
README_TEXT = TEXT[README]


def numbered() -> list[object]:
    """Return every command line of every document with where its result will be."""
    return [
        pytest.param(
            document, index, id=f"{document.relative_to(ROOT)}:{command.line}",
            marks=NEEDS_NGSPICE if command.name == "crosscheck" else (),
        )
        for document in DOCUMENTS
        for index, command in enumerate(commands(document))
    ]  # fmt: skip


def at(document: Path, index: int) -> tuple[Command, Result]:
    return commands(document)[index], results(document)[index]


@pytest.mark.parametrize(("document", "index"), numbered())
def test_command_line_runs_and_prints_what_is_shown(document: Path, index: int) -> None:
    command, result = at(document, index)
    assert result.status == command.status, "\n".join(result.printed)
    assert not any("Traceback" in line for line in result.printed)
    if command.shown:
        assert agrees(command, result.printed), f"{RENEW}\n" + "\n".join(result.printed)


def test_shown_output_that_differs_is_noticed() -> None:
    printed = ("one 1", "two 2.5e-3", "three")
    for shown, right in (
        (("one 1", CUT), True), (("one 2", CUT), False), (("one 1", "two 2.5e-3"), False),
        (printed, True),
    ):  # fmt: skip
        assert agrees(Command("sigsim loss", shown), printed) == right
    for shown, right in (
        (("one 2 two", CUT), True), (("one 2 two 7", "three"), True), (("one 2", "three"), False),
    ):  # fmt: skip
        assert agrees(Command("sigsim crosscheck", shown), printed) == right


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_what_is_made_from_the_code_is_as_it_is_now(document: Path) -> None:
    assert with_blocks(TEXT[document]) == TEXT[document], RENEW


def test_every_block_stands_in_a_document() -> None:
    everything = "".join(TEXT.values())
    for name in BLOCKS:
        assert everything.count(f"<!-- {name} -->") == 1
        assert everything.count(f"<!-- /{name} -->") == 1


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_python_snippets_run(
    document: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    copy_examples(tmp_path)
    monkeypatch.chdir(tmp_path)
    said: list[str] = []
    for number, snippet in enumerate(python_examples(document), 1):
        assert snippet.startswith(">>> ")
        test = doctest.DocTestParser().get_doctest(snippet, {}, f"snippet {number}", None, 0)
        doctest.DocTestRunner().run(test, out=said.append)
    assert not said, "".join(said)


def test_the_manual_has_a_python_snippet_and_the_documents_show_whole_boards() -> None:
    assert python_examples(MANUAL / "python.md")
    for document in (README, MANUAL / "board-file.md"):
        boards = re.findall(r"^```toml\n(.*?)^```$", TEXT[document], re.M | re.S)
        assert boards
        for board in boards:
            assert not parse_board(board).warnings


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: str(path.relative_to(ROOT)))
def test_links_lead_to_files_and_headings(document: Path) -> None:
    for target in links(document):
        file, _, heading = target.partition("#")
        found = (document.parent / file).resolve() if file else document
        assert found.is_relative_to(ROOT), target
        assert found.exists(), target
        if heading:
            assert heading in headings(found), target


def test_a_link_that_leads_nowhere_is_noticed(tmp_path: Path) -> None:
    document = tmp_path / "page.md"
    document.write_text("# One `two`\n[a](b.md#c)\n```sh\n# not one\n[d](e)\n```\n", "utf-8")
    assert headings(document) == ["one-two"]
    assert links(document) == ["b.md#c"]


def test_headings_that_are_linked_to_are_told_apart() -> None:
    for document in DOCUMENTS:
        linked = [t.partition("#")[2] for other in DOCUMENTS for t in links(other) if "#" in t]
        for heading in set(linked):
            assert headings(document).count(heading) <= 1


def test_every_page_of_the_manual_can_be_found() -> None:
    pages = {page.name for page in MANUAL.glob("*.md")} - {"README.md"}
    assert set(links(MANUAL / "README.md")) >= pages
    folders = {f"{folder.name}/README.md" for folder in REFERENCE.iterdir() if folder.is_dir()}
    assert set(links(REFERENCE / "README.md")) == folders


def test_the_readme_stays_short() -> None:
    """What a musician reads, with all that is made or printed by the program in it."""
    assert len(README_TEXT.splitlines()) <= 230


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_a_section(name: str) -> None:
    assert TEXT[COMMAND_PAGE].count(f"\n## sigsim {name}\n") == 1


@pytest.mark.parametrize("name", COMMANDS)
def test_the_listed_line_is_the_first_of_the_help(name: str) -> None:
    command = loaded(name)
    assert command.name == name
    assert command.help
    assert " ".join(cleandoc(command.help).split("\n\n")[0].split()) == COMMANDS[name]


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_has_help(name: str) -> None:
    assert not [option.opts[0] for option in options(name) if not option.help]


def setup_commands() -> list[str]:
    """Return the README's command lines that begin on a fresh machine."""
    return [line for line in README_TEXT.splitlines() if line.startswith("python3 -m venv ")]


def test_two_commands_do_all_the_set_up() -> None:
    demo, tests = setup_commands()
    assert demo.endswith("&& .venv/bin/pip install . && .venv/bin/sigsim demo --force")
    assert tests.endswith("&& .venv/bin/pip install '.[test]' && .venv/bin/pytest")


def test_ci_runs_the_command_of_the_readme() -> None:
    """CI takes the line out of the README by this pattern, and it finds exactly that one."""
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    pattern = re.search(r"grep -E '(\^python3 -m venv [^']*)' README\.md", script)
    assert pattern
    found = [line for line in README_TEXT.splitlines() if re.search(pattern[1], line)]
    assert found == setup_commands()[1:]


@pytest.mark.parametrize("name", ["ferry-bass.png", "ferry-bass-page.png"])
def test_the_pictures_in_the_readme_are_those_of_the_example(name: str) -> None:
    assert f"](examples/{name})" in README_TEXT
    assert (EXAMPLES / name).read_bytes().startswith(b"\x89PNG")


def test_the_benchmarks_can_be_imported() -> None:
    path = ROOT / "tests" / "benchmarks" / "run.py"
    spec = spec_from_file_location("benchmarks_run", path)
    assert spec
    assert spec.loader
    benchmarks = module_from_spec(spec)
    spec.loader.exec_module(benchmarks)
    assert len(parse_board(benchmarks.board_text(12)).switches()) == 12


def test_developers_are_told_every_room() -> None:
    for path in (ROOT / "sigsim").iterdir():
        if path.is_dir() and (path / "__init__.py").exists():
            assert f"`{path.name}/`" in TEXT[DEVELOPERS]
