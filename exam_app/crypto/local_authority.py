"""Make a certificate for one host on the local network, and forget who signed it.

A phone keeps an app only from an https address that it trusts, and a public
authority signs no local address. So an authority is made for one certificate: it may
vouch for one name and nothing else, and its private key never leaves this function.
Whoever trusts it trusts this one host, until the day it ends.

References:
    RFC 5280, sections 4.2.1.9 and 4.2.1.10 (basic and name constraints).
"""

import ipaddress
from dataclasses import dataclass
from datetime import datetime, timedelta

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

# Phones refuse longer ones of authorities that were added by hand (from memory:
# Apple's limit is 825 days).
LONGEST_DAYS = 397


@dataclass(frozen=True, slots=True, repr=False)
class HostCertificate:
    """What the host keeps and what the phone is to trust.

    Attributes:
        authority: The authority's certificate, DER; the phone is to trust it.
        host: The host's certificate, PEM.
        host_key: The host's private key, PEM, not encrypted.
    """

    authority: bytes
    host: bytes
    host_key: bytes


def certify_host(name: str, now: datetime, days: int) -> HostCertificate:
    """Make an authority, sign one host with it, and drop the authority's key.

    Args:
        name: An IPv4 address or a host name; nothing else can be vouched for.
        now: With its time zone.
        days: How long both are good, at most ``LONGEST_DAYS``.

    Raises:
        ValueError: Too many days, or no name.
    """
    if not name or not 1 <= days <= LONGEST_DAYS:
        raise ValueError(f"a name, and 1 to {LONGEST_DAYS} days")
    authority_key = ec.generate_private_key(ec.SECP256R1())
    host_key = ec.generate_private_key(ec.SECP256R1())
    issuer = _named(f"Exam app at {name} only")
    span = (now - timedelta(hours=1), now + timedelta(days=days))
    authority = (
        _begun(issuer, issuer, authority_key.public_key(), span)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(_only(name), critical=True)
        .sign(authority_key, hashes.SHA256())
    )
    host = (
        _begun(_named("Exam app host"), issuer, host_key.public_key(), span)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.SubjectAlternativeName([_general(name)]), critical=False)
        .add_extension(
            x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False
        )
        .sign(authority_key, hashes.SHA256())
    )
    return HostCertificate(
        authority.public_bytes(serialization.Encoding.DER),
        host.public_bytes(serialization.Encoding.PEM),
        host_key.private_bytes(
            serialization.Encoding.PEM,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        ),
    )


def certified_until(host: bytes, name: str) -> datetime | None:
    """Give the end of a host's certificate (PEM), or None if it is for another name."""
    certificate = x509.load_pem_x509_certificate(host)
    names = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName)
    if list(names.value) != [_general(name)]:
        return None
    return certificate.not_valid_after_utc


def _begun(
    subject: x509.Name,
    issuer: x509.Name,
    key: ec.EllipticCurvePublicKey,
    span: tuple[datetime, datetime],
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(span[0])
        .not_valid_after(span[1])
    )


def _named(text: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, text[:64])])


def _general(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.IPv4Address(name))
    except ValueError:
        return x509.DNSName(name)


def _only(name: str) -> x509.NameConstraints:
    try:
        one: x509.GeneralName = x509.IPAddress(ipaddress.IPv4Network(name))
    except ValueError:
        # A constraint of one kind leaves the others free, so addresses are excluded.
        every = [ipaddress.ip_network("0.0.0.0/0"), ipaddress.ip_network("::/0")]
        return x509.NameConstraints(
            [x509.DNSName(name)], [x509.IPAddress(network) for network in every]
        )
    return x509.NameConstraints([one], [x509.DNSName("")])


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs_certificates,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )
