"""Everything that one computer exchanges with others, as ``Exchange(vault)``.

Signatures for the screens; each call that changes something is one save.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from exam_app.crypto import door
from exam_app.exchange.identity import TAKE_THEIRS, IdentityQuestions
from exam_app.exchange.incoming import IncomingBundles, Quarantine
from exam_app.exchange.merge import with_value
from exam_app.exchange.outgoing import RECEIVED, STATES, OutgoingBundles
from exam_app.exchange.pairings import Device, Pairings
from exam_app.record.cose import claimed_key_id, key_id_of
from exam_app.record.lineage import FormerKey, OwnKeys
from exam_app.store.engine.documents import read_row, stored_row
from exam_app.store.engine.tables import SealedTables
from exam_app.store.errors import ExamStillNeededError
from exam_app.store.repositories.rows import ClosedExam
from exam_app.store.vault.vault import Vault


@dataclass(frozen=True, slots=True)
class CameAgain:
    """Erased details that came again and were not kept.

    Attributes:
        device_id: Of the sender; empty for the clinic.
        when: Local date and time, as shown.
    """

    animal_id: str
    device_id: str
    when: str
    is_read: bool = False


@dataclass(frozen=True, slots=True)
class Erasure:
    """That something was erased, and nothing of what it was.

    Attributes:
        fields: Which details of the owner.
        when_ms, when: UTC milliseconds; local date and time, as shown.
        set_aside: What came again since.
    """

    key: str
    animal_ids: tuple[str, ...]
    fields: tuple[str, ...]
    when_ms: int
    when: str
    by: str
    reason: str
    set_aside: tuple[CameAgain, ...] | None = None


class Erasures:
    """What was erased, when, by whom, and what was set aside since.

    A mark is the salted hash that a signed record holds of its owner block. Once block
    and salt are gone it says nothing of anybody, and still knows the same block again.
    """

    def __init__(self, tables: SealedTables) -> None:
        """Use the tables of erasures and of the hashes erased."""
        self._log = tables.open_table("erasures", body_fields=())
        self._hashes = tables.open_table("erased_owners", body_fields=())

    def keep(self, erasure: Erasure, owner_hashes: Sequence[str] = ()) -> None:
        """Keep that something was erased, inside the caller's transaction.

        Args:
            owner_hashes: Of the blocks, as their records hold them.
        """
        self._log.put(erasure.key, stored_row(erasure))
        for owner_hash in owner_hashes:
            self._hashes.put(owner_hash, {"erasure": erasure.key})

    def all(self) -> list[Erasure]:
        """Give every erasure, oldest first."""
        return [read_row(Erasure, row) for _, row in self._log.rows()]

    def of_animal(self, animal_id: str) -> Erasure | None:
        """Give the newest erasure of an animal's owner, or None."""
        found = [one for one in self.all() if animal_id in one.animal_ids]
        return found[-1] if found else None

    def sets_aside(self, animal_id: str, owner_hash: str, closed_ms: int) -> bool:
        """Whether an owner block that arrives is one that was erased.

        Args:
            animal_id: Of the exam that it stands beside.
            owner_hash: As the record holds it.
            closed_ms: When the exam was closed: what stood beside an exam of before
                the erasure was meant by it, also where it had not arrived yet.
        """
        if self._hashes.fetch(owner_hash) is not None:
            return True
        erased = self.of_animal(animal_id)
        return erased is not None and closed_ms <= erased.when_ms

    def note_set_aside(self, animal_id: str, device_id: str, when: str) -> None:
        """Keep that erased details came again and were not kept, for a person.

        Args:
            animal_id: Whose owner's they were.
            device_id: Of the sender; empty for the clinic.
            when: Local date and time, as shown.
        """
        erased = self.of_animal(animal_id)
        if erased is not None:
            again = CameAgain(animal_id, device_id, when)
            self.keep(replace(erased, set_aside=(*(erased.set_aside or ()), again)))

    def set_aside(self) -> list[CameAgain]:
        """Give what was set aside and nobody has read of, oldest first."""
        every = [one for erased in self.all() for one in erased.set_aside or ()]
        return [one for one in every if not one.is_read]

    def mark_read(self) -> None:
        """Note that a person has read of all that was set aside."""
        with self._log.sealed.transaction():
            for erased in self.all():
                aside = erased.set_aside or ()
                if any(not one.is_read for one in aside):
                    read = tuple(replace(one, is_read=True) for one in aside)
                    self.keep(replace(erased, set_aside=read))


