"""Load every screen, for the process that the tests' apps are forked from."""

import asyncio

from exam_app.ui.shell.routes import load_screens_gently

asyncio.run(load_screens_gently(0, 0))
