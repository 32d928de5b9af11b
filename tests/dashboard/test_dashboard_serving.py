"""The app as a process and over the wire: faults are one sentence, slow requests stop nobody, little is sent, once, and packed."""

from __future__ import annotations

import gzip
import http.client
import re
import runpy
import socket
import subprocess
import sys
import threading
from contextlib import ExitStack, contextmanager
from urllib.parse import urlsplit

import pytest
import segno
from support.served import free_port, served
from waitress import wasyncore

from dashboard import app as serving
from dashboard.security import phone
from dashboard.url_state import SetUp, State

FORMS = {"ridesim": ["app", "--no-browser"], "dashboard": []}


def told(status: int | str | None, printed: str, complaint: str) -> str:
    assert status == 2 and not printed and len(complaint.splitlines()) == 1, complaint
    return complaint


def test_a_port_in_use_is_one_sentence_of_the_process():
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        command = [sys.executable, "-m", "dashboard", "--port", port]
        done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=120)
    assert told(done.returncode, done.stdout, done.stderr).startswith(f"--port = {port}: is in use")


@pytest.mark.parametrize("form", FORMS)
def test_faults_of_the_address_and_the_key_are_one_sentence(form, monkeypatch, capsys):
    def refused(*options: str) -> str:
        monkeypatch.setattr(sys, "argv", [form, *FORMS[form], *options])
        with pytest.raises(SystemExit) as ended:
            runpy.run_module(form, run_name="__main__")
        return told(ended.value.code, *capsys.readouterr())

    with socket.create_server(("127.0.0.1", 0)) as taken:
        assert "is in use" in refused("--port", str(taken.getsockname()[1]))
    assert "RIDESIM_KEY" in refused("--host", "0.0.0.0")
    on_the_line = refused("--key", "a-long-enough-key")
    assert "every user of this machine" in on_the_line and "a-long-enough-key" not in on_the_line


@pytest.mark.parametrize("host", ["192.0.2.7", "no such host.invalid", "256.1.1.1", "x" * 300, "a..b", "\0"])
def test_a_host_that_is_none_of_this_machine_is_one_sentence(host):
    with pytest.raises(serving.InputError, match=r"^--host = .*Leave it out for 127\.0\.0\.1\.$"):
        serving._listener(host, free_port())


