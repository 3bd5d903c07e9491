"""Small prepared pictures, each with bytes of its own; no picture library is needed.

The first was drawn with Pillow (16 by 12, grey); others have another density in the
header, which no viewer shows, and longer ones repeat a table, which changes nothing.
"""

from exam_app.crypto.door import sha256

GREY = bytes.fromhex(
    "ffd8ffe000104a46494600010100000100010000ffdb0043000d090a0b0a080d0b0a0b0e0e0d0f132015"
    "13121213271c1e17202e2931302e292d2c333a4a3e333646372c2d405741464c4e525352323e5a615a50"
    "604a51524fffc0000b08000c001001011100ffc4001f0000010501010101010100000000000000000102"
    "030405060708090a0bffc400b5100002010303020403050504040000017d010203000411051221314106"
    "13516107227114328191a1082342b1c11552d1f02433627282090a161718191a25262728292a34353637"
    "38393a434445464748494a535455565758595a636465666768696a737475767778797a83848586878889"
    "8a92939495969798999aa2a3a4a5a6a7a8a9aab2b3b4b5b6b7b8b9bac2c3c4c5c6c7c8c9cad2d3d4d5d6"
    "d7d8d9dae1e2e3e4e5e6e7e8e9eaf1f2f3f4f5f6f7f8f9faffda0008010100003f00e6f45b2fbbc57a06"
    "8b65f778ae7345893e5e2ba3d76ea5d33c217f776876cca8a8ad920aee60a482304101b20fae2bffd9"
)
WIDTH, HEIGHT = 16, 12
# Where the density stands in the header, and the table behind it.
_DENSITY, _TABLE, _TABLE_END = 14, 20, 89


def picture(number: int = 0, size: int = 0) -> bytes:
    """Return a picture of its own for a number, of at least so many bytes."""
    density = (number + 1).to_bytes(4)
    table = GREY[_TABLE:_TABLE_END]
    more = max(0, -(-(size - len(GREY)) // len(table)))
    head = GREY[:_DENSITY] + density + GREY[18:_TABLE]
    return head + table * more + GREY[_TABLE:]


def hash_of(content: bytes) -> str:
    """Return the hash that a record names a picture by."""
    return sha256(content).hex()
