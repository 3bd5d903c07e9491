"""Put the app's own code and its packages into the archive that the page unpacks.

The same code gives the same bytes: names sorted, no times, one compression. There is
no list of requirements in it, since the page would ask an index for them.
"""

import zipfile
from collections.abc import Iterable, Iterator
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parents[1]
# Started by the page. Where tests need other costs or folders they give their own.
START = "from exam_app.ui.server.phone_page import start\n\nstart()\n"
_LEFT_OUT = ("phone/", "native/", "__main__.py", "_bundled/")
_UNUSED_ENDINGS = (".dart", ".pyi", ".c", ".h", ".pyx", ".pxd", ".so.map", "/RECORD")
_NO_TIME = (1980, 1, 1, 0, 0, 0)


def write_archive(target: Path, wheels: Iterable[Path], start: str = START) -> None:
    """Write the archive.

    Args:
        target: The file to make.
        wheels: Unpacked into the archive, tests and sources of native parts left out.
        start: The text of the module that the page runs.
    """
    members: dict[str, bytes] = {"phone_start.py": start.encode()}
    members.update(_own_code())
    for wheel in wheels:
        members.update(_unpacked(wheel))
    with zipfile.ZipFile(target, "w") as archive:
        for name in sorted(members):
            entry = zipfile.ZipInfo(name, _NO_TIME)
            entry.external_attr = 0o644 << 16
            entry.create_system = 3
            archive.writestr(entry, members[name], zipfile.ZIP_DEFLATED, 9)


def _own_code() -> Iterator[tuple[str, bytes]]:
    for package in (_PACKAGE, _sync_package()):
        for path in package.rglob("*"):
            inside = path.relative_to(package).as_posix()
            is_code = path.suffix in (".py", ".toml") and path.is_file()
            if is_code and not inside.startswith(_LEFT_OUT):
                yield f"{package.name}/{inside}", path.read_bytes()


def _sync_package() -> Path:
    import sync  # noqa: PLC0415  only its place is wanted

    return Path(sync.__path__[0]).resolve()


def _unpacked(wheel: Path) -> Iterator[tuple[str, bytes]]:
    with zipfile.ZipFile(wheel) as packed:
        for name in packed.namelist():
            is_unused = name.endswith(_UNUSED_ENDINGS) or "/tests/" in name
            if not name.endswith("/") and not is_unused:
                yield f"__pypackages__/{name}", packed.read(name)
