"""The command ``form``: a blank form of a species on paper; it opens no exams."""

import argparse
import asyncio
from pathlib import Path
from typing import ClassVar

from exam_app.cli.store import Commands
from exam_app.domain.errors import ExamError
from exam_app.domain.exam.vitals import Setting
from exam_app.domain.protocol.protocol import Scope
from exam_app.paper.font_file import sheet_font
from exam_app.paper.printing import print_blank_form
from exam_app.paper.sheet import PageSize
from exam_app.protocols.loader import available, load_protocol

_SCOPES = [scope.value for scope in Scope if scope is not Scope.FOCUSED]
_SIZES = [size.name.lower() for size in PageSize]


class FormNotWrittenError(ExamError):
    """The file is there already, or cannot be written."""

    advice: ClassVar[str] = (
        "The form was not written: a file of this name is there already, or its "
        "folder cannot be written. Nothing was changed. Choose another name."
    )


def add_form_command(commands: Commands) -> None:
    """Add the command to those of the app."""
    form = commands.add_parser(
        "form",
        help="write a species' blank form as a PDF, for a day without power",
        description="Write the blank form of a species as a PDF. Its numbers follow "
        "the exam's own list, in which the answers are typed in afterwards.",
    )
    form.add_argument("species", choices=available(), metavar="SPECIES")
    form.add_argument("file", type=Path, help="the PDF to make; must not exist")
    form.add_argument("--scope", choices=_SCOPES, default=Scope.TECHNICIAN.value)
    form.add_argument("--paper", choices=_SIZES, default=_SIZES[0])


def run_form(options: argparse.Namespace) -> str:
    """Write the form and say where it is.

    Raises:
        FormNotWrittenError: The file exists, or the system refused.
    """
    loaded, scope = load_protocol(options.species), Scope(options.scope)
    font, size = asyncio.run(sheet_font()), PageSize[options.paper.upper()]
    pdf = print_blank_form(loaded, scope, Setting.CLINIC, size, font)
    try:
        with options.file.open("xb") as file:
            file.write(pdf)
    except OSError as error:
        raise FormNotWrittenError(str(options.file)) from error
    return f"Blank form written: {options.file} ({len(pdf)} bytes)."