class Exchange:
    """Pairing, hand-over and questions of one vault.

    Attributes:
        pairing: Offers, devices and the clinic.
        outgoing: Bundles sealed here.
        incoming: Bundles stored here.
        quarantine: What was set apart.
        identity: Clashes and proposed joins.
        erasures: Which owner details were erased, so that they do not come back in
            silence.
    """

    def __init__(self, vault: Vault) -> None:
        """Use the tables of exchange beside the repositories of the same vault."""
        self.vault, tables = vault, vault.tables
        self._keys = tables.open_table("vouched_keys", body_fields=())
        self.pairing = Pairings(tables)
        self.outgoing = OutgoingBundles(tables)
        self.incoming = IncomingBundles(tables)
        self.quarantine = Quarantine(tables)
        self.identity = IdentityQuestions(tables)
        self.erasures = Erasures(tables)

    @property
    def is_demo(self) -> bool:
        """Whether this computer holds invented records only."""
        return self.vault.is_demo

    def own_identity(self) -> OwnKeys:
        """Give this device's or clinic's own ids, name and secrets."""
        settings = self.vault.settings
        kept = settings.get("former_keys", [])
        return OwnKeys(
            settings.get("device_id", ""),
            settings.get("practice", ""),
            settings.get("signing_key"),
            settings.get("agreement_key"),
            self.is_demo,
            settings.get("clinic_phone", ""),
            tuple(read_row(FormerKey, one) for one in kept),
        )

    def own_device(self) -> Device:
        """Give this device as others know it, with its former public keys."""
        own = self.own_identity()
        return Device(
            device_id=own.own_id,
            name=own.name,
            signing_key=door.signing_public_key(own.signing_seed),
            agreement_key=door.agreement_public_key(own.agreement_private),
            former=own.former,
        )

    def own_keys(self) -> tuple[bytes, ...]:
        """Give the public keys that this computer has and had, the present first."""
        return self.own_device().signing_keys

    def signing_keys(self) -> list[bytes]:
        """Give every public key by which a record or note kept here may be signed.

        This device's own and former ones first, then the clinic's, those of every
        confirmed device (a revoked one's earlier records stay readable), and those
        that the clinic vouched for in a day pack.
        """
        trusted = [self.own_device(), *self.pairing.trusted()]
        keys = [key for device in trusted for key in device.signing_keys]
        clinic = self.pairing.clinic()
        if clinic is not None:
            keys.append(clinic.signing_key)
        keys += [bytes.fromhex(key) for key, _ in self._keys.rows()]
        return list(dict.fromkeys(keys))

    def keep_vouched_key(self, public: bytes, device_id: str, name: str = "") -> None:
        """Keep a key that the clinic's signed day pack names.

        Args:
            public: Ed25519 public key.
            name: What the clinic calls the device; empty leaves the name as it was.
        """
        kept = self._keys.fetch(public.hex()) or {}
        named = name or str(kept.get("name") or "")
        fields = {"device_id": device_id, **({"name": named} if named else {})}
        self._keys.put(public.hex(), fields)

    def vouched_name(self, key_id: bytes) -> str:
        """Give what the clinic calls the device with the key of this id, or empty."""
        for public, row in self._keys.rows():
            if key_id_of(bytes.fromhex(public)) == key_id:
                return str(row.get("name") or "")
        return ""

    def state_of(self, exam_id: str) -> str:
        """Give how far an exam has come: of several own records, the least far.

        Returns:
            ``waiting``, ``shown``, ``received by code`` or ``received``.
        """
        own = [r for r in self.vault.closed.revisions(exam_id) if not r.is_received]
        states = [self.outgoing.record_state(row.record_hash) for row in own]
        return min(states, key=STATES.index, default=RECEIVED)

    def not_handed_over(self) -> list[tuple[ClosedExam, str]]:
        """Give own closed exams without a signed receipt and their state, oldest first.

        A revised record is left out, its revision stands for it.
        """
        rows = self.vault.closed.maybe_not_received()
        own = [row for row in rows if not row.is_received]
        states = (self.outgoing.record_state(row.record_hash) for row in own)
        return [
            (row, state)
            for row, state in zip(own, states, strict=True)
            if state != RECEIVED
        ]

    def may_delete(self, exam_id: str) -> bool:
        """Whether the clinic signed for all that was made here of an exam.

        That is every record, note and photograph.

        Never of an exam that came from elsewhere only.
        """
        rows = self.vault.closed.revisions(exam_id)
        is_own = any(not row.is_received for row in rows)
        is_stored = is_own and self.state_of(exam_id) == RECEIVED
        if not is_stored or self._unsent_notes(exam_id):
            return False
        return not self.vault.photographs.unsent(exam_id)

    def _unsent_notes(self, exam_id: str) -> list[str]:
        own = set(map(key_id_of, self.own_keys()))
        signed = self.vault.notes.for_exam(exam_id)
        hashes = [door.sha256(n).hex() for n in signed if claimed_key_id(n) in own]
        return [h for h in hashes if self.outgoing.record_state(h) != RECEIVED]

    def decide_clash(self, key: str, choice: str, by: str, when_ms: int) -> None:
        """Keep a person's choice and, for ``take theirs``, change the animal.

        Args:
            choice: ``keep ours`` or ``take theirs``.
            when_ms: UTC milliseconds.
        """
        clash = self.identity.clash(key)
        if clash is None:
            return
        animal = self.vault.animals.get(clash.animal_id)
        with self.vault.transaction():
            if choice == TAKE_THEIRS and animal is not None:
                changed = with_value(animal, clash.field, clash.theirs)
                self.vault.animals.put(changed)
            self.identity.mark_clash(key, choice, by, when_ms)


def delete_exams(vault: Vault, exam_ids: Sequence[str]) -> None:
    """Delete all of these exams, or none.

    Raises:
        ExamStillNeededError: The clinic has not signed for one; nothing was deleted.
        VaultError: The disk failed; all are deleted or none. What is left of them in
            files goes when those are next written anew.
    """
    exchange = Exchange(vault)
    for exam_id in exam_ids:
        if not exchange.may_delete(exam_id):
            raise ExamStillNeededError(exam_id)
    with vault.transaction():
        for exam_id in exam_ids:
            vault.closed.remove(exam_id)
            vault.notes.remove(exam_id)
            vault.owners.drop(exam_id)
            vault.privates.drop(exam_id)
            vault.photographs.settle(exam_id, (), rows_only=True)
    vault.rewrite()
    # Once more, since here a picture that stays has to be told.
    vault.photographs.clear_strays()
