"""The host's certificate: good for one name, checked by OpenSSL, its signer gone."""

import argparse
import ssl
import threading
import urllib.error
import urllib.request
from datetime import UTC, datetime, timedelta

import pytest
import zxingcpp
from PIL import Image

from exam_app.cli.phone import run_phone, spoken, terminal_code, trust_pages
from exam_app.crypto.local_authority import LONGEST_DAYS, certified_until, certify_host
from exam_app.phone.errors import AddressChangedError
from exam_app.phone.serving import Host, Sent
from exam_app.phone.trust import check_address, open_trust

NOW = datetime.now(UTC)


def client(authority):
    context = ssl.create_default_context()
    context.load_verify_locations(cadata=authority)
    return context


@pytest.fixture
def host(tmp_path):
    trust = open_trust(tmp_path / "keys", "127.0.0.1", NOW)
    pages = {"/": Sent("text/plain", b"here", None)}
    host = Host(pages, ("127.0.0.1", 0), trust.context)
    threading.Thread(target=host.serve_forever, args=(0.02,), daemon=True).start()
    yield trust, host
    host.shutdown()
    host.server_close()


def test_who_trusts_the_authority_reaches_the_host_and_nobody_else_does(host):
    trust, server = host
    address = f"https://127.0.0.1:{server.port}/"
    with urllib.request.urlopen(address, context=client(trust.authority)) as answer:
        assert answer.read() == b"here"
    with pytest.raises(urllib.error.URLError, match="CERTIFICATE_VERIFY_FAILED"):
        urllib.request.urlopen(address, context=ssl.create_default_context())
    with pytest.raises(urllib.error.URLError, match="CERTIFICATE_VERIFY_FAILED"):
        urllib.request.urlopen(
            f"https://localhost:{server.port}/", context=client(trust.authority)
        )


def test_the_same_name_keeps_its_certificate_and_another_one_gets_its_own(tmp_path):
    first = open_trust(tmp_path, "192.168.1.20", NOW)
    again = open_trust(tmp_path, "192.168.1.20", NOW + timedelta(days=1))
    assert again.fingerprint == first.fingerprint
    late = open_trust(tmp_path, "192.168.1.20", first.until)
    assert late.fingerprint != first.fingerprint
    other = open_trust(tmp_path, "clinic.local", NOW)
    assert other.fingerprint != late.fingerprint


def everything_in(folder):
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.parametrize(("name", "port"), [("192.168.1.77", 8443), ("old.local", 1)])
def test_another_name_or_port_is_refused_with_what_to_do_and_changes_nothing(
    tmp_path, name, port
):
    check_address(tmp_path, "old.local", 8443)
    open_trust(tmp_path, "old.local", NOW)
    before = everything_in(tmp_path)
    with pytest.raises(AddressChangedError) as refused:
        check_address(tmp_path, name, port)
    assert everything_in(tmp_path) == before
    for words in (
        "https://old.local:8443/",
        f"https://{name}:{port}/",
        "--name old.local --port 8443",
        "back up",
        "--new-address",
    ):
        assert words in refused.value.advice
    check_address(tmp_path, "old.local", 8443)


def test_a_new_address_that_is_asked_for_leaves_the_old_certificate_to_come_back_to(
    tmp_path,
):
    check_address(tmp_path, "old.local", 8443)
    old = open_trust(tmp_path, "old.local", NOW)
    check_address(tmp_path, "new.local", 8443, is_new=True)
    assert open_trust(tmp_path, "new.local", NOW).fingerprint != old.fingerprint
    with pytest.raises(AddressChangedError):
        check_address(tmp_path, "old.local", 8443)
    assert open_trust(tmp_path, "old.local", NOW).fingerprint == old.fingerprint


def test_serving_under_another_address_ends_before_a_certificate_is_made(
    tmp_path, monkeypatch
):
    build = tmp_path / "app"
    build.mkdir()
    for name in ("keeper.js", "index.html"):
        (build / name).write_text("")
    keys = tmp_path / "data" / "phone-host"
    check_address(keys, "old.local", 8443)
    monkeypatch.setattr("exam_app.cli.phone.own_address", lambda: "192.168.1.77")
    options = argparse.Namespace(
        way="serve", folder=build, name=None, port=8443, new_address=False
    )
    with pytest.raises(AddressChangedError):
        run_phone(options, tmp_path / "data")
    assert [path.name for path in keys.iterdir()] == ["address.txt"]


def test_no_authority_key_is_written_and_the_hosts_own_is_private(tmp_path):
    open_trust(tmp_path, "192.168.1.20", NOW)
    place = tmp_path / "192.168.1.20"
    names = sorted(path.name for path in place.iterdir())
    assert names == ["authority.crt", "host-key.pem", "host.pem"]
    assert (place / "host-key.pem").stat().st_mode & 0o077 == 0
    kept = b"".join(path.read_bytes() for path in place.iterdir())
    assert kept.count(b"PRIVATE KEY-----") == 2


def test_too_many_days_and_no_name_are_refused():
    for name, days in (("", 1), ("x", 0), ("x", LONGEST_DAYS + 1)):
        with pytest.raises(ValueError, match="days"):
            certify_host(name, NOW, days)
    made = certify_host("clinic.local", NOW, 30)
    assert certified_until(made.host, "other.local") is None


def test_steps_name_the_risk_and_the_hash_stands_on_the_computer_only(tmp_path):
    trust = open_trust(tmp_path, "192.168.1.20", NOW)
    said = spoken(trust, "192.168.1.20", 8443)
    for words in ("Android", "iPhone", trust.fingerprint, "pose", "not kept"):
        assert words in said
    page = trust_pages(trust, "192.168.1.20", 8443)["/"].content.decode()
    assert trust.fingerprint not in page


def test_the_code_in_the_terminal_is_the_address():
    text = "HTTPS://192.168.1.20:8443/"
    lines = terminal_code(text).splitlines()
    lit = {"█": (255, 255), "▀": (255, 0), "▄": (0, 255), " ": (0, 0)}
    rows = [bytes(lit[sign][half] for sign in ln) for ln in lines for half in (0, 1)]
    picture = Image.frombytes("L", (len(rows[0]), len(rows)), b"".join(rows))
    picture = picture.resize((picture.width * 8, picture.height * 8), 0)
    [found] = zxingcpp.read_barcodes(picture)
    assert found.text == text
