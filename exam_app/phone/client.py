"""Copy the web client out of its own package, without what a phone does not use.

The client and its Python come from one installed package; nothing is compiled here
and no content network is named. Its own service worker is left out, and its bootstrap
is told to use the one graphics part that every browser runs.
"""

import json
import re
import shutil
from collections.abc import Callable
from pathlib import Path

from exam_app.web_client import (
    BOOTSTRAP,
    CLIENT_SCRIPT,
    ClientChangedError,
    client_folder,
    without_foreign_requests,
)

_LEFT_OUT = (
    "*.map",
    "index.html",
    "manifest.json",
    "favicon.png",
    "flutter.js",
    "flutter_service_worker.js",
    "main.dart.mjs",
    "main.dart.wasm",
    "icons",
    "canvaskit/*.symbols",
    "canvaskit/chromium",
    "canvaskit/experimental_webparagraph",
    "canvaskit/skwasm*",
    "canvaskit/wimp*",
    "assets/packages/cupertino_icons",
    "assets/packages/flutter_map",
    "assets/packages/flutter_math_fork",
    "assets/packages/media_kit",
    "assets/packages/record_web",
    "python.js",
    "python-worker.js",
    "pyodide/*.d.ts",
    "pyodide/*.whl",
    "pyodide/pyodide.js",
    "pyodide/python",
    "pyodide/python.bat",
    "pyodide/python.exe",
    "pyodide/python_cli_entry.mjs",
)
_FONTS = (
    ("MaterialIcons", "fonts/MaterialIcons-Regular.otf"),
    ("Roboto", "fonts/roboto.woff2"),
)
_OWN_WORKER = re.compile(r"    serviceWorkerSettings: \{.*?\n    \},\n", re.DOTALL)
_FIRST_FRAME = re.compile(
    r"window\.addEventListener\('flutter-first-frame'.*?\}, \{ once: true \}\);\n",
    re.DOTALL,
)
_PACKAGE_HOST = "https://cdn.jsdelivr.net"
_CONFIGURED = "var flutterConfig = {\n"
_ONE_GRAPHICS_PART = _CONFIGURED + '    canvasKitVariant: "full",\n'


def copy_client(target: Path) -> None:
    """Copy the web client into a folder that does not exist yet.

    Raises:
        ClientChangedError: A part that is changed here is not as expected.
        OSError: The system refused.
    """
    shutil.copytree(client_folder(), target)
    for pattern in _LEFT_OUT:
        found = list(target.glob(pattern))
        if not found:
            raise ClientChangedError(pattern)
        for path in found:
            shutil.rmtree(path) if path.is_dir() else path.unlink()
    fonts = [{"family": n, "fonts": [{"asset": place}]} for n, place in _FONTS]
    (target / "assets/FontManifest.json").write_text(json.dumps(fonts), "utf-8")
    bootstrap = target / BOOTSTRAP
    _change(bootstrap, lambda text: _OWN_WORKER.subn("", text))
    _change(
        bootstrap,
        lambda text: (
            text.replace(_CONFIGURED, _ONE_GRAPHICS_PART),
            text.count(_CONFIGURED),
        ),
    )
    # Ours goes once Python runs, not when the empty page is drawn.
    _change(bootstrap, lambda text: _FIRST_FRAME.subn("", text))
    for script in (target / CLIENT_SCRIPT, bootstrap):
        text = script.read_text("utf-8")
        script.write_text(without_foreign_requests(script.name, text), "utf-8")
    # Where it would look for packages that are not kept: all are in the archive.
    _change(
        target / "pyodide" / "pyodide.mjs",
        lambda text: (text.replace(_PACKAGE_HOST, ""), text.count(_PACKAGE_HOST)),
    )


def _change(path: Path, change: Callable[[str], tuple[str, int]]) -> None:
    changed, count = change(path.read_text("utf-8"))
    if count != 1:
        raise ClientChangedError(path.name)
    path.write_text(changed, "utf-8")
