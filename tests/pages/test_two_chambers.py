"""Two chambers on one host: it is plain which one a page shows, and its stop stops that one alone."""

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import expect
from tests.command import Begun
from tests.publishing.broker import eventually

from lampwarden.domain.chamber import Chamber, Zone
from lampwarden.rig.design import RigDesign
from lampwarden.rig.served import serve_tcp
from lampwarden.rig.world import World

from .conftest import DESK, PHONE, Look

pytestmark = pytest.mark.timeout(300)

TITLES = {"attic": "Attic chamber", "cellar": "Cellar chamber"}
PROGRAM = 'title = "Hours"\n[[zones]]\nzone = "A1"\nexposures = [{ end = "5 h" }]\n'


@pytest.fixture
def worlds() -> dict[str, World]:
    zones = (Zone(name="A1", irradiance_w_m2=80.0), Zone(name="A2", irradiance_w_m2=80.0))
    return {key: World(RigDesign(), 1, Chamber(id=key, title=title, zones=zones)) for key, title in TITLES.items()}


@pytest.fixture
def address(worlds: dict[str, World], tmp_path: Path) -> Iterator[str]:
    """The daemon over both, each with its lamps lit."""
    served = {key: serve_tcp(world) for key, world in worlds.items()}
    files = []
    for key, each in served.items():
        files.append(tmp_path / f"{key}.toml")
        zones = ", ".join(f'{{ name = "{name}", irradiance_w_m2 = 80.0 }}' for name in ("A1", "A2"))
        files[-1].write_text(f'id = "{key}"\ntitle = "{TITLES[key]}"\nboard = "{each.address}"\nzones = [{zones}]\n')
    said = tmp_path / "said.txt"
    words = ["serve", *map(str, files), "--uncommissioned", "--port", "0", "--data", str(tmp_path / "data")]
    said.touch()
    process = Begun(words, said)
    try:
        found = eventually(lambda: re.search(r"Dashboard: (http://localhost:\d+)", said.read_text()), 90)
        with httpx.Client(base_url=found[1], timeout=60, trust_env=False) as http:
            for key, world in worlds.items():
                eventually(lambda key=key: started(http, key), 90)
                eventually(lambda world=world: not world.truth.dark, 90)
        yield found[1]
    finally:
        process.kill()
        process.wait()
        for each in served.values():
            each.close()


def started(http: httpx.Client, chamber: str) -> bool:
    """True once the daemon listens and has begun the session."""
    try:
        return http.post(f"/api/chambers/{chamber}/start", json={"by": "Wilma", "toml": PROGRAM}).is_success
    except httpx.ConnectError:
        return False


def test_the_stop_names_its_chamber_and_stops_no_other(
    address: str, worlds: dict[str, World], look: Callable[..., Look]
) -> None:
    here = look(f"{address}/now/attic", PHONE)
    stop = here.page.locator("#stop")
    expect(stop).to_contain_text("Stop: all lamps dark")
    expect(stop).to_contain_text("Attic chamber")
    here.shoot("two-chambers-attic")
    here.page.get_by_role("link", name="Cellar chamber").click()
    here.page.wait_for_url("**/now/cellar")
    here.headline("Lamps are lit")
    expect(stop).to_contain_text("Cellar chamber")
    expect(stop).not_to_contain_text("Attic chamber")
    stop.click()
    here.says("Stopped: the lamps of Cellar chamber were ordered dark.")
    eventually(lambda: worlds["cellar"].truth.dark)
    assert not worlds["attic"].truth.dark
    here.headline("Paused")
    here.shoot("two-chambers-cellar")
    there = look(f"{address}/now/attic", DESK)
    there.headline("Lamps are lit")
    expect(there.page.locator("#stop")).to_contain_text("Attic chamber")
    there.shoot("two-chambers-attic")
