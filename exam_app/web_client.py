"""Take the content networks out of the web client that comes with its package.

The client is compiled code of another project. At its start it would fetch a script
of an animation part, which no screen here uses, from a content network; it names two
more for graphics and fonts, which are served here. The request is answered in the
client's own words, as it does where the script cannot be had, and the names are taken
out: what is served can then ask nobody else, whatever policy a browser follows.
"""

import importlib
import json
import re
from pathlib import Path
from typing import ClassVar

from exam_app.domain.errors import ExamError

# The client is compiled two ways: a browser takes the module where it runs it, else
# the script.
CLIENT_SCRIPT = "main.dart.js"
CLIENT_MODULE = "main.dart.wasm"
BOOTSTRAP = "flutter_bootstrap.js"
# The step that loads the part, in the compiled form of an awaited call: it becomes the
# step that follows a part which was not found.
_PART_ASKED_FOR = re.compile(
    r"case 0:s=3\nreturn A\.\w+\(A\.\w+\("
    r'"wasm/rive_native\.js","RiveNative"\),\$async\$\w+\)\n'
)
_PART_MISSING = "case 0:q=null\ns=1\nbreak\n"
_FOREIGN = re.compile(
    r"https://(?:cdn\.jsdelivr\.net|www\.gstatic\.com|fonts\.gstatic\.com|"
    r"raw\.githubusercontent\.com)(?=/)"
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


def without_foreign_requests(name: str, script: str) -> str:
    """Take out of a script of the client what would ask a content network.

    Args:
        name: ``CLIENT_SCRIPT`` or ``BOOTSTRAP``.
        script: Its text as installed.

    Raises:
        ClientChangedError: What is changed here is not in it once.
    """
    if name == CLIENT_SCRIPT:
        script, count = _PART_ASKED_FOR.subn(_PART_MISSING, script)
        if count != 1:
            raise ClientChangedError(name)
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


def drawn_at_once(bootstrap: str) -> str:
    """Have the module draw before it goes on, in the thread that hears taps and keys.

    In an isolated page it would draw in a thread of its own, later than it says.

    Args:
        bootstrap: ``BOOTSTRAP`` as installed.

    Raises:
        ClientChangedError: What is changed here is not in it once.
    """
    begin = "var flutterConfig = {\n"
    if bootstrap.count(begin) != 1:
        raise ClientChangedError(BOOTSTRAP)
    return bootstrap.replace(begin, f"{begin}    forceSingleThreadedSkwasm: true,\n")
