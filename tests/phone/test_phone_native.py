"""Native packages as far as they can be checked where none can be built.

The keys below were read in the sources of flet-cli 1.0.5 (``commands/build_base.py``
and ``commands/build.py``), each where ``get_pyproject`` or ``get_platform_setting``
asks for it. Another version of Flet needs another reading.
"""

import struct
import tomllib
import zlib
from importlib.metadata import version
from pathlib import Path

import pytest
from cryptography.exceptions import UnsupportedAlgorithm
from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet

from exam_app.crypto import door, native
from exam_app.crypto.errors import DerivationMissingError
from exam_app.store.engine import files
from exam_app.store.engine.files import FolderLock
from exam_app.store.errors import VaultInUseError
from exam_app.ui.server.native_page import (
    STORAGE,
    NoAppFolderError,
    native_main,
    own_folder,
)

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
FLET = PROJECT["tool"]["flet"]
READ_FROM = "1.0.5"
# Keys under [tool.flet] alone; those of a platform's table; those that a platform's
# table may have and [tool.flet] too; tables with free names.
READ_GLOBAL = {
    "product", "company", "copyright", "build_number", "permissions",
    "app.path", "app.module", "template.url", "template.ref", "template.dir",
    "splash.android", "splash.ios", "splash.web", "flutter.pubspec",
    "deep_linking.scheme", "deep_linking.host",
}  # fmt: skip
READ_PLATFORM = {
    "dependencies",
    "android.adaptive_icon_background", "android.legacy_packaging",
    "android.proguard_default_rules", "android.proguard_rules",
    "android.split_per_abi", "android.signing.key_alias",
    "android.signing.key_store", "ios.export_method", "ios.export_methods",
    "ios.export_options", "ios.provisioning_profile", "ios.signing_certificate",
    "ios.team_id",
}  # fmt: skip
READ_BOTH = {
    "artifact", "bundle_id", "org", "icon_background", "target_arch",
    "app.exclude", "app.include", "app.default_excludes", "source_packages",
    "extract_packages", "compile.app", "compile.packages", "cleanup.app",
    "cleanup.packages", "cleanup.app_files", "cleanup.package_files",
    "flutter.build_args", "splash.color", "splash.dark_color",
    "splash.icon_background", "splash.icon_dark_background", "splash.icon_fit",
}  # fmt: skip
FREE = (
    "dev_packages", "boot_screen", "android.permission", "android.feature",
    "android.meta_data", "android.provider", "android.gradle_properties", "ios.info",
)  # fmt: skip
PLATFORMS = ("android", "ios")


def keys(table, before=""):
    for name, value in table.items():
        path = f"{before}{name}"
        if isinstance(value, dict) and path not in FREE:
            yield from keys(value, f"{path}.")
        else:
            yield path


def is_read(key):
    platform, _, rest = key.partition(".")
    if platform in PLATFORMS and rest in READ_BOTH | READ_PLATFORM:
        return True
    return key in READ_GLOBAL | READ_BOTH | READ_PLATFORM - {"dependencies"} or (
        key in FREE
    )


@pytest.mark.parametrize("key", sorted(keys(FLET)))
def test_flet_build_reads_every_key_that_is_configured(key):
    assert is_read(key)


@pytest.mark.parametrize("key", ["dependencies", "app.modul", "androidd.org", "path"])
def test_a_key_that_flet_build_does_not_read_is_found(key):
    assert not is_read(key)


def test_the_keys_were_read_in_the_sources_of_the_installed_version():
    assert version("flet") == READ_FROM
    assert f"flet=={READ_FROM}" in PROJECT["project"]["dependencies"]


