"""The folder that a phone fetches: whole, checked, reproducible, and nothing foreign.

The web client is the installed package's; the wheels of the browser are left out here
and come in where the package index is asked for (``tests/browser/test_phone.py``).
"""

import base64
import hashlib
import html
import json
import re
import threading
import urllib.error
import urllib.request
import zipfile
from pathlib import Path

import pytest
from PIL import Image

from exam_app.phone import building
from exam_app.phone.building import (
    LIST,
    POLICY,
    build_app,
    most_fetched,
    sent_sizes,
)
from exam_app.phone.errors import FolderInTheWayError, NoBuildError
from exam_app.phone.serving import Host, read_build

MANIFEST = Path(building.__file__).with_name("static") / "manifest.json"


def files_of(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """A build without the wheels."""
    patch = pytest.MonkeyPatch()
    patch.setattr(building, "fetch_wheels", lambda _: [])
    folder = tmp_path_factory.mktemp("phone")
    yield build_app(folder / "app", lambda _: None)
    patch.undo()


@pytest.mark.slow
def test_the_same_sources_give_the_same_bytes_and_a_build_replaces_a_build(built):
    first = files_of(built.folder)
    again = build_app(built.folder, lambda _: None)
    assert again.release == built.release
    assert files_of(built.folder) == first


def test_a_folder_with_other_files_is_left_alone(tmp_path):
    (tmp_path / "letter.txt").write_text("dear")
    with pytest.raises(FolderInTheWayError):
        build_app(tmp_path, lambda _: None)
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_the_keeper_names_every_file_with_its_hash(built):
    files = files_of(built.folder)
    keeper = files.pop("keeper.js").decode()
    named = json.loads(re.search(r"const FILES = (\{.*?\});", keeper, re.S)[1])
    digests = {
        name: "sha256-" + base64.b64encode(hashlib.sha256(content).digest()).decode()
        for name, content in files.items()
    }
    assert named == digests


@pytest.mark.slow
def test_a_phone_keeps_the_client_for_its_browser_and_not_the_other(built):
    keeper = (built.folder / "keeper.js").read_text()
    ways = json.loads(re.search(r"const DRAWN_BY = (\{.*?\});", keeper, re.S)[1])
    files = files_of(built.folder)
    only = [name for names in ways.values() for name in names]
    assert len(only) == len(set(only))
    drawing = {n for n in files if n.startswith(("canvaskit/", "main.dart."))}
    assert drawing == set(only)
    sent = sent_sizes(built.folder)
    assert sent.keys() == files.keys()
    for names in ways.values():
        left_out = sum(sent[n] for n in only if n not in names)
        assert sum(sent.values()) - left_out <= most_fetched(sent)


def test_the_keeper_says_the_release_that_the_build_printed(built):
    keeper = (built.folder / "keeper.js").read_text()
    said = re.search(r'const RELEASE = "([0-9a-f]{12})";', keeper)[1]
    assert said == built.release
    unsaid = keeper.replace(said, "__RELEASE__")
    assert hashlib.sha256(unsaid.encode()).hexdigest()[:12] == said
    assert "release" not in files_of(built.folder)


def test_the_page_runs_own_files_only_and_asks_no_other_host(built):
    page = (built.folder / "index.html").read_text()
    meta = re.search(r'Content-Security-Policy" content="([^"]*)"', page)[1]
    assert html.unescape(meta) == POLICY
    assert "http" not in POLICY
    assert "unsafe-eval" not in POLICY.replace("'wasm-unsafe-eval'", "")
    assert "unsafe-inline" not in POLICY.partition("style-src")[0]
    assert not re.search(r"<script>|\son\w+=", page)
    # Hashes are left out: base64 has two slashes in a row by chance, once in fifty.
    told = re.compile(r"(?m)^\s*//.*$|sha256-[A-Za-z0-9+/=]+")
    for name in ("index.html", "start.js", "keeper.js", "manifest.json"):
        assert "//" not in told.sub("", (built.folder / name).read_text())


def test_nothing_of_the_web_client_names_a_content_network(built):
    # The reader of codes names one as a place of last resort; its own is given to it.
    for name, content in files_of(built.folder).items():
        if name != "zxing_reader.js" and name.endswith(
            (".js", ".mjs", ".html", ".json", "main.dart.wasm")
        ):
            found = re.findall(rb"https?://[^/ ]*(?:jsdelivr|gstatic|unpkg)", content)
            assert not found, name


def test_the_archive_asks_no_index_and_carries_the_app_without_its_builder(built):
    with zipfile.ZipFile(built.folder / "app.zip") as archive:
        names = archive.namelist()
    assert not {"requirements.txt", "pyproject.toml"} & set(names)
    own = {"exam_app/ui/shell/app.py", "sync/bundle/bundle.py", "sync/trust/words.txt"}
    assert {"phone_start.py", *own} <= set(names)
    assert not [n for n in names if n.startswith("exam_app/phone/")]
    assert names == sorted(names)


def test_every_wheel_is_named_with_version_and_hash():
    lines = [n for n in LIST.read_text().splitlines() if n and not n.startswith("#")]
    for line in lines:
        assert re.fullmatch(r"[a-z0-9-]+==[0-9.]+ --hash=sha256:[0-9a-f]{64}", line)
    assert {"flet==1.0.5"} <= {line.split()[0] for line in lines}


@pytest.mark.parametrize("icon", json.loads(MANIFEST.read_text())["icons"])
def test_the_sign_is_a_picture_that_a_launcher_can_cut(icon):
    picture = Image.open(MANIFEST.parent / icon["src"])
    side = picture.width
    assert f"{side}x{picture.height}" == icon["sizes"]
    is_maskable = icon["purpose"] == "maskable"
    assert picture.getpixel((0, 0))[3] == (255 if is_maskable else 0)
    assert picture.getpixel((side // 2, side // 12)) == (11, 74, 102, 255)
    row = [picture.getpixel((x, side * 34 // 64))[:3] for x in range(side)]
    lit = [x for x, colour in enumerate(row) if colour == (255, 255, 255)]
    # The middle 80 % stay visible when a launcher cuts a circle.
    assert lit
    assert side * 0.1 < min(lit) < max(lit) < side * 0.9


@pytest.mark.slow
def test_a_host_gives_out_the_build_and_nothing_else(built):
    host = Host(read_build(built.folder), ("127.0.0.1", 0))
    threading.Thread(target=host.serve_forever, args=(0.02,), daemon=True).start()
    try:
        root = f"http://127.0.0.1:{host.port}"
        with urllib.request.urlopen(f"{root}/") as answer:
            assert answer.read() == (built.folder / "index.html").read_bytes()
        for path in ("/../pyproject.toml", "/%2e%2e/etc/passwd", "/assets", "/x"):
            with pytest.raises(urllib.error.HTTPError, match="404") as refusal:
                urllib.request.urlopen(root + path)
            refusal.value.close()
    finally:
        host.shutdown()
        host.server_close()


def test_a_folder_without_a_build_is_not_given_out(tmp_path):
    with pytest.raises(NoBuildError):
        read_build(tmp_path)
