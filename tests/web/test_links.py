"""Links in messages: each opens its checkpoint once, for that and nothing else, over a real server."""

import stat
from dataclasses import replace
from pathlib import Path

import httpx
import pytest

from lampwarden.errors import NotAllowed
from lampwarden.notify.links import FILE, HOLDS_S, PATH, Links
from lampwarden.store.outbox import Delivery
from lampwarden.web.auth.gate import COOKIE
from lampwarden.web.auth.people import People, Role

from .conftest import Bench, Serve
from .served import OPERATING, WATCHING, Served

HERE = "/api/chambers/bench"


@pytest.fixture(scope="module")
def people() -> People:
    return People().with_password(Role.OPERATE, OPERATING).with_password(Role.WATCH, WATCHING)


def delivery(checkpoint: str = "baseline", session_id: str | None = "s", number: int = 7) -> Delivery:
    utc = "2031-03-03T08:00:00.000Z"
    about = (number, f"line/{number}", "person_called", "bench", session_id, 1, "Title", "Body", checkpoint)
    return Delivery(*about, utc, utc, "mail", "trying", 1, utc, utc, "")


def link(served: Served, **about: object) -> str:
    """The path of a link to the session that runs."""
    session_id = served.bench.service.snapshot("bench").session_id
    return Links(served.folder).path(delivery(**{"session_id": session_id, **about}))


def opened(client: httpx.Client, path: str) -> httpx.Response:
    """Presses the button of the page behind a link."""
    page = client.get(path)
    assert page.status_code == 200, page.text
    assert "Open the checkpoint" in page.text
    return client.post(path, headers={"origin": str(client.base_url).rstrip("/")})


# --- the link itself --------------------------------------------------------------------------------------------------


def test_a_link_names_its_checkpoint_for_a_day(tmp_path: Path) -> None:
    now_s = [1.9e9]
    path = Links(tmp_path, lambda: now_s[0]).path(delivery("24 h / Ø"))
    links = Links(tmp_path, lambda: now_s[0])  # the secret outlives the daemon
    call = links.read(path)
    assert (call.chamber_id, call.session_id, call.checkpoint) == ("bench", "s", "24 h / Ø")
    assert call.until_s == now_s[0] + HOLDS_S
    now_s[0] += HOLDS_S
    with pytest.raises(NotAllowed, match="more than a day old"):
        links.read(path)


def test_each_copy_has_its_own(tmp_path: Path) -> None:
    links, mail = Links(tmp_path), delivery()
    numbers = {
        links.read(links.path(each)).number for each in (mail, delivery(number=8), replace(mail, channel="push"))
    }
    assert len(numbers) == 3
    assert links.path(delivery(checkpoint="")) == links.path(delivery(session_id=None)) == "/now/bench"


def test_the_secret_is_private_and_makes_links_void_when_it_goes(tmp_path: Path) -> None:
    path = Links(tmp_path).path(delivery())
    assert stat.S_IMODE((tmp_path / FILE).stat().st_mode) == 0o600
    (tmp_path / FILE).unlink()
    with pytest.raises(NotAllowed, match="not from this host"):
        Links(tmp_path).read(path)


@pytest.mark.parametrize("end", ["", "x", "\N{SNOWMAN}", "a.b.c", "." * 500])
def test_a_link_that_was_changed(tmp_path: Path, end: str) -> None:
    links = Links(tmp_path)
    path = links.path(delivery())
    changed = path[:-3] + end if end else PATH
    with pytest.raises(NotAllowed, match="not whole"):
        links.read(changed)


# --- over a real server -----------------------------------------------------------------------------------------------


def test_a_link_opens_once_and_looking_at_it_uses_nothing_up(serve: Serve, people: People, bench: Bench) -> None:
    served = serve(people)
    bench.start()
    path = link(served)
    for _ in range(3):  # mail programs look at links
        assert served.client().get(path).status_code == 200
        assert served.client().head(path).status_code == 200
    assert served.client().post(path, headers={"origin": "http://evil.example"}).status_code == 403
    phone = served.client()
    came = opened(phone, path)
    assert (came.status_code, came.headers["location"]) == (303, "/now/bench#checkpoint")
    kept = came.headers["set-cookie"].lower()
    assert "httponly" in kept
    assert "samesite=strict" in kept
    assert opened(phone, path).headers["location"] == "/now/bench#checkpoint"  # touched again on the same phone
    again = served.client().post(path)
    assert again.status_code == 410
    assert "was used already" in again.text
    assert COOKIE not in again.cookies
    (line,) = [text for kind, text in served.lines if kind == "link_used"]
    assert line.startswith("Somebody at 127.0.0.1 opened photo 'baseline' by the link in a message")


