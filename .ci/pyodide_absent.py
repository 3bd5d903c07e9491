"""Stand-ins for the outside references that have no wheel for the browser.

A test that asks one of them is left out, with its name as the reason; the others of
its module run. Only tests import these: the application's own imports of them are
native ones, or are looked for with `find_spec` under other names.
"""

import importlib.abc
import importlib.machinery
import sys
from collections.abc import Sequence
from types import ModuleType
from typing import Any, NoReturn

import pytest

NAMES = (
    "cryptography",
    "cwt",
    "scipy",
    "fhirclient",
    "fhir",
    "fhirpy_types_r5",
    "jsonschema",
    "ucumvert",
    "PIL",
    "pypdf",
    "pypdfium2",
    "fontTools",
    "babel",
)


class Member(type):
    """Gives what is asked of a class that is not here."""

    def __getattr__(cls, name: str) -> Any:  # noqa: ANN401
        if name.startswith("__"):
            raise AttributeError(name)
        return Member(name, (Absent,), {"__module__": cls.__module__})

    def __call__(cls, *_given: object, **_named: object) -> NoReturn:
        pytest.skip(f"needs {cls.__module__.partition('.')[0]}")


class Absent(Exception, metaclass=Member):  # noqa: N818  may be one that is expected
    """Anything out of a library that is not here; calling it leaves the test out."""


class AbsentModule(ModuleType):
    """A module that has whatever is asked of it."""

    __path__: Sequence[str] = ()

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401
        if name.startswith("__"):
            raise AttributeError(name)
        return Member(name, (Absent,), {"__module__": self.__name__})


class Finder(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Finds every module of those libraries."""

    def find_spec(
        self, fullname: str, *_given: object
    ) -> importlib.machinery.ModuleSpec | None:
        if fullname.partition(".")[0] not in NAMES:
            return None
        return importlib.machinery.ModuleSpec(fullname, self, is_package=True)

    def create_module(self, spec: importlib.machinery.ModuleSpec) -> ModuleType:
        return AbsentModule(spec.name)

    def exec_module(self, module: ModuleType) -> None:
        """Do nothing: there is no code."""


def stand_in() -> None:
    """Let those libraries be imported from now on."""
    sys.meta_path.append(Finder())
