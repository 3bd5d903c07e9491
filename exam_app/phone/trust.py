"""Keep the host's certificate, and say in words what trusting it means.

Phones keep exams under the host's name and port, so both are written down at the first
serving, and another address is refused until somebody asks for it. Each name has its
certificate in a folder of its own: none is ever written over for another name.
"""

import hashlib
import re
import ssl
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from exam_app.crypto.local_authority import certified_until, certify_host
from exam_app.phone.errors import AddressChangedError, BuildFolderUnwritableError

DAYS = 180
_AUTHORITY, _HOST, _KEY = "authority.crt", "host.pem", "host-key.pem"
_ADDRESS = "address.txt"

STEPS = """\
On the phone, once (both in the clinic's own network):
1. Open {plain} and fetch the certificate there.
2. Compare its SHA-256 with this one before you trust it:
   {fingerprint}
   Android: Settings > Security > Install a certificate > CA certificate.
   iPhone: Settings > Profile downloaded > Install; then General > About >
   Certificate Trust Settings > switch it on.
   (Menus differ between versions; these are from memory.)
3. Open {address} and wait until the app has started.
4. Put it on the home screen (browser menu > Install or Add to Home Screen) and
   start it once from there.
Then this host can end: the app starts without it.

What trusting it means: the phone believes this computer when it says it is {name},
until {until}, and believes it about nothing else. The key that signed was not kept, so
nobody can sign more. Whoever copies the host's own key from this computer could pose
as {name} to this phone and give it another app under this address: keep the folder
private, and take the certificate off the phone when it is no longer needed. The
first fetch goes over the local network in the open; comparing the SHA-256 is what
protects it.
"""


@dataclass(frozen=True, slots=True, repr=False)
class Trust:
    """A host's certificate on disk.

    Attributes:
        authority: What phones are to trust, DER.
        until: When it ends.
        context: For https.
    """

    authority: bytes
    until: datetime
    context: ssl.SSLContext

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the authority's certificate, as phones show it."""
        return hashlib.sha256(self.authority).digest().hex(":").upper()


def check_address(folder: Path, name: str, port: int, *, is_new: bool = False) -> None:
    """Hold the host to the address that phones know, and write a first one down.

    Args:
        folder: Of all this host's certificates; made if missing.
        name: The address or name in the address bar.
        port: Behind it.
        is_new: Whether somebody asked for another address than before.

    Raises:
        AddressChangedError: It is another one; nothing was changed.
        BuildFolderUnwritableError: The folder cannot be written.
    """
    place, found = folder / _ADDRESS, f"{name}:{port}"
    try:
        _make_private(folder)
        known = place.read_text("utf-8").strip() if place.is_file() else ""
        if known and known != found and not is_new:
            raise AddressChangedError(known, found)
        place.write_text(f"{found}\n", "utf-8")
    except OSError as error:
        raise BuildFolderUnwritableError(str(folder)) from error


def open_trust(folder: Path, name: str, now: datetime) -> Trust:
    """Read the certificate for a name, or make one if there is none that is good.

    The folder of all this host's certificates is made if it is missing, readable by
    its owner only; the name stands in the address bar; ``now`` has its time zone.

    Raises:
        BuildFolderUnwritableError: The folder cannot be written.
    """
    folder = folder / re.sub(r"[^A-Za-z0-9.-]", "_", name)
    try:
        _make_private(folder)
        until = _kept_until(folder, name)
        if until is None or until <= now:
            until = _make(folder, name, now)
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.minimum_version = ssl.TLSVersion.TLSv1_2
        context.load_cert_chain(folder / _HOST, folder / _KEY)
        return Trust((folder / _AUTHORITY).read_bytes(), until, context)
    except OSError as error:
        raise BuildFolderUnwritableError(str(folder)) from error


def _make_private(folder: Path) -> None:
    # Every folder that is made on the way, not the last one alone: the one above is
    # where the exams will lie.
    missing = [place for place in (folder, *folder.parents) if not place.exists()]
    for place in reversed(missing):
        place.mkdir(mode=0o700, exist_ok=True)
    folder.chmod(0o700)


def _kept_until(folder: Path, name: str) -> datetime | None:
    if not all((folder / part).is_file() for part in (_AUTHORITY, _HOST, _KEY)):
        return None
    return certified_until((folder / _HOST).read_bytes(), name)


def _make(folder: Path, name: str, now: datetime) -> datetime:
    made = certify_host(name, now.astimezone(UTC), DAYS)
    key = folder / _KEY
    key.unlink(missing_ok=True)
    key.touch(mode=0o600)
    key.write_bytes(made.host_key)
    (folder / _HOST).write_bytes(made.host)
    (folder / _AUTHORITY).write_bytes(made.authority)
    until = certified_until(made.host, name)
    if until is None:
        raise AssertionError(name)
    return until