def test_it_answers_its_checkpoint_and_orders_nothing_else(serve: Serve, people: People, bench: Bench) -> None:
    served = serve(people, watchers_stop=False)
    bench.start()
    phone = served.client()
    opened(phone, link(served))
    assert phone.get("/now/bench").json() == "watch"
    assert phone.get(HERE).status_code == 200
    for path, body in [
        ("hold", {"by": "Wilma"}), ("continue", {"by": "Wilma"}), ("end", {"by": "Wilma"}), ("plan", {}),
        ("note", {"by": "Wilma", "text": "Hm."}), ("clear-trip", None), ("start", {}),
    ]:  # fmt: skip
        assert phone.post(f"{HERE}/{path}", json=body).status_code == 403, path
    assert phone.put("/api/sheets/a", json={}).status_code == 403
    refused = phone.post(f"{HERE}/answer", json={"by": "Wilma", "checkpoint": "5 min"})
    assert refused.status_code == 403
    assert "photo 'baseline'" in refused.json()["detail"]
    assert phone.post("/api/chambers/other/answer", json={"by": "W", "checkpoint": "baseline"}).status_code == 403
    photo = {"files": ("a.jpg", b"no photo", "image/jpeg")}
    elsewhere = phone.post(f"{HERE}/photos", data={"by": "Wilma", "sheet": "ferry"}, files=photo)
    assert elsewhere.status_code == 403
    other = phone.post(
        f"{HERE}/photos", data={"by": "Wilma", "session": "before", "checkpoint": "baseline"}, files=photo
    )
    assert other.status_code == 403
    # A photo of its own checkpoint gets as far as the service, which says that this session has no sheet.
    own = {"by": "Wilma", "session": bench.service.snapshot("bench").session_id, "checkpoint": "baseline"}
    assert phone.post(f"{HERE}/photos", data=own, files=photo).status_code == 409
    assert phone.post(f"{HERE}/camera", json={"by": "Wilma", "checkpoint": "5 min"}).status_code == 403
    bench.clock.limit_s += 3600
    assert phone.post(f"{HERE}/stop").status_code == 200
    assert phone.post(f"{HERE}/answer", json={"by": "Wilma", "checkpoint": "baseline"}).status_code == 200
    late = phone.post(f"{HERE}/answer", json={"by": "Wilma", "checkpoint": "baseline"})
    assert late.status_code == 403
    assert "answered already" in late.json()["detail"]
    assert phone.post(f"{HERE}/stop").status_code == 200  # who has lit the lamps may stop them
    assert phone.get(HERE).status_code == 200


@pytest.mark.parametrize("what", ["answered", "ended", "another session", "not planned"])
def test_a_link_is_over_with_its_checkpoint(serve: Serve, people: People, bench: Bench, what: str) -> None:
    served = serve(people)
    bench.start()
    path = link(served, checkpoint="20 h") if what == "not planned" else link(served)
    bench.clock.limit_s += 3600
    if what == "answered":
        bench.service.answer("bench", "baseline", "Wilma")
    elif what != "not planned":
        bench.service.end("bench", "Wilma")
        bench.until(lambda s: s.session is not None and not s.session.active, 60)
    if what == "another session":
        bench.start()
    for answer in (served.client().get(path), served.client().post(path)):
        assert answer.status_code == 410
        assert "This link opens nothing" in answer.text
        assert ("answered already" if what in ("answered", "not planned") else "is over") in answer.text


def test_who_operates_is_led_there_and_the_link_stays(serve: Serve, people: People, bench: Bench) -> None:
    served = serve(people)
    bench.start()
    operator, path = served.signed_in(OPERATING), link(served)
    came = operator.post(path)
    assert came.headers["location"] == "/now/bench#checkpoint"
    assert "set-cookie" not in came.headers
    assert operator.get("/now/bench").json() == "operate"
    assert opened(served.client(), path).status_code == 303


def test_who_watches_may_answer_and_goes_on_watching(serve: Serve, people: People, bench: Bench) -> None:
    served = serve(people)
    bench.start()
    watcher = served.signed_in(WATCHING)
    before = watcher.cookies[COOKIE]
    opened(watcher, link(served))
    assert watcher.cookies[COOKIE] == before
    bench.clock.limit_s += 3600
    assert watcher.post(f"{HERE}/answer", json={"by": "W", "checkpoint": "baseline"}).status_code == 200
    served.file.write(people.with_password(Role.WATCH, "another for watching"))
    assert watcher.get(HERE).status_code == 401


def test_another_password_ends_what_links_have_opened(serve: Serve, people: People, bench: Bench) -> None:
    served = serve(people)
    bench.start()
    phone = served.client()
    opened(phone, link(served))
    served.file.write(people.with_password(Role.OPERATE, "herring and lamp oil"))
    assert phone.get(HERE).status_code == 401


def test_what_was_used_is_known_after_a_restart(serve: Serve, people: People, bench: Bench) -> None:
    first = serve(people)
    bench.start()
    phone, path = first.client(), link(first)
    opened(phone, path)
    first.close()
    second = serve(people)
    assert second.client().post(path).status_code == 410
    kept = second.client(cookies={COOKIE: phone.cookies[COOKIE]})
    bench.clock.limit_s += 3600
    assert kept.post(f"{HERE}/answer", json={"by": "Wilma", "checkpoint": "baseline"}).status_code == 200


def test_without_a_password_a_link_just_leads_there(serve: Serve, bench: Bench) -> None:
    served = serve(None)
    bench.start()
    came = served.client().get(link(served))
    assert (came.status_code, came.headers["location"]) == (303, "/now/bench#checkpoint")
    assert served.client().get(PATH + "nonsense").status_code == 410
    assert serve(None, must=True).client().get(link(served)).status_code == 403
