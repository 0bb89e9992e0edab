"""The door of the browser's side: who is let in, and what is said when it opens."""

import socket
from typing import cast

import pytest
from aiohttp import web
from aiohttp.test_utils import make_mocked_request

from coach.screen.serve import COOKIE, CoachServer, bracketed, is_loopback, serve, server, spoken


def asked(path: str, **headers: str) -> web.Request:
    return cast(web.Request, make_mocked_request("GET", path, headers=headers))


@pytest.fixture
def local() -> CoachServer:
    return server()


@pytest.fixture
def opened() -> CoachServer:
    return server(host="192.0.2.7")


def test_on_this_computer_there_is_no_token_and_no_caution(local: CoachServer) -> None:
    assert local.address == "http://127.0.0.1:8750/"
    assert len(spoken(local.host, local.address)) == 1
    assert local.welcome(asked("/", Host="127.0.0.1:8750"))
    assert local.welcome(asked("/ws", Host="localhost:8750", Origin="http://localhost:8750"))


def test_no_other_site_s_page_steers_the_coach(local: CoachServer) -> None:
    assert not local.welcome(asked("/ws", Host="127.0.0.1:8750", Origin="http://elsewhere.example"))
    assert not local.welcome(asked("/ws", Host="127.0.0.1:8750", Origin="http://127.0.0.1:9999"))
    assert not local.welcome(asked("/", Host="made-to-lead-here.example:8750"))


def test_opened_to_a_network_the_token_stands_in_the_address_and_a_caution_is_said(opened: CoachServer) -> None:
    assert len(opened.token) >= 20
    assert opened.address.endswith(f"/?token={opened.token}")
    assert "Caution" in "\n".join(spoken(opened.host, opened.address))


def test_opened_to_a_network_nothing_answers_without_the_token(opened: CoachServer) -> None:
    host = {"Host": "192.0.2.7:8750"}
    assert not opened.welcome(asked("/", **host))
    assert not opened.welcome(asked("/ws", **host))
    assert not opened.welcome(asked("/?token=wrong", **host))
    assert not opened.welcome(asked("/download/x", **host))
    assert opened.welcome(asked(f"/?token={opened.token}", **host))
    assert opened.welcome(asked("/ws", **host, Cookie=f"{COOKIE}={opened.token}"))
    assert not opened.welcome(
        asked("/ws", **host, Cookie=f"{COOKIE}={opened.token}", Origin="http://elsewhere.example")
    )


def test_each_server_has_a_token_of_its_own() -> None:
    assert server(host="0.0.0.0").token != server(host="0.0.0.0").token


def test_the_page_is_our_own_and_fetches_nothing_from_elsewhere(local: CoachServer) -> None:
    page = (local.templates_path / "app_index.html").read_text(encoding="utf-8")
    assert "https://" not in page
    assert "coach" in page


@pytest.mark.parametrize(
    ("host", "own"), [("127.0.0.1", True), ("::1", True), ("localhost", True), ("0.0.0.0", False), ("192.0.2.7", False)]
)
def test_what_only_this_computer_can_reach_is_known(host: str, own: bool) -> None:
    assert is_loopback(host) is own


def test_an_address_of_six_groups_stands_in_brackets() -> None:
    assert bracketed("::1") == "[::1]"


def test_a_port_that_is_taken_is_told_before_the_address_is() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(ValueError, match=r"127\.0\.0\.1, port \d+: .*; name another port or address"):
            serve(port=taken.getsockname()[1])
