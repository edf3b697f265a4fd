"""Who may ask: a hostile page in another tab, or a name that leads here, can do nothing.

The rules are those of the web platform: which requests carry `Origin`, `Host` and cookies
(RFC 6454, RFC 9110 section 7.2, RFC 6265bis), and which of them a page of another origin can send
without being asked (Fetch standard: the methods and content types that are safelisted).
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest
from helpers.all_states import many_stages
from helpers.asgi import Asker
from helpers.live import PlainDesk
from helpers.program import EXAMPLES

from sigsim.live.asking import Asking
from sigsim.live.desk import Desk
from sigsim.live.events import Events
from sigsim.live.pages import served
from sigsim.live.security import Keys
from sigsim.live.server import application
from sigsim.live.session import Session

PORT = 8123
HERE = f"http://127.0.0.1:{PORT}"
JSON = {"content-type": "application/json"}
LINE = {"edit": {"do": "line", "line": "two"}, "revision": 1}


@pytest.fixture
def board(tmp_path: Path) -> Path:
    path = tmp_path / "board.toml"
    path.write_bytes(b"one\n")
    return path


class Page(Asker):
    """A page that nobody has let in.

    Attributes
    ----------
    given : the tokens that were given out since
    """

    def __init__(self, board: Path, desk: Desk) -> None:
        self.given: list[str] = []
        self.session = Session(board, desk)
        self.keys = Keys(PORT, self.given.append)
        asking = Asking(self.session, desk)
        nobody = cast("Events", SimpleNamespace())
        super().__init__(application(self.session, asking, nobody, self.keys), f"127.0.0.1:{PORT}")


@pytest.fixture
def client(board: Path) -> Iterator[Page]:
    """The file stays as it is in every test here."""
    yield Page(board, PlainDesk())
    assert board.read_bytes() == b"one\n"


@pytest.fixture
def entered(client: Page) -> Page:
    return let_in(client)


def let_in(client: Page) -> Page:
    answer = client.get(f"/?token={client.keys.token}")
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert "domain" not in cookie
    client.headers["origin"] = HERE
    return client


GETS = ("/", "/document", "/text", "/parts", "/difference", "/page/dom.js", "/sheet", "/events")
POSTS = ("/edit", "/try", "/undo", "/redo", "/save", "/disk", "/draft", "/new", "/worth", "/gaps",
         "/details", "/listen", "/recording")  # fmt: skip


def test_nothing_without_the_cookie(client: Page) -> None:
    for path in GETS:
        assert client.get(path).status_code == 403, path
    for path in POSTS:
        assert client.post(path, LINE, origin=HERE).status_code == 403, path
    wrong = {"cookie": f"sigsim-{PORT}=wrong; sigsim-1={client.keys.cookie}"}
    assert client.get("/document", headers=wrong).status_code == 403
    assert client.session.revision == 1


def test_a_token_opens_the_page_once(client: Page) -> None:
    token = client.keys.token
    for wrong in ("", "x", "é", token[:-1], f"{token}x", "\0"):
        assert client.get(f"/?token={wrong}").status_code == 403
    assert (
        client.request("HEAD", f"/?token={token}").status_code == 403
    )  # who looks only uses nothing up
    assert client.post(f"/?token={token}", origin=HERE).status_code == 403
    assert client.get(f"/?token={token}").status_code == 303
    assert client.get(f"/?token={token}").status_code == 303  # this browser has the cookie
    client.cookie = ""
    for _ in range(3):
        answer = client.get(f"/?token={token}")
        assert answer.status_code == 403
        assert "has been used" in answer.text
        assert "set-cookie" not in answer.headers
    assert client.given == [client.keys.token]
    assert client.get(f"/?token={client.given[0]}").status_code == 303


@pytest.mark.parametrize(
    "host",
    ["evil.example", f"evil.example:{PORT}", f"localhost:{PORT}", "127.0.0.1", "127.0.0.1:1",
     f"127.0.0.1:{PORT}.evil.example", "", f"127.0.0.1:{PORT}\n127.0.0.1:{PORT}"],
)  # fmt: skip
def test_no_other_name_leads_here(entered: Page, host: str) -> None:
    """A name that its owner points at this machine makes their page one of our origin."""
    assert entered.get("/document", headers={"host": host}).status_code == 403
    assert entered.post("/edit", LINE, host=host).status_code == 403


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", f"https://127.0.0.1:{PORT}", "http://127.0.0.1", "",
               f"http://localhost:{PORT}", f"{HERE}, {HERE}", f"{HERE}\n{HERE}", f"{HERE}/"],
)  # fmt: skip
def test_no_other_page_asks(entered: Page, origin: str) -> None:
    assert entered.get("/document", headers={"origin": origin}).status_code == 403
    assert entered.post("/edit", LINE, origin=origin).status_code == 403


def test_what_other_pages_can_send_unasked_does_nothing(entered: Page) -> None:
    kinds = ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x")
    for kind in (*kinds, ""):
        answer = entered.post("/edit", LINE, **{"content-type": kind})
        assert answer.status_code == 422
    site = {"sec-fetch-site": "cross-site"}
    assert entered.get("/document", headers=site).status_code == 403
    assert entered.get("/page/dom.js", headers=site).status_code == 403
    del entered.headers["origin"]
    assert entered.get("/document").status_code == 200  # pages send none with what they get
    for path in POSTS:
        assert entered.post(path, LINE).status_code == 403, path
    assert (
        entered.request("OPTIONS", "/edit", headers={"origin": "http://evil.example"}).status_code
        == 403
    )
    assert entered.session.revision == 1


def test_to_get_something_changes_nothing(entered: Page) -> None:
    for path in POSTS:
        assert entered.get(path).status_code == 405, path
        for method in ("PUT", "DELETE", "PATCH"):
            assert entered.request(method, path).status_code == 405, path
    for path in ("/document", "/text"):
        assert entered.post(path).status_code == 405
    assert entered.session.revision == 1


def test_every_answer_is_sealed(entered: Page) -> None:
    for path in ("/", "/document", "/page/dom.js", "/page/page.css", "/nowhere", "/sheet"):
        headers = entered.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cache-control"] == "no-store"
        assert headers["referrer-policy"] == "no-referrer"
    assert "style-src 'sha256-" in entered.get("/sheet").headers["content-security-policy"]
    entered.cookie = ""
    assert "default-src 'none'" in entered.get("/").headers["content-security-policy"]


def test_the_page_itself_keeps_to_the_policy(entered: Page) -> None:
    page = entered.get("/").text
    for word in ("<style", " style=", " onload", " onclick", "javascript:", "http:"):
        assert word not in page
    assert page.count("<script") == page.count('<script type="module" src="/page/')


def test_only_the_files_of_the_page(entered: Page) -> None:
    for name, (file, kind) in served().items():
        answer = entered.get(f"/page/{name}")
        assert answer.content == file.read_bytes()
        assert answer.headers["content-type"].startswith(kind)
    for path in ("../data.py", "..%2fdata.py", "%2e%2e/data.py", "js/dom.js", "/etc/passwd", "",
                 "%2fetc%2fpasswd", "dom.js%00", "dom.js/", "..\\data.py", "data.py", "DOM.JS",
                 "__init__.py", "editor.html"):  # fmt: skip
        assert entered.get(f"/page/{path}").status_code == 404, path


@pytest.mark.parametrize("raw", [b"", b"{", b"[]", b"1", b"\xff", b"[" * 100_000, b"9" * 10_000])
def test_nonsense_is_refused_in_words(entered: Page, raw: bytes) -> None:
    for path in ("/edit", "/save", "/worth"):
        answer = entered.request("POST", path, raw, JSON)
        assert answer.status_code == 422
        assert answer.json()["fault"]["text"]


def test_faults_say_what_and_where(entered: Page) -> None:
    edit = {"do": "text", "text": "x\n\nbroken"}
    answer = entered.post("/edit", {"edit": edit, "revision": 1})
    assert answer.status_code == 422
    assert answer.json()["faults"][0]["line"] == 3
    for what in ({"edit": 1, "revision": 1}, {"edit": edit}, {"edit": {}, "revision": 1}, {}):
        assert entered.post("/edit", what).status_code == 422
    for path in ("/disk", "/draft", "/listen", "/gaps", "/worth"):
        assert entered.post(path, {"choice": [], "part": 1, "on": "x"}).status_code == 422, path


def test_what_is_too_large_is_not_read(entered: Page) -> None:
    read = 0

    def parts() -> Iterator[bytes]:
        nonlocal read
        for _ in range(100):
            read += 1
            yield b" " * 1_000_000

    assert entered.request("POST", "/edit", parts(), JSON).status_code == 413
    assert read == 3
    assert entered.request("POST", "/recording", parts()).status_code == 413
    assert read == 3 + 61
    told = {**JSON, "content-length": "100000000"}
    assert entered.request("POST", "/edit", b"{}", told).status_code == 413
    assert entered.request("POST", "/edit", b" " * 2_000_001, JSON).status_code == 413
    assert entered.request("POST", "/recording", b"x" * 2_000_001).status_code == 200


def test_an_old_revision_is_refused(entered: Page) -> None:
    assert entered.post("/try", LINE).json()["revision"] == 1
    assert entered.post("/edit", LINE).json()["revision"] == 2
    for path in ("/edit", "/try", "/worth", "/undo"):
        answer = entered.post(path, LINE)
        assert answer.status_code == 409, path
        assert answer.json()["revision"] == 2
    assert entered.post("/undo", {"revision": 2}).json()["board"] == "one\n"


def test_a_failure_is_said_and_shows_nothing_inside(
    entered: Page, capsys: pytest.CaptureFixture[str]
) -> None:
    answer = entered.post("/edit", {"edit": {"do": "text"}, "revision": 1})
    assert answer.status_code == 500
    assert answer.json()["fault"]["text"] == "the program has failed here: KeyError"
    assert "Traceback" in capsys.readouterr().err
    assert "Traceback" not in answer.text
    assert "default-src 'none'" in answer.headers["content-security-policy"]


def test_all_that_is_known_of_a_real_board(tmp_path: Path) -> None:
    board = tmp_path / "b.toml"
    board.write_bytes((EXAMPLES / "ferry-floor.toml").read_bytes())
    page = let_in(Page(board, Desk()))
    data = page.get("/document").json()["board"]
    assert page.get("/panel/loss").json()["blocks"]
    assert page.get("/panel/nothing").status_code == 422
    assert page.get("/parts").json()
    sheet = page.get("/sheet")
    assert "</table>" in sheet.text
    assert " style=" not in sheet.text  # which no hash lets in
    asked = {"on": data["switches"][:1], "part": "buffer-opamp", "revision": 1}
    assert page.post("/worth", asked).json()["list"]
    assert page.post("/gaps", asked).json()["gaps"]
    assert page.post("/details", {"at": data["instrumentAt"]}).json()["fields"]
    assert page.post("/details", {"at": "nowhere"}).status_code == 422


def test_a_board_from_nothing(tmp_path: Path) -> None:
    page = let_in(Page(tmp_path / "new.toml", Desk()))
    assert page.get("/document").json()["start"] == {"file": "new.toml"}
    assert page.get("/parts").json()
    assert page.post("/new", {"instrument": 5}).status_code == 422
    answers = {"instrument": "bass-split-coil", "destination": "", "lead": "5 m", "toAmp": "6 m",
               "pedals": [{"name": "fuzz", "part": "pedal-true-bypass"}]}  # fmt: skip
    answer = page.post("/new", answers).json()
    assert (answer["unsaved"], answer["undo"]) == (True, None)
    assert page.post("/save").json()["unsaved"] is False
    assert "fuzz" in (tmp_path / "new.toml").read_text(encoding="utf-8")


def test_no_edit_makes_a_board_too_large(tmp_path: Path) -> None:
    board = tmp_path / "b.toml"
    board.write_text(many_stages(100), encoding="utf-8")
    page = let_in(Page(board, Desk()))
    edit = {"do": "text", "text": many_stages(400)}
    answer = page.post("/edit", {"edit": edit, "revision": 1})
    assert answer.status_code == 422
    assert "too many things" in answer.json()["fault"]["text"]
    assert page.get("/text").json()["text"] == many_stages(100)
