"""A wheel carries everything: it runs the demonstration from another folder."""

import os
import subprocess
import sys
import sysconfig
import urllib.request
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel of this checkout."""
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "pip", "wheel", "--no-deps", "-q"]
    subprocess.run(
        [*command, "--no-build-isolation", "-w", str(folder), str(ROOT)],
        check=True,
        timeout=120,
    )
    (built,) = folder.glob("*.whl")
    return built


def install(wheel: Path, folder: Path) -> Path:
    """Install the wheel alone; what it needs is lent by this environment.

    A path file lends the packages without their own path files, so that an editable
    install of the checkout is not lent with them.
    """
    venv.create(folder, with_pip=False, symlinks=os.name != "nt")
    paths = {"base": str(folder), "platbase": str(folder)}
    site = Path(sysconfig.get_path("purelib", "venv", vars=paths))
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)
    lent = sysconfig.get_path("purelib")
    (site / "lent.pth").write_text(f"{lent}\n")
    scripts = Path(sysconfig.get_path("scripts", "venv", vars=paths))
    return scripts / ("python.exe" if os.name == "nt" else "python")


@pytest.mark.slow
def test_wheel_runs_the_demonstration_from_another_folder(wheel, tmp_path):
    python = install(wheel, tmp_path / "fresh")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONPATH"}
    where = subprocess.run(
        [str(python), "-c", "import exam_app; print(exam_app.__file__)"],
        cwd=elsewhere,
        env=environment,
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    assert Path(where.stdout.strip()).is_relative_to(tmp_path / "fresh")
    with subprocess.Popen(
        [str(python), "-m", "exam_app", "--demo", "--no-browser"],
        cwd=elsewhere,
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        text=True,
    ) as app:
        try:
            printed = iter(app.stdout)
            address = next(line for line in printed if line.startswith("http://"))
            root = address.split("?")[0]
            found = {}
            for place in ("", "tab.js", "main.dart.js", "fonts/DejaVuSans.ttf"):
                with urllib.request.urlopen(root + place, timeout=30) as answer:
                    found[place] = answer.read()
        finally:
            app.terminate()
    assert b'src="tab.js"' in found[""]
    assert b"flutter_bootstrap.js" in found["tab.js"]
    assert min(len(found["main.dart.js"]), len(found["fonts/DejaVuSans.ttf"])) > 100_000


def test_wheel_names_the_command_and_carries_what_is_not_code(wheel):
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
        entry = next(n for n in names if n.endswith("entry_points.txt"))
        assert "exam-app = exam_app.__main__:main" in archive.read(entry).decode()
    assert "exam_app/_bundled/assets/fonts/DejaVuSans.ttf" in names
    assert "exam_app/_bundled/assets/fonts/LICENCE.txt" in names
    assert "sync/trust/words.txt" in names
    on_disk = {
        path.relative_to(ROOT).as_posix()
        for package in ("exam_app", "sync")
        for pattern in ("*.toml", "*.md", "*.py")
        for path in (ROOT / package).rglob(pattern)
    }
    assert not on_disk - set(names)
