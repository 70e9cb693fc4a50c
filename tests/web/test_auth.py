"""Who may touch it: passwords, waits, sign-ins and tokens; and all of it over a real server with a real client."""

import inspect
import os
import re
import stat
from pathlib import Path

import pytest
from websockets.exceptions import ConnectionClosedError, InvalidStatus
from websockets.sync.client import connect

import lampwarden
from lampwarden.errors import NotAllowed, ProgramError
from lampwarden.notify.notifier import Notifier
from lampwarden.service import Service
from lampwarden.web.auth.gate import COOKIE
from lampwarden.web.auth.patience import ADDRESSES_MAX, FORGET_S, Patience
from lampwarden.web.auth.people import FILE, People, PeopleFile, Role
from lampwarden.web.auth.sign_in import OPEN_ASSETS, safe_target
from lampwarden.web.auth.signed_in import SIGNED_IN_MAX, STAYS_S, SignedIn
from lampwarden.web.auth.watching import NOTIFIER_READS, SERVICE_READS, watching

from .conftest import Bench, Serve
from .served import OPERATING, WATCHING


@pytest.fixture(scope="module")
def people() -> People:
    return People().with_password(Role.OPERATE, OPERATING).with_password(Role.WATCH, WATCHING)


# --- the file ---------------------------------------------------------------------------------------------------------


def test_a_password_tells_the_role(people: People) -> None:
    assert people.by_password(OPERATING) is Role.OPERATE
    assert people.by_password(WATCHING) is Role.WATCH
    assert people.by_password(OPERATING.upper()) is None
    assert people.by_password("") is None


def test_bad_passwords_are_refused(people: People) -> None:
    with pytest.raises(ProgramError, match="10 to 200 letters; this one has 9"):
        people.with_password(Role.WATCH, "9 letters")
    with pytest.raises(ProgramError, match="other role has this password"):
        people.with_password(Role.WATCH, OPERATING)
    with pytest.raises(ProgramError, match="'operate' first"):
        People().with_password(Role.WATCH, WATCHING)


def test_without_the_operator_there_are_no_watchers(people: People) -> None:
    assert list(people.without_password(Role.WATCH).passwords) == [Role.OPERATE]
    assert not people.without_password(Role.OPERATE).passwords


def test_the_file_holds_no_secret_and_is_private(tmp_path: Path, people: People) -> None:
    more, token = people.with_token("logger", Role.WATCH)
    PeopleFile(tmp_path).write(more)
    text = (tmp_path / FILE).read_text()
    assert [secret for secret in (OPERATING, WATCHING, token) if secret in text] == []
    if os.name == "posix":
        assert stat.S_IMODE((tmp_path / FILE).stat().st_mode) == 0o600
    read = PeopleFile(tmp_path).read()
    assert read == more
    assert read.by_token(token) is Role.WATCH
    assert read.by_token(token[:-1]) is None
    assert read.without_token("logger").by_token(token) is None


def test_a_spoilt_file_lets_nobody_else_in(tmp_path: Path, people: People) -> None:
    file = PeopleFile(tmp_path)
    file.write(people)
    assert file.newest() == people
    (tmp_path / FILE).write_text('[passwords]\noperate = "in clear text"\n')
    assert file.newest() == people
    with pytest.raises(ProgramError, match="is no hash"):
        PeopleFile(tmp_path).read()


# --- waits, sign-ins --------------------------------------------------------------------------------------------------


def test_wrong_passwords_wait_longer_and_longer() -> None:
    patience, now_s, waits = Patience(), 0.0, []
    for _ in range(13):
        wait_s = patience.wait_s("10.0.0.7", now_s)
        waits.append(wait_s)
        now_s += wait_s
        if wait_s > 0:
            assert patience.wait_s("10.0.0.7", now_s) == 0
    assert waits == [0, 0, 0, 2, 4, 8, 16, 32, 64, 128, 256, 300, 300]
    assert patience.wait_s("10.0.0.8", now_s) == 0
    assert patience.wait_s("10.0.0.7", now_s + FORGET_S) == 0


