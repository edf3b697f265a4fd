"""The board file and what stands beside it: to the byte, whole or not at all, never lost."""

from __future__ import annotations

import os
import shutil
import stat
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from helpers.live import PlainDesk

from sigsim.errors import OutputError, SigsimError
from sigsim.live.disk import ChangedError
from sigsim.live.draft import Draft, Lock
from sigsim.live.session import Session

ROOT = os.name == "posix" and os.geteuid() == 0


@pytest.fixture
def board(tmp_path: Path) -> Path:
    path = tmp_path / "board.toml"
    path.write_bytes(b"one\n")
    return path


def opened(path: Path) -> Session:
    return Session(path, PlainDesk())


def write(session: Session, line: str) -> dict[str, Any]:
    return session.edit({"do": "line", "line": line}, session.revision, keep=True)


def beside(path: Path) -> list[str]:
    return sorted(name for name in os.listdir(path.parent) if name != path.name)


@pytest.mark.parametrize(
    "raw",
    [
        b"a\r\nb\r\n",
        b"\xef\xbb\xbfa\nb",
        b"\xef\xbb\xbf# \xc3\xa9\r\nb\n\r\nc",
        b"",
        b"\n\n",
        b"\r",
    ],
)
def test_undone_to_the_byte(raw: bytes, tmp_path: Path) -> None:
    path = tmp_path / "b.toml"
    path.write_bytes(raw)
    session = opened(path)
    for number in range(20):
        write(session, f"line {number}")
    session.save(overwrite=False)
    assert path.read_bytes() != raw
    assert path.read_bytes().startswith(raw)
    for _ in range(20):
        session.step("undo")
    session.save(overwrite=False)
    assert path.read_bytes() == raw
    text = session.text()["text"].replace("\r\n", "\n")
    session.edit({"do": "text", "text": text}, session.revision, keep=True)
    session.save(overwrite=False)
    assert path.read_bytes() == raw


def test_a_file_changed_outside_is_not_overwritten(board: Path) -> None:
    session, heard = opened(board), []
    session.told = heard.append
    write(session, "mine")
    before = board.stat()
    board.write_bytes(b"two\n")
    os.utime(board, ns=(before.st_atime_ns, before.st_mtime_ns))  # only the content tells
    with pytest.raises(ChangedError, match="another program"):
        session.save(overwrite=False)
    assert board.read_bytes() == b"two\n"
    assert heard[-1] == {"disk": "changed"}
    assert [one["sign"] for one in session.difference()] == ["-", "+", "+", " "]
    answer = session.take_theirs()
    assert (answer["saved"], answer["unsaved"]) == ("two\n", False)
    session.step("undo")
    assert session.save(overwrite=False)["board"] == "one\nmine\n"
    board.write_bytes(b"three\n")
    session.save(overwrite=True)
    assert board.read_bytes() == b"one\nmine\n"


def test_what_was_changed_outside_is_heard_once_and_can_be_no_board(board: Path) -> None:
    session, heard = opened(board), []
    session.told = heard.append
    board.write_bytes(b"broken\n")
    for _ in range(3):
        session.tick(watch=True)
    assert heard == [{"disk": "changed"}]
    with pytest.raises(SigsimError, match="broken"):
        session.take_theirs()
    board.write_bytes(b"\xff")
    with pytest.raises(SigsimError, match="not a text file"):
        session.take_theirs()
    board.write_bytes(b"one\n")
    session.tick(watch=True)
    board.unlink()
    session.tick(watch=True)
    assert heard[1:] == [{"disk": "same"}, {"disk": "gone"}]
    with pytest.raises(SigsimError, match="not there any more"):
        session.take_theirs()
    session.save(overwrite=False)  # nothing is lost by it
    assert board.read_bytes() == b"one\n"


def test_a_new_file_is_made_by_saving_and_no_other_is_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    session = opened(path)
    assert session.now()["start"] == {"file": "new.toml"}
    with pytest.raises(SigsimError, match="no board yet"):
        session.save(overwrite=False)
    session.create("new\n")
    with pytest.raises(SigsimError, match="already"):
        session.create("again\n")
    assert not path.exists()
    path.write_bytes(b"theirs")
    with pytest.raises(ChangedError):
        session.save(overwrite=False)
    path.unlink()
    session.save(overwrite=False)
    assert path.read_bytes() == b"new\n"


