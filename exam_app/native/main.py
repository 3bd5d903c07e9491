"""Start the app inside a native package for Android or iOS.

``flet build`` copies this folder alone and runs this file; everything else comes into
the package as the installed wheel (see ``[tool.flet]`` in ``pyproject.toml``).
"""

from exam_app.ui.server.native_page import start

if __name__ == "__main__":
    start()