def test_the_right_password_ends_the_wait() -> None:
    patience = Patience()
    for _ in range(20):
        assert patience.wait_s("10.0.0.7", 0) == 0
        patience.right("10.0.0.7")


def test_many_addresses_wait_together_but_briefly() -> None:
    patience, now_s = Patience(), 0.0
    waits = []
    for number in range(ADDRESSES_MAX + 200):
        wait_s = patience.wait_s(f"10.0.{number // 256}.{number % 256}", now_s)
        waits.append(wait_s)
        now_s += wait_s
    assert waits[:30] == [0] * 30
    assert waits[30] == 2
    assert max(waits) == 30
    assert len(patience._by_address) <= ADDRESSES_MAX


def test_an_ipv6_network_is_one_address() -> None:
    patience = Patience()
    waits = [patience.wait_s(f"2001:db8::{number}", 0) for number in range(1, 5)]
    assert waits == [0, 0, 0, 2]
    assert patience.wait_s("2001:db8:0:1::1", 0) == 0


def test_a_sign_in_outlives_a_restart_and_ends(tmp_path: Path, people: People) -> None:
    now_s = [1e9]
    table = SignedIn(tmp_path, lambda: now_s[0])
    token = table.open(Role.WATCH, people)
    table.save()
    assert token not in (tmp_path / "signed_in.json").read_text()
    again = SignedIn(tmp_path, lambda: now_s[0])
    assert again.role(token, people) is Role.WATCH
    assert again.role(token, people.with_password(Role.WATCH, "quite another one")) is None
    now_s[0] += STAYS_S
    assert again.role(token, people) is None


def test_sign_ins_are_bounded(tmp_path: Path, people: People) -> None:
    table = SignedIn(tmp_path, lambda: 1e9)
    tokens = [table.open(Role.OPERATE, people) for _ in range(SIGNED_IN_MAX + 1)]
    assert table.role(tokens[0], people) is None
    assert [token for token in tokens[1:] if table.role(token, people) is None] == []


@pytest.mark.parametrize(
    ("to", "goes"),
    [("/plan/demo?a=1", "/plan/demo?a=1"), ("//evil.example", "/"), ("/\\evil.example", "/"), ("/\t/evil.example", "/"),
     ("https://evil.example/", "/"), ("/sign-in?to=/", "/"), ("", "/"), ("javascript:alert(1)", "/"), ("//[", "/")],
)  # fmt: skip
def test_no_way_leads_elsewhere(to: str, goes: str) -> None:
    assert safe_target(to) == goes


# --- what watchers' pages are given -----------------------------------------------------------------------------------

ORDERS = {
    *("add", "run", "close", "hold", "go_on", "answer", "change_plan", "annotate", "end", "stop", "clear_trip"),
    *("report", "remark", "calibrate", "remind", "rehearse", "cancel_rehearsal", "read_photos", "take_photo"),
    *("set_camera", "try_camera", "mind_camera", "add_reading", "add_finding", "keep_sheet_picture", "save_sheet"),
    "light_inspection",
    *("remove_sheet", "save_plan", "remove_plan", "start", "start_plan", "start_later", "cancel_start", "unfinished"),
    *("withdraw_finding", "set_follow_up_days", "mind_follow_ups"),
    *("delete", "finish_deleting", "set_retention", "thin_old", "tend"),
}
"""Every other call of the service."""


def test_every_call_of_the_service_is_known_as_reading_or_order() -> None:
    calls = {name for name, _ in inspect.getmembers(Service, callable) if not name.startswith("_")}
    assert calls == SERVICE_READS | ORDERS
    assert set(dir(Notifier)) >= NOTIFIER_READS - {"trouble"}


def test_watchers_orders_are_refused(bench: Bench) -> None:
    may = [False]
    service = watching(bench.service, SERVICE_READS, lambda: may[0])
    assert service.snapshot("bench").chamber.title == "Test bench"
    for order in ORDERS:
        with pytest.raises(NotAllowed, match="You may watch"):
            getattr(service, order)("bench", "Wilma")
    remark = service.remark
    may[0] = True
    remark("bench", "A line by somebody who operates.", "Wilma")
    may[0] = False
    with pytest.raises(NotAllowed):
        remark("bench", "A line after signing out.", "Wilma")