def test_links_stay_links_and_modes_stay(tmp_path: Path) -> None:
    real = tmp_path / "real" / "board.toml"
    real.parent.mkdir()
    real.write_bytes(b"one\n")
    real.chmod(0o640)
    link = tmp_path / "link.toml"
    link.symlink_to(real)
    session = opened(link)
    write(session, "two")
    session.tick(watch=True)
    draft = real.with_name(".board.toml.draft")
    assert stat.S_IMODE(draft.stat().st_mode) == 0o600
    session.save(overwrite=False)
    assert link.is_symlink()
    assert real.read_bytes() == b"one\ntwo\n"
    assert stat.S_IMODE(real.stat().st_mode) == 0o640
    assert beside(real) == []


@pytest.mark.skipif(ROOT, reason="the superuser may write everywhere")
def test_a_file_for_reading_only_is_left_alone(board: Path) -> None:
    session = opened(board)
    board.chmod(0o444)
    write(session, "two")
    with pytest.raises(OutputError, match="reading only"):
        session.save(overwrite=False)
    board.parent.chmod(0o555)
    session.tick(watch=True)
    assert "cannot be kept" in session.beside.unkept
    board.parent.chmod(0o755)


def test_a_full_disk_leaves_everything_as_it_was(board: Path) -> None:
    session, heard = opened(board), []
    write(session, "two")
    session.told = heard.append
    full = OSError(28, "No space left on device")
    with patch("os.fsync", side_effect=full), pytest.raises(OutputError, match="No space left"):
        session.save(overwrite=False)
    with patch("os.replace", side_effect=full):
        session.tick(watch=True)
        session.tick(watch=True)
    assert board.read_bytes() == b"one\n"
    assert beside(board) == []
    assert [event.keys() for event in heard] == [{"draft"}]
    assert "No space left" in session.now()["draft"]
    assert session.unsaved
    session.tick(watch=True)
    assert heard[1:] == [{"draft": ""}]
    assert beside(board) == [".board.toml.draft"]


def test_a_folder_that_is_gone(tmp_path: Path) -> None:
    folder = tmp_path / "usb"
    folder.mkdir()
    path = folder / "b.toml"
    path.write_bytes(b"one\n")
    session = opened(path)
    write(session, "two")
    shutil.rmtree(folder)
    session.tick(watch=True)
    assert session.now()["disk"] == "gone"
    assert "cannot be kept" in session.beside.unkept
    with pytest.raises(OutputError, match="no such folder"):
        session.save(overwrite=True)
    folder.mkdir()
    session.save(overwrite=False)
    assert path.read_bytes() == b"one\ntwo\n"


def test_unsaved_work_is_kept_offered_and_removed(board: Path) -> None:
    session = opened(board)
    write(session, "two")
    session.tick(watch=False)
    assert beside(board) == [".board.toml.draft"]
    for choice, left in (("take", "one\ntwo\n"), ("drop", "one\n")):
        shutil.copy(board.with_name(".board.toml.draft"), board.with_name("kept"))
        again = opened(board)
        assert again.beside.offer is not None
        assert again.now()["offer"] == {"when": again.beside.offer[1]}
        with pytest.raises(SigsimError, match="waits"):
            write(again, "three")
        again.tick(watch=False)  # what is offered is not written over
        answer = again.take_up("take" if choice == "take" else "drop")
        assert answer["board"] == left
        assert answer["offer"] is None
        again.tick(watch=False)
        if choice == "take":
            assert answer["undo"].startswith("unsaved work of")
            assert again.step("undo")["unsaved"] is False
            again.step("redo")
            again.tick(watch=False)
    assert beside(board) == ["kept"]
    # One that says what the file says is no work.
    board.with_name("kept").rename(board.with_name(".board.toml.draft"))
    board.write_bytes(b"one\ntwo\n")
    assert opened(board).beside.offer is None
    assert beside(board) == []


def test_unsaved_work_of_a_file_that_was_never_made(tmp_path: Path) -> None:
    path = tmp_path / "new.toml"
    session = opened(path)
    session.create("new\n")
    session.tick(watch=True)
    again = opened(path)
    assert again.now()["offer"]
    assert again.take_up("take")["board"] == "new\n"
    again.save(overwrite=False)
    assert os.listdir(tmp_path) == ["new.toml"]


