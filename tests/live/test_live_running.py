"""An editor that runs: windows that follow each other, its end, and what is left after it."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from helpers.in_process import sigsim_here
from helpers.live import Editor, PlainDesk, browser, raw
from helpers.refusals import assert_refused

from sigsim import stopping
from sigsim.cli import editing
from sigsim.live import desk as desks
from sigsim.live import running
from sigsim.live.draft import Lock
from sigsim.live.events import MOST_OPEN
from sigsim.live.session import Session

MINUTE = 0.4  # in which a test waits for a window


@pytest.fixture
def board(tmp_path: Path) -> Path:
    path = tmp_path / "board.toml"
    path.write_bytes(b"one\n")
    return path


@pytest.fixture
def editor(board: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Editor]:
    monkeypatch.setattr(running, "PATIENCE", MINUTE)
    found = Editor(board)
    found.start()
    yield found
    monkeypatch.setattr(stopping, "was_noted", lambda: True)
    found.thread.join(10)
    assert found.ended is not None


def heard(lines: Iterator[str]) -> dict[str, Any]:
    """Return the next event of a stream."""
    line = next(line for line in lines if line.startswith("data: "))
    found: dict[str, Any] = json.loads(line.removeprefix("data: "))
    return found


def add(client: httpx.Client, line: str, revision: int) -> httpx.Response:
    edit = {"do": "line", "line": line}
    return client.post("/edit", json={"edit": edit, "revision": revision})


def test_two_windows_follow_each_other(editor: Editor, board: Path) -> None:
    with (
        browser(editor.address) as one,
        one.stream("GET", "/events") as first,
        one.stream("GET", "/events") as second,
    ):
        both = first.iter_lines(), second.iter_lines()
        assert [heard(lines)["revision"] for lines in both] == [1, 1]
        assert add(one, "two", 1).json()["revision"] == 2
        assert [heard(lines) for lines in both] == [{"revision": 2}] * 2
        assert add(one, "late", 1).status_code == 409
        board.write_bytes(b"theirs\n")
        assert [heard(lines) for lines in both] == [{"disk": "changed"}] * 2
        answer = one.post("/save", json={})
        assert (answer.status_code, answer.json()["disk"]) == (409, "changed")
        lines = one.get("/difference").json()["lines"]
        assert [line["text"] for line in lines if line["sign"] == "-"] == ["theirs"]
        assert one.post("/disk", json={"choice": "keep"}).json()["disk"] == "same"
    assert board.read_bytes() == b"one\ntwo\n"


def test_a_newer_question_ends_the_older(editor: Editor) -> None:
    with browser(editor.address) as client, client.stream("GET", "/events"):
        answers: list[int] = []

        def ask() -> None:
            asked = {"on": ["wait"], "revision": 1, "window": "a"}
            answers.append(client.post("/worth", json=asked).status_code)

        older = threading.Thread(target=ask)
        older.start()
        time.sleep(0.1)
        assert add(client, "two", 1).status_code == 200  # an edit waits for no question
        for window in ("b", "a"):
            assert not answers  # that of another window goes on
            asked = {"on": ["x"], "revision": 2, "window": window}
            assert client.post("/worth", json=asked).json() == {"list": ["x"]}
        older.join(5)
        assert answers == [409]


def test_too_many_windows_rest(editor: Editor) -> None:
    """A browser opens six connections to one place; all but these would be waiting for ever."""
    with browser(editor.address) as client:
        streams = [client.stream("GET", "/events") for _ in range(MOST_OPEN + 1)]
        lines = [stream.__enter__().iter_lines() for stream in streams]
        assert heard(lines[0])["revision"] == 1
        assert heard(lines[0]) == {"rest": True}
        assert next(lines[0], "end") in ("", "end")
        assert heard(lines[-1])["revision"] == 1
        for stream in streams:
            stream.__exit__(None, None, None)


def test_it_ends_after_the_last_window_and_keeps_what_is_unsaved(
    editor: Editor, board: Path
) -> None:
    time.sleep(2 * MINUTE)
    assert editor.thread.is_alive()  # nobody has come yet
    with browser(editor.address) as client:
        with client.stream("GET", "/events"):
            add(client, "two", 1)
            time.sleep(2 * MINUTE)
        assert editor.thread.is_alive()
        with client.stream("GET", "/events"):  # loaded again
            time.sleep(2 * MINUTE)
            assert editor.thread.is_alive()
    editor.thread.join(5)
    assert editor.ended == "closed"
    assert board.with_name(".board.toml.draft").read_bytes() == b"one\ntwo\n"
    with pytest.raises(httpx.ConnectError):
        httpx.get(editor.address)


def test_what_can_not_be_kept_keeps_it_running(
    editor: Editor, board: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(editor.session.beside.draft, "write", lambda _: "no space")
    with browser(editor.address) as client:
        with client.stream("GET", "/events") as stream:
            lines = stream.iter_lines()
            heard(lines)
            add(client, "two", 1)
            assert [heard(lines), heard(lines)] == [{"revision": 2}, {"draft": "no space"}]
        time.sleep(3 * MINUTE)
        assert editor.thread.is_alive()
        client.post("/save", json={})
    editor.thread.join(5)
    assert board.read_bytes() == b"one\ntwo\n"


def test_bodies_are_counted_while_they_come(editor: Editor) -> None:
    """What a request says of its length is only a claim (RFC 9112, sections 6 and 7)."""
    port = editor.place.getsockname()[1]
    with browser(editor.address) as client:
        cookie = "; ".join(f"{one.name}={one.value}" for one in client.cookies.jar)
        head = (
            f"POST /edit HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nOrigin: http://127.0.0.1:{port}\r\n"
            f"Cookie: {cookie}\r\nContent-Type: application/json\r\n"
        )
        chunk = b"100000\r\n" + b" " * 0x100000 + b"\r\n"
        chunked = f"{head}Transfer-Encoding: chunked\r\n\r\n".encode()
        assert b" 413 " in raw(port, chunked, (chunk for _ in range(100)))[:20]
        told = f"{head}Content-Length: 100000000\r\n\r\n".encode()
        assert b" 413 " in raw(port, told)[:20]
        for wrong in (b"\x16\x03\x01\r\n\r\n", b"GET / HTTP/1.1\r\n" + b"a: b\r\n" * 20_000):
            assert b" 400 " in raw(port, wrong + b"\r\n")[:20]
        twice = head.replace("Origin", f"Host: 127.0.0.1:{port}\r\nOrigin") + "\r\n"
        assert raw(port, twice.encode())[9:12] in (b"400", b"403")
        assert client.get("/document").json()["revision"] == 1


Start = Callable[..., tuple["subprocess.Popen[str]", str]]


@pytest.fixture
def started(tmp_path: Path) -> Iterator[Start]:
    """Start the program, and return it with the address it says; none is left behind."""
    processes = []

    def start(*arguments: str) -> tuple[subprocess.Popen[str], str]:
        process = subprocess.Popen(
            [sys.executable, "-m", "sigsim", "edit", *arguments, "--no-browser"],
            cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
            stdin=subprocess.DEVNULL, text=True,
        )  # fmt: skip
        processes.append(process)
        assert process.stdout is not None
        for line in process.stdout:
            if "http" in line:
                return process, line[line.index("http") :].strip()
        raise AssertionError(process.communicate())

    yield start
    for process in processes:
        if process.poll() is None:
            process.kill()
            process.communicate()


def test_the_program_from_start_to_end(tmp_path: Path, started: Start) -> None:
    """Killed without warning, offered, ended by the keyboard, by a signal: nothing is lost."""
    source = Path(__file__).parents[2] / "examples" / "ferry-bass.toml"
    board = tmp_path / "b.toml"
    board.write_bytes(source.read_bytes())
    draft = tmp_path / ".b.toml.draft"
    edit = {"edit": {"do": "title", "name": "another"}, "revision": 1}

    process, address = started("b.toml")
    with browser(address) as client:
        assert client.post("/edit", json=edit).status_code == 200
        place = address.partition("?")[0]
        refused = sigsim_here("edit", "b.toml", "--no-browser", cwd=tmp_path)
        assert_refused(refused, "being edited already", f"the page at {place}")
        port = place.rsplit(":")[-1].strip("/")
        refused = sigsim_here("edit", "c.toml", "--port", port, cwd=tmp_path)
        assert_refused(refused, "--port: this port cannot be had", f"found {port}")
        time.sleep(1)  # it is written within a second of each step
    process.kill()
    process.communicate()
    assert b"another" in draft.read_bytes()
    assert board.read_bytes() == source.read_bytes()

    process, address = started("b.toml", "--port", port)
    with browser(address) as client, client.stream("GET", "/events"):
        assert client.get("/document").json()["offer"]
        assert client.post("/draft", json={"choice": "take"}).json()["unsaved"]
        begun = time.monotonic()
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=10)
        # It is quick: a beat, the open streams, the interpreter's own end.
        assert time.monotonic() - begun < 3
    assert (process.returncode, err) == (0, "")
    assert "kept in .b.toml.draft" in out
    assert sorted(os.listdir(tmp_path)) == [".b.toml.draft", "b.toml"]

    process, address = started("b.toml")
    with browser(address) as client:
        client.post("/draft", json={"choice": "drop"})
        process.send_signal(signal.SIGTERM)
        _, err = process.communicate(timeout=10)
    assert process.returncode == 143
    assert "Traceback" not in err
    assert os.listdir(tmp_path) == ["b.toml"]


@pytest.mark.parametrize(
    ("answer", "text", "said"),
    [
        ("s\n", b"one\ntwo\n", "Saved: "),
        ("DROP\n", b"one\n", "stays as it was"),
        ("\n", b"one\n", "offered the next time"),
        ("what\n", b"one\n", "offered the next time"),
        ("", b"one\n", "offered the next time"),
    ],
)
def test_unsaved_work_at_a_terminal(
    answer: str, text: bytes, said: str, board: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def run(session: Session, *_: object) -> str:
        session.edit({"do": "line", "line": "two"}, 1, keep=True)
        return "keyboard"

    monkeypatch.setattr(running, "run", run)
    monkeypatch.setattr(desks, "Desk", PlainDesk)
    monkeypatch.setattr(editing, "is_terminal", lambda: True)
    done = sigsim_here("edit", board.name, cwd=board.parent, text=answer)
    assert done.status == 0
    assert said in done.out
    assert board.read_bytes() == text
    kept = [".board.toml.draft"] if "offered" in said else []
    assert sorted(os.listdir(board.parent)) == [*kept, "board.toml"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["-"], ["standard input is none"]),
        ([""], ["this says nothing"]),
        (["nowhere/b.toml"], ["no such folder"]),
        (["."], ["this is a folder"]),
        (["folder.toml"], ["this is a folder"]),
        (["pipe.toml"], ["no ordinary file"]),
        (["binary.toml"], ["not a text file"]),
        (["x" * 300], ["this name cannot be used"]),
        (["b.toml", "--port", "0"], ["--port"]),
        (["b.toml", "--port", "70000"], ["--port"]),
        (["b.toml", "--variant", "x"], ["--variant"]),
        (["b.toml", "--set", "x=1"], ["--set"]),
        (["b.toml", "c.toml"], ["c.toml"]),
    ],
)
def test_what_cannot_be_edited(arguments: list[str], words: list[str], tmp_path: Path) -> None:
    (tmp_path / "folder.toml").mkdir()
    os.mkfifo(tmp_path / "pipe.toml")
    (tmp_path / "binary.toml").write_bytes(b"\xff\xfe\0")
    (tmp_path / "b.toml").write_bytes(b"one\n")
    before = sorted(os.listdir(tmp_path))
    assert_refused(sigsim_here("edit", *arguments, "--no-browser", cwd=tmp_path), *words)
    assert sorted(os.listdir(tmp_path)) == before


def test_without_a_board_the_next_free_name(tmp_path: Path, monkeypatch: Any) -> None:
    seen: list[str] = []

    def run(session: Any, _desk: object, _place: object, hooks: running.Hooks) -> str:
        seen.append(session.path.name)
        hooks.started("http://127.0.0.1:1/")
        return "keyboard"

    monkeypatch.setattr(running, "run", run)
    (tmp_path / "my-board.toml").write_bytes(b"")
    (tmp_path / "my-board-2.toml").symlink_to("nowhere")
    other = Lock(tmp_path / "my-board-3.toml")
    assert other.take()
    unnamed = sigsim_here("edit", "--no-browser", cwd=tmp_path)
    assert unnamed.status == 0
    assert "A new board, my-board-4.toml: it is made when you save." in unnamed.out
    # Who edited the one that is there yesterday learns how to have it again.
    assert "To go on with my-board.toml: sigsim edit my-board.toml" in unnamed.out
    other.release()
    named = sigsim_here("edit", "new name.toml", "--no-browser", cwd=tmp_path)
    assert named.status == 0
    assert "new name.toml is not there yet" in named.out
    assert seen == ["my-board-4.toml", "new name.toml"]
    assert sorted(os.listdir(tmp_path)) == ["my-board-2.toml", "my-board.toml"]
