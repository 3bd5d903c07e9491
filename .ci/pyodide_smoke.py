"""Use the portable packages where there is no thread and no native library.

Run by ``pyodide_smoke.mjs`` on Python 3.14 in Pyodide, with the checkout mounted at
/repository and the unpacked wheels in /packages.
"""

import importlib
import sys
import traceback
from decimal import Decimal
from pathlib import Path

ROOTS = (
    "exam_app/domain",
    "exam_app/protocols",
    "exam_app/crypto",
    "exam_app/record",
    "exam_app/store",
    "exam_app/export",
    "sync",
    "exam_app/exchange",
)
# The native library has no wheel for the browser, where none of these is asked for.
NATIVE = ("exam_app.crypto.native", "exam_app.crypto.local_authority")


def module_names(repository: Path) -> list[str]:
    """Name every module of the portable packages that exist."""
    paths = [p for root in ROOTS for p in sorted((repository / root).rglob("*.py"))]
    relative = [p.relative_to(repository).with_suffix("").parts for p in paths]
    return [
        ".".join(part for part in parts if part != "__init__")
        for parts in relative
        if parts[-1] != "__main__"
    ]


def import_all(names: list[str]) -> list[str]:
    """Import each and return those that fail."""
    failed = []
    for name in names:
        try:
            importlib.import_module(name)
        except Exception:
            failed.append(name)
            traceback.print_exc()
    return failed


def check_species() -> int:
    """Load every species and read a Fahrenheit temperature with its measure."""
    loader = importlib.import_module("exam_app.protocols.loader")
    units = importlib.import_module("exam_app.domain.measure.units")
    species = loader.available()
    for name in species:
        loader.load_protocol(name)
    measure = units.Measure(
        measure_id="temperature",
        label="Temperature",
        plain_label="Temperature",
        unit="degC",
        units_offered=("degC", "degF"),
        precision=Decimal("0.1"),
    )
    reading = units.parse_reading("101.3", "degF", measure)
    if units.in_unit(reading, "degC", Decimal("0.1")) != Decimal("38.5"):
        raise AssertionError("101.3 degrees Fahrenheit are 38.5 degrees Celsius")
    return len(species)


def check_record() -> int:
    """Sign a closed exam, read it back, and refuse it with one bit changed.

    The key, the message and the signature of test 2 of RFC 8032, section 7.1, are
    from memory.
    """
    door = importlib.import_module("exam_app.crypto.door")
    seed = bytes.fromhex(
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb"
    )
    signature = bytes.fromhex(
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
    )
    if door.sign(seed, b"\x72") != signature:
        raise AssertionError("Ed25519 does not give the published signature")
    records = importlib.import_module("exam_app.record.records")
    errors = importlib.import_module("exam_app.record.errors")
    samples = importlib.import_module("tests.exam_samples")
    closing = importlib.import_module("exam_app.domain.exam.closing")
    stop = importlib.import_module("exam_app.domain.exam.exam").StopReason.UNSAFE
    exam = closing.stop_early(
        samples.new_exam(), samples.PROTOCOL, stop, "", samples.BY
    )
    exam = closing.close(exam, samples.PROTOCOL, samples.TECHNICIAN, samples.NOW)
    made = records.close_and_sign(exam, samples.PROTOCOL, seed, None, bytes(32))
    keys = [door.signing_public_key(seed)]
    read = records.read_exam(made.signed, keys, lambda _: samples.PROTOCOL)
    if read.exam != exam:
        raise AssertionError("the record does not read back")
    broken = made.signed[:-1] + bytes([made.signed[-1] ^ 1])
    try:
        records.read_exam(broken, keys, lambda _: samples.PROTOCOL)
    except errors.BadSignatureError:
        return len(made.signed)
    raise AssertionError("a changed record was accepted")


def check_frames() -> int:
    """Rebuild a bundle from repair frames alone, and draw one of them."""
    frames = importlib.import_module("sync.transport.frames")
    collector = importlib.import_module("sync.transport.collector").Collector()
    draw = importlib.import_module("sync.transport.qr").qr_png
    sealed = bytes(range(256)) * 12
    cut = frames.split(sealed, frames.DotSize.NORMAL)
    for frame_id in range(256 - cut.count, 256):
        collector.add(cut.text(frame_id))
    if collector.finished() != [sealed]:
        raise AssertionError("the bundle was not rebuilt")
    if not draw(cut.text(255)).startswith(b"\x89PNG"):
        raise AssertionError("no picture of a frame")
    return cut.count


def check_hand_over() -> int:
    """Seal a bundle, open it, and refuse a flip.

    The agreement is tried on the first vector of RFC 7748, section 5.2, from memory.
    """
    door = importlib.import_module("exam_app.crypto.door")
    scalar = "a546e36bf0527c9d3b16154b82465edd62144c0ac1fc5a18506a2244ba449ac4"
    point = "e6db6867583030db3594c1a424b15f7c726624ec26b3353b10a903a6d0ab1c4c"
    shared = "c3da55379de9c6908e94ea4df28d084f32eccf03491c71f754b4075577a28552"
    if door.agree(bytes.fromhex(scalar), bytes.fromhex(point)).hex() != shared:
        raise AssertionError("X25519 does not give the published secret")
    bundle = importlib.import_module("sync.bundle.bundle")
    errors = importlib.import_module("sync.errors")
    moments = importlib.import_module("exam_app.domain.moments")
    seed, private = bytes(range(32)), bytes(range(1, 33))
    contents = bundle.Contents(records=(bytes(range(256)) * 4, b"\xa1\x01\x02"))
    made = bundle.seal_bundle(
        bundle.BundleKind.EXAMS,
        contents,
        sequence=1,
        made=moments.Moment(0, 0),
        sender_id="d1" * 16,
        seed=seed,
        recipient_key=door.agreement_public_key(private),
        is_demo=True,
        random=lambda count: bytes(range(7, 7 + count)),
    )
    public = door.signing_public_key(seed)
    opened = bundle.open_bundle(made.sealed, private, lambda _: public)
    if opened.contents != contents:
        raise AssertionError("the bundle does not come out as it was")
    broken = made.sealed[:-1] + bytes([made.sealed[-1] ^ 1])
    try:
        bundle.open_bundle(broken, private, lambda _: public)
    except errors.NotABundleError:
        return len(made.sealed)
    raise AssertionError("a changed bundle was opened")


async def run(repository: Path, _exchange: Path) -> bool:
    """Say what works here; True when nothing failed."""
    names = [name for name in module_names(repository) if name not in NATIVE]
    failed = import_all(names)
    species = check_species()
    size = check_record()
    sealed = check_hand_over()
    frame_count = check_frames()
    good = len(names) - len(failed)
    sys.stdout.write(
        f"Python {sys.version.split()[0]} on {sys.platform}: {good} modules imported, "
        f"{len(failed)} failed; {species} species loaded; a record of {size} bytes "
        f"signed, read and refused when changed; a bundle of {sealed} bytes sealed, "
        "opened and refused when changed; a bundle rebuilt from "
        f"{frame_count} frames\n"
    )
    return not failed and good > 0 and species > 0