def test_a_port_that_is_not_the_riders_is_one_sentence(monkeypatch):
    def refused(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(serving.socket, "create_server", refused)
    with pytest.raises(serving.InputError, match=r"^--port = 80: is not yours to listen on"):
        serving._listener("127.0.0.1", 80)


def test_the_browser_is_opened_only_once_the_port_is_ours(monkeypatch):
    opened = []
    monkeypatch.setattr(serving.webbrowser, "open", lambda *_: opened.append(_))
    with socket.create_server(("127.0.0.1", 0)) as taken, pytest.raises(serving.InputError, match="in use"):
        serving.serve(port=taken.getsockname()[1], open_browser=True)
    assert not opened


def test_the_key_is_not_on_the_command_line_of_the_browser(monkeypatch):
    opened = []

    class AtOnce:
        def __init__(self, target, args, daemon):
            self.start = lambda: target(*args)

    monkeypatch.setattr(serving.threading, "Thread", AtOnce)
    monkeypatch.setattr(serving.webbrowser, "open", opened.append)
    with serving._opened("http://127.0.0.1:8050/gears?planned-front=16&key=SECRET"):
        file = serving.Path(opened[0].removeprefix("file://"))
        assert "SECRET" not in opened[0]
        assert "planned-front=16&amp;key=SECRET" in file.read_text()
        assert file.parent.stat().st_mode & 0o077 == 0
    assert not file.exists()


def test_without_a_network_the_phone_is_told_in_one_sentence(monkeypatch):
    def unreachable(*_):
        raise OSError(101, "Network is unreachable")

    monkeypatch.setattr(phone.socket.socket, "connect", unreachable)
    with pytest.raises(serving.InputError, match=r"^--phone: finds no network on this machine\. Join the network"):
        serving.serve(phone=True)
    assert phone.address("192.0.2.7") == "192.0.2.7", "an address that is asked for is taken"


def test_the_code_of_the_phone_is_drawn_where_the_terminal_can():
    link = "http://192.0.2.7:8050/?key=" + "k" * 24
    drawn = phone.spoken(link)
    assert drawn.endswith("\n" + link)
    code = [line[len("\x1b[30;107m") : -len("\x1b[0m")] for line in drawn.splitlines() if line.startswith("\x1b")]
    rows = [row for line in code for row in ([c in "▀█" for c in line], [c in "▄█" for c in line])]
    assert rows[: len(rows[0])] == [[*map(bool, row)] for row in segno.make_qr(link, error="m").matrix_iter(border=4)]
    assert "█" not in phone.spoken(link, "ascii") and link in phone.spoken(link, None)


def test_the_printed_address_carries_the_build_and_the_key():
    assert serving._entrance(State(), "KEY") == "/?key=KEY"
    assert serving._entrance(State(planned=SetUp(front=16)), "KEY") == "/?planned-front=16&key=KEY"


@pytest.fixture(scope="module")
def entrance(tmp_path_factory):
    with served(tmp_path_factory.mktemp("app")) as address:
        yield urlsplit(address)


def asked(entrance) -> int:
    """The status of a request of its own, with the key, within a time that a rider would not notice."""
    line = http.client.HTTPConnection(entrance.hostname, entrance.port, timeout=20)
    line.request("GET", f"/?{entrance.query}")
    status = line.getresponse().status
    line.close()
    return status


def begun(entrance, text: bytes) -> socket.socket:
    one = socket.create_connection((entrance.hostname, entrance.port), timeout=20)
    one.sendall(text)
    return one


HALVES = {
    "nothing": b"",
    "half a line": b"GET /ge",
    "half a head": b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Half: ",
    "half a body": b"POST /_dash-update-component HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 90000\r\n\r\n{",
    "half a chunk": b"POST /log-file HTTP/1.1\r\nHost: 127.0.0.1\r\nTransfer-Encoding: chunked\r\n\r\nff\r\nabc",
}


@pytest.mark.parametrize("half", HALVES)
def test_half_sent_requests_do_not_stop_the_app(entrance, half):
    with ExitStack() as stack:
        for _ in range(150):
            stack.enter_context(begun(entrance, HALVES[half]))
        assert asked(entrance) == 302


def test_too_large_a_head_or_body_is_refused(entrance):
    for text in (
        b"GET / HTTP/1.1\r\nHost: x\r\nX-Large: " + b"x" * 70_000 + b"\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 99000000\r\n\r\n",
    ):
        with begun(entrance, text) as one:
            assert one.recv(20).split()[1] in (b"431", b"413")


@contextmanager
def looped(app):
    """A server in this process."""
    done, port = threading.Event(), free_port()
    server = serving._server(app, serving._listener("127.0.0.1", port))

    def loop() -> None:
        while not done.is_set():
            wasyncore.loop(timeout=0.1, map=server._map, count=1)

    thread = threading.Thread(target=loop)
    thread.start()
    yield urlsplit(f"http://127.0.0.1:{port}/?key=x")
    done.set()
    thread.join()
    server.task_dispatcher.shutdown()
    wasyncore.close_all(server._map)


def test_slow_answers_leave_threads_for_the_others():
    """As many answers as one browser asks for at a time are all held up, and another request is answered."""
    app, go, held = serving.create_app(), threading.Event(), threading.Barrier(7)

    def slow() -> str:
        held.wait(20)
        go.wait(20)
        return "done"

    app.server.view_functions[
        next(rule.endpoint for rule in app.server.url_map.iter_rules() if rule.rule == "/_reload-hash")
    ] = slow
    with looped(app) as place:
        lines = [begun(place, b"GET /_reload-hash HTTP/1.1\r\nHost: x\r\n\r\n") for _ in range(6)]
        held.wait(20)  # six are under way
        assert asked(place) == 200
        go.set()
        for one in lines:
            assert b"200 OK" in one.recv(100)
            one.close()


PACKED = {"Accept-Encoding": "gzip, br"}
PLOTLY = "/_dash-component-suites/plotly/package_data/plotly.min.js"
TABLE = "/_dash-component-suites/dash_ag_grid/dash_ag_grid.min.js"
MOST = 3_000_000  # bytes over the wire for a page with a chart


@pytest.fixture(scope="module")
def get(app):
    def answer(path, **more):
        with app.server.test_client().get(path, **more) as got:
            assert got.data
            return got

    return answer


def files(get) -> list[str]:
    return re.findall(r'(?:src|href)="(/(?:assets|_dash-comp)[^"]+)"', get("/gearing").text)


def test_a_page_with_its_charts_is_at_most_three_megabytes_and_brings_no_table_library(get):
    loaded = files(get)
    assert 1_000_000 < sum(len(get(path, headers=PACKED).data) for path in [*loaded, PLOTLY]) <= MOST
    assert not any("ag_grid" in path for path in loaded) and get(TABLE, headers=PACKED).status_code == 200


def test_what_is_packed_is_the_same_unpacked(get):
    for path in (files(get)[-1], "/_dash-layout"):
        packed, plain = get(path, headers=PACKED), get(path)
        assert packed.headers["Content-Encoding"] == "gzip" and "Content-Encoding" not in plain.headers
        assert gzip.decompress(packed.data) == plain.data and len(packed.data) < len(plain.data)
        assert packed.headers["Vary"] == plain.headers["Vary"] == "Accept-Encoding"

    assert "Content-Encoding" not in get("/assets/mark.svg", headers=PACKED).headers, "too small to gain by it"


def test_what_is_named_for_its_content_is_kept_and_an_answer_is_not(get):
    for path in files(get):
        lasting = "m=" in path or ".v" in path
        assert ("immutable" in get(path).headers["Cache-Control"]) == lasting, path
    for path in ("/gearing", "/_dash-layout"):
        assert get(path).headers["Cache-Control"] == "no-store"
