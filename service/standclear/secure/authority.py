"""The certificate authority of this computer: made once, told to each phone once.

A phone that trusts it believes whatever it signs, so it is bound: by name constraints (RFC 5280,
section 4.2.1.10) it can vouch for names and addresses of local networks only, never for a site on
the internet, even if its key were stolen. The key lies in a file that its owner alone can read.
"""

import ipaddress
import socket
from dataclasses import dataclass
from datetime import datetime, timedelta
from ipaddress import ip_network
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from standclear.secure import usage
from standclear.secure.files import Pair, read_pair, write_pair_once
from standclear.secure.names import Address, HostNames

FILE = "authority.pem"
DAYS = 3650
#: A phone whose clock is behind must not find the certificate too new.
EARLIER = timedelta(days=1)
#: Suffixes that no site on the internet bears: RFC 6762 (local), RFC 8375 (home.arpa), RFC 6761
#: (localhost), ICANN's reservation (internal); "lan" is common practice of routers, no source.
LOCAL_SUFFIXES = ("local", "localhost", "home.arpa", "internal", "lan")
#: RFC 1918, RFC 6598, RFC 3927, RFC 1122 (127/8), RFC 4193, RFC 4291.
LOCAL_NETWORKS = tuple(
    map(
        ip_network,
        (
            "10.0.0.0/8",
            "172.16.0.0/12",
            "192.168.0.0/16",
            "100.64.0.0/10",
            "169.254.0.0/16",
            "127.0.0.0/8",
            "::1/128",
            "fc00::/7",
            "fe80::/10",
        ),
    )
)


@dataclass(frozen=True, slots=True)
class Authority:
    """Signs for what it covers."""

    pair: Pair

    @property
    def pem(self) -> bytes:
        """The certificate alone, for a phone to install."""
        return self.pair.certificate.public_bytes(serialization.Encoding.PEM)

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the certificate, in pairs of hexadecimal digits, as systems show it."""
        return self.pair.certificate.fingerprint(hashes.SHA256()).hex(":").upper()

    def covers(self, name: str | Address) -> bool:
        """Whether it may vouch for a name or an address."""
        permitted = self._permitted()
        if isinstance(name, str):
            suffixes = [one.value for one in permitted if isinstance(one, x509.DNSName)]
            return any(name == suffix or name.endswith(f".{suffix}") for suffix in suffixes)
        networks = [str(one.value) for one in permitted if isinstance(one, x509.IPAddress)]
        return any(name in ip_network(network) for network in networks)

    def _permitted(self) -> list[x509.GeneralName]:
        found = self.pair.certificate.extensions.get_extension_for_class(x509.NameConstraints)
        return list(found.value.permitted_subtrees or [])


def load_or_make(folder: Path, names: HostNames, now: datetime, needed: timedelta) -> Authority:
    """The authority in that folder; a new one where there is none, or where it ends too soon.

    ``needed`` is how long from now it must be valid. Raises CertificatesUnreadable, OSError.
    """
    path = folder / FILE
    pair = read_pair(path)
    if pair is not None and pair.certificate.not_valid_after_utc < now + needed:
        path.rename(folder / f"authority-until-{pair.certificate.not_valid_after_utc:%Y%m%d}.pem")
        pair = None
    if pair is None:
        pair = write_pair_once(path, _make(names, now))
    return Authority(pair)


def _make(names: HostNames, now: datetime) -> Pair:
    key = ec.generate_private_key(ec.SECP256R1())
    who = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, _common_name(now))])
    certificate = (
        x509.CertificateBuilder()
        .subject_name(who)
        .issuer_name(who)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - EARLIER)
        .not_valid_after(now + timedelta(days=DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(usage.only("key_cert_sign", "crl_sign"), critical=True)
        .add_extension(x509.NameConstraints(_local(names), None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    return Pair(key, certificate)


def _common_name(now: datetime) -> str:
    """What the phone's list of authorities shows; at most 64 characters (RFC 5280, A.1)."""
    return f"Standclear on {socket.gethostname()}"[:48] + f", {now:%Y-%m-%d}"


def _local(names: HostNames) -> list[x509.GeneralName]:
    """Local networks, and whatever else this computer goes by today."""
    dns = [*LOCAL_SUFFIXES]
    dns += [name for name in sorted(names.dns) if not _ends_in(name, LOCAL_SUFFIXES)]
    networks = [*LOCAL_NETWORKS]
    for address in sorted(names.addresses, key=str):
        if not any(address in network for network in LOCAL_NETWORKS):
            networks.append(ipaddress.ip_network(address))
    return [*map(x509.DNSName, dns), *map(x509.IPAddress, networks)]


def _ends_in(name: str, suffixes: tuple[str, ...]) -> bool:
    return any(name == suffix or name.endswith(f".{suffix}") for suffix in suffixes)