def test_the_file_that_is_run_lies_alone_in_the_folder_that_is_copied():
    folder = ROOT / FLET["app"]["path"]
    assert (folder / f"{FLET['app']['module']}.py").is_file()
    copied = {
        path.relative_to(folder).as_posix()
        for path in folder.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert copied == {"__init__.py", "main.py", "assets/icon.png"}


@pytest.mark.parametrize("platform", PLATFORMS)
def test_everything_else_comes_in_as_the_wheel_of_this_project(platform):
    name = PROJECT["project"]["name"]
    assert FLET[platform]["dependencies"] == [name]
    assert FLET["dev_packages"] == {name: "."}
    assert FLET["source_packages"] == [name]


def dependencies_on(system):
    """Resolve the markers as the packager's pip does: it changes the system's name."""
    wanted = map(Requirement, PROJECT["project"]["dependencies"])
    return {
        each.name: each.specifier
        for each in wanted
        if each.marker is None or each.marker.evaluate({"platform_system": system})
    }


@pytest.mark.parametrize("system", ["Android", "iOS"])
def test_a_native_package_brings_no_server_and_no_camera(system):
    left_out = dependencies_on("Linux").keys() - dependencies_on(system).keys()
    assert left_out == {"flet-web", "flet-camera", "uvicorn", "fastapi", "websockets"}


def test_the_package_asks_for_no_network_and_for_nothing_else():
    assert FLET["android"]["permission"] == {"android.permission.INTERNET": False}
    assert "permissions" not in FLET
    assert "info" not in FLET["ios"]


def test_cryptography_of_flets_index_fits_on_python_3_14_only():
    # By Flet's documentation: 48.0.0 for Python 3.14, 43.0.1 for older ones, which
    # has no Argon2id (added in 44.0.0 by the changelog of cryptography).
    allowed = dependencies_on("Android")["cryptography"]
    assert "48.0.0" in allowed
    assert "43.0.1" not in allowed
    assert "3.14.0" in SpecifierSet(PROJECT["project"]["requires-python"])


@pytest.mark.slow
def test_the_icon_is_the_apps_own_sign():
    content = (ROOT / FLET["app"]["path"] / "assets/icon.png").read_bytes()
    page = ROOT / "exam_app/phone/static/icons/exam-maskable-512.png"
    large, small = map(opaque_pixels, (content, page.read_bytes()))
    assert (len(large), len(small)) == (1024, 512)
    # The middle of each small pixel; where both are a pure colour they must agree.
    pure = {(11, 74, 102), (255, 255, 255)}
    agreed = 0
    for y, row in enumerate(small):
        for x, colour in enumerate(row):
            other = large[y * 2 + 1][x * 2 + 1]
            if {colour, other} <= pure:
                assert colour == other
                agreed += 1
    assert agreed > 200_000


def opaque_pixels(content):
    """Read a picture of ours: RGBA, rows without a filter, nothing clear."""
    side = struct.unpack(">I", content[16:20])[0]
    at = content.index(b"IDAT")
    length = struct.unpack(">I", content[at - 4 : at])[0]
    raw = zlib.decompress(content[at + 4 : at + 4 + length])
    rows = [raw[n * (4 * side + 1) : (n + 1) * (4 * side + 1)] for n in range(side)]
    assert {row[0] for row in rows} == {0}
    assert {alpha for row in rows for alpha in row[4::4]} == {255}
    return [[tuple(row[1 + 4 * x : 4 + 4 * x]) for x in range(side)] for row in rows]


def test_the_exams_lie_in_the_folder_that_the_system_gives_the_app(tmp_path):
    folder = own_folder({STORAGE: str(tmp_path / "files")})
    assert folder == tmp_path / "files/exams"
    assert folder.stat().st_mode & 0o777 == 0o700


def test_without_a_folder_of_its_own_the_app_keeps_nothing_anywhere():
    with pytest.raises(NoAppFolderError):
        own_folder({})


def test_a_folder_that_cannot_be_made_is_refused_in_words(tmp_path):
    (tmp_path / "files").write_text("in the way")
    with pytest.raises(NoAppFolderError):
        own_folder({STORAGE: str(tmp_path / "files")})


async def test_a_flush_goes_through_the_drives_own_cache_on_apples_phones_too(
    tmp_path, monkeypatch
):
    # fcntl(2) of Apple's systems: F_FULLFSYNC is 51; Python calls iOS "ios".
    asked = []
    monkeypatch.setattr(files.sys, "platform", "ios")
    monkeypatch.setattr(files.fcntl, "F_FULLFSYNC", 51, raising=False)
    monkeypatch.setattr(files.fcntl, "fcntl", lambda _, command: asked.append(command))
    file = await files.open_file(tmp_path / "vault.a")
    file.flush()
    file.close()
    assert asked == [51]


def test_a_second_copy_of_the_app_is_refused(tmp_path):
    folder = own_folder({STORAGE: str(tmp_path)})
    lock = FolderLock(folder)
    with pytest.raises(VaultInUseError):
        own_folder({STORAGE: str(tmp_path)})
    lock.release()
    assert own_folder({STORAGE: str(tmp_path)}) == folder


async def test_a_refusal_is_shown_in_the_place_of_an_empty_page():
    page = ShownPage()
    await native_main({})(page)
    assert page.title == "Exam"
    assert len(page.controls) == 1


async def test_a_library_without_argon2id_is_refused_before_any_folder_is_made(
    tmp_path, monkeypatch
):
    # cryptography says so where its OpenSSL is older than 3.2, by its documentation.
    def refuse(**_):
        raise UnsupportedAlgorithm("argon2id")

    monkeypatch.setattr(native, "Argon2id", refuse)
    with pytest.raises(DerivationMissingError):
        await door.derive_key(b"", bytes(16), door.KeyDerivation())
    page = ShownPage()
    await native_main({STORAGE: str(tmp_path / "files")})(page)
    assert len(page.controls) == 1
    assert not (tmp_path / "files").exists()


class ShownPage:
    """What a page is to a refusal: a place for controls."""

    def __init__(self):
        self.controls = []

    def add(self, *controls):
        self.controls += controls
