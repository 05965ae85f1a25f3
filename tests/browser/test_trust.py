"""What must hold whoever knocks and whatever breaks: two tabs, a killed server, hostile pages."""

from __future__ import annotations

import http.client
import socket
from contextlib import ExitStack

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.conftest import VERSIONS, WAIT_MS, Command, Server, Visit, until

SHAWL = VERSIONS[1]


def nudge(page: Page, key: str = "ArrowRight") -> None:
    page.focus("#stage")
    page.keyboard.press(key)


def left_edge(server: Server) -> int:
    master = server.plan().master(SHAWL)
    assert master is not None
    chosen = master.chosen("tall-post")
    assert chosen is not None
    return chosen.crop.box.x0


def test_a_stale_tab_is_told_and_may_look_or_do_its_own_on_top(
    visit: Visit, server: Server
) -> None:
    first = visit.look(SHAWL)
    second = visit.context.new_page()
    second.set_default_timeout(WAIT_MS)
    second.goto(first.url)
    second.wait_for_selector("#open-card")
    start = left_edge(server)
    nudge(first)
    visit.saved()
    assert left_edge(server) == start + 1

    nudge(second, "ArrowLeft")
    second.wait_for_selector("#notice >> text=changed in another tab")
    assert left_edge(server) == start + 1
    second.click("text=Show the newest")
    until(second, f"document.getElementById('n-left').value === '{start + 1}'")
    assert second.is_hidden("#notice")

    nudge(first)
    until(first, f"document.getElementById('n-left').value === '{start + 2}'")
    nudge(second, "Shift+ArrowLeft")
    second.wait_for_selector("#notice")
    second.click("text=Save mine on top")
    until(second, "/^Saved/.test(document.getElementById('saved').textContent)")
    assert left_edge(server) < start
    # A refused save is told on the console as well; nothing else may have gone wrong.
    assert all("409" in line for line in visit.complaints)
    visit.complaints.clear()


def test_a_tab_that_comes_to_the_front_finds_out_by_itself(visit: Visit, server: Server) -> None:
    first = visit.look(SHAWL)
    other = visit.context.new_page()
    other.goto(first.url)
    other.wait_for_selector("#open-card")
    nudge(other)
    until(other, "/^Saved/.test(document.getElementById('saved').textContent)")

    first.bring_to_front()
    first.evaluate("window.dispatchEvent(new Event('focus'))")

    first.wait_for_selector("#notice >> text=changed in another tab")
    assert server.plan().masters


def test_a_killed_server_loses_nothing_and_the_page_says_so(
    browser: Browser, command: Command
) -> None:
    server = command.start()
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    page.set_default_timeout(WAIT_MS)
    page.goto(server.address)
    page.goto(f"{server.base}/look/{SHAWL}#tall-post")
    page.wait_for_selector("#open-card")
    start = left_edge(server)
    nudge(page)
    until(page, "/^Saved/.test(document.getElementById('saved').textContent)")
    page.click('#open-card [data-word="held"]')
    page.wait_for_selector('#open-card [data-word="held"][aria-pressed="true"]')
    command.kill()

    nudge(page)
    page.wait_for_selector("#notice >> text=does not answer")
    assert page.inner_text("#saved") == "Not saved"
    assert left_edge(server) == start + 1

    again = command.start()
    page.goto(again.address)
    page.goto(f"{again.base}/look/{SHAWL}#tall-post")
    page.wait_for_selector('#open-card [data-word="held"][aria-pressed="true"]')
    assert page.input_value("#n-left") == str(start + 1)
    context.close()


def test_the_key_opens_once_and_another_browser_stays_out(browser: Browser, visit: Visit) -> None:
    stranger = browser.new_context()
    page = stranger.new_page()
    page.goto(f"{visit.base}/")
    assert "opens with the address" in page.inner_text("body")
    page.goto(f"{visit.base}/open?key=guess")
    assert "opens with the address" in page.inner_text("body")
    stranger.close()

    (cookie,) = visit.context.cookies(visit.base)
    assert cookie["httpOnly"]
    assert cookie["sameSite"] == "Strict"
    assert visit.page.evaluate("document.cookie") == ""
    assert "key" not in visit.page.evaluate("location.href + JSON.stringify(history.state)")


