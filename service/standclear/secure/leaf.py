"""The certificate that the service shows: for the names and addresses of the day.

Valid for 90 days, well within the 397 that browsers allow (Baseline Requirements of the CA/Browser
Forum, 6.3.2), and renewed when 30 are left.
"""

from datetime import datetime, timedelta

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from standclear.secure import usage
from standclear.secure.authority import EARLIER, Authority
from standclear.secure.files import Pair
from standclear.secure.names import HostNames

DAYS = 90
RENEW_DAYS = 30


def issue(authority: Authority, names: HostNames, now: datetime) -> Pair:
    """A new key and its certificate for those names, signed by the authority."""
    signer = authority.pair
    key = ec.generate_private_key(ec.SECP256R1())
    certificate = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Standclear")]))
        .issuer_name(signer.certificate.subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(max(now - EARLIER, signer.certificate.not_valid_before_utc))
        .not_valid_after(now + timedelta(days=DAYS))
        .add_extension(x509.SubjectAlternativeName(_alternatives(names)), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(usage.only("digital_signature"), critical=True)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(signer.key.public_key()),
            critical=False,
        )
        .sign(signer.key, hashes.SHA256())
    )
    return Pair(key, certificate)


def still_good(pair: Pair, authority: Authority, names: HostNames, now: datetime) -> bool:
    """Whether it is signed by the authority, for exactly these names, and for long enough."""
    certificate = pair.certificate
    if certificate.not_valid_after_utc < now + timedelta(days=RENEW_DAYS):
        return False
    if certificate.not_valid_before_utc > now or names_of(pair) != names:
        return False
    try:
        certificate.verify_directly_issued_by(authority.pair.certificate)
    except (ValueError, TypeError, InvalidSignature):  # another issuer, another key, forged
        return False
    return True


def names_of(pair: Pair) -> HostNames:
    """The names that a certificate is for."""
    found = pair.certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return HostNames(
        frozenset(found.get_values_for_type(x509.DNSName)),
        frozenset(
            address
            for address in found.get_values_for_type(x509.IPAddress)
            if not hasattr(address, "network_address")
        ),
    )


def _alternatives(names: HostNames) -> list[x509.GeneralName]:
    return [
        *map(x509.DNSName, sorted(names.dns)),
        *map(x509.IPAddress, sorted(names.addresses, key=str)),
    ]
