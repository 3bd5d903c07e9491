"""Import the portable packages where there is no thread and no native library.

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
)
# The native half of the crypto door has no wheel for the browser; its other half
# comes with the phone build. Only packages that reach the door may wait for it.
MAY_WAIT = ("exam_app.crypto", "exam_app.record", "exam_app.store", "sync")


def module_names(repository: Path) -> list[str]:
    """Name every module of the portable packages that exist."""
    paths = [p for root in ROOTS for p in sorted((repository / root).rglob("*.py"))]
    relative = [p.relative_to(repository).with_suffix("").parts for p in paths]
    return [
        ".".join(part for part in parts if part != "__init__")
        for parts in relative
        if parts[-1] != "__main__"
    ]


def import_all(names: list[str]) -> tuple[list[str], list[str]]:
    """Import each; give those that wait for native crypto, and those that fail."""
    waiting, failed = [], []
    for name in names:
        try:
            importlib.import_module(name)
        except Exception as error:
            missing = getattr(error, "name", None) or ""
            is_native = missing.split(".")[0] == "cryptography"
            if is_native and name.startswith(MAY_WAIT):
                waiting.append(name)
            else:
                failed.append(name)
                traceback.print_exc()
    return waiting, failed


def check_species() -> int:
    """Load every species and read a Fahrenheit temperature with its measure."""
    loader = importlib.import_module("exam_app.protocols.loader")
    units = importlib.import_module("exam_app.domain.units")
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


def run(repository: Path) -> bool:
    """Say what works here; True when nothing failed."""
    names = module_names(repository)
    waiting, failed = import_all(names)
    species = check_species()
    good = len(names) - len(waiting) - len(failed)
    sys.stdout.write(
        f"Python {sys.version.split()[0]} on {sys.platform}: {good} modules imported, "
        f"{len(waiting)} wait for the browser's crypto, {len(failed)} failed; "
        f"{species} species loaded\n"
    )
    return not failed and good > 0 and species > 0
