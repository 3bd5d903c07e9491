"""What runs inside a native package, under this computer's own page instead.

The folder that the system would give the app is the one of ``--data``.
"""

import asyncio
import sys

from exam_app.ui.server.local_server import bind_loopback, build_server
from exam_app.ui.server.native_page import STORAGE, native_main


async def run(folder: str) -> None:
    """Serve the native page until the process ends."""
    server = build_server(native_main({STORAGE: folder}), bind_loopback(0))

    async def show() -> None:
        sys.stdout.write(f"{server.guard.new_address()}\n")
        sys.stdout.flush()

    await server.run(show)


if __name__ == "__main__":
    asyncio.run(run(sys.argv[sys.argv.index("--data") + 1]))