def test_pages_keep_nothing_that_would_need_the_frameworks_secret() -> None:
    """app.storage.user and .browser rest on a signed cookie, for which we set no secret (DEVELOPERS.md, Decisions)."""
    pages = sorted((Path(lampwarden.__file__).parent / "web").rglob("*.py"))
    assert len(pages) > 50
    assert [page.name for page in pages if re.search(r"storage\.(user|browser)|storage_secret", page.read_text())] == []


# --- over a real server -----------------------------------------------------------------------------------------------


def test_nothing_is_told_without_signing_in(serve: Serve, people: People) -> None:
    served = serve(people)
    client = served.client()
    for method, path in [("GET", "/api/chambers"), ("POST", "/api/chambers/bench/stop"), ("GET", "/assets/page.js"),
                         ("GET", "/metrics"), ("GET", "/api/openapi.json"),
                         ("GET", "/_nicegui_ws/socket.io/")]:  # fmt: skip
        answer = client.request(method, path)
        assert answer.status_code == 401, path
        assert answer.headers["www-authenticate"] == "Bearer"
        assert "bench" not in answer.text.lower()
    assert client.get("/api/health").json() == {"at_work": True}
    assert client.get("/api/chambers", headers={"cookie": f"{COOKIE}=guessed"}).status_code == 401
    assert client.get("/api/chambers", headers={"authorization": "Bearer lw_guessed"}).status_code == 401
    page = client.get("/now/bench?day=2", headers={"accept": "text/html"})
    assert page.status_code == 401
    assert "/sign-in?to=%2Fnow%2Fbench%3Fday%3D2" in page.text
    form = client.get("/sign-in?to=/now/bench")
    assert form.status_code == 200
    assert [path for path in OPEN_ASSETS if path not in form.text] == []
    assert "default-src 'self'" in form.headers["content-security-policy"]


def test_sign_in_work_sign_out(serve: Serve, people: People) -> None:
    served = serve(people)
    client = served.client()
    assert client.post("/sign-in", data={"password": "wrong"}).status_code == 403
    foreign = {"origin": "http://evil.example"}
    assert client.post("/sign-in", data={"password": OPERATING}, headers=foreign).status_code == 403
    came = client.post("/sign-in", data={"password": OPERATING, "to": "/now/bench"}, headers={"origin": served.address})
    assert (came.status_code, came.headers["location"]) == (303, "/now/bench")
    kept = came.headers["set-cookie"].lower()
    assert "httponly" in kept
    assert "samesite=strict" in kept
    assert "secure" not in kept
    assert client.get("/now/bench").json() == "operate"
    assert client.get("/sign-in?to=/now/bench").status_code == 303
    assert client.post("/api/chambers/bench/stop", headers=foreign).status_code == 403
    assert client.post("/api/chambers/bench/clear-trip").status_code != 403
    token = client.cookies[COOKIE]
    assert client.post("/sign-out").status_code == 303
    assert client.get("/api/chambers", headers={"cookie": f"{COOKIE}={token}"}).status_code == 401
    kinds = [kind for kind, _ in served.lines]
    assert [kind for kind in kinds if kind.startswith("sign")] == ["sign_in_failed", "signed_in", "signed_out"]
    assert [text for kind, text in served.lines if kind == "access_changed"] == [
        "The password of the role 'operate' was set.",
        "The password of the role 'watch' was set.",
    ]


def test_behind_https_the_cookie_is_secure(serve: Serve, people: People) -> None:
    client = serve(people).client()
    came = client.post("/sign-in", data={"password": OPERATING}, headers={"x-forwarded-proto": "https"})
    assert "secure" in came.headers["set-cookie"].lower()


