"""The least that Flet can answer a tap with: one button that changes one text.

What it takes is the floor: no app on this machine and in this browser is faster.
"""

import socket

import flet as ft
import flet_web.fastapi as flet_fastapi
import uvicorn


async def main(page: ft.Page) -> None:
    """Count taps, under the names by which the exam's screen is watched."""
    count = ft.Text("0")

    def tapped() -> None:
        count.value = str(int(count.value) + 1)
        count.update()

    page.add(
        ft.Semantics(identifier="exam-progress", content=count, container=True),
        ft.Semantics(
            identifier="floor",
            content=ft.FilledButton("Tap", on_click=tapped),
            container=True,
        ),
    )


if __name__ == "__main__":
    bound = socket.socket()
    bound.bind(("127.0.0.1", 0))
    # A page that comes before the server is up waits for it.
    bound.listen()
    app = flet_fastapi.app(main, no_cdn=True)
    server = uvicorn.Server(uvicorn.Config(app, log_level="warning"))
    print(f"http://127.0.0.1:{bound.getsockname()[1]}/", flush=True)
    server.run(sockets=[bound])