def test_no_other_file_is_written_through_a_draft_that_is_a_link(board: Path) -> None:
    victim = board.with_name("victim")
    victim.write_bytes(b"theirs")
    board.with_name(".board.toml.draft").symlink_to(victim)
    session = opened(board)
    session.take_up("drop")
    write(session, "two")
    session.tick(watch=False)
    assert victim.read_bytes() == b"theirs"
    assert not board.with_name(".board.toml.draft").is_symlink()


@pytest.mark.parametrize("name", ["x" * 251, "ä" * 120, " .toml", "a\nb.toml", "-.toml"])
def test_odd_names_lose_nothing(name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_bytes(b"one\n")
    lock = Lock(path)
    assert lock.take()
    session = opened(path)
    write(session, "two")
    session.tick(watch=True)
    assert (session.beside.unkept != "") == (len(os.fsencode(name)) > 248)
    session.save(overwrite=False)
    lock.release()
    assert path.read_bytes() == b"one\ntwo\n"
    assert os.listdir(tmp_path) == [name]


def test_two_editors_of_one_file_know_of_each_other(board: Path) -> None:
    link = board.with_name("link.toml")
    link.symlink_to(board)
    first, second = Lock(board), Lock(Path(os.path.realpath(link)))
    assert first.take()
    first.say("http://127.0.0.1:1/")
    assert not second.take()
    assert second.holder() == "http://127.0.0.1:1/"
    first.release()
    assert second.take()
    second.release()
    assert beside(board) == ["link.toml"]
    board.with_name(".board.toml.lock").write_bytes(b"http://127.0.0.1:1/")  # of one that died
    assert first.take()
    first.release()


def test_a_file_that_does_not_read_is_mended_by_its_text_alone(board: Path) -> None:
    board.write_bytes(b"one\r\nbroken\r\n")
    session = opened(board)
    broken = session.now()["broken"]
    assert broken["text"] == "one\r\nbroken\r\n"
    assert [fault["line"] for fault in broken["faults"]] == [2]
    with pytest.raises(SigsimError, match="broken"):
        session.edit({"do": "text", "text": "still broken"}, session.revision, keep=True)
    with pytest.raises(SigsimError):
        write(session, "more")
    answer = session.edit({"do": "text", "text": "one\nwhole\n"}, session.revision, keep=True)
    assert answer["board"] == "one\r\nwhole\r\n"
    assert answer["undo"] is None
    assert answer["unsaved"]
    session.save(overwrite=False)
    assert board.read_bytes() == b"one\r\nwhole\r\n"


@pytest.mark.parametrize("text", ["\ud800", "x" * 1_000_001])
def test_no_text_that_no_board_file_can_hold(text: str, board: Path) -> None:
    session = opened(board)
    with pytest.raises(SigsimError):
        session.edit({"do": "text", "text": text}, session.revision, keep=True)
    assert session.now()["board"] == "one\n"


def test_a_variant_or_end_that_is_gone_is_shown_no_more(board: Path) -> None:
    board.write_bytes(b"<night> <amp 2>\n")
    session = opened(board)
    session.edit({"do": "variant", "name": "night"}, session.revision, keep=True)
    answer = session.edit({"do": "at", "name": "amp 2"}, session.revision, keep=True)
    assert (answer["variant"], answer["at"], answer["undo"]) == ("night", "amp 2", None)
    for name in ("day", 5, None):
        with pytest.raises(SigsimError):
            session.edit({"do": "variant", "name": name}, session.revision, keep=True)
    answer = session.edit({"do": "text", "text": "<amp 2>"}, session.revision, keep=True)
    assert (answer["variant"], answer["at"]) == ("", "amp 2")
    answer = session.edit({"do": "text", "text": ""}, session.revision, keep=False)
    assert (answer["variant"], answer["at"]) == ("", "")
    assert session.now()["at"] == "amp 2"


def test_a_thousand_rapid_edits(board: Path) -> None:
    session = opened(board)
    for number in range(1000):
        write(session, str(number))
        session.edit({"do": "line", "line": "x"}, session.revision, keep=False)
    for _ in range(1000):
        session.step("undo")
    assert not session.unsaved


def test_drafts_are_only_read_where_they_are_files(board: Path) -> None:
    os.mkfifo(board.with_name(".board.toml.draft"))
    assert Draft(board).found() is None
