"""Change the web client that comes with its package, for a computer and for a phone.

The client is compiled code of another project. At its start it would fetch a script
of an animation part, which no screen here uses, from a content network; it names two
more for graphics and fonts, which are served here. The request is answered in the
client's own words, as it does where the script cannot be had, and the names are taken
out: what is served can then ask nobody else, whatever policy a browser follows. The
bootstrap is told how to draw. Every change of a script stands in one table here.
"""

import importlib
import json
import re
from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from typing import ClassVar

from exam_app.domain.errors import ExamError

# The client is compiled two ways: a browser takes the module where it runs it, else
# the script.
CLIENT_SCRIPT = "main.dart.js"
CLIENT_MODULE = "main.dart.wasm"
BOOTSTRAP = "flutter_bootstrap.js"
# Pyodide's own script: a phone's page runs Python, a computer's does not.
PYTHON_SCRIPT = "pyodide/pyodide.mjs"
_FOREIGN = re.compile(
    r"https://(?:cdn\.jsdelivr\.net|www\.gstatic\.com|fonts\.gstatic\.com|"
    r"raw\.githubusercontent\.com)(?=/)"
)


class ServedTo(Enum):
    """What the client is served to: the page of a computer's app, or a phone's."""

    COMPUTER = "computer"
    PHONE = "phone"


@dataclass(frozen=True, slots=True)
class _Change:
    """A passage that stands once in a script of the client, and what is served there.

    Attributes:
        name: Of the script.
        pattern: Of the passage, as a regular expression without groups.
        served: In its place.
        to: Where; None for both.
    """

    name: str
    pattern: str
    served: str = ""
    to: ServedTo | None = None


def _option(option: str, to: ServedTo) -> _Change:
    """Make the change that adds an option to the engine's configuration."""
    begin = "var flutterConfig = {\n"
    return _Change(BOOTSTRAP, re.escape(begin), f"{begin}    {option},\n", to)


_SCRIPT_CHANGES = (
    # The step that loads the animation part, in the compiled form of an awaited call:
    # it becomes the step that follows a part which was not found.
    _Change(
        CLIENT_SCRIPT,
        r"case 0:s=3\nreturn A\.\w+\(A\.\w+\("
        r'"wasm/rive_native\.js","RiveNative"\),\$async\$\w+\)\n',
        "case 0:q=null\ns=1\nbreak\n",
    ),
    # In an isolated page the module would draw in a thread of its own, later than its
    # labels say: it draws before it goes on, in the thread that hears taps and keys.
    _option("forceSingleThreadedSkwasm: true", ServedTo.COMPUTER),
    # Of the graphics parts for scripts, the one that every browser runs.
    _option('canvasKitVariant: "full"', ServedTo.PHONE),
    _Change(
        BOOTSTRAP,
        r"(?s)    serviceWorkerSettings: \{.*?\n    \},\n",
        to=ServedTo.PHONE,
    ),
    # Ours goes once Python runs, not when the empty page is drawn.
    _Change(
        BOOTSTRAP,
        r"(?s)window\.addEventListener\('flutter-first-frame'.*?"
        r"\}, \{ once: true \}\);\n",
        to=ServedTo.PHONE,
    ),
    # Where it would look for packages that are not kept: all are in the archive.
    _Change(PYTHON_SCRIPT, r"https://cdn\.jsdelivr\.net", to=ServedTo.PHONE),
)
# A name inside the module is written after its length, and its place is taken by one as
# long: a script that says nothing, and the folder whose fonts are answered here.
_NAMES_INSIDE = (
    (
        b"https://cdn.jsdelivr.net/npm/@rive-app/flutter-native-wasm@44.0.0/",
        b"data:text/javascript,//",
        b"/",
    ),
    (b"https://fonts.gstatic.com/s/", b"/assets/fonts/", b"/"),
)
# Of the fonts that lie in the client, those that a screen of ours is drawn with.
FONT_LIST = "assets/FontManifest.json"
_FONTS = (
    ("MaterialIcons", "fonts/MaterialIcons-Regular.otf"),
    ("Roboto", "fonts/roboto.woff2"),
)


class ClientChangedError(ExamError):
    """The installed web client is not the one this app was written for."""

    advice: ClassVar[str] = (
        "The installed web client is another version than the one this app was tried "
        "with. Nothing was changed. Install the app again, with its own versions."
    )


def client_folder() -> Path:
    """Find the web client in its own package."""
    package = importlib.import_module("flet_web")
    return Path(package.get_package_web_dir())


def font_list() -> str:
    """Write the list of fonts that the client loads at its start."""
    fonts = [{"family": name, "fonts": [{"asset": place}]} for name, place in _FONTS]
    return json.dumps(fonts)


def changed_scripts(to: ServedTo) -> tuple[str, ...]:
    """Return the names of the client's scripts that are not served as installed."""
    found = (one.name for one in _SCRIPT_CHANGES if one.to in (None, to))
    return tuple(dict.fromkeys(found))


def script_served(name: str, script: str, to: ServedTo) -> str:
    """Return a script of the client as it is served: it asks no content network.

    Args:
        name: One of ``changed_scripts``.
        script: Its text as installed.
        to: What it is served to.

    Raises:
        ClientChangedError: What is changed here is not in it once.
    """
    for change in _SCRIPT_CHANGES:
        if change.name == name and change.to in (None, to):
            before, *passages = re.split(change.pattern, script)
            if len(passages) != 1:
                raise ClientChangedError(Path(name).name)
            script = before + change.served + passages[0]
    return _FOREIGN.sub("", script)


def module_without_foreign_requests(module: bytes) -> bytes:
    """Take the content networks out of the client's compiled module.

    Args:
        module: ``CLIENT_MODULE`` as installed.

    Raises:
        ClientChangedError: What is changed here is not in it once.
    """
    for foreign, start, end in _NAMES_INSIDE:
        own = start + b"-" * (len(foreign) - len(start) - len(end)) + end
        if module.count(foreign) != 1:
            raise ClientChangedError(CLIENT_MODULE)
        module = module.replace(foreign, own)
    return module