def test_a_foreign_page_in_the_same_browser_can_neither_read_nor_do(
    visit: Visit, server: Server
) -> None:
    before = server.plan()
    page = visit.context.new_page()
    page.route("http://elsewhere.test/", lambda route: route.fulfill(body="<h1>elsewhere</h1>"))
    page.goto("http://elsewhere.test/")

    outcome = page.evaluate(
        """async (base) => {
            const tried = async (path, wish) => {
                try {
                    const answer = await fetch(base + path, wish);
                    return answer.type === 'opaque' ? 'opaque' : answer.status;
                } catch { return 'refused'; }
            };
            const picture = (src) => new Promise((told) => {
                const one = new Image();
                one.onload = () => told('shown');
                one.onerror = () => told('refused');
                one.src = src;
            });
            const body = JSON.stringify({ revision: 'x' });
            return [
                await tried('/api/job', { credentials: 'include' }),
                await tried('/api/undo', { method: 'POST', credentials: 'include', body }),
                await tried('/api/undo', {
                    method: 'POST', credentials: 'include', mode: 'no-cors', body }),
                await picture(base + '/preview/fernhollow_a_frontal/x/960'),
            ];
        }""",
        visit.base,
    )

    assert outcome[0] == outcome[1] == outcome[3] == "refused"
    assert outcome[2] in {"refused", "opaque"}
    assert server.plan() == before
    visit.elsewhere.clear()
    visit.complaints.clear()


def raw(server: Server, request: str) -> str:
    """The first line of the answer to bytes that no browser would send."""
    with socket.create_connection(("127.0.0.1", server.port), timeout=5) as line:
        line.sendall(request.encode("latin-1"))
        return line.recv(4096).decode("latin-1").partition("\r\n")[0]


@pytest.mark.parametrize(
    "path",
    ["/../plan.json", "/static/../../plan.json", "//etc/passwd", "/static/..\\app.py", "/%00"],
)
def test_raw_paths_lead_nowhere(server: Server, path: str) -> None:
    key = server.address.partition("key=")[2]
    talk = http.client.HTTPConnection("127.0.0.1", server.port, timeout=5)
    talk.request("GET", f"/open?key={key}")
    answer = talk.getresponse()
    cookie = answer.headers["set-cookie"].partition(";")[0]
    answer.read()
    talk.close()
    host = f"Host: 127.0.0.1:{server.port}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n"

    status = raw(server, f"GET {path} HTTP/1.1\r\n{host}").split(" ")[1]

    assert status in {"400", "404"}


def test_endless_headers_and_missing_hosts_are_cut_short(server: Server) -> None:
    assert " 400 " in raw(server, f"GET / HTTP/1.1\r\nX: {'a' * 70_000}\r\n\r\n")
    assert " 4" in raw(server, "GET / HTTP/1.1\r\n\r\n")
    assert " 4" in raw(server, "GET / HTTP/1.0\r\n\r\n")


def test_many_silent_connections_keep_nobody_out(server: Server) -> None:
    host = f"Host: 127.0.0.1:{server.port}\r\nConnection: close\r\n\r\n"
    with ExitStack() as open_lines:
        for _ in range(205):
            line = socket.create_connection(("127.0.0.1", server.port), timeout=5)
            open_lines.enter_context(line)
        with socket.create_connection(("127.0.0.1", server.port), timeout=5) as line:
            line.sendall(f"GET / HTTP/1.1\r\n{host}".encode())
            answer = line.recv(4096).decode("latin-1")

    assert answer.startswith("HTTP/1.1 403")  # the door asks for its key, as always
    assert "content-security-policy" in answer


def test_the_server_listens_on_this_machine_alone(server: Server) -> None:
    # Whoever listens at all addresses (0.0.0.0) also answers at every other loopback address.
    for outside in {socket.gethostbyname(socket.gethostname()), "127.0.0.2"} - {"127.0.0.1"}:
        with pytest.raises(OSError, match=r"refused|unreachable|timed out"):
            socket.create_connection((outside, server.port), timeout=2)
