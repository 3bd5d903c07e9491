"""Write the content security policy of the local page.

Scripts: our own files, the inline scripts of the very page served (by hash), and
compiled WebAssembly; nothing else runs. Connections: this server only.
"""

import base64
import hashlib
import re
from collections.abc import Iterable

_INLINE_SCRIPT = re.compile(rb"<script>(.*?)</script>", re.DOTALL)


def script_hashes(page: bytes) -> list[str]:
    """Hash every inline script of a page, in order, as a policy names them."""
    digests = (hashlib.sha256(s).digest() for s in _INLINE_SCRIPT.findall(page))
    return [f"'sha256-{base64.b64encode(d).decode()}'" for d in digests]


def content_policy(host: str, hashes: Iterable[str]) -> str:
    """Write the policy: our own files, the hashed scripts, compiled WebAssembly.

    Styles may be inline, since the page writes its positions that way.
    """
    scripts = " ".join(["'self'", *hashes, "'wasm-unsafe-eval'"])
    return (
        f"default-src 'none'; script-src {scripts}; style-src 'self' 'unsafe-inline'; "
        f"connect-src 'self' ws://{host} blob: data:; img-src 'self' blob: data:; "
        "font-src 'self' data:; media-src 'self' blob: data:; "
        "worker-src 'self' blob:; manifest-src 'self'; object-src 'none'; "
        "base-uri 'self'; form-action 'none'; frame-ancestors 'none'"
    )
