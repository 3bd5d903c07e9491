"""Where a document comes from: the signed record, and the key that signed it.

The signature is that of the record, not of the document made from it, so the signed
bytes go along whole: a COSE_Sign1 object, which holds what it signs.
"""

from base64 import b64encode

from exam_app.domain.exam.exam import Closing
from exam_app.export.fhir_shapes import (
    OWN,
    Exported,
    Resource,
    coding,
    concept,
    narrative,
    when,
)

# HL7's value set of signature types, hl7.org/fhir/R4/valueset-signature-type.html.
_ASTM = "urn:iso-astm:E1762-95:2013"
_SOURCE = coding(_ASTM, "1.2.840.10065.1.12.1.14", "Source Signature")
# RFC 9052, section 10: the media type of COSE objects.
_COSE = "application/cose"
_RECORD = "application/x.exam"
_SAYS = (
    "The signature is of the record this document was made from, and proves the "
    "device, not the person. Its data are the whole signed record, a COSE_Sign1 object."
)


def provenance(
    exported: Exported, closing: Closing, key_id: bytes, signed: bytes
) -> Resource:
    """Return who signed the record that a document was made from.

    Args:
        key_id: Of the key that signed it, 16 bytes.
        signed: The signed record; empty where it does not go along.
    """
    device = {
        "identifier": {"system": OWN, "value": f"key {key_id.hex()}"},
        "display": f"The device with the signing key {key_id.hex()}",
    }
    record = {"identifier": {"system": OWN, "value": exported.exam_hash}}
    signature = {
        "type": [_SOURCE],
        "when": when(closing.at),
        "who": device,
        "targetFormat": _RECORD,
        "sigFormat": _COSE,
        "data": b64encode(signed).decode(),
    }
    return {
        **exported.resource("Provenance", "provenance"),
        "text": narrative([_SAYS if signed else ""]),
        "target": [exported.reference("composition")],
        "recorded": when(closing.at),
        "activity": concept("Closing and signing of the record"),
        "agent": [
            {
                "type": concept("Closed by, as entered"),
                "who": _closer(exported, closing),
            },
            {"type": concept("Signed by"), "who": device},
        ],
        "entity": [{"role": "source", "what": record}],
        "signature": [signature] if signed else [],
    }


def _closer(exported: Exported, closing: Closing) -> Resource:
    return exported.person(closing.closed_by)