def test_watchers_look_and_stop_and_no_more(serve: Serve, people: People, bench: Bench) -> None:
    client = serve(people).signed_in(WATCHING)
    assert client.get("/now/bench").json() == "watch"
    assert client.get("/api/chambers").status_code == 200
    for method, path in [("POST", "/api/chambers/bench/start"), ("POST", "/api/chambers/bench/clear-trip"),
                         ("PUT", "/api/sheets/a"), ("DELETE", "/api/sheets/a"), ("POST", "/now/bench"),
                         ("POST", "/sheet-pictures"), ("POST", "/api/chambers/bench/stop/"),
                         ("POST", "/api//chambers/bench/stop"), ("DELETE", "/api/chambers/bench/stop")]:  # fmt: skip
        assert client.request(method, path).status_code == 403, path
    bench.clock.limit_s += 3600
    assert client.post("/api/chambers/bench/stop").status_code == 200


def test_stopping_can_be_kept_from_watchers(serve: Serve, people: People) -> None:
    client = serve(people, watchers_stop=False).signed_in(WATCHING)
    assert client.post("/api/chambers/bench/stop").status_code == 403


def test_scripts_come_with_a_token(serve: Serve, people: People) -> None:
    more, token = people.with_token("logger", Role.WATCH)
    served = serve(more)
    client = served.client(headers={"authorization": f"Bearer {token}"})
    assert client.get("/api/chambers").status_code == 200
    assert client.post("/api/chambers/bench/clear-trip").status_code == 403
    served.file.write(people)
    assert client.get("/api/chambers").status_code == 401
    assert ("access_changed", "The access token 'logger' (may watch) was removed.") in served.lines


def test_a_live_page_ends_with_its_sign_in(serve: Serve, people: People) -> None:
    served = serve(people)
    address = f"ws{served.address.removeprefix('http')}/_nicegui_ws/socket.io/"
    with pytest.raises(InvalidStatus, match="403"), connect(address, proxy=None):
        pass
    client = served.signed_in(OPERATING)
    cookie = {"cookie": f"{COOKIE}={client.cookies[COOKIE]}"}
    with connect(address, additional_headers=cookie, proxy=None) as live:
        live.send("still here")
        assert live.recv(10) == "still here"
        client.post("/sign-out")
        live.send("and now?")
        with pytest.raises(ConnectionClosedError, match="Not signed in"):
            live.recv(10)


def test_a_page_from_before_the_first_password_ends_with_it(serve: Serve, people: People) -> None:
    served = serve(None)
    assert served.client().post("/now/bench").status_code == 200
    with connect(f"ws{served.address.removeprefix('http')}/_nicegui_ws/socket.io/", proxy=None) as live:
        live.send("still here")
        assert live.recv(10) == "still here"
        served.file.write(people)
        live.send("and now?")
        with pytest.raises(ConnectionClosedError, match="Not signed in"):
            live.recv(10)
    assert served.client().post("/now/bench").status_code == 401


def test_another_password_signs_out_what_the_old_one_signed_in(serve: Serve, people: People) -> None:
    served = serve(people)
    operator, watcher = served.signed_in(OPERATING), served.signed_in(WATCHING)
    served.file.write(people.with_password(Role.OPERATE, "herring and lamp oil"))
    assert operator.get("/api/chambers").status_code == 401
    assert watcher.get("/api/chambers").status_code == 200


def test_guessing_is_slowed_and_fills_no_journal(serve: Serve, people: People) -> None:
    served = serve(people)
    client = served.client()
    answers = [client.post("/sign-in", data={"password": f"guess number {number}"}) for number in range(6)]
    assert [answer.status_code for answer in answers] == [403, 403, 403, 429, 429, 429]
    assert int(answers[-1].headers["retry-after"]) in (1, 2)
    assert client.post("/sign-in", data={"password": OPERATING}).status_code == 429
    assert [kind for kind, _ in served.lines].count("sign_in_failed") == 1


def test_without_a_password_the_network_is_refused(serve: Serve) -> None:
    client = serve(None, must=True).client()
    for path in ("/api/chambers", "/sign-in", "/now/bench"):
        answer = client.get(path)
        assert answer.status_code == 403
        assert "lampwarden password set" in answer.text
