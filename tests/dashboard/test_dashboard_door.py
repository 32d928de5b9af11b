"""The door: a key once, a cookie after that; wrong keys wait, nobody is led elsewhere, two apps do not put each other out."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from urllib.parse import parse_qsl, unquote, unquote_to_bytes, urlsplit

import pytest

from dashboard.app import create_app
from dashboard.pages import ALL
from dashboard.security import access_key
from dashboard.security.access_key import Door, Tries, chosen_key
from ridesim.errors import InputError

CHOSEN = "a-long-enough-key"
PAGE = {"Accept": "text/html,*/*;q=0.8"}


@pytest.fixture(scope="module")
def entrance():
    return Door(8050, CHOSEN)


@pytest.fixture(scope="module")
def server(entrance):
    return create_app(door=entrance).server


@pytest.fixture
def fresh(entrance, monkeypatch):
    """The door with no wrong key counted yet, and a clock to set."""
    clock = [0.0]
    monkeypatch.setattr(entrance, "_tries", Tries(clock=lambda: clock[0]))
    return clock


def get(server, path, **more):
    return server.test_client().get(path, **more)


def test_nothing_is_served_before_the_key(server):
    for path in ("/", "/gears", "/_dash-layout", "/_dash-dependencies", "/assets/style.css", "/garage-file/whole"):
        assert get(server, path).status_code == 401, path
    for path in ("/_dash-update-component", "/log-file?name=x", "/?key=" + CHOSEN):
        assert server.test_client().post(path, json={}).status_code == 401, path


@pytest.mark.parametrize("key", ["random", "chosen"])
def test_the_key_is_exchanged_for_a_cookie(server, entrance, key):
    client = server.test_client()
    answer = client.get("/", query_string={"key": entrance.key if key == "random" else CHOSEN})
    assert answer.status_code == 302 and answer.headers["Location"] == "/"
    cookie = answer.headers["Set-Cookie"]
    assert cookie.startswith("ridesim-8050=") and "HttpOnly" in cookie and "SameSite=Strict" in cookie
    assert entrance.key not in cookie and CHOSEN not in cookie
    assert client.get("/_dash-layout").status_code == 200
    assert get(server, "/_dash-layout").status_code == 401, "another browser stays outside"


def test_the_random_key_is_long_and_another_one_each_time():
    keys = {Door(8050).key for _ in range(50)}
    assert len(keys) == 50 and min(map(len, keys)) >= 32


@pytest.mark.parametrize(
    "wrong", ["", "None", "x", CHOSEN[:-1], CHOSEN + "x", CHOSEN.upper(), "é", "\udcff", "%00", "x" * 9000]
)
def test_a_wrong_key_does_not_open(server, fresh, wrong):
    assert get(server, "/", query_string={"key": wrong.encode(errors="surrogateescape")}).status_code == 401


@pytest.mark.parametrize("cookie", ["", "x", "é", "\udcff", "a" * 4000, '"\\303', ";;=", "\x01"])
def test_a_wrong_cookie_does_not_open(server, cookie):
    for name in ("ridesim-8050", "ridesim-8050-again", "x"):
        raw = f"{name}={cookie}".encode(errors="surrogateescape").decode("latin-1")
        answer = server.test_client(use_cookies=False).get("/", environ_overrides={"HTTP_COOKIE": raw}, headers=PAGE)
        assert answer.status_code == 401


def test_secrets_are_compared_in_constant_time(monkeypatch, server, entrance, fresh):
    seen = []
    compare = access_key.hmac.compare_digest
    monkeypatch.setattr(access_key.hmac, "compare_digest", lambda a, b: seen.append(b) or compare(a, b))
    server.test_client(use_cookies=False).get("/?key=wrong", headers={"Cookie": "ridesim-8050=x"})
    assert {entrance.key.encode(), CHOSEN.encode()} < set(seen) and len(seen) == 3


def test_the_links_query_survives(server, entrance):
    query = [("planned-front", "16"), ("need-tires", "120/90-18, 4.60-18 é%&+"), ("need-tunes", "a\nb"), ("gear", "")]
    asked = [*query[:2], ("key", entrance.key), *query[2:]]
    answer = get(server, "/gears", query_string=asked)
    found = urlsplit(answer.headers["Location"])
    assert found.path == "/gears" and parse_qsl(found.query, keep_blank_values=True) == query


@pytest.mark.parametrize(
    "path",
    ["/%09/evil.example/", "//evil.example", "///evil.example", "/%5Cevil.example", "/%5C%5Cevil.example", "/%0A/evil.example",
     "/%0D%0ASet-Cookie:x=y", "/%2F/evil.example", "/gears/%2e%2e//evil.example", "/https:evil.example", "/@evil.example",
     "/%E2%81%84evil.example", "/\t/evil.example", "/..//evil.example"],
)  # fmt: skip
def test_nobody_is_led_to_another_host(server, entrance, path):
    answer = get(
        server,
        "/",
        query_string={"key": entrance.key},
        environ_overrides={"PATH_INFO": unquote_to_bytes(path).decode("latin-1")},
    )
    assert answer.status_code == (302 if unquote(path).isprintable() else 404)
    assert answer.headers.get("Location", "/") in {page.path for page in ALL}
    assert "evil" not in str(answer.headers)


def test_two_apps_on_one_machine_keep_their_own_cookies(server, entrance):
    other = Door(8051)
    neighbour = create_app(door=other).server
    first = get(server, f"/?key={entrance.key}").headers.getlist("Set-Cookie")[0].partition(";")[0]
    second = get(neighbour, f"/?key={other.key}").headers.getlist("Set-Cookie")[0].partition(";")[0]
    both = {"Cookie": f"{first}; {second}"}
    for one in (server, neighbour):
        assert one.test_client(use_cookies=False).get("/_dash-layout", headers=both).status_code == 200
    swapped = {"Cookie": f"{first.replace('8050', '8051')}"}
    assert neighbour.test_client(use_cookies=False).get("/_dash-layout", headers=swapped).status_code == 401


def test_wrong_keys_are_slowed_down_and_lock_nobody_else_out(server, entrance, fresh):
    def tried(key, who="192.0.2.7"):
        return get(server, "/", query_string={"key": key}, environ_overrides={"REMOTE_ADDR": who})

    inside = server.test_client()
    inside.get("/", query_string={"key": CHOSEN}, environ_overrides={"REMOTE_ADDR": "192.0.2.7"})
    codes = [tried(f"guess number {n}").status_code for n in range(500)]
    assert codes.count(401) == 11 and codes.count(429) == 489
    assert tried(CHOSEN).status_code == 429, "what is guessed meanwhile is not looked at"
    assert int(tried("guess").headers["Retry-After"]) <= 7
    assert tried(entrance.key).status_code == 302, "the printed address opens all the same"
    assert inside.get("/", environ_overrides={"REMOTE_ADDR": "192.0.2.7"}).status_code == 200
    assert tried(CHOSEN, "192.0.2.8").status_code == 302
    fresh[0] += 6.0
    assert tried(CHOSEN).status_code == 302


def test_a_day_of_guessing_is_a_few_thousand_keys():
    clock = [0.0]
    tries = Tries(clock=lambda: clock[0])
    looked_at = 0
    for clock[0] in range(0, 86_400, 2):
        if not tries.wait_s("192.0.2.7"):
            looked_at += 1
            tries.wrong("192.0.2.7")
    assert looked_at == pytest.approx(86_400 / 6 + 10, abs=2)


def test_one_network_counts_once_and_what_is_counted_stays_small():
    tries = Tries(most=50, clock=lambda: 0.0)
    for n in range(20):
        tries.wrong(f"2001:db8:0:1::{n:x}")
    assert tries.wait_s("2001:db8:0:1:ffff::1") > 0 and not tries.wait_s("2001:db8:0:2::1")
    for n in range(1000):
        tries.wrong(f"192.0.2.{n}")
    assert len(tries._until) == 50


def test_a_browser_led_here_from_elsewhere_asks_once_more(server):
    client = server.test_client()
    first = client.get("/gears?planned-front=16", headers=PAGE)
    assert first.status_code == 401 and 'http-equiv="refresh" content="0"' in first.text
    again = client.get("/gears?planned-front=16", headers=PAGE)
    assert again.status_code == 401 and "refresh" not in again.text and "?key=" in again.text
    assert re.search("printed", get(server, "/").text) and "<" not in get(server, "/").text


def test_a_key_comes_from_a_file_or_the_environment_and_never_from_the_line(tmp_path, monkeypatch):
    file = tmp_path / "key"
    file.write_text(f"  {CHOSEN}-2 \nand a second line\n")
    file.chmod(0o600)
    assert chosen_key(None) is None
    monkeypatch.setenv("RIDESIM_KEY", CHOSEN)
    assert chosen_key(file) == f"{CHOSEN}-2"
    monkeypatch.setenv("RIDESIM_KEY", CHOSEN)
    assert chosen_key(None) == CHOSEN and "RIDESIM_KEY" not in access_key.os.environ
    monkeypatch.setenv("RIDESIM_KEY", "short")
    with pytest.raises(InputError, match=r"RIDESIM_KEY.*shorter"):
        chosen_key(None)
    with pytest.raises(InputError, match=r"RIDESIM_KEY or a file"):
        access_key.never_on_the_line(CHOSEN)


@pytest.mark.skipif(access_key.os.name != "posix", reason="modes and pipes of POSIX")
def test_a_key_file_that_will_not_do_is_refused(tmp_path):
    open_file, binary, pipe = tmp_path / "open", tmp_path / "binary", tmp_path / "pipe"
    open_file.write_text(CHOSEN)
    open_file.chmod(0o644)
    binary.write_bytes(b"\xff" * 20)
    binary.chmod(0o600)
    access_key.os.mkfifo(pipe, 0o600)
    for file, why in (
        (open_file, "chmod 600"),
        (binary, "UTF-8"),
        (pipe, "plain file"),
        (tmp_path, "plain file"),
        (tmp_path / "none", "cannot be read"),
    ):
        with pytest.raises(InputError, match=why):
            chosen_key(file)


@pytest.fixture
def by_phone():
    door = Door(8050, CHOSEN, start="/gears?planned-front=16")
    return door, create_app(door=door).server


def test_the_key_of_a_phone_works_once_and_leads_to_the_build_that_is_open(by_phone):
    door, server = by_phone
    once = f"/?key={door.once}"
    assert server.test_client().head(once).status_code == 401, "who only looks does not use it up"
    phone = server.test_client()
    answer = phone.get(once)
    assert answer.status_code == 302 and answer.headers["Location"] == "/gears?planned-front=16"
    assert phone.get("/_dash-layout").status_code == 200 and phone.get(once).status_code == 302
    second = get(server, once, headers=PAGE)
    assert second.status_code == 401 and "it works once" in second.text and "Set-Cookie" in second.headers
    assert get(server, f"/?key={door.key}").status_code == 302, "this machine's own browser comes in as ever"


def test_ten_phones_at_once_and_one_comes_in(by_phone):
    door, server = by_phone
    with ThreadPoolExecutor(10) as pool:
        found = list(pool.map(lambda _: get(server, f"/?key={door.once}").status_code, range(10)))
    assert sorted(found) == [302, *[401] * 9]
