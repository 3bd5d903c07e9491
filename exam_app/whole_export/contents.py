"""What stands in the folder of a whole export beside the records, and its words.

Names, the pages a person reads first, the keys, and how far an export has come.
"""

import json
import re
from dataclasses import dataclass, field

from exam_app.domain.wording.count_words import count_words
from exam_app.exchange.exchange import Exchange
from exam_app.exchange.signed_notes import signer_of
from exam_app.language.catalogue import in_english
from exam_app.record.cose import key_id_of
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.vault import Vault
from exam_app.whole_export.signed_list import LIST_SIGNED

README, UNFINISHED, LEFT_OUT = "README.txt", "UNFINISHED.txt", "NOT_IN_IT.txt"
KEYS, PROTOCOLS, PICTURES, RECORDS = "keys.json", "protocols", "photographs", "records"
UNREAD = f"{RECORDS}/not-verified"
FIRST_LINE = "Records of physical examinations of animals, exported\n"
_DAY = re.compile(r"\d{4}-\d\d-\d\d")


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a whole export holds beside the records.

    Attributes:
        private_notes: The notes for the veterinarian only, in every form.
        owners: Owner details, in a table of their own.
    """

    private_notes: bool = False
    owners: bool = False


@dataclass(slots=True)
class Exported:
    """How far an export has come.

    Attributes:
        total: Records kept here, with every revision.
        done: Records whose files are there and whole.
        written: Of these, how many were written by this run.
        unread: Records that do not verify here; their signed bytes alone are there.
        no_picture: Hashes of photographs that records name and that are not here.
        drafts: Open exams, which are in no export.
        key: The public key that signed the list, in hexadecimal.
        is_stopped: Whether a person stopped it before its end.
    """

    total: int = 0
    done: int = 0
    written: int = 0
    unread: int = 0
    no_picture: set[str] = field(default_factory=set)
    drafts: int = 0
    key: str = ""
    is_stopped: bool = False

    @property
    def is_whole(self) -> bool:
        """Whether everything that records name is there."""
        return not (self.unread or self.no_picture or self.is_stopped)

    @property
    def share(self) -> float:
        """How much is done, from 0 to 1."""
        return self.done / self.total if self.total else 0.0

    @property
    def words(self) -> str:
        """How much is done, in words."""
        return f"{self.done} of {self.total} records, {int(100 * self.share)} %"


def folder_of(row: ClosedExam) -> str:
    """Return the folder of a record: by month, then its day and its hash."""
    found = _DAY.match(row.started)
    day = found[0] if found else "undated"
    return f"{RECORDS}/{day[:7]}/{day}-{row.record_hash[:16]}"


@in_english()
def keys_json(vault: Vault) -> bytes:
    """Return the public keys known here, with whose they are, as JSON."""
    keys = [
        {
            "key_id": key_id_of(key).hex(),
            "ed25519_public_key": key.hex(),
            "of": signer_of(vault, key_id_of(key)).name,
        }
        for key in Exchange(vault).signing_keys()
    ]
    return (json.dumps(keys, ensure_ascii=False, indent=1) + "\n").encode()


@in_english()
def left_out_words(found: Exported, wanted: Wanted) -> str:
    """Say what is not in an export, and why; at least one line."""
    unread = "record does not verify here; its signed bytes alone are in"
    unreads = "records do not verify here; their signed bytes alone are in"
    lines = [
        "" if wanted.private_notes else "Notes for the veterinarian only.",
        "" if wanted.owners else "Owner details.",
        f"{count_words(found.drafts, 'open exam')}." if found.drafts else "",
        f"{count_words(found.unread, unread, unreads)} {UNREAD}."
        if found.unread
        else "",
        *(f"The picture of photograph {k}." for k in sorted(found.no_picture)),
    ]
    said = [line for line in lines if line] or ["Nothing is left out."]
    return "".join(f"{line}\n" for line in ["Not in this export:", *said])


def exported_lines(found: Exported, folder: str) -> tuple[str, ...]:
    """Say what is in the folder of a finished export, and what is not."""
    there = found.total - found.unread
    written = found.written - found.unread
    lines = [
        f"{count_words(there, 'record')} in {folder}, {written} of them "
        "written now. Nothing in it is sealed: keep it as you keep paper."
    ]
    if found.unread:
        lines.append(
            f"{count_words(found.unread, 'record')} did not verify: only the signed "
            "bytes are there."
        )
    if found.no_picture:
        count = len(found.no_picture)
        lines.append(
            f"The pictures of {count_words(count, 'photograph')} are not here."
        )
    if found.drafts:
        lines.append(f"Not in it: {count_words(found.drafts, 'open exam')}.")
    return (
        *lines,
        f"{LEFT_OUT} names what is not in it.",
        f"Key of the signed list, to be kept elsewhere: {found.key}",
    )


GO_ON = (
    "This export is not finished: it was stopped, or is still being written. Give the\n"
    "same command again to go on; what is finished is not written again.\n"
)
README_PAGE = (
    FIRST_LINE
    + f"""
Nothing in this folder is sealed: keep it as you keep paper.

records.csv         every value, finding, gap, remark and note of every record
{RECORDS}/            a folder for each record, by month:
  record.cose       the signed record itself; everything else is a view of it
  record.txt        the record in plain language
  record.json       the record for programs; record.schema.json says what it holds
  record.csv        its rows of records.csv
  record.fhir-*.json  the record in HL7 FHIR
  note-*.cose       signed notes beside it
  SHA256SUMS        the hashes of its files and photographs
{PICTURES}/        the pictures that records name, each by its hash
animals.csv         the animals
{KEYS}           the public keys that signatures are checked with
{PROTOCOLS}/          the words and ranges that records were made with
{LEFT_OUT}       what is not in this folder, and why
SHA256SUMS          the hashes of all of it; check them with: sha256sum -c SHA256SUMS
{LIST_SIGNED}     that list, signed by the computer that made this folder

Check all of it without the exams:  exam-app verify FOLDER --key KEY
FORMAT.md says how, also without the app.
"""
)
